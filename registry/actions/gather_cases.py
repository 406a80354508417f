"""Gather all that the rules may look at; reading ends here."""

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from datetime import UTC, datetime
from functools import cached_property
from itertools import pairwise
from typing import Any
from zoneinfo import ZoneInfo

import numpy as np
from numpy.typing import NDArray

from registry.measure.boundary import signed_distances
from registry.measure.distinct import distinct
from registry.measure.ground import distance_inside
from registry.measure.neighbours import Neighbourhood
from registry.ports import Register
from registry.records.baseline import Baseline
from registry.records.module import Module, ModuleType
from registry.records.permit import KeepOut, Permit
from registry.records.placement import Placement, PlacementTable
from registry.records.target import Target
from registry.rules.cases import Cases

__all__ = ["Surroundings", "cases_of", "gather", "local_days", "moved", "table_of"]

Rows = NDArray[np.intp]
Floats = NDArray[np.float64]
SoFar = tuple[NDArray[np.int64], Floats]

#: So many hours are kept in a table: a century.
_HOURS = 1_000_000
#: The targets of so few placements are read one by one.
_FEW = 20


def table_of(
    placements: list[Placement],
    modules: dict[str, Module],
    types: dict[str, ModuleType],
    *,
    identifiers: list[str] | None = None,
) -> PlacementTable:
    """Turn placements into columns, joined with what their modules are; an unknown module gives NaN."""

    def known(placement: Placement) -> tuple[Module | None, ModuleType | None]:
        module = modules.get(placement.tag)
        return module, types.get(module.type_id) if module else None

    joined = [known(placement) for placement in placements]

    def numbers(values: list[float | None]) -> NDArray[np.float64]:
        return np.array([np.nan if value is None else value for value in values], dtype=float)

    def words(values: list[str]) -> NDArray[np.object_]:
        column = np.empty(len(values), dtype=object)
        column[:] = values
        return column

    positions = [placement.home.position for placement in placements]
    return PlacementTable(
        placement_id=words(identifiers or [""] * len(placements)),
        tag=words([p.tag for p in placements]),
        permit=words([p.permit for p in placements]),
        module_type=words([m.type_id if m else "" for m, _ in joined]),
        memorial=words([m.memorial.name if m and m.memorial else "" for m, _ in joined]),
        lon_deg=numbers([p.lon_deg for p in positions]),
        lat_deg=numbers([p.lat_deg for p in positions]),
        r95_m=numbers([p.r95_m for p in positions]),
        depth_m=numbers([p.charted_depth_m for p in placements]),
        depth_u95_m=numbers([p.depth_u95_m for p in placements]),
        placed_at_s=numbers([p.placed_at.timestamp() for p in placements]),
        height_m=numbers([t.height_m if t else None for _, t in joined]),
        height_u95_m=numbers([t.height_u95_m if t else None for _, t in joined]),
        base_radius_m=numbers([t.base_radius_m if t else None for _, t in joined]),
        mass_kg=numbers([(m.mass_kg or (t.mass_kg if t else None)) if m else None for m, t in joined]),
    )


def local_days(placed_at_s: NDArray[np.float64], zone: str) -> NDArray[np.datetime64]:
    """
    Give the calendar day of instants in a zone.

    Examples
    --------
    Half past two in the morning UTC is still the day before in Carolina:

    >>> local_days(np.array([1781404200.0]), "America/New_York")
    array(['2026-06-13'], dtype='datetime64[D]')
    """
    info = ZoneInfo(zone)
    # The offset of a zone changes at most a few times a year: look it up once for each hour that occurs.
    hour = np.floor(placed_at_s / 3600.0)
    first, last = (hour.min(), hour.max()) if len(hour) else (0.0, 0.0)
    if last - first < _HOURS:
        where = (hour - first).astype(np.intp)
        occurs = np.zeros(int(last - first) + 1, dtype=bool)
        occurs[where] = True
        hours, where = first + np.flatnonzero(occurs), (np.cumsum(occurs) - 1)[where]
    else:
        hours, where = np.unique(hour, return_inverse=True)
    offsets = np.array([_offset_s(each * 3600.0, info) for each in hours.tolist()], dtype=float)
    local = placed_at_s + (offsets[where] if len(hour) else 0.0)
    return np.floor(local / 86400.0).astype("int64").astype("datetime64[D]")


