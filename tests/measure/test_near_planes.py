"""The series for planes around many places, against geodesics solved by Karney's method."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from registry.measure.geodesic import SitePlane, direct, earth_centred_axes
from registry.measure.near_planes import NearPlanes


@pytest.mark.parametrize(("within_m", "good_to_m"), [(1_000.0, 1e-7), (4_000.0, 2e-6), (12_000.0, 3e-5)])
def test_the_series_gives_the_azimuthal_equidistant_plane(within_m, good_to_m):
    rng = np.random.default_rng(8)
    lon0 = rng.uniform(-180, 180, 60)
    lat0 = np.append(rng.uniform(-90, 90, 56), [0.0, 90.0, -90.0, 89.999])
    planes = NearPlanes.around(lon0, lat0)
    lon, lat = direct(
        np.repeat(lon0, 50), np.repeat(lat0, 50), rng.uniform(0, 360, 3_000), rng.uniform(0, within_m, 3_000)
    )
    plane, away_m = planes.project(earth_centred_axes(lon, lat), np.arange(61) * 50)
    for k in range(60):
        exact = SitePlane(lon0[k], lat0[k])
        own = slice(50 * k, 50 * k + 50)
        east, north = exact.to_plane(lon[own], lat[own])
        assert np.hypot(*plane[:, own]) == pytest.approx(np.hypot(east, north), abs=1e-6)
        if abs(lat0[k]) < 90.0:  # at a pole itself north is a matter of the longitude given
            assert np.hypot(plane[0, own] - east, plane[1, own] - north).max() < good_to_m
        assert away_m[own] == pytest.approx(np.hypot(east, north), abs=3e-3)
        assert planes.curvature_per_m2[k] == pytest.approx(exact.curvature_per_m2, rel=1e-12)


@settings(deadline=None)
@given(st.floats(-180, 180), st.floats(-90, 90), st.floats(0, 360), st.floats(13_000, 1.9e7))
def test_what_lies_too_far_is_known_to_lie_far(lon0, lat0, bearing, distance_m):
    x, y = direct(lon0, lat0, bearing, distance_m)
    planes = NearPlanes.around(np.array([lon0]), np.array([lat0]))
    assert planes.project(earth_centred_axes(x, y), np.array([0, 1]))[1][0] > 12_900.0
