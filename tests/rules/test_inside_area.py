"""Inside a permit area by its setback: near the edge, in several areas, around holes, anywhere on earth."""

import numpy as np
import pytest
from pyproj import Geod
from shapely import MultiPolygon, Polygon, get_coordinates

from registry.measure.edges import geodesic_circle
from tests.builders import LAT_DEG, LON_DEG, a_permit, an_area
from tests.rules.one_case import BAD, OK, UNSURE, a_square, a_table, at, judged, verdicts

GRS80 = Geod(ellps="GRS80")
SOUTH_DEG = 33.99
CORNERS = get_coordinates(an_area().shape)


def from_the_south_edge(metres):
    """Give the latitude so far north of the middle of the area's southern edge, which bulges north by a bit."""
    half = GRS80.inv(-77.01, SOUTH_DEG, -76.99, SOUTH_DEG)
    middle = GRS80.fwd(-77.01, SOUTH_DEG, half[0], half[2] / 2)
    return GRS80.fwd(middle[0], middle[1], 0.0, metres)[1]


@pytest.mark.parametrize(
    ("inside_m", "verdict"),
    [
        (1.502, OK),
        (1.498, UNSURE),
        (0.0, UNSURE),
        (-1.498, UNSURE),
        (-1.502, BAD),
        (-250.0, BAD),
        (250.0, OK),
    ],
)
def test_the_guard_band_lies_on_both_sides_of_the_edge(inside_m, verdict):
    found = judged("inside-area", a_table(lat_deg=from_the_south_edge(inside_m), r95_m=1.5))
    assert verdicts(found) == [verdict]
    assert found.measured[0] == pytest.approx(inside_m, abs=1e-3)


def test_a_setback_moves_the_limit_inward():
    table = a_table(4, lat_deg=[from_the_south_edge(m) for m in (51.6, 51.4, 48.6, 48.4)])
    found = judged("inside-area", table, {"setback": 50.0})
    assert verdicts(found) == [OK, UNSURE, UNSURE, BAD]
    assert found.limit.tolist() == [50.0] * 4
    assert "at least 50 m inside is asked" in found.message[0]


def test_the_straight_line_in_degrees_is_not_the_edge():
    # The geodesic between two corners on one parallel runs north of it (northern hemisphere), here by 12 cm.
    wide = an_area(shape=Polygon([(-77.05, 33.99), (-76.95, 33.99), (-76.95, 34.05), (-77.05, 34.05)]))
    table = a_table(lat_deg=33.99 + 1.0 / 110_922, r95_m=0.05)
    geodesic = judged("inside-area", table, permit=a_permit(areas=(wide,)))
    rhumb = judged("inside-area", table, permit=a_permit(areas=(an_area(shape=wide.shape, edges="rhumb"),)))
    assert rhumb.measured[0] == pytest.approx(1.0, abs=2e-3)
    assert geodesic.measured[0] < 0.9


def test_the_area_that_holds_the_module_best_decides_and_is_named():
    east = an_area(area_id="tern-patch", shape=a_square(-76.9, 34.0))
    permit = a_permit(areas=(an_area(), east))
    found = judged("inside-area", a_table(2, lon_deg=[LON_DEG, -76.9]), permit=permit)
    assert verdicts(found) == [OK, OK]
    assert "gannet-patch" in found.message[0]
    assert "tern-patch" in found.message[1]


def test_a_hole_is_outside():
    hole = a_square(LON_DEG, LAT_DEG, 100.0).exterior.coords
    area = an_area(shape=Polygon(CORNERS, [hole]))
    table = a_table(3, **at((0, 0), (99, 0), (103, 0)))
    found = judged("inside-area", table, permit=a_permit(areas=(area,)))
    assert verdicts(found) == [BAD, UNSURE, OK]
    assert found.measured[0] == pytest.approx(-100.0, abs=0.01)


def test_each_part_of_an_area_counts():
    shape = MultiPolygon([a_square(LON_DEG, LAT_DEG, 50.0), a_square(-76.98, LAT_DEG, 50.0)])
    permit = a_permit(areas=(an_area(shape=shape),))
    table = a_table(3, lon_deg=[LON_DEG, -76.99, -76.98])
    assert verdicts(judged("inside-area", table, permit=permit)) == [OK, BAD, OK]


@pytest.mark.parametrize("lat_deg", [0.0, -16.5, 65.0, 84.0])
def test_an_area_across_the_180th_meridian_holds_both_its_sides(lat_deg):
    permit = a_permit(areas=(an_area(shape=a_square(180.0, lat_deg)),))
    places = at(
        (-498.6, 0), (-498.4, 0), (0, 0), (498.4, 0), (501.6, 0), (-501.6, 0), lon_deg=180.0, lat_deg=lat_deg
    )
    places["lon_deg"] = (places["lon_deg"] + 180.0) % 360.0 - 180.0
    found = judged("inside-area", a_table(6, **places), permit=permit)
    assert verdicts(found) == [UNSURE, OK, OK, OK, BAD, BAD]


@pytest.mark.parametrize("lat_deg", [-78.0, -60.0, 45.0, 71.2, 89.0])
def test_a_round_area_is_round_at_any_latitude(lat_deg):
    area = an_area(shape=geodesic_circle(10.0, lat_deg, 300.0))
    bearings = np.arange(0.0, 360.0, 30.0)
    lon, lat, _ = GRS80.fwd(np.full(12, 10.0), np.full(12, lat_deg), bearings, np.full(12, 290.0))
    found = judged("inside-area", a_table(12, lon_deg=lon, lat_deg=lat), permit=a_permit(areas=(area,)))
    assert verdicts(found) == [OK] * 12
    assert found.measured == pytest.approx(np.full(12, 10.0), abs=0.05)


def test_a_swapped_axis_that_lands_in_another_ocean_is_measured_too():
    found = judged("inside-area", a_table(lon_deg=34.0, lat_deg=-77.0))
    assert verdicts(found) == [BAD]
    assert found.measured[0] < -1e7


def test_a_fix_worse_than_the_area_is_wide_is_never_certain():
    assert verdicts(judged("inside-area", a_table(r95_m=5000.0))) == [UNSURE]


def test_the_distance_is_that_of_an_independent_geodesic():
    corner = CORNERS[0]
    outside = GRS80.fwd(corner[0], corner[1], 225.0, 120.0)
    found = judged("inside-area", a_table(lon_deg=outside[0], lat_deg=outside[1]))
    assert found.measured[0] == pytest.approx(-120.0, abs=1e-3)
