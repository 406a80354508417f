"""
The rules against published limits and worked cases: each row names its source.

"Computed here" means that the limit is published and the case was worked out from it by hand.
"""

import math

import pytest

from registry.measure.survey_order import ORDERS
from tests.builders import LAT_DEG, LON_DEG, a_keep_out, a_permit, an_area
from tests.rules.one_case import BAD, FOOT_M, OK, UNSURE, a_square, a_table, at, feet, judged, share, verdicts

#: JCGM 106:2012, guarded acceptance with a guard band of the expanded uncertainty (95 %): at least T passes from
#: T + U, fails below T - U, and is open between. The guide was read second-hand; cases computed here.
JCGM = "JCGM 106:2012"

# Clearance of at least 50.0 ft, known to 1.9 ft. Clearance (ft), verdict.
CLEARANCE = [(52.0, OK), (51.9, OK), (51.0, UNSURE), (50.0, UNSURE), (48.2, UNSURE), (48.0, BAD)]


@pytest.mark.parametrize(("clearance_ft", "verdict"), CLEARANCE, ids=[f"{JCGM} {c} ft" for c, _ in CLEARANCE])
def test_a_clearance_of_50_feet_known_to_1_9_feet(clearance_ft, verdict):
    table = a_table(
        depth_m=clearance_ft * FOOT_M + 1.2, height_m=1.2, depth_u95_m=1.9 * FOOT_M, height_u95_m=0.0
    )
    found = judged("clearance", table, {"least": feet(50.0)})
    assert verdicts(found) == [verdict]
    assert found.u95[0] / FOOT_M == pytest.approx(1.9)


# Spacing of at least 10 m between two independent fixes of 2 m each: U = sqrt(8) m = 2.83 m. Distance (m), verdict.
SPACING = [(12.9, OK), (12.8, UNSURE), (11.0, UNSURE), (7.2, UNSURE), (7.0, BAD)]


@pytest.mark.parametrize(("distance_m", "verdict"), SPACING, ids=[f"{JCGM} {d} m" for d, _ in SPACING])
def test_a_spacing_of_10_metres_between_two_fixes_of_2_metres(distance_m, verdict):
    table = a_table(2, **at((0, 0), (distance_m, 0)), r95_m=2.0)
    found = judged("spacing", table, {"least": 10.0, "basis": "centre"})
    assert verdicts(found) == [verdict, verdict]
    assert found.u95[0] == pytest.approx(2.83, abs=0.005)


# Florida Administrative Code 62-330.600(1)(d), text effective 2013-10-01: the top of the reef stands no higher than
# one half of the water, and never less than 6 ft of water lie over it. Depths at the permit's datum; computed here.
# Depth (ft), structure (ft), half the water, 6 ft over the top.
FLORIDA = [
    (40.0, 20.0, OK, OK),
    (40.0, 20.1, BAD, OK),
    (13.0, 6.5, OK, OK),
    (12.0, 6.0, OK, OK),
    (12.0, 6.1, BAD, BAD),
    (11.0, 5.5, OK, BAD),
    (11.0, 5.0, OK, OK),
]


@pytest.mark.parametrize(
    ("depth_ft", "structure_ft", "by_share", "by_water"),
    FLORIDA,
    ids=[f"FAC 62-330.600 {structure} ft in {depth} ft" for depth, structure, *_ in FLORIDA],
)
def test_half_of_the_water_and_six_feet_over_the_top(depth_ft, structure_ft, by_share, by_water):
    table = a_table(
        depth_m=depth_ft * FOOT_M, height_m=structure_ft * FOOT_M, depth_u95_m=0.0, height_u95_m=0.0
    )
    assert verdicts(judged("relief", table, {"greatest_share": share(0.5)})) == [by_share]
    assert verdicts(judged("clearance", table, {"least": feet(6.0)})) == [by_water]


@pytest.mark.parametrize(("depth_ft", "structure_ft"), [(40.0, 20.0), (13.0, 6.5), (12.0, 6.0)])
def test_exactly_half_of_the_water_is_not_certain_with_any_doubt(depth_ft, structure_ft):
    table = a_table(
        depth_m=depth_ft * FOOT_M, height_m=structure_ft * FOOT_M, depth_u95_m=0.3, height_u95_m=0.0
    )
    found = judged("relief", table, {"greatest_share": share(0.5)})
    assert verdicts(found) == [UNSURE]
    assert found.u95[0] == pytest.approx(0.15)


# Florida Administrative Code 62-330.600(2)(b): none in bays, lagoons or estuaries less than 12 ft deep.
@pytest.mark.parametrize(("depth_ft", "verdict"), [(11.0, BAD), (12.0, OK), (13.0, OK)])
def test_no_reef_in_less_than_twelve_feet_of_a_bay(depth_ft, verdict):
    table = a_table(depth_m=depth_ft * FOOT_M, depth_u95_m=0.0)
    assert verdicts(judged("depth-band", table, {"least": feet(12.0)})) == [verdict]


# IHO S-44 edition 6.1.0 (October 2022), table 1: total horizontal uncertainty (95 %) in 20 m of water.
# Order, limit (m): a fixed part and a share of the depth.
S44 = [
    ("Exclusive", 1.0),
    ("Special", 2.0),
    ("1a", 5.0 + 0.05 * 20.0),
    ("1b", 5.0 + 0.05 * 20.0),
    ("2", 20.0 + 0.10 * 20.0),
]


@pytest.mark.parametrize(("order", "limit_m"), S44, ids=[f"S-44 order {order}" for order, _ in S44])
def test_a_position_meets_a_survey_order_up_to_its_limit(order, limit_m):
    table = a_table(3, r95_m=[limit_m - 0.01, limit_m, limit_m + 0.01], depth_m=20.0)
    found = judged("position-quality", table, {"order": order})
    assert verdicts(found) == [OK, OK, BAD]
    assert found.limit == pytest.approx([limit_m] * 3)


def test_every_order_of_the_standard_is_known():
    assert set(ORDERS) == {order for order, _ in S44}


# A quarter nautical mile square, the usual size of a new site (US Army Corps of Engineers, Jacksonville District):
# 463 m. One nautical mile is 1852 m exactly (SI brochure, 8th edition, table 8; from memory).
def test_a_quarter_nautical_mile_square_holds_what_lies_231_metres_from_its_middle():

    permit = a_permit(areas=(an_area(shape=a_square(LON_DEG, LAT_DEG, 1852.0 / 8.0)),))
    table = a_table(3, **at((0, 0), (230.0, 0), (233.0, 0)), r95_m=0.5)
    found = judged("inside-area", table, permit=permit)
    assert verdicts(found) == [OK, OK, BAD]
    assert found.measured[0] == pytest.approx(231.5, abs=0.02)


# Setbacks of 200 ft from hard bottom and seagrass: common practice, no source. Distance from the base's edge (ft).
@pytest.mark.parametrize(("away_ft", "verdict"), [(206.0, OK), (200.0, UNSURE), (194.0, BAD)])
def test_two_hundred_feet_from_hard_bottom(away_ft, verdict):

    ground = a_keep_out(kind="hard bottom", setback_m=200 * FOOT_M, shape=a_square(LON_DEG, LAT_DEG, 100.0))
    table = a_table(**at((100.0 + 0.75 + away_ft * FOOT_M, 0)))
    found = judged("keep-out", table, keep_outs=[ground])
    assert verdicts(found) == [verdict]
    assert found.measured[0] / FOOT_M == pytest.approx(away_ft, abs=0.01)
    assert math.isclose(found.limit[0], 60.96)
