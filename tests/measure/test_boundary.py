"""Boundary distance against an independent foot point: bisection along the geodesic with geographiclib."""

import math

import numpy as np
import pytest
import shapely
from geographiclib.geodesic import Geodesic
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import LineString, MultiPolygon, Point, Polygon

from registry.errors import GeometryError
from registry.measure.boundary import distance_to, signed_distance, signed_distances
from registry.measure.edges import Edges, geodesic_circle, run_edges
from registry.measure.geodesic import direct, inverse

GRS80 = Geodesic(6378137.0, 1 / 298.257222101)


def foot_by_bisection(lon, lat, a, b):
    """Distance to one geodesic edge and the bearing to its foot: the slope of the distance is bisected to zero."""
    line = GRS80.InverseLine(a[1], a[0], b[1], b[0])

    def slope(s):
        at = line.Position(s)
        to = GRS80.Inverse(at["lat2"], at["lon2"], lat, lon)
        return -math.cos(math.radians(to["azi1"] - at["azi2"]))

    low, high = 0.0, line.s13
    if slope(low) >= 0.0:
        high = low
    elif slope(high) <= 0.0:
        low = high
    for _ in range(42):
        middle = (low + high) / 2.0
        if slope(middle) < 0.0:
            low = middle
        else:
            high = middle
    at = line.Position((low + high) / 2.0)
    to = GRS80.Inverse(lat, lon, at["lat2"], at["lon2"])
    return to["s12"], to["azi1"] % 360.0


def oracle(lon, lat, rings):
    return min(
        foot_by_bisection(lon, lat, a, b)
        for ring in rings
        for a, b in zip(ring, [*ring[1:], ring[0]], strict=True)
        if a != b
    )


def star(lon, lat, radius_m, corners, rng):
    """A random ring that does not cross itself."""
    bearing = (np.arange(corners) + rng.uniform(0.1, 0.9, corners)) * 360.0 / corners
    x, y = direct(lon, lat, bearing, rng.uniform(0.5, 1.0, corners) * radius_m)
    return [(float(p), float(q)) for p, q in zip(x, y, strict=True)]


SITES = [
    (-77.0, 34.0),
    (179.99, -17.0),
    (-180.0, 52.0),
    (20.0, 75.0),
    (-30.0, 0.0),
    (100.0, -66.0),
    (5.0, 89.9),
]


@pytest.mark.parametrize("radius_m", [200.0, 2_000.0, 10_000.0, 60_000.0, 300_000.0])
@pytest.mark.parametrize(("lon", "lat"), SITES)
def test_distance_agrees_with_the_bisected_foot_point_to_a_tenth_of_a_millimetre(lon, lat, radius_m):
    rng = np.random.default_rng(int(radius_m + abs(lat) * 7))
    shell = star(lon, lat, radius_m, 9, rng)
    hole = star(lon, lat, radius_m * 0.2, 5, rng)
    x, y = direct(lon, lat, rng.uniform(0, 360, 8), np.sqrt(rng.uniform(0, 1.5, 8)) * radius_m)
    found = signed_distance(x, y, Polygon(shell, [hole]), "geodesic")
    for i in range(8):
        distance, bearing = oracle(x[i], y[i], [shell, hole])
        assert abs(found.distance_m[i]) == pytest.approx(distance, abs=1e-4)
        apart = (found.bearing_deg[i] - bearing + 180.0) % 360.0 - 180.0
        assert abs(apart) < 0.01 + math.degrees(1e-3 / distance)


def test_far_points_are_measured_as_exactly_as_near_ones():
    rng = np.random.default_rng(5)
    shell = star(-77.0, 34.0, 3_000.0, 6, rng)
    x, y = direct(-77.0, 34.0, rng.uniform(0, 360, 20), np.geomspace(5e3, 8e6, 20))
    found = signed_distance(x, y, Polygon(shell), "geodesic")
    for i in range(20):
        assert found.distance_m[i] == pytest.approx(-oracle(x[i], y[i], [shell])[0], abs=1e-4)