def _offset_s(instant_s: float, info: ZoneInfo) -> float:
    offset = datetime.fromtimestamp(instant_s, UTC).astimezone(info).utcoffset()
    return offset.total_seconds() if offset is not None else 0.0


class Surroundings:
    """Every standing placement that may matter, ordered once for all that is asked of it."""

    def __init__(self, standing: PlacementTable, moved: NDArray[np.bool_] | None = None) -> None:
        self.standing = standing
        #: Which of them lie where a resurvey found them, having moved.
        self.moved = np.zeros(len(standing), dtype=bool) if moved is None else moved
        self.neighbourhood = Neighbourhood(standing.lon_deg, standing.lat_deg)

    @cached_property
    def same_tag(self) -> NDArray[np.int64]:
        """How many standing placements carry the same tag."""
        return _times(self.standing.kept("tag"))

    @cached_property
    def same_memorial(self) -> NDArray[np.int64]:
        """How many standing placements remember the same name."""
        return _times(self.standing.memorial)

    @cached_property
    def _rows(self) -> dict[str, Rows]:
        permit = self.standing.permit
        # Where the permit changes; in order of permit each has one run, and all is told by a few of its rows.
        begin = [0, *(np.flatnonzero(permit[1:] != permit[:-1]) + 1).tolist(), len(permit)]
        runs: dict[str, list[Rows]] = {}
        for low, high in pairwise(begin if len(permit) else []):
            runs.setdefault(permit[low], []).append(np.arange(low, high))
        return {number: np.concatenate(of) if len(of) > 1 else of[0] for number, of in runs.items()}

    def of_permit(self, number: str) -> Rows:
        """Give the rows of a permit's placements, in ascending order."""
        return self._rows.get(number, np.empty(0, dtype=np.intp))


def cases_of(
    *,
    asked: Sequence[tuple[Permit, Rows]],
    keep_outs: tuple[KeepOut, ...],
    standing: Surroundings | PlacementTable,
    zone: str,
    targets: Iterable[Target] = (),
    baselines: Iterable[Baseline] = (),
    types: Mapping[str, ModuleType] | None = None,
    so_far: SoFar | None = None,
) -> Cases:
    """
    Make the cases of some of the standing placements.

    Parameters
    ----------
    asked : sequence of (Permit, numpy.ndarray of int)
        Each permit, in the version to judge by, with the rows of the placements to be judged by it. A permit
        of several versions stands here once for each.
    keep_outs, targets, baselines, types
        What the registry says of the surroundings and of the plan.
    standing : Surroundings or PlacementTable
        Every standing placement that may matter, of any permit, the judged ones among them.
    zone : str
        The programme's zone.
    so_far : tuple of two numpy.ndarray, optional
        Number and mass (units: kg) of the modules of each one's permit up to and with it; counted among
        `standing` if left out.
    """
    surroundings = standing if isinstance(standing, Surroundings) else Surroundings(standing)
    standing = surroundings.standing
    permits = tuple(permit for permit, _ in asked)
    judged = np.concatenate([np.empty(0, dtype=np.intp), *(rows for _, rows in asked)])
    permit_row = np.repeat(np.arange(len(permits)), [len(rows) for _, rows in asked])
    whole = len(judged) == len(standing) and bool(np.all(judged == np.arange(len(standing))))
    placements = standing if whole else standing.rows(judged)
    count, mass_kg = _so_far(surroundings, asked) if so_far is None else so_far
    so_far_in = _so_far_in_areas(surroundings, asked)
    inside_m, area_row = _inside(permits, permit_row, placements.lon_deg, placements.lat_deg)
    target_lon_deg, target_lat_deg = _planned(placements, targets)
    return Cases(
        permits=permits,
        permit_row=permit_row,
        keep_outs=keep_outs,
        placements=placements,
        others=standing,
        neighbourhood=surroundings.neighbourhood,
        own_row=judged,
        placed_day=local_days(placements.placed_at_s, zone),
        count_so_far=count,
        mass_so_far_kg=mass_kg,
        so_far_in=so_far_in,
        same_tag=surroundings.same_tag[judged],
        same_memorial=surroundings.same_memorial[judged],
        inside_m=inside_m,
        area_row=area_row,
        target_lon_deg=target_lon_deg,
        target_lat_deg=target_lat_deg,
        baselines=tuple(baselines),
        types=types or {},
    )


