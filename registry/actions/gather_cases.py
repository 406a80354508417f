"""Gather all that the rules may look at; reading ends here."""

from collections import Counter, defaultdict
from collections.abc import Sequence
from datetime import UTC, datetime
from zoneinfo import ZoneInfo

import numpy as np
from numpy.typing import NDArray

from registry.ports import Register
from registry.records.module import Module, ModuleType
from registry.records.permit import KeepOut, Permit
from registry.records.placement import Placement, PlacementTable
from registry.rules.cases import Cases

__all__ = ["Surroundings", "cases_of", "gather", "local_days", "table_of"]

#: A neighbour is named within this distance, wherever the limits are. Units: m.
NEAR_M = 2_000.0
#: Half way round the ellipsoid is nearer than this. Units: m.
EARTH_M = 21_000_000.0
#: No degree of latitude is shorter. Units: m.
LEAST_M_PER_DEGREE = 110_500.0
#: Poleward of this a box in longitude no longer helps.
POLAR_DEG = 85.0


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
    hours, where = np.unique(np.floor(placed_at_s / 3600.0), return_inverse=True)
    offsets = np.array([_offset_s(hour * 3600.0, info) for hour in hours.tolist()], dtype=float)
    local = placed_at_s + (offsets[where] if len(hours) else 0.0)
    return np.floor(local / 86400.0).astype("int64").astype("datetime64[D]")


def _offset_s(instant_s: float, info: ZoneInfo) -> float:
    offset = datetime.fromtimestamp(instant_s, UTC).astimezone(info).utcoffset()
    return offset.total_seconds() if offset is not None else 0.0


class Surroundings:
    """Every standing placement, ordered once so that each permit finds its own and what lies around them."""

    def __init__(self, standing: PlacementTable) -> None:
        self.standing = standing
        self.same_tag = _times(standing.tag)
        self.same_memorial = _times(standing.memorial)
        self._rows: dict[str, list[int]] = defaultdict(list)
        for row, number in enumerate(standing.permit.tolist()):
            self._rows[number].append(row)
        self._northward = np.argsort(standing.lat_deg, kind="stable")
        self._lat_deg = standing.lat_deg[self._northward]

    def of_permit(self, number: str) -> NDArray[np.intp]:
        """Give the rows of a permit's placements, in order of row."""
        return np.array(self._rows.get(number, ()), dtype=np.intp)

    def around(self, rows: NDArray[np.intp], reach_m: float) -> NDArray[np.intp]:
        """Give, in order, every row within reach of any of some rows; others in the box may be among them."""
        if not len(rows):
            return rows
        lon_deg, lat_deg = self.standing.lon_deg, self.standing.lat_deg
        reach_deg = reach_m / LEAST_M_PER_DEGREE
        south, north = lat_deg[rows].min() - reach_deg, lat_deg[rows].max() + reach_deg
        first, last = np.searchsorted(self._lat_deg, [south, north], side="left")
        band = self._northward[first:last]
        polar = max(abs(south), abs(north))
        if polar < POLAR_DEG:
            # Measured from one of them, so that a box across the 180th meridian is whole.
            middle = lon_deg[rows[0]]
            east_deg = (lon_deg[rows] - middle + 180.0) % 360.0 - 180.0
            reach_deg /= np.cos(np.radians(polar))
            offset_deg = (lon_deg[band] - middle + 180.0) % 360.0 - 180.0
            inside = (offset_deg >= east_deg.min() - reach_deg) & (offset_deg <= east_deg.max() + reach_deg)
            band = band[inside]
            # A reach past the far meridian would wrap: then the box is the whole band.
            if max(-east_deg.min(), east_deg.max()) + reach_deg >= 180.0:
                band = self._northward[first:last]
        return np.sort(band)


def cases_of(
    *,
    permit: Permit,
    keep_outs: tuple[KeepOut, ...],
    standing: Surroundings | PlacementTable,
    judged: NDArray[np.intp],
    zone: str,
) -> Cases:
    """
    Make the cases of some of the standing placements.

    Parameters
    ----------
    permit, keep_outs
        What they are judged by.
    standing : Surroundings or PlacementTable
        Every standing placement that may matter, of any permit, the judged ones among them; ordered
        already where many permits are asked in turn.
    judged : numpy.ndarray of int
        Their rows; all belong to `permit`.
    zone : str
        The programme's zone.
    """
    surroundings = standing if isinstance(standing, Surroundings) else Surroundings(standing)
    standing = surroundings.standing
    placements = standing.rows(judged)
    of_permit = np.union1d(surroundings.of_permit(permit.number), judged)
    order = of_permit[np.lexsort((of_permit, standing.placed_at_s[of_permit]))]
    place = np.searchsorted(of_permit, order)
    count, mass = np.zeros(len(of_permit), dtype=np.int64), np.zeros(len(of_permit))
    count[place] = np.arange(1, len(order) + 1)
    mass[place] = np.cumsum(standing.mass_kg[order])
    own = np.searchsorted(of_permit, judged)
    near = surroundings.around(judged, _reach_m(permit, standing, placements))
    return Cases(
        permit=permit,
        keep_outs=keep_outs,
        placements=placements,
        others=standing.rows(near),
        own_row=np.searchsorted(near, judged),
        placed_day=local_days(placements.placed_at_s, zone),
        count_so_far=count[own],
        mass_so_far_kg=mass[own],
        same_tag=surroundings.same_tag[judged],
        same_memorial=surroundings.same_memorial[judged],
    )


def _reach_m(permit: Permit, standing: PlacementTable, placements: PlacementTable) -> float:
    """Give how far away a neighbour can still matter. Units: m."""
    limits = [
        q for condition in permit.conditions if condition.rule == "spacing" for q in condition.limits.items()
    ]
    if any(name == "greatest" for name, _ in limits) or not len(placements):
        # However far the nearest is, it must be found to be too far.
        return EARTH_M
    least_m = max((q.value for _, q in limits if q.dimension == "length"), default=0.0)
    doubt_m = float(np.nan_to_num(placements.r95_m).max() + np.nan_to_num(standing.r95_m).max())
    base_m = 2.0 * float(np.nan_to_num(standing.base_radius_m).max())
    return NEAR_M + least_m + doubt_m + base_m


def _times(words: NDArray[np.object_]) -> NDArray[np.int64]:
    """Count how often each word occurs; the empty word counts as once."""
    listed = words.tolist()
    counts = Counter(listed)
    counts[""] = 1
    return np.array([counts[word] for word in listed], dtype=np.int64)


def gather(
    register: Register,
    permit: Permit,
    standing: Surroundings | PlacementTable,
    judged: Sequence[int] | NDArray[np.intp],
) -> Cases:
    """Gather some of the standing placements with what the registry says of their surroundings."""
    return cases_of(
        permit=permit,
        keep_outs=register.keep_outs(),
        standing=standing,
        judged=np.asarray(judged, dtype=np.intp),
        zone=register.programme().zone,
    )
