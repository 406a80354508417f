"""Areas of one permit that meet are one ground, and nothing else is."""

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import MultiPolygon, Polygon

from registry.measure.boundary import signed_distance
from registry.measure.geodesic import direct
from registry.measure.ground import distance_inside, joined_grounds

LON, LAT = -77.0, 34.0


def corner(east_m, north_m, lon=LON, lat=LAT):
    x, y = direct(lon, lat, np.degrees(np.arctan2(east_m, north_m)), np.hypot(east_m, north_m))
    return float(x), float(y)


def block(west_m, south_m, east_m, north_m, **where):
    around = ((west_m, south_m), (east_m, south_m), (east_m, north_m), (west_m, north_m))
    return Polygon([corner(x, y, **where) for x, y in around])


def members(*shapes, edges="geodesic"):
    return [ground.members for ground in joined_grounds([(shape, edges) for shape in shapes])]


def inside(point, *shapes, edges="geodesic"):
    found, area = distance_inside(point[0], point[1], [(shape, edges) for shape in shapes])
    return float(found[0]), int(area[0])


WEST, EAST = block(-1000, -500, 0, 500), block(0, -500, 1000, 500)


@pytest.mark.parametrize("edges", ["geodesic", "rhumb"])
def test_the_line_between_two_areas_bounds_nothing(edges):
    for east_m in (-2.0, -0.001, 0.0, 0.001, 2.0):
        found_m, _ = inside(corner(east_m, 0), WEST, EAST, edges=edges)
        assert found_m == pytest.approx(500.0, abs=0.02)
    assert inside(corner(-2, 0), WEST, EAST, edges=edges)[1] == 0
    assert inside(corner(2, 0), WEST, EAST, edges=edges)[1] == 1
    assert inside(corner(0, 501), WEST, EAST, edges=edges)[0] == pytest.approx(-1.0, abs=0.02)


def test_an_area_alone_is_measured_as_before_to_the_last_bit():
    far = block(5000, -500, 6000, 500)
    points = np.array([corner(x, y) for x, y in ((-400, 20), (100, 0), (5500, 480), (3000, 0))]).T
    both = np.stack(
        [signed_distance(points[0], points[1], shape, "geodesic").distance_m for shape in (WEST, far)]
    )
    found_m, area = distance_inside(points[0], points[1], [(WEST, "geodesic"), (far, "geodesic")])
    assert found_m.tolist() == both.max(axis=0).tolist()
    assert area.tolist() == both.argmax(axis=0).tolist()


def test_a_long_edge_that_two_short_ones_share_is_no_edge_either():
    """The corners of the short ones lie on the long edge only to rounding."""
    north, south = block(0, 0, 800, 500), block(0, -500, 800, 0)
    assert members(WEST, north, south) == [(0, 1, 2)]
    for north_m in (-3.0, 0.0, 3.0):
        assert inside(corner(0.5, north_m), WEST, north, south)[0] == pytest.approx(
            500.0 - abs(north_m), abs=0.02
        )


def test_the_part_of_an_edge_that_is_not_shared_still_bounds():
    low = block(0, -500, 1000, 0)
    assert members(WEST, low) == [(0, 1)]
    assert inside(corner(-5, 200), WEST, low)[0] == pytest.approx(5.0, abs=0.01)
    assert inside(corner(-5, -200), WEST, low)[0] == pytest.approx(200.0, abs=0.1)
    assert inside(corner(-5, -2), WEST, low)[0] == pytest.approx(np.hypot(5, 2), abs=0.01)


def test_areas_that_overlap_are_one_ground():
    over = block(-50, -500, 1000, 500)
    assert members(WEST, over) == [(0, 1)]
    assert inside(corner(-49, 0), WEST, over)[0] == pytest.approx(500.0, abs=0.02)
    assert inside(corner(-1, 0), WEST, over)[0] == pytest.approx(500.0, abs=0.02)


def test_an_area_within_another_changes_nothing():
    small = block(-600, -100, -400, 100)
    assert members(WEST, small) == [(0, 1)]
    assert inside(corner(-601, 0), WEST, small)[0] == pytest.approx(399.0, abs=0.02)


def test_corners_that_differ_by_a_few_millimetres_are_one():
    """As those of two papers are that were brought home from two frames."""
    moved = shapely.transform(EAST, lambda c: c + np.array([4e-8, -3e-8]))
    assert members(WEST, moved) == [(0, 1)]
    assert inside(corner(0, 10), WEST, moved)[0] == pytest.approx(490.0, abs=0.05)


