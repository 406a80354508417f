"""Warn of a position far from every area and of a depth in the wrong unit; name the likely slip."""

from collections.abc import Mapping, Sequence
from statistics import median

import numpy as np

from registry.actions.likely_slips import Slip, likely_slips
from registry.measure.boundary import signed_distance
from registry.measure.units import LENGTH_UNITS
from registry.records.permit import Permit
from registry.records.position import Position
from registry.records.written_position import MINUTES_AS_DECIMALS, WrittenPosition

__all__ = [
    "FAR_M",
    "furthest_inside",
    "is_far_outside",
    "slip_of_permit",
    "slips_of_depth",
    "slips_of_position",
    "warnings_at_home",
    "warnings_of_position",
]

#: Nobody lets go of a module this far from its area on purpose: look for a slip beyond it. Units: m.
FAR_M = 300.0
#: The edge of an area may bulge out of the box around its corners by less than this. Units: degrees.
BOX_MARGIN_DEG = 0.05
#: Depths that agree within this share with those around, once the unit is mended, point to the unit.
DEPTH_SHARE = 0.15
NEIGHBOURS_NEEDED = 3


def warnings_of_position(
    written: WrittenPosition,
    observed: Position,
    home: Position,
    permits: Sequence[Permit],
    *,
    inside_m: Mapping[str, float] | None = None,
) -> tuple[str, ...]:
    """Give what the text itself warns of and what its distance from every permit area does."""
    inside_m = inside_m or _inside_each(permits, home)
    if max(inside_m.values(), default=-np.inf) >= 0:
        return warnings_at_home(written)
    return (*written.warnings, *slips_of_position(written, observed, home, permits, inside_m=inside_m))


def warnings_at_home(written: WrittenPosition) -> tuple[str, ...]:
    """
    Give what the text itself warns of, for a position inside a permit area.

    Decimal degrees that look like minutes are common and mostly right: where they lie in an area, they are.
    """
    return tuple(warning for warning in written.warnings if warning != MINUTES_AS_DECIMALS)


def slip_of_permit(
    home: Position,
    number: str,
    permits: Sequence[Permit],
    *,
    inside_m: Mapping[str, float] | None = None,
) -> tuple[str, ...]:
    """
    Warn if a position lies outside its own permit's areas but inside those of another permit.

    Returns
    -------
    tuple of str
        One sentence, naming the other permit; empty otherwise.
    """
    inside_m = inside_m or _inside_each(permits, home)
    if inside_m.get(number, -np.inf) >= -home.r95_m:
        return ()
    holding = [other for other, depth_m in inside_m.items() if other != number and depth_m >= 0]
    if not holding:
        return ()
    return (
        f"The position lies in an area of permit {', '.join(holding)}, not of {number}: which was meant?",
    )


def slips_of_position(
    written: WrittenPosition,
    observed: Position,
    home: Position,
    permits: Sequence[Permit],
    *,
    inside_m: Mapping[str, float] | None = None,
) -> tuple[str, ...]:
    """
    Warn if a position lies far outside every permit area, and say which slip would bring it home.

    Parameters
    ----------
    written : WrittenPosition
        What was typed.
    observed, home : Position
        The same place in the frame stated and in the home frame.
    permits : sequence of Permit
        Every permit of the registry, in the home frame.
    inside_m : mapping of str to float, optional
        How far inside the areas of each permit it lies, negative outside, where that is known already.

    Returns
    -------
    tuple of str
        One sentence; empty where the position is near an area.
    """
    inside_m = inside_m or _inside_each(permits, home)
    outside_m = -max(inside_m.values(), default=-np.inf)
    if not permits or not is_far_outside(outside_m, home.r95_m):
        return ()
    distance = f"{outside_m / 1000:.1f} km" if outside_m >= 1000 else f"{outside_m:.0f} m"
    told = f"The position lies {distance} outside every permit area."
    slips = likely_slips(written)
    # The shift between the frames is metres; a slip is hundreds: the same shift serves every reading.
    shift_lat, shift_lon = home.lat_deg - observed.lat_deg, home.lon_deg - observed.lon_deg
    fitting = [
        slip
        for slip in slips
        if _may_hold(permits, slip.lon_deg + shift_lon, slip.lat_deg + shift_lat, home.r95_m)
        and furthest_inside(permits, [slip.lon_deg + shift_lon], [slip.lat_deg + shift_lat])[0] >= -home.r95_m
    ]
    if not fitting:
        return (f"{told} No common slip of typing explains it: check position, frame and permit.",)
    return (f"{told} {_suspicion(fitting)} Correct it if so; it is recorded as typed.",)


