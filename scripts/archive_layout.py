"""
Where the modules of a synthetic archive lie, and which conditions they break on purpose.

Permits come in pairs whose areas share a straight side; their other sides are rugged. Modules stand on a grid
well inside, except those that are moved, or made to differ, so that one rule fails; a few stand within
millimetres of a limit, so that nothing can be concluded. Offsets are metres east and north of the middle of
the shared side, where a plane of azimuths and distances misstates nothing by more than a micrometre.
"""

from dataclasses import dataclass, field

import numpy as np
import shapely
from pyproj import Geod

__all__ = ["PER_PERMIT", "R95_M", "SEAS", "KeepOutShape", "Limits", "Site", "lay_out", "shore_of"]

GEOD = Geod(ellps="GRS80")
#: Modules of one permit, on the grid of one permit, and the distance between them. Units: m.
PER_PERMIT, SIDE, GRID_M, JITTER_M = 400, 20, 18.0, 0.5
#: From the grid to the straight side, and to the least of the rugged ones. Units: m.
MARGIN_M = 55.0
#: Distance between the corners of a rugged side, and how far they stand out. Units: m.
CORNER_M, RUGGED_M = 25.0, 20.0
WIDTH_M = (SIDE - 1) * GRID_M + 2 * MARGIN_M
R95_M, DEPTH_U95_M = 0.2, 0.3
USUAL, TALL, SLAB = "hump-90", "ridge-140", "slab-40"
RADIUS_M = {USUAL: 0.65, TALL: 0.90, SLAB: 0.80}
MASS_KG = {USUAL: 620.0, TALL: 1450.0, SLAB: 900.0}
#: Seas where permits are strewn, all in the waters of NAD83(2011): latitude and longitude of the first pair.
#: Degrees. The second pair lies across the 180th meridian, the third in the far north.
SEAS = (
    (34.0, -77.0),
    (51.6, 179.9975),
    (71.2, -157.5),
    (27.5, -80.0),
    (29.2, -87.5),
    (18.2, -65.1),
    (33.2, -118.6),
    (57.8, -152.5),
    (43.5, -124.6),
)
#: Pairs of one sea stand on a lattice this far apart, so many in a column. Units: degrees of latitude.
LATTICE_DEG, COLUMN = 0.03, 12
#: Shares of the modules that break a rule, and of those that stand on a limit.
OUTSIDE, NEAR_EDGE, CLOSE, ON_SETBACK, ON_SPACING = 0.004, 0.004, 0.006, 0.003, 0.003
#: The share of each further fault where every rule is asked.
FAULT = 0.0025
FAULTS = (
    *("too deep", "too shallow", "little clearance", "tall", "not authorised", "too early", "badly fixed"),
    *("closed season", "off target"),
)
#: Of so many permits one each is far too near the shore as a whole, and asks more of stability than any
#: module has; of so many one has a plan of where each module is to lie.
WHOLE, PLANNED = 64, 8
#: Off the plan, and off it by too much. Units: m.
OFF_PLAN_M, FAR_OFF_PLAN_M = 0.5, 12.0
#: Days on which every module but the planted ones was placed, in minutes since 1970.
FIRST_DAY = np.datetime64("2025-05-01T12:00", "m")
TOO_EARLY = np.datetime64("2023-06-01T12:00", "m")
CLOSED = np.datetime64("2025-01-15T12:00", "m")


@dataclass(frozen=True, slots=True, kw_only=True)
class Limits:
    """What one permit asks. Units: m, kg."""

    setback_m: float
    least_spacing_m: float
    greatest_count: int
    greatest_mass_kg: float
    least_offshore_m: float = 5_000.0
    least_sliding_factor: float = 1.2


@dataclass(frozen=True, slots=True, kw_only=True)
class KeepOutShape:
    """Something to stay clear of. Units: degrees, m."""

    kind: str
    shape: shapely.Geometry
    setback_m: float