@pytest.mark.parametrize("gap_m", [0.05, 1.0])
def test_a_gap_is_a_gap(gap_m):
    other = block(gap_m, -500, 1000, 500)
    assert members(WEST, other) == [(0,), (1,)]
    assert inside(corner(-2, 0), WEST, other)[0] == pytest.approx(2.0, abs=0.01)
    assert inside(corner(gap_m / 2, 0), WEST, other)[0] == pytest.approx(-gap_m / 2, abs=0.01)


def test_areas_that_touch_in_one_corner_stay_apart():
    diagonal = block(0, 500, 1000, 1500)
    assert members(WEST, diagonal) == [(0,), (1,)]
    assert inside(corner(-1, 499), WEST, diagonal)[0] == pytest.approx(1.0, abs=0.01)


def test_a_chain_is_one_ground_and_a_stranger_is_not():
    third, stranger = block(1000, -500, 2000, 500), block(9000, 0, 9100, 100)
    assert members(WEST, stranger, third, EAST) == [(0, 2, 3), (1,)]


def test_a_ring_of_areas_keeps_the_hole_in_its_middle():
    ring = [
        block(-300, -300, -100, 300),
        block(100, -300, 300, 300),
        block(-100, 100, 100, 300),
        block(-100, -300, 100, -100),
    ]
    assert members(*ring) == [(0, 1, 2, 3)]
    assert inside(corner(0, 0), *ring)[0] == pytest.approx(-100.0, abs=0.01)
    assert inside(corner(0, 150), *ring)[0] == pytest.approx(50.0, abs=0.01)


def test_an_area_of_two_parts_ties_what_meets_either():
    parts = MultiPolygon([block(1000, -500, 2000, 500), block(3000, -500, 4000, 500)])
    assert members(EAST, parts, block(4000, -500, 5000, 500)) == [(0, 1, 2)]


def test_a_geodesic_and_a_rhumb_line_along_one_meridian_are_one_edge():
    grounds = joined_grounds([(WEST, "geodesic"), (EAST, "rhumb")])
    assert [ground.members for ground in grounds] == [(0, 1)]
    lon, lat = corner(0.2, 30)
    found_m, _ = distance_inside(lon, lat, [(WEST, "geodesic"), (EAST, "rhumb")])
    assert found_m[0] == pytest.approx(470.0, abs=0.05)


def test_areas_that_meet_on_the_180th_meridian_however_they_are_written():
    west = Polygon([(179.98, -17.0), (180.0, -17.0), (180.0, -16.98), (179.98, -16.98)])
    east = Polygon([(-180.0, -17.0), (-179.98, -17.0), (-179.98, -16.98), (-180.0, -16.98)])
    assert members(west, east) == [(0, 1)]
    for lon in (179.99999, -179.99999, 180.0, -180.0):
        assert inside((lon, -16.99), west, east)[0] == pytest.approx(1106.5, abs=1.0)


@settings(deadline=None, max_examples=40)
@given(
    st.floats(-75.0, 75.0),
    st.sampled_from(["geodesic", "rhumb"]),
    st.floats(0.05, 0.95),
    st.lists(st.tuples(st.floats(-9000.0, 9000.0), st.floats(-9000.0, 9000.0)), min_size=5, max_size=5),
)
def test_a_cut_through_an_area_changes_no_distance(lat, edges, share, points):
    """Cut along the line between a point on one edge and one on the opposite edge, wide enough for edges to bow."""

    def at(east_m, north_m):
        return corner(east_m, north_m, lon=10.0, lat=lat)

    south, north = at(0, -8000), at(0, 8000)
    ring = [at(-8000, -8000), south, at(8000, -8000), at(8000, 8000), north, at(-8000, 8000)]
    whole = Polygon(ring)
    left, right = Polygon([ring[0], south, north, ring[5]]), Polygon([south, ring[2], ring[3], north])
    lon, lats = np.array(
        [at(*p) for p in points]
        + [(south[0] + share * (north[0] - south[0]), south[1] + share * (north[1] - south[1]))]
    ).T
    expected = signed_distance(lon, lats, whole, edges).distance_m
    found, _ = distance_inside(lon, lats, [(left, edges), (right, edges)])
    np.testing.assert_allclose(found, expected, rtol=0, atol=2e-3)


@settings(deadline=None, max_examples=40)
@given(st.floats(-1200.0, 1200.0), st.floats(-700.0, 700.0), st.floats(-300.0, 300.0))
def test_joining_never_takes_ground_away(east_m, north_m, cut_m):
    left, right = block(-1000, -500, cut_m, 500), block(cut_m, -500, 1000, 500)
    lon, lat = corner(east_m, north_m)
    alone = max(float(signed_distance(lon, lat, shape, "geodesic").distance_m[0]) for shape in (left, right))
    assert inside((lon, lat), left, right)[0] >= alone - 2e-3
