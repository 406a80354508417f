"""Water over the top at chart datum."""

import math

import pytest

from tests.rules.one_case import BAD, OK, UNSURE, a_table, feet, judged, verdicts

U95_M = math.hypot(0.4, 0.03)


@pytest.mark.parametrize(
    ("over_limit_m", "verdict"),
    [
        (U95_M + 0.001, OK),
        (U95_M - 0.001, UNSURE),
        (0.0, UNSURE),
        (-U95_M + 0.001, UNSURE),
        (-U95_M - 0.001, BAD),
    ],
)
def test_the_guard_band_lies_on_both_sides_of_the_least_clearance(over_limit_m, verdict):
    found = judged("clearance", a_table(depth_m=15.24 + 1.2 + over_limit_m), {"least": feet(50)})
    assert verdicts(found) == [verdict]
    assert found.u95[0] == pytest.approx(U95_M)


def test_exactly_the_clearance_conforms_where_nothing_is_in_doubt():
    table = a_table(depth_m=16.44, height_m=1.2, depth_u95_m=0.0, height_u95_m=0.0)
    assert verdicts(judged("clearance", table, {"least": feet(50)})) == [OK]


def test_an_unknown_depth_or_height_is_inconclusive():
    table = a_table(
        3, depth_m=[math.nan, 20.0, 20.0], height_m=[1.2, math.nan, 1.2], height_u95_m=[0.1, 0.1, math.nan]
    )
    found = judged("clearance", table, {"least": feet(50)})
    assert verdicts(found) == [UNSURE] * 3
    assert "not known" in found.message[0]


def test_a_module_that_stands_out_of_the_water_fails():
    found = judged("clearance", a_table(depth_m=0.5), {"least": 2.0})
    assert verdicts(found) == [BAD]
    assert found.measured[0] == pytest.approx(-0.7)
