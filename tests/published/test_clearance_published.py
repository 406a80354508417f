"""Water over the top against a published rule and the guarded decision."""

import pytest

from registry.measure.clearance import clearance_arrays, clearance_over_module, share_of_water_column
from registry.measure.decision import Verdict, at_least, at_most
from registry.measure.uncertainty import Length
from registry.measure.units import metres_per

FOOT = metres_per("ft")

# Florida Administrative Code 62-330.600 (text effective 2013-10-01): (1)(d) the top of the reef takes at most
# half the distance from bottom to surface and never leaves less than 6 ft; (2)(b) none in bays where the water
# is less than 12 ft. Depths at the permit datum; cases computed, in feet, without doubt.
FAC = [
    pytest.param(40.0, 20.0, (True, True, True), id="40 ft over 20 ft"),
    pytest.param(40.0, 20.1, (False, True, True), id="40 ft over 20.1 ft"),
    pytest.param(13.0, 6.5, (True, True, True), id="13 ft over 6.5 ft"),
    pytest.param(11.0, 1.0, (True, True, False), id="11 ft in a bay"),
    pytest.param(12.0, 6.0, (True, True, True), id="12 ft over 6 ft"),
    pytest.param(11.9, 5.95, (True, False, False), id="11.9 ft over 5.95 ft"),
]


@pytest.mark.parametrize(("depth_ft", "height_ft", "expected"), FAC)
def test_fac_62_330_600(depth_ft, height_ft, expected):
    depth, height = depth_ft * FOOT, height_ft * FOOT
    share, share_u95 = share_of_water_column(height, 0.0, depth, 0.0)
    clearance, clearance_u95 = clearance_arrays(depth, 0.0, height, 0.0)
    found = (
        at_most(share, share_u95, 0.5) == Verdict.CONFORMING,
        at_least(clearance, clearance_u95, 6.0 * FOOT) == Verdict.CONFORMING,
        at_least(depth, 0.0, 12.0 * FOOT) == Verdict.CONFORMING,
    )
    assert found == expected


@pytest.mark.parametrize(("depth_ft", "height_ft", "expected"), FAC[:1])
def test_exactly_half_is_inconclusive_once_the_depth_is_in_doubt(depth_ft, height_ft, expected):
    share, u95 = share_of_water_column(height_ft * FOOT, 0.05, depth_ft * FOOT, 0.56)
    assert at_most(share, u95, 0.5) == Verdict.INCONCLUSIVE


# JCGM 106:2012, guarded acceptance with w = U, read second-hand; cases computed. Least clearance 50.0 ft,
# doubt 1.9 ft of depth and none of height.
GUARDED = [(52.0, Verdict.CONFORMING), (51.0, Verdict.INCONCLUSIVE), (48.0, Verdict.NONCONFORMING)]


@pytest.mark.parametrize(("clearance_ft", "verdict"), GUARDED)
def test_authorised_clearance_of_50_ft(clearance_ft, verdict):
    found = clearance_over_module(Length((clearance_ft + 5.0) * FOOT, 1.9 * FOOT), Length(5.0 * FOOT, 0.0))
    assert at_least(found.value_m, found.u95_m, 50.0 * FOOT) == verdict


def test_a_sounding_to_s44_order_1a_carries_its_doubt_into_the_clearance():
    """IHO S-44 edition 6.1.0, table 1: order 1a allows 0.5636 m at 20 m; combined by JCGM 100:2008, 5.1.2."""
    found = clearance_over_module(Length(20.0, 0.5636), Length(1.5, 0.05))
    assert found.u95_m == pytest.approx(0.5658, abs=5e-5)
