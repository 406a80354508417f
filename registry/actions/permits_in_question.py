"""Find the permits that a misplaced position may be about: around it, or around where it was meant."""

import numpy as np

from registry.actions.likely_slips import likely_slips
from registry.actions.settle_position import Settled
from registry.actions.warn_of_slips import FAR_M, furthest_inside, is_far_outside
from registry.measure.geodesic import inverse
from registry.ports import Register
from registry.records.permit import Permit
from registry.records.position import Position
from registry.records.written_position import WrittenPosition

__all__ = ["permits_in_question"]

#: The edge of an area bulges out of the box around it by less than this. Units: m.
BULGE_M = 6_000.0
#: Of a box wider than this no circle is drawn. Units: degrees.
WIDE_DEG = 60.0


def permits_in_question(
    register: Register, permit: Permit, written: WrittenPosition, settled: Settled
) -> tuple[Permit, ...]:
    """
    Give those permits that the warnings of a position can depend on, in order of number.

    They are the permit itself, every permit with an area that may hold the position, the one whose area is
    nearest, and every permit with an area that may hold it once a slip of typing is undone. The warnings of
    ``warn_of_slips`` are the same with these as with every permit of the registry.

    Parameters
    ----------
    register : Register
        The registry.
    permit : Permit
        What the position was stated for, in the version in force today.
    written : WrittenPosition
        The position as typed.
    settled : Settled
        The same, observed and in the home frame.
    """
    home, observed = settled.home.position, settled.observed
    found = {permit.number: permit}
    own_m = -float(furthest_inside([permit], [home.lon_deg], [home.lat_deg])[0])
    reach_m = max(FAR_M, 3 * home.r95_m)
    near = register.permits_near(lon_deg=home.lon_deg, lat_deg=home.lat_deg, reach_m=reach_m)
    outside_m = min(own_m, -float(furthest_inside(near, [home.lon_deg], [home.lat_deg])[0]))
    found |= {each.number: each for each in near}
    if not is_far_outside(outside_m, home.r95_m):
        return tuple(found[number] for number in sorted(found))
    found |= {number: register.permit(number) for number in _maybe_nearest(register, home) - found.keys()}
    # As in ``slips_of_position``: the shift between the frames serves every reading.
    shift_lat, shift_lon = home.lat_deg - observed.lat_deg, home.lon_deg - observed.lon_deg
    for slip in likely_slips(written):
        lon_deg, lat_deg = slip.lon_deg + shift_lon, slip.lat_deg + shift_lat
        near = register.permits_near(lon_deg=lon_deg, lat_deg=lat_deg, reach_m=home.r95_m)
        found |= {each.number: each for each in near}
    return tuple(found[number] for number in sorted(found))


def _maybe_nearest(register: Register, home: Position) -> set[str]:
    """Give the permits of which an area may be the nearest of all, judged by circles around their boxes."""
    boxes = register.permit_boxes()
    west, south, east, north = np.array([box for _, box in boxes]).T
    middle = (west + east) / 2.0, (south + north) / 2.0
    corners = [
        inverse(*middle, lon_deg, lat_deg)[0] for lon_deg in (west, east) for lat_deg in (south, north)
    ]
    radius_m = np.max(corners, axis=0) + BULGE_M
    radius_m[east - west > WIDE_DEG] = np.inf
    distance_m, _ = inverse(home.lon_deg, home.lat_deg, *middle)
    may_be = distance_m - radius_m <= np.min(distance_m + radius_m)
    return {boxes[row][0] for row in np.flatnonzero(may_be).tolist()}
