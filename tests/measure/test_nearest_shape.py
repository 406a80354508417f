"""The nearest of long shapes, against every point measured from the whole of every shape."""

import numpy as np
import pytest
from shapely import LineString, MultiLineString, MultiPolygon, Polygon, box

from registry.errors import GeometryError
from registry.measure.boundary import distance_to
from registry.measure.geodesic import direct
from registry.measure.nearest_shape import nearest_shape

RNG = np.random.default_rng(11)
#: A ragged coast of some 1100 km with 4000 corners, and the land to the west of it.
STEPS = np.linspace(0.0, 1.0, 4000)
COAST = np.column_stack(
    (-80.0 + 3.0 * np.sin(5.0 * STEPS) + 0.004 * np.sin(900.0 * STEPS), 30.0 + 10.0 * STEPS)
)
MAINLAND = Polygon([*COAST.tolist(), (-95.0, 40.0), (-95.0, 30.0)])
SHAPES = [
    LineString(COAST),
    MAINLAND,
    MultiPolygon([box(-77.2, 34.0, -77.1, 34.1), box(-77.0, 34.2, -76.9, 34.3)]),
    MultiLineString([[(-60.0, 30.0), (-40.0, 55.0)], [(179.5, -17.0), (-179.5, -17.2)]]),
    MultiPolygon([box(179.9, -17.1, 180.0, -17.0), box(-180.0, -17.1, -179.9, -17.0)]),
    Polygon([(0.0, 88.0), (90.0, 88.5), (180.0, 88.0), (-90.0, 88.5)]),
    box(20.0, 60.0, 60.0, 70.0).difference(box(30.0, 62.0, 40.0, 66.0)),
]


def scattered(count):
    """Points about the coast and around places where arithmetic in degrees goes wrong."""
    k = RNG.integers(0, len(COAST), count)
    places = np.array([(-77.1, 34.1), (180.0, -17.05), (30.0, 88.2), (35.0, 64.0), (10.0, 65.0)])
    at = RNG.integers(0, 2 * len(places), count)
    away = at >= len(places)
    lon = np.where(away, COAST[k, 0], places[at % len(places), 0])
    lat = np.where(away, COAST[k, 1], places[at % len(places), 1])
    return direct(lon, lat, RNG.uniform(0.0, 360.0, count), 10.0 ** RNG.uniform(0.0, 5.3, count))


@pytest.mark.parametrize("shapes", [SHAPES, SHAPES[:1], SHAPES[1:2], SHAPES[3:5], SHAPES[5:6], SHAPES[6:]])
def test_nothing_nearer_is_overlooked(shapes):
    lon, lat = scattered(40)
    found, nearest = nearest_shape(lon, lat, shapes)
    each = np.array(
        [[distance_to([x], [y], s).distance_m[0] for s in shapes] for x, y in zip(lon, lat, strict=True)]
    )
    # Each function takes planes of its own, good to 0.1 mm; far away, to a millionth.
    np.testing.assert_allclose(found, each.min(axis=1), rtol=1e-6, atol=2e-4)
    chosen = each[np.arange(len(lon)), nearest]
    np.testing.assert_allclose(chosen, each.min(axis=1), rtol=1e-6, atol=2e-4)


def test_deep_inland_another_shape_may_be_nearer_but_it_is_land():
    lake = LineString([(-90.0, 35.0), (-90.0, 35.1)])
    distance, nearest = nearest_shape([-90.001], [35.05], [lake, MAINLAND])
    assert nearest.tolist() == [1]
    assert distance[0] == pytest.approx(distance_to([-90.001], [35.05], MAINLAND).distance_m[0])
    assert distance[0] < -100_000.0


def test_without_points_or_shapes_there_is_no_distance():
    distance, nearest = nearest_shape([np.nan, 0.0], [0.0, np.nan], SHAPES)
    assert np.isnan(distance).all()
    assert nearest.tolist() == [-1, -1]
    assert nearest_shape([], [], SHAPES)[0].shape == (0,)
    distance, nearest = nearest_shape([1.0], [2.0], [])
    assert np.isnan(distance).all()
    assert nearest.tolist() == [-1]


def test_a_shape_without_a_point_is_refused():
    with pytest.raises(GeometryError, match="empty"):
        nearest_shape([0.0], [0.0], [Polygon()])


def test_what_is_nearest_does_not_depend_on_who_else_is_measured():
    """The same to the last bit, however many share its cube."""
    lon, lat = scattered(300)
    distance, shape = nearest_shape(lon, lat, SHAPES)
    for rows in (np.arange(0, 300, 3), np.arange(2), RNG.permutation(300)):
        found, which = nearest_shape(lon[rows], lat[rows], SHAPES)
        assert (found.tolist(), which.tolist()) == (distance[rows].tolist(), shape[rows].tolist())