@dataclass(slots=True, kw_only=True)
class Site:
    """One permit area with its modules, one row each."""

    number: int
    #: Longitude, latitude; past 180 where it crosses the meridian.
    area: shapely.Polygon
    limits: Limits
    lon_deg: np.ndarray
    lat_deg: np.ndarray
    r95_m: np.ndarray
    depth_m: np.ndarray
    type_id: np.ndarray
    placed_at: np.ndarray
    #: Row whose tag this one bears too, and whose memorial; its own where it is like the others.
    tag_of: np.ndarray
    memorial_of: np.ndarray
    keep_outs: list[KeepOutShape]
    #: Where the plan wants each, longitude and latitude; None where there is no plan.
    plan: np.ndarray | None
    #: Rows by rule.
    nonconforming: dict[str, list[int]]
    inconclusive: dict[str, list[int]]


@dataclass(slots=True)
class _Plan:
    """One site while it is laid out, in metres from the middle of the shared side."""

    #: -1 west of the shared side, 1 east of it.
    side: int
    ring: np.ndarray
    offset: np.ndarray
    limits: Limits
    rows: list[int]
    slots: list[tuple[np.ndarray, np.ndarray]]
    wrong: dict[str, list[int]] = field(default_factory=dict)
    doubtful: dict[str, list[int]] = field(default_factory=dict)

    def take(self, share: float) -> list[int]:
        """Take rows that nothing was done to yet."""
        wanted = round(len(self.offset) * share)
        taken, self.rows = self.rows[:wanted], self.rows[wanted:]
        return taken

    def breaks(self, rule: str, *rows: int) -> None:
        """Note what is planted."""
        self.wrong.setdefault(rule, []).extend(rows)

    def too_near_edge(self, *rows: int) -> None:
        """Note modules a few metres inside their area, which are too near its edge if there is a setback."""
        if self.limits.setback_m:
            self.breaks("inside-area", *rows)


def shore_of(sea: int) -> shapely.LineString:
    """Draw the shore of a sea, some 9 km west of its first permits: longitude and latitude, degrees."""
    lat, lon = SEAS[sea]
    north = lat + np.linspace(-0.1, LATTICE_DEG * COLUMN + 0.1, 8)
    east = np.resize((0.0, 0.01), len(north)) - 0.09
    return shapely.LineString(np.column_stack([lon + east / np.cos(np.radians(lat)), north]))


