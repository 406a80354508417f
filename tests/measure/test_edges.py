"""How edges run between corners."""

import math

import numpy as np
import pytest
import shapely
from geographiclib.geodesic import Geodesic
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import LineString, MultiPolygon, Point, Polygon

from registry.errors import GeometryError
from registry.measure.boundary import distance_to
from registry.measure.edges import densify, geodesic_circle, run_edges
from registry.measure.geodesic import inverse

GRS80 = Geodesic(6378137.0, 1 / 298.257222101)


def test_geodesic_edges_are_filled_with_points_of_the_geodesic():
    line = run_edges([(-77.0, 34.0), (-74.0, 36.0)], "geodesic", 50_000.0)
    whole = GRS80.InverseLine(34.0, -77.0, 36.0, -74.0)
    assert inverse(*line[:-1].T, *line[1:].T)[0].max() <= 50_000.0
    for k, (lon, lat) in enumerate(line):
        at = whole.Position(whole.s13 * k / (len(line) - 1))
        assert (lon, lat) == pytest.approx((at["lon2"], at["lat2"]), abs=1e-11)


def test_a_rhumb_line_keeps_its_course_and_its_corners():
    """The course of a loxodrome, atan(dlon / dpsi), is the same on every stretch."""
    line = run_edges([(179.0, 50.0), (-178.0, 52.0)], "rhumb", 5_000.0)
    assert line[0].tolist() == [179.0, 50.0]
    assert line[-1].tolist() == [182.0, 52.0]
    assert inverse(*line[:-1].T, *line[1:].T)[0].max() <= 500.0
    e = math.sqrt((2 - 1 / 298.257222101) / 298.257222101)
    phi = np.radians(line[:, 1])
    psi = np.arctanh(np.sin(phi)) - e * np.arctanh(e * np.sin(phi))
    course = np.arctan2(np.diff(np.radians(line[:, 0])), np.diff(psi))
    assert np.ptp(course) < 1e-8


def test_a_rhumb_line_along_a_parallel_stays_on_it():
    line = run_edges([(-77.0, 60.0), (-76.9, 60.0)], "rhumb", 1_000.0)
    assert (line[:, 1] == 60.0).all()
    assert np.ptp(np.diff(line[:, 0])) < 1e-12


@settings(max_examples=50, deadline=None)
@given(st.floats(-85, 85), st.floats(-85, 85), st.floats(-5, 5))
def test_the_pieces_of_a_rhumb_line_lie_within_a_tenth_of_a_millimetre(lat1, lat2, turn):
    lat2 = lat1 + (lat2 - lat1) / 1000.0
    line = run_edges([(0.0, lat1), (turn / 100.0, lat2)], "rhumb", 1_000.0)
    fine = run_edges([(0.0, lat1), (turn / 100.0, lat2)], "rhumb", 7.0)
    middle = line[len(line) // 2 - 1 : len(line) // 2 + 1]
    if len(middle) < 2:
        return
    chord = GRS80.InverseLine(middle[0, 1], middle[0, 0], middle[1, 1], middle[1, 0])
    half = chord.Position(chord.s13 / 2.0)
    gap = distance_to(half["lon2"], half["lat2"], LineString(fine)).distance_m[0]
    assert gap < 1.2e-4


def test_densify_keeps_the_kind_of_shape():
    hole = [(179.99, 0.01), (-179.99, 0.01), (-179.99, 0.02)]
    area = Polygon([(179.9, 0.0), (-179.9, 0.0), (-179.9, 0.1), (179.9, 0.1)], [[(h[0], h[1]) for h in hole]])
    drawn = densify(area, "geodesic", 5_000.0)
    assert isinstance(drawn, Polygon)
    assert drawn.is_valid
    assert drawn.bounds == pytest.approx((179.9, 0.0, 180.1, 0.1), abs=1e-6)
    assert len(drawn.interiors) == 1
    several = densify(MultiPolygon([area]), "rhumb", 500.0)
    assert isinstance(several, MultiPolygon)
    mixed = shapely.GeometryCollection([Point(1, 1), LineString([(0, 0), (1, 0)])])
    assert densify(mixed, "geodesic", 50_000.0).geom_type == "GeometryCollection"
    assert densify(Polygon(), "geodesic", 1.0).is_empty


@pytest.mark.parametrize(("lon", "lat"), [(-77.0, 34.0), (180.0, 0.0), (10.0, 80.0)])
@pytest.mark.parametrize("radius_m", [5.0, 500.0, 20_000.0])
def test_a_circle_lies_inside_by_less_than_a_millimetre(lon, lat, radius_m):
    circle = geodesic_circle(lon, lat, radius_m)
    assert circle.is_valid
    assert circle.exterior.is_ccw
    corners = np.array(circle.exterior.coords)
    assert inverse(lon, lat, *corners.T)[0] == pytest.approx(radius_m, abs=1e-6)
    a, b = corners[0], corners[1]
    chord = GRS80.InverseLine(a[1], a[0], b[1], b[0])
    half = chord.Position(chord.s13 / 2.0)
    assert radius_m - 1e-3 < GRS80.Inverse(lat, lon, half["lat2"], half["lon2"])["s12"] <= radius_m


@pytest.mark.parametrize("radius_m", [0.0, -1.0, float("nan"), float("inf")])
def test_a_circle_without_a_radius_is_refused(radius_m):
    with pytest.raises(GeometryError, match="radius"):
        geodesic_circle(0.0, 0.0, radius_m)
