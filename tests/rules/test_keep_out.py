"""Clear of cables, wrecks and habitats: as points, lines and polygons, by the edge of the base."""

import math

import pytest
from shapely import LineString, MultiPolygon, Point

from tests.builders import LAT_DEG, LON_DEG, a_keep_out
from tests.rules.one_case import BAD, NOT_ASKED, OK, UNSURE, a_square, a_table, at, feet, judged, verdicts

WRECK = a_keep_out(
    keep_out_id="wreck-1", kind="wreck", name="Old Petrel", setback_m=50.0, shape=Point(LON_DEG, LAT_DEG)
)
#: Base radius and R95 of the tests' placements. Units: m.
BASE_M, R95_M = 0.75, 1.5


@pytest.mark.parametrize(
    ("from_setback_m", "verdict"), [(0.01, OK), (-0.01, UNSURE), (-2.99, UNSURE), (-3.01, BAD)]
)
@pytest.mark.parametrize(
    "shape",
    [
        Point(LON_DEG, LAT_DEG),
        LineString([(LON_DEG, 33.98), (LON_DEG, 34.02)]),
        LineString([(LON_DEG, LAT_DEG), (-77.001, LAT_DEG)]),
    ],
    ids=["point", "line", "end of a line"],
)
def test_the_guard_band_lies_on_both_sides_of_the_setback(shape, from_setback_m, verdict):
    away_m = 50.0 + BASE_M + R95_M + from_setback_m
    keep_out = a_keep_out(shape=shape, setback_m=50.0)
    found = judged("keep-out", a_table(**at((away_m, 0))), keep_outs=[keep_out])
    assert verdicts(found) == [verdict]
    assert found.measured[0] == pytest.approx(away_m - BASE_M, abs=2e-3)


def test_inside_a_polygon_is_worse_than_at_its_edge():
    meadow = a_keep_out(
        kind="seagrass", name="meadow", setback_m=0.0, shape=a_square(LON_DEG, LAT_DEG, 100.0)
    )
    found = judged("keep-out", a_table(3, **at((0, 0), (100, 0), (103, 0))), keep_outs=[meadow])
    assert verdicts(found) == [BAD, UNSURE, OK]
    assert found.measured[0] == pytest.approx(-100.0 - BASE_M, abs=0.01)


def test_every_part_of_a_keep_out_counts():
    shape = MultiPolygon([a_square(LON_DEG, LAT_DEG, 20.0), a_square(-76.99, LAT_DEG, 20.0)])
    found = judged("keep-out", a_table(2, lon_deg=[LON_DEG, -76.99]), keep_outs=[a_keep_out(shape=shape)])
    assert verdicts(found) == [BAD, BAD]


def test_the_tightest_is_reported_not_the_nearest():
    near = a_keep_out(
        keep_out_id="a", name="near", setback_m=10.0, shape=Point(at((40, 0))["lon_deg"][0], LAT_DEG)
    )
    far = a_keep_out(
        keep_out_id="b", name="far", setback_m=150.0, shape=Point(LON_DEG, at((0, 120))["lat_deg"][0])
    )
    for keep_outs in ([near, far], [far, near]):
        found = judged("keep-out", a_table(), keep_outs=keep_outs)
        assert verdicts(found) == [BAD]
        assert "far" in found.message[0]
        assert found.limit[0] == 150.0
        assert found.measured[0] == pytest.approx(119.25, abs=0.01)


def test_a_permit_may_ask_for_more_than_the_keep_out_does_but_not_for_less():
    table = a_table(**at((60, 0)))
    assert verdicts(judged("keep-out", table, keep_outs=[WRECK])) == [OK]
    wider = judged("keep-out", table, {"setback": feet(200.0)}, keep_outs=[WRECK])
    assert verdicts(wider) == [UNSURE if abs(59.25 - 60.96) <= R95_M else BAD]
    assert wider.limit[0] == pytest.approx(60.96)
    narrower = judged("keep-out", table, {"setback": 1.0}, keep_outs=[WRECK])
    assert narrower.limit[0] == 50.0


def test_nothing_to_keep_out_of_is_not_applicable():
    found = judged("keep-out", a_table())
    assert verdicts(found) == [NOT_ASKED]
    assert found.message[0] == "No keep-out is recorded in this registry."


def test_a_base_of_unknown_size_is_not_certain_to_be_clear():
    found = judged("keep-out", a_table(base_radius_m=math.nan), keep_outs=[WRECK])
    assert verdicts(found) == [UNSURE]
    assert "not known" in found.message[0]


def test_a_cable_across_the_180th_meridian_is_found_from_both_sides():
    cable = a_keep_out(setback_m=100.0, shape=LineString([(179.99, 0.0), (180.01, 0.0)]))
    table = a_table(3, lon_deg=[179.999, -179.999, 179.9], lat_deg=0.0005)
    assert verdicts(judged("keep-out", table, keep_outs=[cable])) == [BAD, BAD, OK]


def test_out_of_sight_it_is_clear_without_a_distance_and_a_poor_fix_sees_farther():
    away_m = 50.0 + 1_100.0
    table = a_table(3, **at((away_m, 0), (away_m, 0), (900.0, 0)), r95_m=[1.5, 1_200.0, 1.5])
    found = judged("keep-out", table, keep_outs=[WRECK])
    assert verdicts(found) == [OK, UNSURE, OK]
    assert [math.isfinite(value) for value in found.measured] == [False, True, True]
    assert found.message[0] == "Every keep-out is farther away than its setback and 1000 m more."
    # What one is told does not depend on how well another is known.
    alone = judged("keep-out", table.rows(slice(0, 1)), keep_outs=[WRECK])
    assert alone.message[0] == found.message[0]
