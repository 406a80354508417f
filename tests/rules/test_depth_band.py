"""In the permitted band of charted depth."""

import math

import pytest

from tests.rules.one_case import BAD, OK, UNSURE, a_table, feet, judged, verdicts


@pytest.mark.parametrize(
    ("depth_m", "verdict", "limit_m"),
    [
        (15.41, OK, 15.0),
        (15.39, UNSURE, 15.0),
        (14.61, UNSURE, 15.0),
        (14.59, BAD, 15.0),
        (24.59, OK, 25.0),
        (24.61, UNSURE, 25.0),
        (25.39, UNSURE, 25.0),
        (25.41, BAD, 25.0),
    ],
)
def test_the_guard_band_lies_on_both_sides_of_both_limits(depth_m, verdict, limit_m):
    found = judged("depth-band", a_table(depth_m=depth_m), {"least": 15.0, "greatest": 25.0})
    assert verdicts(found) == [verdict]
    assert found.limit.tolist() == [limit_m]


def test_an_exact_depth_at_exactly_the_limit_conforms():
    table = a_table(2, depth_m=[60 * 0.3048, 80 * 0.3048], depth_u95_m=0.0)
    assert verdicts(judged("depth-band", table, {"least": feet(60), "greatest": feet(80)})) == [OK, OK]


@pytest.mark.parametrize("limits", [{"least": 15.0}, {"greatest": 25.0}, {"least": 15.0, "greatest": 25.0}])
def test_an_unknown_depth_or_doubt_is_inconclusive(limits):
    table = a_table(2, depth_m=[math.nan, 20.0], depth_u95_m=[math.nan, math.nan])
    found = judged("depth-band", table, limits)
    assert verdicts(found) == [UNSURE, UNSURE]
    assert "not known" in found.message[0]


def test_one_limit_alone_bounds_one_side():
    table = a_table(2, depth_m=[3.0, 300.0])
    assert verdicts(judged("depth-band", table, {"least": 15.0})) == [BAD, OK]
    assert verdicts(judged("depth-band", table, {"greatest": 25.0})) == [OK, BAD]


def test_a_doubt_wider_than_the_band_is_never_certain():
    assert verdicts(judged("depth-band", a_table(depth_u95_m=6.0), {"least": 15.0, "greatest": 25.0})) == [
        UNSURE
    ]


def test_the_limit_is_told_as_the_permit_writes_it_and_with_its_datum():
    found = judged("depth-band", a_table(), {"least": feet(60)})
    assert "60 ft (18.29 m)" in found.message[0]
    assert "MLLW" in found.message[0]
