"""Height above the seabed, in metres and as a share of the water."""

import math

import numpy as np
import pytest

from tests.rules.one_case import BAD, OK, UNSURE, a_table, feet, judged, share, verdicts

HALF = {"greatest_share": share(0.5)}


@pytest.mark.parametrize(("height_m", "verdict"), [(1.46, OK), (1.48, UNSURE), (1.52, UNSURE), (1.54, BAD)])
def test_the_guard_band_lies_on_both_sides_of_the_greatest_height(height_m, verdict):
    assert verdicts(judged("relief", a_table(height_m=height_m), {"greatest": 1.5})) == [verdict]


def test_a_share_is_reported_as_the_height_that_it_allows_here():
    found = judged("relief", a_table(height_m=4.0, depth_m=10.0), HALF)
    assert verdicts(found) == [OK]
    assert (found.measured[0], found.limit[0]) == (4.0, 5.0)
    assert found.u95[0] == pytest.approx(math.hypot(0.03, 0.2))
    assert "40% of the water column" in found.message[0]


@pytest.mark.parametrize("height_m", np.arange(4.0, 6.0, 0.05).tolist())
@pytest.mark.parametrize("limits", [HALF, {"greatest": 5.1, **HALF}, {"greatest": 4.6}])
def test_the_numbers_reported_bear_out_the_verdict(height_m, limits):
    found = judged("relief", a_table(height_m=height_m, depth_m=10.0), limits)
    x, u, t = found.measured[0], found.u95[0], found.limit[0]
    expected = OK if x + u <= t + 1e-9 else BAD if x - u > t + 1e-9 else UNSURE
    assert verdicts(found) == [expected]


def test_the_tighter_of_two_limits_decides():
    table = a_table(2, height_m=4.0, depth_m=[30.0, 7.0])
    found = judged("relief", table, {"greatest": 4.5, **HALF})
    assert verdicts(found) == [OK, BAD]
    assert found.limit.tolist() == [4.5, 3.5]


def test_an_unknown_depth_leaves_a_share_open_but_not_a_height():
    table = a_table(2, depth_m=math.nan, depth_u95_m=math.nan, height_m=[1.2, 9.0])
    assert verdicts(judged("relief", table, HALF)) == [UNSURE, UNSURE]
    assert verdicts(judged("relief", table, {"greatest": 1.5})) == [OK, BAD]
    both = judged("relief", table, {"greatest": 1.5, **HALF})
    assert verdicts(both) == [UNSURE, BAD]
    assert "unknown share" in both.message[0]
    assert both.limit[1] == 1.5


def test_an_unknown_height_is_inconclusive():
    found = judged("relief", a_table(height_m=math.nan), {"greatest": feet(5), **HALF})
    assert verdicts(found) == [UNSURE]
    assert "not known" in found.message[0]


def test_ground_that_falls_dry_has_no_water_to_share():
    assert verdicts(judged("relief", a_table(depth_m=-1.0), HALF)) == [BAD]