def lay_out(
    pair: int, counts: tuple[int, ...], random: np.random.Generator, *, all_rules: bool
) -> list[Site]:
    """
    Lay out one pair of permits, or the first of it alone.

    Parameters
    ----------
    pair : int
        Its number, from which sea and place follow.
    counts : tuple of int
        Modules of each permit, one or two permits.
    random : numpy.random.Generator
        Where every chance comes from.
    all_rules : bool
        Whether faults of every rule are planted, or only those of position and spacing.
    """
    lat, lon = SEAS[pair % len(SEAS)]
    place = pair // len(SEAS)
    lat += LATTICE_DEG * (place % COLUMN)
    lon += LATTICE_DEG * (place // COLUMN) / np.cos(np.radians(lat))
    # Every other pair asks no setback, so that its modules may stand near one another across the border.
    setback_m = 30.0 * (pair % 2 == 0)
    plans = [
        _plan(side, count, setback_m, (6.0, 5.0)[index], random)
        for index, (side, count) in enumerate(zip((-1, 1), counts, strict=False))
    ]
    for plan in plans:
        _plant_at_edge(plan, random)
        _plant_close(plan, random)
    if len(plans) == 2:
        _plant_across_border(plans[0], plans[1], random)
    return [
        _site(2 * pair + index, plan, lat, lon, random, all_rules=all_rules)
        for index, plan in enumerate(plans)
    ]


def _plan(side: int, count: int, setback_m: float, least_m: float, random: np.random.Generator) -> _Plan:
    at = np.arange(count)
    grid = np.column_stack([at % SIDE, at // SIDE]) * GRID_M - (SIDE - 1) * GRID_M / 2
    grid += random.uniform(-JITTER_M, JITTER_M, grid.shape)
    grid[:, 0] += side * WIDTH_M / 2
    half = WIDTH_M / 2
    steps = np.arange(-half + CORNER_M, half - CORNER_M / 2, CORNER_M)
    out = half + random.uniform(0.0, RUGGED_M, (3, len(steps)))
    middle = side * half
    south = np.column_stack([middle + side * steps, -out[0]])
    far = np.column_stack([middle + side * out[1], steps])
    north = np.column_stack([middle - side * steps, out[2]])
    shared = np.array([[0.0, half], [0.0, -half]])
    corner = side * WIDTH_M
    ring = np.vstack([shared[1:], south, [[corner, -half]], far, [[corner, half]], north, shared[:1]])
    inward = ((south, (0.0, 1.0)), (far, (-float(side), 0.0)), (north, (0.0, -1.0)))
    # Every other corner, none next to the end of a side: planted modules are no neighbours of one another.
    slots = [(at, np.array(way)) for corners, way in inward for at in corners[2:-2:2]]
    slots = [slots[index] for index in random.permutation(len(slots))]
    limits = Limits(setback_m=setback_m, least_spacing_m=least_m, greatest_count=0, greatest_mass_kg=0.0)
    return _Plan(side, ring, grid, limits, random.permutation(count).tolist(), slots)


def _plant_at_edge(plan: _Plan, random: np.random.Generator) -> None:
    """Put modules outside, inside but near the edge, and within millimetres of the setback."""
    for row in plan.take(OUTSIDE):
        at, inward = plan.slots.pop()
        plan.offset[row] = at - 15.0 * inward
        plan.breaks("inside-area", row)
    for row in plan.take(NEAR_EDGE):
        at, inward = plan.slots.pop()
        plan.offset[row] = at + 10.0 * inward
        plan.too_near_edge(row)
    rows = plan.take(ON_SETBACK)
    if not rows:
        return
    found = [plan.slots.pop() for _ in rows]
    at, inward = np.array([slot[0] for slot in found]), np.array([slot[1] for slot in found])
    asked = plan.limits.setback_m + random.uniform(-0.004, 0.004, len(rows))
    plan.offset[rows] = _at_depth(shapely.Polygon(plan.ring), at, inward, asked)
    plan.doubtful.setdefault("inside-area", []).extend(rows)


def _at_depth(area: shapely.Polygon, at: np.ndarray, inward: np.ndarray, asked_m: np.ndarray) -> np.ndarray:
    """Go inward from the corners given until the edge is as far as asked."""
    low, high = np.full(len(at), -30.0), np.full(len(at), 60.0)
    for _ in range(45):
        middle = (low + high) / 2
        points = shapely.points(at + middle[:, None] * inward)
        depth = shapely.distance(points, area.exterior) * np.where(shapely.contains(area, points), 1.0, -1.0)
        low, high = np.where(depth < asked_m, middle, low), np.where(depth < asked_m, high, middle)
    return np.asarray(at + ((low + high) / 2)[:, None] * inward)


def _plant_close(plan: _Plan, random: np.random.Generator) -> None:
    """Put modules too near a neighbour, and within millimetres of the spacing."""
    for share, on_limit in ((CLOSE, False), (ON_SPACING, True)):
        for row in plan.take(share):
            neighbour = row + 1 if (row + 1) % SIDE else row - 1
            if neighbour not in plan.rows:
                continue
            plan.rows.remove(neighbour)
            edge_m = random.uniform(3.0, 4.0)
            if on_limit:
                edge_m = plan.limits.least_spacing_m + random.uniform(-0.004, 0.004)
            plan.offset[row] = plan.offset[neighbour] + [0.0, edge_m + 2 * RADIUS_M[USUAL]]
            into = plan.doubtful if on_limit else plan.wrong
            into.setdefault("spacing", []).extend((row, neighbour))


def _plant_across_border(west: _Plan, east: _Plan, random: np.random.Generator) -> None:
    """Put modules of two permits near one another, on either side of the side that their areas share."""
    for y, edge_m in ((-100.0, random.uniform(3.0, 4.0)), (0.0, 5.5), (100.0, random.uniform(8.0, 9.0))):
        if not (west.rows and east.rows):
            return
        away = (edge_m + 2 * RADIUS_M[USUAL]) / 2
        for plan in (west, east):
            row = plan.rows.pop()
            plan.offset[row] = [plan.side * away, y]
            plan.too_near_edge(row)
            if edge_m < plan.limits.least_spacing_m:
                plan.breaks("spacing", row)
    if west.rows:
        # In an area, but in that of the neighbour.
        stray = west.rows.pop()
        west.offset[stray] = [20.0, 50.0]
        west.breaks("inside-area", stray)


def _site(
    number: int, plan: _Plan, lat: float, lon: float, random: np.random.Generator, *, all_rules: bool
) -> Site:
    """Turn a plan into a site, with the faults of the other rules where they are asked."""
    count = len(plan.offset)
    keep_outs: list[KeepOutShape] = []
    if all_rules:
        keep_outs = _plant_keep_out(number, plan, lat, lon)
    lonlat = _on_earth(plan.offset, lat, lon)
    site = Site(
        number=number,
        area=shapely.Polygon(_on_earth(plan.ring, lat, lon, unbroken=True)),
        limits=plan.limits,
        lon_deg=(lonlat[:, 0] + 180.0) % 360.0 - 180.0,
        lat_deg=lonlat[:, 1],
        r95_m=np.full(count, R95_M),
        depth_m=random.uniform(21.0, 25.0, count).round(1),
        type_id=np.full(count, USUAL, dtype=object),
        placed_at=FIRST_DAY + np.arange(count) * np.timedelta64(10, "m"),
        tag_of=np.arange(count),
        memorial_of=np.arange(count),
        keep_outs=keep_outs,
        plan=_off(lonlat, OFF_PLAN_M) if all_rules and number % PLANNED == 2 else None,
        nonconforming=plan.wrong,
        inconclusive=plan.doubtful,
    )
    if all_rules:
        _plant_faults(site, plan)
    _authorise(site, plan, tight=all_rules)
    return site


def _plant_keep_out(number: int, plan: _Plan, lat: float, lon: float) -> list[KeepOutShape]:
    """Put a wreck, a cable or seagrass between the modules of every fourth permit, one module too near it."""
    if number % 4 != 2:
        return []
    row = next((row for row in plan.rows if row % SIDE < SIDE - 1 and row + SIDE < len(plan.offset)), None)
    if row is None:
        return []
    plan.rows.remove(row)
    plan.breaks("keep-out", row)
    grid = np.array([row % SIDE, row // SIDE]) * GRID_M - (SIDE - 1) * GRID_M / 2
    cell = grid + np.array([plan.side * WIDTH_M / 2 + GRID_M / 2, GRID_M / 2])

    def earth(*offsets: tuple[float, float]) -> np.ndarray:
        return _on_earth(np.array(offsets), lat, lon, unbroken=True)

    kind = ("wreck", "cable", "seagrass")[number // 4 % 3]
    if kind == "wreck":
        x, y = plan.offset[row]
        return [KeepOutShape(kind=kind, shape=shapely.Point(earth((x + 3.0, y))[0]), setback_m=6.0)]
    if kind == "cable":
        plan.offset[row] = [cell[0] - 3.0, grid[1]]
        reach = SIDE * GRID_M / 2
        line = earth(*((cell[0], y) for y in np.linspace(-reach, reach, 9)))
        return [KeepOutShape(kind=kind, shape=shapely.LineString(line), setback_m=5.0)]
    plan.offset[row] = cell
    x, y = cell
    square = earth((x - 2, y - 2), (x + 2, y - 2), (x + 2, y + 2), (x - 2, y + 2))
    return [KeepOutShape(kind=kind, shape=shapely.Polygon(square), setback_m=3.0)]


def _plant_faults(site: Site, plan: _Plan) -> None:
    """Make modules differ from what the other rules ask."""
    for fault in FAULTS:
        for row in plan.take(FAULT):
            _make(site, plan, fault, row)
    for column, share in ((site.tag_of, FAULT), (site.memorial_of, FAULT)):
        for row in plan.take(share):
            if not plan.rows:
                return
            twin = plan.rows.pop()
            column[row] = twin
            plan.breaks("duplicate", row, twin)
            if column is site.tag_of and site.plan is not None:
                # The plan knows one place for the tag.
                plan.breaks("target-offset", row)
    if site.number % WHOLE == 3:
        plan.breaks("offshore-distance", *range(len(site.tag_of)))
    if site.number % WHOLE == 4:
        plan.breaks("stability", *range(len(site.tag_of)))


def _make(site: Site, plan: _Plan, fault: str, row: int) -> None:
    if fault == "too deep":
        site.depth_m[row] = 35.0
        plan.breaks("depth-band", row)
    elif fault == "too shallow":
        site.depth_m[row] = 12.0
        plan.breaks("depth-band", row)
        plan.breaks("clearance", row)
    elif fault == "little clearance":
        site.depth_m[row] = 17.0
        plan.breaks("clearance", row)
    elif fault == "tall":
        site.type_id[row] = TALL
        plan.breaks("relief", row)
    elif fault == "not authorised":
        site.type_id[row] = SLAB
        plan.breaks("module-type", row)
    elif fault == "too early":
        site.placed_at[row] = TOO_EARLY + np.timedelta64(row, "m")
        plan.breaks("validity", row)
    elif fault == "closed season":
        site.placed_at[row] = CLOSED + np.timedelta64(row, "m")
        plan.breaks("season", row)
    elif fault == "off target" and site.plan is not None:
        place = np.array([[site.lon_deg[row], site.lat_deg[row]]])
        site.plan[row] = _off(place, FAR_OFF_PLAN_M)[0]
        plan.breaks("target-offset", row)
    elif fault == "badly fixed":
        site.r95_m[row] = 0.8
        plan.breaks("position-quality", row)


def _authorise(site: Site, plan: _Plan, *, tight: bool) -> None:
    """Authorise a number and a mass that all keep, or all but the last few placed."""
    order = np.argsort(site.placed_at, kind="stable")
    mass = np.cumsum([MASS_KG[site.type_id[row]] for row in order])
    count, over = len(order), 2 * (site.number % 3 == 0)
    greatest_count, greatest_mass_kg = count, float(mass[-1]) + 1000.0
    if tight and count > over:
        greatest_count = count - over
        if site.number % 3 == 1:
            greatest_mass_kg = float(mass[-1]) - 100.0
            over = 1
        plan.breaks("capacity", *order[count - over :].tolist())
    site.limits = Limits(
        setback_m=plan.limits.setback_m,
        least_spacing_m=plan.limits.least_spacing_m,
        greatest_count=greatest_count,
        greatest_mass_kg=greatest_mass_kg,
        least_offshore_m=2_000_000.0 if site.number % WHOLE == 3 else 5_000.0,
        least_sliding_factor=100_000.0 if site.number % WHOLE == 4 else 1.2,
    )


def _off(lonlat: np.ndarray, distance_m: float) -> np.ndarray:
    """Give places so far to the north-east of others, none of them past 180."""
    count = len(lonlat)
    lon, lat, _ = GEOD.fwd(*lonlat.T, np.full(count, 45.0), np.full(count, distance_m))
    return np.column_stack([(np.asarray(lon) + 180.0) % 360.0 - 180.0, lat])


def _on_earth(offset_m: np.ndarray, lat: float, lon: float, *, unbroken: bool = False) -> np.ndarray:
    """Give longitude and latitude of offsets east and north of a place, if asked running on past 180."""
    azimuth = np.degrees(np.arctan2(offset_m[:, 0], offset_m[:, 1]))
    distance = np.hypot(offset_m[:, 0], offset_m[:, 1])
    all_lon, all_lat = np.full(len(offset_m), lon), np.full(len(offset_m), lat)
    lon_deg, lat_deg, _ = GEOD.fwd(all_lon, all_lat, azimuth, distance)
    if unbroken:
        lon_deg = lon + (np.asarray(lon_deg) - lon + 180.0) % 360.0 - 180.0
    return np.column_stack([lon_deg, lat_deg])
