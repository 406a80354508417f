"""Geodesics and the plane of a site."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from registry.measure.geodesic import SitePlane, centre_of, direct, earth_centred, inverse

lons, lats = st.floats(-180, 180), st.floats(-89, 89)


@settings(deadline=None)
@given(lons, lats, lons, lats)
def test_distance_is_the_same_both_ways(lon1, lat1, lon2, lat2):
    there, bearing = inverse(lon1, lat1, lon2, lat2)
    back, _ = inverse(lon2, lat2, lon1, lat1)
    assert there == pytest.approx(back, abs=1e-6)
    assert 0.0 <= bearing < 360.0


@settings(deadline=None)
@given(lons, lats, st.floats(0, 359.99), st.floats(0.01, 1e6))
def test_what_was_walked_is_measured(lon, lat, bearing, distance):
    x, y = direct(lon, lat, bearing, distance)
    found, _ = inverse(lon, lat, x, y)
    assert found == pytest.approx(distance, abs=1e-6)


def test_scalars_and_arrays_broadcast():
    distance, bearing = inverse(0.0, 0.0, [0.001, 0.0], [0.0, 0.001])
    assert distance == pytest.approx([111.3195, 110.5743], abs=1e-4)
    assert bearing.tolist() == [90.0, 0.0]
    assert np.ndim(inverse(0.0, 0.0, 1.0, 1.0)[0]) == 0


@settings(deadline=None)
@given(lons, lats, st.floats(-180, 180), st.floats(0, 50_000))
def test_the_plane_keeps_distance_and_bearing_from_its_centre_and_comes_back(lon, lat, bearing, distance):
    plane = SitePlane(lon, lat)
    x, y = direct(lon, lat, bearing, distance)
    east, north = plane.to_plane(x, y)
    assert np.hypot(east, north) == pytest.approx(distance, abs=1e-6)
    p, q = plane.from_plane(east, north)
    assert inverse(x, y, p, q)[0] < 1e-6


@pytest.mark.parametrize("lat", [0.0, 34.0, -75.0])
@pytest.mark.parametrize("distance", [0.0, 1e-5, 3e-4, 5.9e-4, 6.5e-4, 9e-4, 1.1e-3])
def test_points_within_a_millimetre_of_the_centre_keep_their_place(distance, lat):
    plane = SitePlane(180.0, lat)
    for bearing in (0.0, 77.0, 200.0):
        east, north = plane.to_plane(*direct(180.0, lat, bearing, distance))
        assert east == pytest.approx(distance * np.sin(np.radians(bearing)), abs=5e-8)
        assert north == pytest.approx(distance * np.cos(np.radians(bearing)), abs=5e-8)


def test_curvature_of_the_ellipsoid_at_the_equator_and_the_pole():
    a, b = 6378137.0, 6356752.314140356  # GRS 80
    assert SitePlane(0.0, 0.0).curvature_per_m2 == pytest.approx(1 / b**2, rel=1e-12)  # M N = b²/a · a
    assert SitePlane(0.0, 90.0).curvature_per_m2 == pytest.approx(b**2 / a**4, rel=1e-12)  # M = N = a²/b


def test_the_middle_across_the_antimeridian_and_at_the_pole():
    lon, lat = centre_of([179.0, -179.0], [0.0, 0.0])
    assert (abs(lon), lat) == pytest.approx((180.0, 0.0))
    assert centre_of([0.0, 90.0, 180.0, -90.0], [89.0] * 4)[1] == pytest.approx(90.0)


def test_earth_centred_pole():
    assert earth_centred(0.0, 90.0)[0] == pytest.approx([0.0, 0.0, 6356752.31414], abs=1e-5)
