"""Find the permits that a misplaced position may be about: around it, or around where it was meant."""

from registry.actions.likely_slips import likely_slips
from registry.actions.settle_position import Settled
from registry.actions.warn_of_slips import FAR_M, furthest_inside, is_far_outside
from registry.ports import Register
from registry.records.permit import Permit
from registry.records.written_position import WrittenPosition

__all__ = ["permits_in_question"]

#: How much further is looked each time that no area was near.
WIDER = 4.0


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
    reach_m = max(FAR_M, home.r95_m)
    while True:
        near = register.permits_near(lon_deg=home.lon_deg, lat_deg=home.lat_deg, reach_m=min(reach_m, own_m))
        found |= {each.number: each for each in near}
        outside_m = -float(furthest_inside(near, [home.lon_deg], [home.lat_deg])[0])
        if min(outside_m, own_m) <= reach_m:
            break
        reach_m *= WIDER
    # As in ``slips_of_position``: the shift between the frames serves every reading.
    shift_lat, shift_lon = home.lat_deg - observed.lat_deg, home.lon_deg - observed.lon_deg
    far = is_far_outside(min(outside_m, own_m), home.r95_m)
    for slip in likely_slips(written) if far else ():
        lon_deg, lat_deg = slip.lon_deg + shift_lon, slip.lat_deg + shift_lat
        near = register.permits_near(lon_deg=lon_deg, lat_deg=lat_deg, reach_m=home.r95_m)
        found |= {each.number: each for each in near}
    return tuple(found[number] for number in sorted(found))
