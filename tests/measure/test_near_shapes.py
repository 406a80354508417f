"""Which points come near which shapes, against every point measured from every shape."""

import numpy as np
import pytest
from shapely import GeometryCollection, LineString, MultiLineString, MultiPolygon, Point, Polygon, box

from registry.errors import GeometryError
from registry.measure.boundary import distance_to
from registry.measure.geodesic import direct
from registry.measure.near_shapes import may_be_near, near_shapes


def scattered(count, rng):
    """Points around four places where arithmetic in degrees goes wrong."""
    at = rng.integers(0, 4, count)
    lon, lat = np.array([-77.0, 180.0, 15.0, 40.0])[at], np.array([34.0, -17.0, 89.99, 0.0])[at]
    return direct(lon, lat, rng.uniform(0, 360, count), 10.0 ** rng.uniform(0, 5, count))


SHAPES = [
    Point(-77.0, 34.001),
    LineString([(-77.5, 34.0), (-76.5, 34.01), (-76.0, 33.5)]),
    LineString([(179.9, -17.0), (-179.9, -17.01)]),
    box(39.9, -0.1, 40.1, 0.1),
    Polygon([(0.0, 89.98), (90.0, 89.98), (180.0, 89.98), (-90.0, 89.98)]),
    MultiPolygon([box(179.99, -17.1, 180.0, -17.0), box(-180.0, -17.1, -179.99, -17.0)]),
    GeometryCollection(
        [Point(40.2, 0.0), MultiLineString([[(40.0, 1.0), (41.0, 1.0)], [(15.0, 89.0), (15.0, 89.9)]])]
    ),
    LineString([(-77.0, 34.0), (-60.0, 30.0)]),
    Point(100.0, -66.0),
]


@pytest.mark.parametrize("reach_m", [0.0, 30.0, 2_000.0, 80_000.0])
def test_what_is_within_reach_is_found_and_nothing_else(reach_m):
    rng = np.random.default_rng(3)
    lon, lat = scattered(120, rng)
    point, shape, distance = near_shapes(lon, lat, SHAPES, reach_m)
    expected = np.stack([distance_to(lon, lat, each).distance_m for each in SHAPES])
    within = np.argwhere(expected <= reach_m)
    assert list(zip(shape, point, strict=True)) == [tuple(pair) for pair in within]
    assert distance == pytest.approx(expected[shape, point], abs=1e-4)


def test_each_shape_has_its_own_reach_and_far_ones_are_left_out():
    rng = np.random.default_rng(4)
    lon, lat = scattered(120, rng)
    reach_m = np.array([10.0, 500.0, 0.0, 1.0, 100.0, 3_000.0, 7.0, 0.0, 50.0])
    point, shape, _ = near_shapes(lon, lat, SHAPES, reach_m)
    expected = np.stack([distance_to(lon, lat, each).distance_m for each in SHAPES])
    assert list(zip(shape, point, strict=True)) == [
        tuple(pair) for pair in np.argwhere(expected <= reach_m[:, None])
    ]
    _, candidate = may_be_near(lon, lat, SHAPES, reach_m)
    assert np.count_nonzero(candidate == 0) < 30
    assert not (candidate == 8).any()


def test_nobody_and_nothing():
    for lon, lat, shapes in (([], [], SHAPES), ([1.0], [2.0], []), ([np.nan], [2.0], SHAPES)):
        assert all(len(v) == 0 for v in near_shapes(lon, lat, shapes, 10.0))
    with pytest.raises(GeometryError, match="empty"):
        near_shapes([0.0], [0.0], [Polygon()], 10.0)
