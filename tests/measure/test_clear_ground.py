"""The way to clear ground must hold when measured with an independent geodesic."""

import numpy as np
import pytest
from geographiclib.geodesic import Geodesic
from shapely import LineString, MultiPolygon, Point, Polygon

from registry.errors import GeometryError
from registry.measure.boundary import distance_to, signed_distance
from registry.measure.clear_ground import nearest_clear
from registry.measure.edges import geodesic_circle
from registry.measure.geodesic import direct

GRS80 = Geodesic(6378137.0, 1 / 298.257222101)
SQUARE = Polygon([(-77.01, 34.0), (-76.99, 34.0), (-76.99, 34.02), (-77.01, 34.02)])


def apart(lon1, lat1, lon2, lat2):
    return GRS80.Inverse(lat1, lon1, lat2, lon2)["s12"]


def found(lon, lat, **asked):
    """The move, where there must be one."""
    move = nearest_clear(lon, lat, **asked)
    assert move is not None
    return move


def test_a_clear_spot_needs_no_move():
    move = found(-77.0, 34.01, area=SQUARE, edges="geodesic", setback_m=25.0)
    assert (move.distance_m, move.bearing_deg, move.lon, move.lat) == (0.0, 0.0, -77.0, 34.01)


def test_outside_the_shortest_way_in_is_square_to_the_edge():
    move = found(-77.0, 33.999, area=SQUARE, edges="rhumb", setback_m=25.0)
    assert move.distance_m == pytest.approx(apart(-77.0, 33.999, -77.0, 34.0) + 25.0, abs=0.02)
    assert np.cos(np.radians(move.bearing_deg)) == pytest.approx(1.0, abs=1e-6)
    assert signed_distance(move.lon, move.lat, SQUARE, "rhumb").distance_m[0] >= 25.0


@pytest.mark.parametrize("distance_m", [5e4, 2.5e5, 2e6, 1.3e7])
def test_a_far_point_is_led_to_the_area(distance_m):
    lon, lat = direct(-77.0, 34.01, 40.0, distance_m)
    move = found(float(lon), float(lat), area=SQUARE, edges="geodesic", setback_m=25.0)
    inside = signed_distance(move.lon, move.lat, SQUARE, "geodesic").distance_m[0]
    assert 25.0 <= inside < 25.0 + 20.0 * distance_m / 1e7 + 0.1


@pytest.mark.parametrize(("lon", "lat"), [(-77.0, 34.01), (180.0, 10.0), (20.0, 75.0)])
def test_among_neighbours_and_keep_outs_the_spot_keeps_every_distance_and_none_is_nearer(lon, lat):
    rng = np.random.default_rng(8)
    area = geodesic_circle(lon, lat, 300.0)
    x, y = direct(lon, lat, rng.uniform(0, 360, 60), np.sqrt(rng.uniform(0, 1, 60)) * 150.0)
    radius = rng.uniform(10.0, 40.0, 60)
    a, b = (direct(lon, lat, bearing, 400.0) for bearing in (80.0, 265.0))
    east = float(a[0]) + (360.0 if a[0] < b[0] else 0.0)
    cable = LineString([(east, float(a[1])), (float(b[0]), float(b[1]))])
    wreck = Point(*(float(v) for v in direct(lon, lat, 10.0, 20.0)))
    keep_outs = [(cable, 30.0), (wreck, 50.0)]
    move = found(
        lon, lat, area=area, edges="geodesic", setback_m=20.0, discs=(x, y, radius), keep_outs=keep_outs
    )

    def clear(p, q, slack):
        return (
            signed_distance(p, q, area, "geodesic").distance_m[0] >= 20.0 - slack
            and all(apart(p, q, x[k], y[k]) >= radius[k] - slack for k in range(60))
            and all(distance_to(p, q, g).distance_m[0] >= s - slack for g, s in keep_outs)
        )

    assert move.distance_m > 0.0
    assert clear(move.lon, move.lat, 0.0)
    assert move.distance_m == pytest.approx(apart(lon, lat, move.lon, move.lat), abs=1e-6)
    # Nothing nearer, but for what the safe side of the buffers costs.
    for distance in np.linspace(0.0, move.distance_m - 0.05, 20):
        for bearing in np.arange(0.0, 360.0, 6.0):
            p, q = direct(lon, lat, bearing, distance)
            if distance_to(p, q, wreck).distance_m[0] < 50.0 or distance_to(p, q, cable).distance_m[0] < 30.0:
                continue
            assert not clear(float(p), float(q), 0.0)


def test_where_there_is_no_ground_the_answer_is_none():
    assert nearest_clear(-77.0, 34.01, area=SQUARE, edges="geodesic", setback_m=2_000.0) is None
    full = ([-77.0], [34.01], [2_000.0])
    assert nearest_clear(-77.0, 34.01, area=SQUARE, edges="geodesic", discs=full) is None
    assert nearest_clear(-77.0, 34.01, area=SQUARE, edges="geodesic", keep_outs=[(SQUARE, 0.0)]) is None


def test_the_nearer_of_two_parts_is_chosen():
    parts = MultiPolygon([geodesic_circle(-77.02, 34.0, 500.0), geodesic_circle(-76.97, 34.0, 500.0)])
    move = found(-77.0, 34.0, area=parts, edges="geodesic")
    assert move.bearing_deg == pytest.approx(270.0, abs=0.1)
    assert move.distance_m == pytest.approx(apart(-77.0, 34.0, -77.02, 34.0) - 500.0, abs=0.01)


def test_a_distance_that_is_none_is_refused():
    for distance in (-1.0, float("nan")):
        with pytest.raises(GeometryError, match="negative or not a number"):
            nearest_clear(-77.0, 34.01, area=SQUARE, edges="geodesic", setback_m=distance)
