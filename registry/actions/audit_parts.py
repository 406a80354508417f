"""
Audit an archive part by part: how it is parted, what each part must see of the rest, how it is put together.

A part is some whole permits whose areas lie close together. Its placements are judged among all that may have
a say in it: whatever lies within a halo around them, and the few that reach farther. What a rule says of a
placement depends on nothing else, so that the findings are those of one audit of the whole, to the last bit.
"""

from collections import Counter
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from typing import overload

import numpy as np
from numpy.typing import NDArray

from registry.actions.audit_registry import Audit, PermitAudit, in_order_of_permit, judge_permits
from registry.actions.gather_cases import Surroundings
from registry.actions.last_known import found_moved, where_found, with_moved
from registry.measure.decision import Verdict
from registry.measure.geodesic import FARTHEST_M, earth_centred, inverse
from registry.measure.neighbours import Neighbourhood
from registry.ports import Parts, Register
from registry.records.permit import Condition, Permit
from registry.records.placement import PlacementTable, in_order_of_time
from registry.rules.catalogue import conditions_of
from registry.rules.spacing import sight_m

__all__ = [
    "Part",
    "Rest",
    "halo_of",
    "judge_part",
    "look_beyond",
    "part_with_halo",
    "plan_parts",
    "put_together",
]

#: A part holds at most so many placements, where no single permit has more: what one process judges at ease.
LARGEST_PART = 50_000
#: Each worker gets so many parts at least, so that none waits long for the last.
PARTS_A_WORKER = 4
#: Fixes less sure than this are not sought in every halo but known to every part, while they are few.
SURE_M, FEW = 250.0, 10_000
#: As far as this, and twice the least distance, the rule of spacing names a neighbour. Units: m.
SIGHT_M = sight_m(0.0)
#: How much farther a neighbour is sought each time that none was found.
WIDER = 4.0
#: What floating point may lose of a halo. Units: m.
_MARGIN_M = 1.0

Rows = NDArray[np.intp]


@dataclass(frozen=True, slots=True, kw_only=True)
class Part:
    """Some whole permits that are judged in one go."""

    permits: tuple[str, ...]
    placements: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Rest:
    """What the findings of a part depend on beyond what lies around it: little, and alike for every part."""

    #: How many standing placements carry a tag, and remember a name, where there are several.
    same_tag: Mapping[str, int]
    same_memorial: Mapping[str, int]
    #: Fixes less sure than `sure_m`, wherever they lie.
    poor: PlacementTable
    sure_m: float
    #: What a resurvey found moved, where it was found.
    moved: PlacementTable
    #: The largest radius of a module's base. Units: m.
    base_radius_m: float
    #: Only what had been placed by this instant; None for all that stands.
    on: datetime | None