@pytest.mark.parametrize("radius_m", [500.0, 30_000.0])
def test_the_sign_follows_the_geodesic_edge(radius_m):
    """A point between the parallel and the geodesic that joins its ends is inside only as the edge runs."""
    west, east = direct(-77.0, 45.0, [270.0, 90.0], [radius_m, radius_m])[0]
    box = Polygon([(west, 44.9), (east, 44.9), (east, 45.0), (west, 45.0)])
    gap = GRS80.InverseLine(45.0, float(west), 45.0, float(east)).Position(0.0)
    assert gap["lat2"] == pytest.approx(45.0)
    middle = GRS80.InverseLine(45.0, float(west), 45.0, float(east))
    top = middle.Position(middle.s13 / 2.0)["lat2"]
    between = (45.0 + top) / 2.0
    height = GRS80.Inverse(45.0, -77.0, top, -77.0)["s12"]
    assert signed_distance(-77.0, between, box, "geodesic").distance_m[0] == pytest.approx(
        height / 2, rel=1e-2
    )
    assert signed_distance(-77.0, between, box, "rhumb").distance_m[0] == pytest.approx(-height / 2, rel=1e-2)


def test_a_rhumb_parallel_is_the_parallel():
    """Distance due north to a parallel is the meridian arc, from 1 km to 200 km long edges, up to latitude 75."""
    for lat in (10.0, 34.0, 60.0, 75.0):
        for half_deg in (0.01, 0.1, 1.0):
            box = Polygon([(-half_deg, lat - 2), (half_deg, lat - 2), (half_deg, lat), (-half_deg, lat)])
            q = lat - half_deg * 0.3 * math.cos(math.radians(lat))
            arc = GRS80.Inverse(q, 0.0, lat, 0.0)["s12"]
            shift = half_deg * 0.13
            found = signed_distance([0.0, shift], [q, q], box, "rhumb")
            assert found.distance_m == pytest.approx([arc, arc], abs=5e-4)


def test_the_seam_of_an_area_cut_at_the_antimeridian_is_no_boundary():
    whole = Polygon([(179.98, 10.0), (180.02, 10.0), (180.02, 10.04), (179.98, 10.04)])
    jumping = Polygon([(179.98, 10.0), (-179.98, 10.0), (-179.98, 10.04), (179.98, 10.04)])
    cut = MultiPolygon(
        [
            Polygon([(179.98, 10.0), (180.0, 10.0), (180.0, 10.04), (179.98, 10.04)]),
            Polygon([(-180.0, 10.0), (-179.98, 10.0), (-179.98, 10.04), (-180.0, 10.04)]),
        ]
    )
    lon, lat = [180.0, -180.0, -179.999, 179.999, 179.97], [10.02, 10.02, 10.03, 10.001, 10.01]
    expected = signed_distance(lon, lat, whole, "rhumb").distance_m
    assert expected[0] == expected[1] > 2000.0
    assert signed_distance(lon, lat, jumping, "rhumb").distance_m == pytest.approx(expected, abs=1e-9)
    assert signed_distance(lon, lat, cut, "rhumb").distance_m == pytest.approx(expected, abs=1e-4)


def test_an_area_round_the_pole_holds_the_pole():
    cap = Polygon([(0.0, 89.0), (90.0, 89.0), (180.0, 89.0), (-90.0, 89.0)])
    found = signed_distance([0.0, 0.0, 45.0], [90.0, 88.9, 89.1], cap, "geodesic").distance_m
    assert found[0] > 70_000.0
    assert found[1] < 0.0
    # Between two of its corners the edge runs nearer the pole than their parallel: at 45 degrees by 0.29.
    assert found[2] < 0.0
    assert -found[2] == pytest.approx(
        oracle(45.0, 89.1, [[(0, 89), (90, 89), (180, 89), (-90, 89)]])[0], abs=1
    )