def is_far_outside(outside_m: float, r95_m: float) -> bool:
    """Tell whether a position lies so far outside every area that somebody must have mistyped it."""
    return outside_m > max(FAR_M, 3 * r95_m)


def _suspicion(fitting: list[Slip]) -> str:
    first, *rest = fitting
    others = f" ({len(rest)} other slip{'s' if len(rest) > 1 else ''} would fit too.)" if rest else ""
    return f"{first.sentence}{others}"


def _inside_each(permits: Sequence[Permit], home: Position) -> dict[str, float]:
    """Give how far inside the areas of each permit a position lies. Units: m."""
    where = [home.lon_deg], [home.lat_deg]
    return {permit.number: float(furthest_inside([permit], *where)[0]) for permit in permits}


def _may_hold(permits: Sequence[Permit], lon_deg: float, lat_deg: float, reach_m: float) -> bool:
    """Tell whether a point lies near the box around any area: most slips do not, and need no exact answer."""
    reach_deg = BOX_MARGIN_DEG + reach_m / 110_000.0
    for permit in permits:
        for area in permit.areas:
            west, south, east, north = area.shape.bounds
            if not south - reach_deg <= lat_deg <= north + reach_deg:
                continue
            wide_deg = reach_deg / max(float(np.cos(np.radians(min(abs(lat_deg), 89.0)))), 0.01)
            if (lon_deg - west + wide_deg) % 360.0 <= east - west + 2.0 * wide_deg:
                return True
    return False


def furthest_inside(permits: Sequence[Permit], lon_deg: list[float], lat_deg: list[float]) -> np.ndarray:
    """Give how far inside any area each point lies; negative outside all. Units: m."""
    best = np.full(len(lon_deg), -np.inf)
    if not lon_deg:
        return best
    for permit in permits:
        for area in permit.areas:
            best = np.maximum(best, signed_distance(lon_deg, lat_deg, area.shape, area.edges).distance_m)
    return best


def slips_of_depth(depth_m: float, written: str, around: Sequence[float]) -> tuple[str, ...]:
    """
    Warn if a depth disagrees with those around it but would agree in another unit.

    Parameters
    ----------
    depth_m : float
        Charted depth as understood. Units: m.
    written : str
        As typed.
    around : sequence of float
        Charted depths that are known nearby. Units: m.

    Returns
    -------
    tuple of str
        One sentence; empty where the depth fits or too few depths are known around.
    """
    if len(around) < NEIGHBOURS_NEEDED:
        return ()
    usual = median(around)
    if abs(depth_m - usual) <= max(DEPTH_SHARE * usual, 2.0):
        return ()
    foot, fathom = LENGTH_UNITS["ft"], LENGTH_UNITS["fathom"]
    readings = {
        "feet typed as metres": depth_m * foot,
        "metres typed as feet": depth_m / foot,
        "fathoms typed as metres": depth_m * fathom,
        "metres typed as fathoms": depth_m / fathom,
        "fathoms typed as feet": depth_m / foot * fathom,
        "feet typed as fathoms": depth_m / fathom * foot,
    }
    for name, other_m in readings.items():
        if abs(other_m - usual) <= DEPTH_SHARE * usual:
            return (
                f"A depth of {written} ({depth_m:.1f} m) disagrees with {usual:.1f} m around it; "
                f"{name} would give {other_m:.1f} m.",
            )
    return (f"A depth of {written} ({depth_m:.1f} m) disagrees with {usual:.1f} m around it.",)