def moved(cases: Cases, lon_deg: Floats, lat_deg: Floats) -> Cases:
    """Give the same cases as if each lay elsewhere, and all else where it is."""
    others = replace(cases.others, lon_deg=cases.others.lon_deg.copy(), lat_deg=cases.others.lat_deg.copy())
    others.lon_deg[cases.own_row], others.lat_deg[cases.own_row] = lon_deg, lat_deg
    inside_m, area_row = _inside(cases.permits, cases.permit_row, lon_deg, lat_deg)
    return replace(
        cases,
        placements=replace(cases.placements, lon_deg=lon_deg, lat_deg=lat_deg),
        others=others,
        neighbourhood=Neighbourhood(others.lon_deg, others.lat_deg),
        inside_m=inside_m,
        area_row=area_row,
    )


def _so_far(surroundings: Surroundings, asked: Sequence[tuple[Permit, Rows]]) -> SoFar:
    """Count the modules of each one's permit up to and with it, and add up their mass (units: kg)."""
    standing = surroundings.standing
    number, mass_kg = [np.empty(0, dtype=np.int64)], [np.empty(0)]
    for permit, rows in asked:
        in_time, own = _in_time(surroundings, permit, rows)
        number.append(own + 1)
        mass_kg.append(np.cumsum(standing.mass_kg[in_time])[own])
    return np.concatenate(number), np.concatenate(mass_kg)


def _in_time(surroundings: Surroundings, permit: Permit, rows: Rows) -> tuple[Rows, Rows]:
    """Give the rows of a permit's placements in order of time, and the places of some of them in it."""
    of_permit = surroundings.of_permit(permit.number)
    if not np.all(np.isin(rows, of_permit)):  # judged by a permit that is not its own
        of_permit = np.union1d(of_permit, rows)
    order = np.argsort(surroundings.standing.placed_at_s[of_permit], kind="stable")
    place = np.empty(len(order), dtype=np.intp)
    place[order] = np.arange(len(order))
    return of_permit[order], place[np.searchsorted(of_permit, rows)]


def _so_far_in_areas(
    surroundings: Surroundings, asked: Sequence[tuple[Permit, Rows]]
) -> dict[tuple[str, ...], tuple[Floats, Floats]]:
    """Count, and weigh (units: kg), in those areas for which a permit states a capacity of their own."""
    standing = surroundings.standing
    count = sum(len(rows) for _, rows in asked)
    found: dict[tuple[str, ...], tuple[Floats, Floats]] = {}
    first = 0
    for permit, rows in asked:
        part = slice(first, first + len(rows))
        first += len(rows)
        for areas in {c.areas for c in permit.conditions if c.rule == "capacity" and c.areas}:
            in_time, own = _in_time(surroundings, permit, rows)
            lon, lat = standing.lon_deg[in_time], standing.lat_deg[in_time]
            inside_m, area_row = _inside((permit,), np.zeros(len(in_time), dtype=np.intp), lon, lat)
            named = np.array([area.area_id in areas for area in permit.areas])
            inside = (inside_m >= 0) & named[area_row]
            nothing = (np.full(count, np.nan), np.full(count, np.nan))
            number, mass_kg = found.setdefault(areas, nothing)
            number[part] = np.cumsum(inside)[own]
            mass_kg[part] = np.cumsum(np.where(inside, standing.mass_kg[in_time], 0.0))[own]
    return found


def _inside(permits: Sequence[Permit], permit_row: Rows, lon: Floats, lat: Floats) -> tuple[Floats, Rows]:
    """Measure how far inside the areas of its permit each point lies (units: m), and in which of them."""
    which = np.where([len(permit.areas) == 1 for permit in permits], np.arange(len(permits)), -1)[permit_row]
    shapes = [permit.areas[0].shape for permit in permits]
    inside_m = signed_distances(lon, lat, shapes, which, [permit.areas[0].edges for permit in permits])
    area_row = np.zeros(len(lon), dtype=np.intp)
    for k, permit in enumerate(permits):
        if len(permit.areas) > 1:
            rows = slice(*np.searchsorted(permit_row, (k, k + 1)))
            areas = [(area.shape, area.edges) for area in permit.areas]
            inside_m[rows], area_row[rows] = distance_inside(lon[rows], lat[rows], areas)
    return inside_m, area_row