def test_a_hole_is_outside_and_a_second_part_is_inside():
    site = MultiPolygon(
        [
            Polygon(
                [(0.0, 0.0), (0.1, 0.0), (0.1, 0.1), (0.0, 0.1)],
                [[(0.04, 0.04), (0.06, 0.04), (0.06, 0.06), (0.04, 0.06)]],
            ),
            Polygon([(0.2, 0.0), (0.3, 0.0), (0.3, 0.1), (0.2, 0.1)]),
        ]
    )
    found = signed_distance([0.05, 0.02, 0.25, 0.15], [0.05, 0.05, 0.05, 0.05], site, "geodesic").distance_m
    assert (np.sign(found) == [-1, 1, 1, -1]).all()


def test_many_points_are_measured_as_one_by_one():
    """The bulk path, which leaves out far pieces cell by cell, gives what the single check gives."""
    rng = np.random.default_rng(3)
    circle = geodesic_circle(-77.0, 34.0, 800.0)
    x, y = direct(-77.0, 34.0, rng.uniform(0, 360, 5_000), np.sqrt(rng.uniform(0, 1.2, 5_000)) * 800.0)
    x[:3], y[:3] = -77.0, 34.0
    bulk = signed_distance(x, y, circle, "geodesic")
    away, _ = inverse(-77.0, 34.0, x, y)
    assert bulk.distance_m == pytest.approx(800.0 - away, abs=1.1e-3)
    for i in range(0, 5_000, 250):
        single = signed_distance(x[i], y[i], circle, "geodesic")
        assert single.distance_m[0] == bulk.distance_m[i]
        assert single.bearing_deg[0] == bulk.bearing_deg[i]


@pytest.mark.parametrize("radius_m", [900.0, 40_000.0])
def test_leaving_out_far_runs_changes_nothing(monkeypatch, radius_m):
    """Ragged coasts, holes, islands and buoys: bundled in runs or tried one by one, the answer is the same."""
    rng = np.random.default_rng(17)
    shell, hole = star(-77.0, 34.0, radius_m, 400, rng), star(-77.0, 34.0, radius_m * 0.3, 90, rng)
    x, y = direct(-77.0, 34.0, 80.0, radius_m * 2.5)
    island = star(float(x), float(y), radius_m * 0.4, 70, rng)
    buoys = [
        Point(float(p), float(q))
        for p, q in zip(*direct(-77.0, 34.0, rng.uniform(0, 360, 30), radius_m), strict=True)
    ]
    whole = shapely.GeometryCollection([Polygon(shell, [hole]), LineString(island), *buoys])
    x, y = direct(-77.0, 34.0, rng.uniform(0, 360, 600), rng.uniform(0, 3, 600) * radius_m)
    bundled = distance_to(x, y, whole)
    monkeypatch.setattr("registry.measure.pieces._FEW", 10**9)
    single = distance_to(x, y, whole)
    assert bundled.distance_m == pytest.approx(single.distance_m, abs=1e-7)


def test_the_sign_agrees_with_the_angle_that_the_ring_turns_around_a_point():
    """Winding number from geodesic bearings to the points of the ring, independent of any plane."""
    rng = np.random.default_rng(23)
    shell = star(179.99, -60.0, 5_000.0, 11, rng)
    x, y = direct(179.99, -60.0, rng.uniform(0, 360, 200), np.sqrt(rng.uniform(0, 1.2, 200)) * 5_000.0)
    found = signed_distance(x, y, Polygon(shell), "geodesic").distance_m
    ring = run_edges([*shell, shell[0]], "geodesic", 20.0)
    for k in range(200):
        bearing = inverse(x[k], y[k], ring[:, 0], ring[:, 1])[1]
        turned = ((np.diff(bearing) + 180.0) % 360.0 - 180.0).sum()
        assert (abs(turned) > 180.0) == (found[k] > 0.0)


def test_points_that_share_a_tile_are_measured_as_exactly_as_alone():
    rng = np.random.default_rng(29)
    shell = star(20.0, 75.0, 60_000.0, 7, rng)
    x, y = direct(20.0, 75.0, rng.uniform(0, 360, 4_000), np.sqrt(rng.uniform(0, 1.3, 4_000)) * 60_000.0)
    bulk = signed_distance(x, y, Polygon(shell), "geodesic").distance_m
    for k in range(0, 4_000, 80):
        assert abs(bulk[k]) == pytest.approx(oracle(x[k], y[k], [shell])[0], abs=1e-4)


