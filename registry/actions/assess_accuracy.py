"""An independent check survey against the registry: how good the recorded positions really are."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from registry.actions.derive_placement import stated_of
from registry.actions.settle_position import settle_all
from registry.actions.standing_place import resurveys_by_tag, standing_place
from registry.errors import ConflictError, LeadlineError, NotFoundError
from registry.measure.accuracy import LEAST_POINTS, LEAST_RATIO, Accuracy, assess, outliers
from registry.measure.geodesic import inverse
from registry.measure.survey_order import order_met
from registry.measure.uncertainty import combine
from registry.ports import Register
from registry.records.log_row import LogRow
from registry.records.position import Position

__all__ = ["Assessment", "CheckPoint", "assess_accuracy"]

#: A check survey should be so many times better than what it checks.
#: Source: ASPRS Positional Accuracy Standards, edition 1 (from memory); the NSSDA says "higher".
BETTER = 3.0


@dataclass(frozen=True, slots=True, kw_only=True)
class CheckPoint:
    """One module surveyed again: where the registry has it, seen from where the check found it."""

    tag: str
    #: Entry of the observation that was checked.
    reference: str
    #: Registry minus check. Units: m.
    east_m: float
    north_m: float
    #: Stated 95 % radii of registry and check. Units: m.
    r95_m: float
    check_r95_m: float
    #: True if it does not belong to the others.
    outlier: bool

    @property
    def distance_m(self) -> float:
        """How far apart. Units: m."""
        return math.hypot(self.east_m, self.north_m)

    @property
    def within(self) -> bool:
        """Whether the two agree within their stated radii."""
        return self.distance_m <= float(combine(self.r95_m, self.check_r95_m))


@dataclass(frozen=True, slots=True, kw_only=True)
class Assessment:
    """What a check survey says."""

    points: tuple[CheckPoint, ...]
    #: Over every point.
    accuracy: Accuracy
    #: Over the points that are no outliers; None where there are none.
    without_outliers: Accuracy | None
    #: Strictest S-44 order whose limit on position the 95 % radius meets, "" for none; none, too, where there
    #: are fewer points than the NSSDA asks for.
    order: str
    #: Depth at which the order was asked: the shallowest of the modules, 0 where none is known. Units: m.
    order_depth_m: float
    #: True if so many points lie beyond their stated radii that these are too small (at 5 %).
    radii_too_small: bool
    #: What a reader must know, one sentence each.
    notes: tuple[str, ...]
    #: Rows that could not be used: their place in what was given, and why.
    errors: tuple[tuple[int, LeadlineError], ...]

    @property
    def sound(self) -> bool:
        """Whether nothing asks for a second look."""
        return self.accuracy.enough and self.without_outliers is None and not self.radii_too_small


def assess_accuracy(register: Register, rows: Sequence[LogRow]) -> Assessment:
    """
    Compare an independent survey of some modules with where the registry has them.

    Parameters
    ----------
    register : Register
        Read from.
    rows : sequence of LogRow
        The check positions.

    Raises
    ------
    NotFoundError
        If not one row can be used; the reason of the first is given.

    Notes
    -----
    Outliers are named and counted in; the figures without them stand beside.
    """
    with register.reading():
        found, errors = _compared(register, rows)
        depths = _depths(register, [tag for tag, *_ in found])
    if not found:
        if not errors:
            what = "The check survey has no row."
            raise NotFoundError(what, remedy="Give at least one module that was surveyed again.")
        first = errors[0][1]
        raise NotFoundError(f"No row of the check survey can be used. {first.what}", remedy=first.remedy)
    east, north = np.array([f[2] for f in found]), np.array([f[3] for f in found])
    wild = outliers(east, north)
    points = tuple(
        CheckPoint(
            tag=tag,
            reference=reference,
            east_m=float(e),
            north_m=float(n),
            r95_m=there.r95_m,
            check_r95_m=check.r95_m,
            outlier=bool(out),
        )
        for (tag, reference, e, n, there, check), out in zip(found, wild, strict=True)
    )
    accuracy = assess(east, north)
    without = assess(east[~wild], north[~wild]) if wild.any() else None
    depth_m = float(np.nanmin(depths)) if np.isfinite(depths).any() else 0.0
    met = order_met(accuracy.ellipse_r95_m, max(depth_m, 0.0)) if accuracy.enough else None
    beyond = sum(1 for point in points if not point.within)
    too_small = _chance_of(beyond, len(points)) < 0.05
    return Assessment(
        points=points,
        accuracy=accuracy,
        without_outliers=without,
        order=met.name if met else "",
        order_depth_m=max(depth_m, 0.0),
        radii_too_small=too_small,
        notes=_notes(accuracy, points, beyond, too_small=too_small),
        errors=tuple(errors),
    )


_Compared = tuple[str, str, float, float, Position, Position]


def _compared(
    register: Register, rows: Sequence[LogRow]
) -> tuple[list[_Compared], list[tuple[int, LeadlineError]]]:
    """Pair every usable row with where the registry has its module."""
    known = resurveys_by_tag(register)
    errors: list[tuple[int, LeadlineError]] = []
    stated, ready = [], []
    for index, row in enumerate(rows):
        try:
            stated.append(stated_of(row))
            ready.append(index)
        except LeadlineError as error:
            errors.append((index, error))
    found: list[_Compared] = []
    seen: set[str] = set()
    for index, settled in zip(ready, settle_all(stated, register.programme()), strict=True):
        tag = rows[index].tag
        try:
            if isinstance(settled, LeadlineError):
                raise settled
            if tag in seen:
                what = f"{tag} stands in the check survey twice; its first row was used."
                raise ConflictError(what, remedy="Keep one row for each module: two are not independent.")
            place = standing_place(register, tag, known)
        except LeadlineError as error:
            errors.append((index, error))
            continue
        seen.add(tag)
        there, check = place.home.position, settled.home.position
        distance_m, bearing_deg = (
            float(v) for v in inverse(check.lon_deg, check.lat_deg, there.lon_deg, there.lat_deg)
        )
        azimuth = math.radians(bearing_deg)
        east_m, north_m = distance_m * math.sin(azimuth), distance_m * math.cos(azimuth)
        found.append((tag, place.reference, east_m, north_m, there, check))
    errors.sort(key=lambda pair: pair[0])
    return found, errors


def _depths(register: Register, tags: Sequence[str]) -> np.ndarray:
    table = register.placements()
    return table.depth_m[np.isin(table.tag, list(tags))] if tags else np.empty(0)


def _chance_of(beyond: int, count: int) -> float:
    """Give the chance of so many points beyond their 95 % radii, or more, if the radii were right."""
    return sum(math.comb(count, k) * 0.05**k * 0.95 ** (count - k) for k in range(beyond, count + 1))


def _notes(
    accuracy: Accuracy, points: Sequence[CheckPoint], beyond: int, *, too_small: bool
) -> tuple[str, ...]:
    notes = []
    if not accuracy.enough:
        points_told = "1 point" if accuracy.count == 1 else f"{accuracy.count} points"
        notes.append(f"Only {points_told}: the NSSDA asks for at least {LEAST_POINTS}.")
    if accuracy.formula_holds:
        notes.append(
            f"The NSSDA's formula is not conservative for unequal axes (ratio {accuracy.ratio:.2f}); "
            "the ellipse is exact."
        )
    else:
        notes.append(
            f"The axes differ by a ratio of {accuracy.ratio:.2f}: the NSSDA's formula is meant for "
            f"{LEAST_RATIO} and more, and is too small here. Use the ellipse."
        )
    wild = [point.tag for point in points if point.outlier]
    if wild:
        named = ", ".join(wild[:12]) + (", …" if len(wild) > 12 else "")
        notes.append(f"Outliers, counted in: {named}. Look for a cause; none was left out by itself.")
    if too_small:
        notes.append(
            f"Beyond the stated radii: {beyond} of {len(points)}, where one in twenty may be; "
            "the registry's R95 figures are too small."
        )
    ours = float(np.median([point.r95_m for point in points]))
    theirs = float(np.median([point.check_r95_m for point in points]))
    if theirs * BETTER > ours:
        notes.append(
            f"The check (R95 {theirs:.2g} m) should be {BETTER:g} times better than what it checks "
            f"({ours:.2g} m): its own errors are in these figures."
        )
    return tuple(notes)