def _planned(placements: PlacementTable, targets: Iterable[Target]) -> tuple[Floats, Floats]:
    """Give where the plan wants each placement, NaN where it says nothing. Units: degrees."""
    lon, lat = np.full(len(placements), np.nan), np.full(len(placements), np.nan)
    plan = {(target.permit, target.tag): target for target in targets}
    if plan:
        known = [
            plan.get(key) for key in zip(placements.permit.tolist(), placements.tag.tolist(), strict=True)
        ]
        rows = [row for row, target in enumerate(known) if target is not None]
        lon[rows] = [target.lon_deg for target in known if target is not None]
        lat[rows] = [target.lat_deg for target in known if target is not None]
    return lon, lat


def _targets(
    register: Register,
    standing: Surroundings | PlacementTable,
    asked: Sequence[tuple[Permit, Sequence[int] | Rows]],
) -> Iterable[Target]:
    """Read the targets of a few placements by themselves, of many all that there are."""
    if sum(len(rows) for _, rows in asked) > _FEW:
        return register.targets()
    table = standing.standing if isinstance(standing, Surroundings) else standing
    found = (register.target_of(table.permit[row], table.tag[row]) for _, rows in asked for row in rows)
    return [target for target in found if target is not None]


def _times(words: NDArray[Any]) -> NDArray[np.int64]:
    """Count how often each word occurs; the empty word counts as once."""
    times = np.ones(len(words), dtype=np.int64)
    named = np.flatnonzero(words != (b"" if words.dtype.kind == "S" else ""))
    # Most words occur once: those whose number does are left uncounted.
    number = _numbers(words[named])
    ordered = np.sort(number)
    again = distinct(ordered[1:][ordered[1:] == ordered[:-1]])
    if len(again):
        at = np.minimum(np.searchsorted(again, number), len(again) - 1)
        rows = named[again[at] == number]
        several = words[rows].tolist()
        counts = Counter(several)
        times[rows] = [counts[word] for word in several]
    return times


def _numbers(words: NDArray[Any]) -> NDArray[np.int64]:
    """Give each word a number: equal words have the same, and different ones hardly ever."""
    if words.dtype.kind != "S":
        return np.fromiter(map(hash, words.tolist()), np.int64, len(words))
    width = words.dtype.itemsize
    cells = np.zeros((len(words), -(-width // 8) * 8), dtype=np.uint8)
    cells[:, :width] = np.ascontiguousarray(words).view(np.uint8).reshape(len(words), width)
    number = np.zeros(len(words), dtype=np.uint64)
    for part in cells.view(np.uint64).T:
        # Multiplying by an odd number and folding the upper half down mixes every digit into the others.
        number = (number ^ part) * np.uint64(0x9E3779B97F4A7C15)
        number ^= number >> np.uint64(32)
    return number.view(np.int64)


def gather(
    register: Register,
    standing: Surroundings | PlacementTable,
    asked: Sequence[tuple[Permit, Sequence[int] | Rows]],
    *,
    so_far: SoFar | None = None,
) -> Cases:
    """
    Gather some of the standing placements with what the registry says of their surroundings.

    Parameters
    ----------
    register : Register
        Read from; only what a condition asks for.
    standing : Surroundings or PlacementTable
        Every standing placement that may matter, of any permit.
    asked : sequence of (Permit, rows)
        Each permit, in the version to judge by, with the rows to be judged by it.
    so_far : tuple of two numpy.ndarray, optional
        As of :func:`cases_of`; left uncounted where no permit states a capacity.
    """
    rules = {condition.rule for permit, _ in asked for condition in permit.conditions}
    if so_far is None and "capacity" not in rules:
        count = sum(len(rows) for _, rows in asked)
        so_far = np.zeros(count, dtype=np.int64), np.full(count, np.nan)
    return cases_of(
        asked=[(permit, np.asarray(rows, dtype=np.intp)) for permit, rows in asked],
        keep_outs=register.keep_outs(),
        standing=standing,
        zone=register.programme().zone,
        targets=_targets(register, standing, asked) if "target-offset" in rules else (),
        baselines=register.baselines() if "offshore-distance" in rules else (),
        types={each.type_id: each for each in register.module_types()} if "stability" in rules else {},
        so_far=so_far,
    )