def test_keep_outs_of_every_kind():
    cable = LineString([(-77.02, 34.0), (-76.98, 34.0)])
    wreck = Point(-77.0, 34.01)
    found = distance_to([-77.0, -77.0], [34.002, 34.0095], shapely.GeometryCollection([cable, wreck]))
    expected = [
        foot_by_bisection(-77.0, 34.002, (-77.02, 34.0), (-76.98, 34.0))[0],
        GRS80.Inverse(34.0095, -77.0, 34.01, -77.0)["s12"],
    ]
    assert found.distance_m == pytest.approx(expected, abs=1e-4)
    assert found.bearing_deg == pytest.approx([180.0, 0.0], abs=1e-3)
    grass = Polygon([(-77.01, 34.0), (-76.99, 34.0), (-76.99, 34.02), (-77.01, 34.02)])
    assert distance_to(-77.0, 34.01, grass).distance_m[0] < 0.0
    assert distance_to(-77.0, 34.03, grass).distance_m[0] > 0.0


def test_what_is_no_place_has_no_distance():
    area = geodesic_circle(-77.0, 34.0, 100.0)
    found = signed_distance([np.nan, -77.0], [34.0, 34.0], area, "geodesic")
    assert np.isnan(found.distance_m[0])
    assert found.distance_m[1] == pytest.approx(100.0, abs=1e-3)
    assert signed_distance([], [], area, "geodesic").distance_m.shape == (0,)


def test_what_bounds_nothing_is_refused():
    with pytest.raises(GeometryError, match="bounds no area"):
        signed_distance(0.0, 0.0, LineString([(0, 0), (1, 1)]), "geodesic")  # type: ignore[arg-type]
    with pytest.raises(GeometryError, match="empty"):
        signed_distance(0.0, 0.0, Polygon(), "geodesic")
    with pytest.raises(GeometryError, match="straight"):
        signed_distance(0.0, 0.0, geodesic_circle(0.0, 0.0, 10.0), "straight")  # type: ignore[arg-type]


@settings(max_examples=40, deadline=None)
@given(
    lon=st.floats(-180, 180),
    lat=st.floats(-80, 80),
    bearing=st.floats(0, 360),
    share=st.floats(0, 2),
    radius_m=st.floats(10, 20_000),
)
def test_distance_to_a_circle_is_radius_less_distance_from_its_centre(lon, lat, bearing, share, radius_m):
    x, y = direct(lon, lat, bearing, share * radius_m)
    found = signed_distance(x, y, geodesic_circle(lon, lat, radius_m), "geodesic").distance_m[0]
    assert found == pytest.approx(radius_m * (1 - share), abs=2e-3)


def around(lon, lat, radius_m, count, rng):
    return direct(lon, lat, rng.uniform(0, 360, count), np.sqrt(rng.uniform(0, 2.0, count)) * radius_m)


@pytest.mark.parametrize("radius_m", [40.0, 300.0, 2_500.0, 7_000.0, 40_000.0])
def test_many_areas_at_once_are_measured_as_one_by_one(radius_m):
    """Plain sites by the dozen, clockwise or not, beside whatever needs more care, against the foot point."""
    rng = np.random.default_rng(int(radius_m))
    shapes, rings, points = [], [], []
    for k, (x0, y0) in enumerate([*SITES, (10.0, 90.0)] * 2):
        shell = star(x0, y0, radius_m, int(rng.integers(3, 60)), rng)[:: (-1) ** k]
        hole = [star(x0, y0, radius_m * 0.2, 5, rng)] if k % 5 == 4 else []
        shapes.append(Polygon(shell, hole))
        rings.append([shell, *hole])
        points.append(np.stack((*around(x0, y0, radius_m, 30, rng), np.full(30, float(k)))))
    lon, lat, which = rng.permutation(np.concatenate(points, axis=1), axis=1)
    which = which.astype(int)
    found = signed_distances(lon, lat, shapes, which, ["geodesic"] * len(shapes))
    for k, shape in enumerate(shapes):
        rows = which == k
        alone = signed_distance(lon[rows], lat[rows], shape, "geodesic").distance_m
        assert found[rows] == pytest.approx(alone, abs=2e-5)
    for i in range(0, len(lon), 25):
        assert abs(found[i]) == pytest.approx(oracle(lon[i], lat[i], rings[which[i]])[0], abs=1e-4)