def plan_parts(
    history: Sequence[Sequence[Permit]], counts: Mapping[str, int], *, workers: int
) -> tuple[Part, ...]:
    """
    Put permits together in parts, by the places of their areas.

    Parameters
    ----------
    history : sequence of sequence of Permit
        Every version of each permit.
    counts : mapping
        How many placements stand under each; one of none stands in the part of its neighbours.
    workers : int
        How many parts are judged at a time.
    """
    most = min(LARGEST_PART, -(-sum(counts.values()) // (PARTS_A_WORKER * max(workers, 1))))
    numbers = [versions[0].number for versions in history]
    places = np.array([_place_of(versions[-1]) for versions in history]).reshape(-1, 2)
    parts: list[Part] = []
    permits: list[str] = []
    held = 0
    for row in _along_a_curve(places).tolist():
        count = counts.get(numbers[row], 0)
        if permits and held + count > most:
            parts.append(Part(permits=tuple(permits), placements=held))
            permits, held = [], 0
        permits.append(numbers[row])
        held += count
    return (*parts, Part(permits=tuple(permits), placements=held)) if permits else ()


def _place_of(permit: Permit) -> tuple[float, float]:
    west, south, east, north = permit.areas[0].shape.bounds
    return (west + east) / 2.0, (south + north) / 2.0


def _along_a_curve(places: NDArray[np.float64]) -> Rows:
    """Order places (longitude, latitude) so that those that follow one another lie close together."""
    xyz = earth_centred(places[:, 0], places[:, 1])
    # Morton's order: the binary digits of the three coordinates, interleaved. 16 digits: 200 m.
    steps = np.clip((xyz / 13e6 + 0.5) * 2**16, 0, 2**16 - 1).astype(np.int64)
    key = np.zeros(len(places), dtype=np.int64)
    for digit in range(16):
        for axis in range(3):
            key |= ((steps[:, axis] >> digit) & 1) << (3 * digit + axis)
    return np.argsort(key, kind="stable")


def look_beyond(register: Register, parts: Parts, *, on: datetime | None = None) -> Rest:
    """
    Find what every part must know of the rest of the registry.

    Parameters
    ----------
    register, parts
        The registry, within one `reading()`.
    on : datetime, optional
        Only what had been placed by this instant.
    """
    repeated = _by(parts.repeated(), on)
    sure_m = SURE_M
    while parts.count_less_sure_than(sure_m) > FEW:
        sure_m *= 2.0
    return Rest(
        same_tag=_several(repeated.tag.tolist()),
        same_memorial=_several(word for word in repeated.memorial.tolist() if word),
        poor=_by(parts.less_sure_than(sure_m), on),
        moved=_by(found_moved(register, before=on), on),
        sure_m=sure_m,
        base_radius_m=max((each.base_radius_m for each in register.module_types()), default=0.0),
        on=on,
    )


def _several(words: Iterable[str]) -> dict[str, int]:
    return {word: count for word, count in Counter(words).items() if count > 1}


def _by(table: PlacementTable, on: datetime | None) -> PlacementTable:
    return table if on is None else table.rows(table.placed_at_s <= on.timestamp())


def halo_of(history: Sequence[Sequence[Permit]], rest: Rest) -> float:
    """
    Tell how far around the placements of some permits others may have a say in their findings.

    Two fixes no less sure than `rest.sure_m` are taken: less sure ones are known apart. A neighbour is named
    within sight (`SIGHT_M` and twice the least distance); one that is asked for however far away it lies is
    sought by itself. Units: m; zero where no condition asks for neighbours.
    """
    spacing = _spacings(history)
    least = max((each.limits["least"].value for each in spacing if "least" in each.limits), default=0.0)
    return max(sight_m(least), _reach_m(spacing, rest, rest.sure_m)) + _MARGIN_M if spacing else 0.0


def _spacings(history: Sequence[Sequence[Permit]]) -> list[Condition]:
    return [
        condition
        for versions in history
        for permit in versions
        for condition in conditions_of(permit)
        if condition.rule == "spacing"
    ]


def _reach_m(spacing: Sequence[Condition], rest: Rest, r95_m: float) -> float:
    """Tell how far a pair may lie apart that its doubt leaves open, if its less sure fix is so sure."""
    limits = [
        limit.value for each in spacing for limit in each.limits.values() if limit.dimension == "length"
    ]
    return max(limits) + 2.0 * rest.base_radius_m + float(np.sqrt(2.0)) * r95_m + _MARGIN_M


def part_with_halo(
    register: Register, parts: Parts, history: Sequence[Sequence[Permit]], rest: Rest
) -> PlacementTable:
    """
    Read the placements of some permits, and all others that may have a say in their findings.

    Returns
    -------
    PlacementTable
        In order of time and then of identifier, as of the whole registry.
    """
    numbers = [versions[0].number for versions in history]
    own, _ = where_found(_by(parts.placements_of(numbers), rest.on), rest.moved)
    spacing = _spacings(history)
    if not (spacing and len(own)):
        return own
    halo_m = halo_of(history, rest)
    around = _by(
        parts.placements_around(own.lon_deg.tolist(), own.lat_deg.tolist(), halo_m, but=numbers), rest.on
    )
    tables = [own, rest.moved, around, _poor_in_reach(own, spacing, rest)]
    # What is less sure looks around itself as far as it is unsure.
    for row in np.flatnonzero(own.r95_m > rest.sure_m).tolist():
        reach_m = min(_reach_m(spacing, rest, float(own.r95_m[row])), FARTHEST_M)
        at = float(own.lon_deg[row]), float(own.lat_deg[row])
        tables.append(_by(register.placements_near(lon_deg=at[0], lat_deg=at[1], reach_m=reach_m), rest.on))
    standing, _ = where_found(in_order_of_time(tables), rest.moved)
    asking = {
        versions[0].number
        for versions in history
        if any("greatest" in c.limits for c in _spacings([versions]))
    }
    return in_order_of_time(
        [standing, *_far_neighbours(register, standing, asking, halo_m=halo_m, rest=rest)]
    )


def _poor_in_reach(own: PlacementTable, spacing: Sequence[Condition], rest: Rest) -> PlacementTable:
    nobody = np.full(len(rest.poor), -1)
    _, away_m = Neighbourhood(own.lon_deg, own.lat_deg).nearest_to(
        rest.poor.lon_deg, rest.poor.lat_deg, nobody
    )
    reach_m = _reach_m(spacing, rest, 0.0) + np.sqrt(2.0) * rest.poor.r95_m
    return rest.poor.rows(away_m <= reach_m)


def _far_neighbours(
    register: Register, standing: PlacementTable, numbers: set[str], *, halo_m: float, rest: Rest
) -> list[PlacementTable]:
    """Find the nearest neighbour of those that ask for one however far away it lies, and have none near."""
    asking = np.flatnonzero([number in numbers for number in standing.permit.tolist()])
    if not len(asking):
        return []
    points = Neighbourhood(standing.lon_deg, standing.lat_deg)
    other, away_m = points.nearest_other(asking)
    lonely = asking[(away_m > halo_m) | _same_tag(standing, asking, other)]
    i, j, _ = points.within(lonely, halo_m)
    accompanied = i[~_same_tag(standing, i, j)]
    found = []
    for row in np.setdiff1d(lonely, accompanied).tolist():
        lon_deg, lat_deg, tag = float(standing.lon_deg[row]), float(standing.lat_deg[row]), standing.tag[row]
        reach_m = halo_m
        while reach_m < FARTHEST_M:
            reach_m = min(reach_m * WIDER, FARTHEST_M)
            near = register.placements_near(lon_deg=lon_deg, lat_deg=lat_deg, reach_m=reach_m)
            near = with_moved(_by(near, rest.on), rest.moved)
            near = near.rows(near.tag != tag)
            distance_m = inverse(lon_deg, lat_deg, near.lon_deg, near.lat_deg)[0]
            # Beyond the reach a nearer one may have been left out.
            if len(near) and distance_m.min() <= reach_m:
                found.append(near.rows(distance_m <= distance_m.min() + _MARGIN_M))
                break
    return found


def _same_tag(table: PlacementTable, i: Rows, j: Rows) -> NDArray[np.bool_]:
    return np.asarray((j >= 0) & (table.tag[i] == table.tag[j]), dtype=bool)


class _PartOfAll(Surroundings):
    """A part of the standing placements, with the counts of all."""

    def __init__(self, standing: PlacementTable, rest: Rest) -> None:
        super().__init__(*where_found(standing, rest.moved))
        self._rest = rest

    @property
    def same_tag(self) -> NDArray[np.int64]:
        """How many standing placements carry the same tag."""
        return _looked_up(self._rest.same_tag, self.standing.tag)

    @property
    def same_memorial(self) -> NDArray[np.int64]:
        """How many standing placements remember the same name."""
        return _looked_up(self._rest.same_memorial, self.standing.memorial)


def _looked_up(counts: Mapping[str, int], words: NDArray[np.object_]) -> NDArray[np.int64]:
    if not counts:
        return np.ones(len(words), dtype=np.int64)
    return np.fromiter((counts.get(word, 1) for word in words.tolist()), np.int64, len(words))


def judge_part(
    register: Register,
    history: Sequence[Sequence[Permit]],
    standing: PlacementTable,
    rest: Rest,
    *,
    in_full: bool,
) -> tuple[tuple[PermitAudit, ...], tuple[PermitAudit, ...]]:
    """
    Judge the placements of some permits.

    Parameters
    ----------
    register : Register
        Read for what their conditions ask for.
    history : sequence of sequence of Permit
        Every version of each of these permits.
    standing : PlacementTable
        As :func:`part_with_halo` gives it.
    rest : Rest
        What it cannot tell.
    in_full : bool
        Whether every sentence is written out, or only those of what is flagged, for the way to another
        process.

    Returns
    -------
    tuple
        As in :class:`Audit`: each placement by the version of its day, those of amended permits by today's.
    """
    by_day, today = judge_permits(register, history, _PartOfAll(in_order_of_permit(standing), rest))
    return (
        tuple(_written_out(each, in_full=in_full) for each in by_day),
        tuple(_written_out(each, in_full=False) for each in today),
    )


def _written_out(audit: PermitAudit, *, in_full: bool) -> PermitAudit:
    """Write sentences out: what would write them later cannot leave its process."""
    found = []
    for each in audit.findings:
        flagged = np.flatnonzero(each.verdict >= Verdict.INCONCLUSIVE).tolist()
        rows: Iterable[int] = range(len(each.verdict)) if in_full else flagged
        said = _Said(len(each.verdict), {row: each.message[row] for row in rows})
        found.append(replace(each, message=said))
    return replace(audit, findings=tuple(found))


@dataclass(frozen=True, slots=True)
class _Said(Sequence[str]):
    """Sentences by row, of which one that was not written out is not to be asked for."""

    length: int
    by_row: Mapping[int, str]

    def __len__(self) -> int:
        return self.length

    @overload
    def __getitem__(self, index: int) -> str: ...
    @overload
    def __getitem__(self, index: slice) -> Sequence[str]: ...

    def __getitem__(self, index: int | slice) -> str | Sequence[str]:
        if isinstance(index, slice):
            return [self.by_row[row] for row in range(*index.indices(self.length))]
        if not -self.length <= index < self.length:
            raise IndexError(index)
        return self.by_row[index % self.length]


def put_together(
    history: Sequence[Sequence[Permit]],
    judged: Iterable[tuple[tuple[PermitAudit, ...], tuple[PermitAudit, ...]]],
    *,
    head: str,
    progress: Callable[[int], None] = lambda _count: None,
) -> Audit:
    """
    Put the audits of parts together in the order of one audit of the whole.

    Parameters
    ----------
    history : sequence of sequence of Permit
        Every version of each permit, in order of number.
    judged : iterable
        What :func:`judge_part` gave for each part, in any order.
    head : str
        Digest of the journal's head.
    progress : callable
        Told how many placements are done.
    """
    by_day: dict[str, list[PermitAudit]] = {}
    today: dict[str, list[PermitAudit]] = {}
    for found in judged:
        for kept, audits in zip((by_day, today), found, strict=True):
            for each in audits:
                kept.setdefault(each.permit.number, []).append(each)
        progress(sum(len(each.placements) for each in found[0]))
    numbers = [versions[0].number for versions in history]
    return Audit(
        permits=tuple(each for number in numbers for each in by_day.get(number, ())),
        today=tuple(each for number in numbers for each in today.get(number, ())),
        head=head,
    )