def test_among_many_areas_each_keeps_its_own_nature():
    """Rhumb edges, parts, a seam, a ring that jumps or repeats a corner, a far point, and none at all."""
    square = [(179.98, 10.0), (180.02, 10.0), (180.02, 10.04), (179.98, 10.04)]
    jumping = [((x + 180.0) % 360.0 - 180.0, y) for x, y in square]
    cut = MultiPolygon(
        [
            Polygon([(179.98, 10.0), (180.0, 10.0), (180.0, 10.04), (179.98, 10.04)]),
            Polygon([(-180.0, 10.0), (-179.98, 10.0), (-179.98, 10.04), (-180.0, 10.04)]),
        ]
    )
    twice = [square[0], square[0], *square[1:]]
    shapes: list[Polygon | MultiPolygon] = [
        Polygon(square),
        Polygon(square),
        cut,
        Polygon(jumping),
        Polygon(twice),
        Polygon(),
    ]
    edges: list[Edges] = ["geodesic", "rhumb", "geodesic", "geodesic", "geodesic", "geodesic"]
    lon, lat = np.array([180.0, -179.995, 179.97, 0.0, 18.0]), np.array([10.02, 10.039, 10.01, -10.0, 10.02])
    which = np.repeat(np.arange(5), 5)
    x, y = np.tile(lon, 5), np.tile(lat, 5)
    found = signed_distances([*x, 1.0, np.nan], [*y, 2.0, 3.0], shapes, [*which, -1, 0], edges)
    for k in range(5):
        alone = signed_distance(lon, lat, shapes[k], edges[k]).distance_m
        assert found[5 * k : 5 * k + 5] == pytest.approx(alone, abs=1e-5)
    assert np.isnan(found[-2:]).all()
    assert found[0] == pytest.approx(found[15], abs=1e-6)
    assert signed_distances([], [], shapes, [], edges).shape == (0,)
    with pytest.raises(GeometryError, match="empty"):
        signed_distances([0.0], [0.0], shapes, [5], edges)


@settings(max_examples=60, deadline=None)
@given(
    st.sampled_from(SITES),
    st.integers(3, 12),
    st.floats(5.0, 5_000.0),
    st.integers(0, 999),
    st.booleans(),
)
def test_the_side_of_a_corner_is_told_as_containment_tells_it(place, corners, radius_m, seed, exact):
    """Points in the fans beyond sharp and blunt corners, and (where exact) straight above corners and edges."""
    rng = np.random.default_rng(seed)
    shell = star(place[0], place[1], radius_m, corners, rng)
    x, y = np.array(shell).T
    lon, lat = direct(x, y, rng.uniform(0, 360, corners), rng.uniform(0.01, 0.5) * radius_m)
    if exact:
        lon = np.append(lon, x)
        lat = np.append(lat, np.full(corners, place[1]))
    found = signed_distances(lon, lat, [Polygon(shell)], np.zeros(len(lon)), ["geodesic"])
    alone = signed_distance(lon, lat, Polygon(shell), "geodesic").distance_m
    assert found == pytest.approx(alone, abs=2e-5)


def test_a_distance_does_not_depend_on_who_else_is_measured():
    """The same to the last bit, however many share its tile."""
    rng = np.random.default_rng(2)
    cable = LineString([(-77.3, 33.9), (-77.0, 34.0), (-76.6, 34.05)])
    lon, lat = rng.uniform(-77.3, -76.6, 400), rng.uniform(33.8, 34.1, 400)
    together = distance_to(lon, lat, cable).distance_m
    for rows in (np.arange(0, 400, 7), np.arange(5), rng.permutation(400)):
        assert distance_to(lon[rows], lat[rows], cable).distance_m.tolist() == together[rows].tolist()
