"""Rounded positions: never farther than told, never finer than asked, and the same again."""

import numpy as np
import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from registry.measure.geodesic import inverse
from registry.measure.rounded_place import rounded_places, rounding_reach_m

lats = st.floats(-80.0, 80.0)
lons = st.floats(-180.0, 180.0, exclude_max=True)
steps = st.floats(1.0, 20_000.0)


@given(lons, lats, steps)
def test_no_place_moves_farther_than_is_told(lon, lat, step_m):
    rounded = rounded_places([lon], [lat], step_m)
    assert inverse(lon, lat, *rounded)[0][0] <= rounding_reach_m(step_m)
    assert -180.0 <= rounded[0][0] < 180.0


@given(lons, lats, steps)
@example(lon=179.99999999999997, lat=0.0, step_m=1.0)
def test_a_rounded_place_stays_where_it_is(lon, lat, step_m):
    once = rounded_places([lon], [lat], step_m)
    again = rounded_places(*once, step_m)
    assert inverse(once[0][0], once[1][0], again[0][0], again[1][0])[0] < 0.001


@given(lons, lats, steps, st.floats(0.0, 360.0))
def test_two_middles_are_never_nearer_than_was_asked(lon, lat, step_m, bearing):
    """Squares of at least the side asked for: what is shown is no finer than the choice."""
    one = rounded_places([lon], [lat], step_m)
    near = (
        np.array([lon + 1.2 * step_m / 111_000 * np.sin(bearing)]),
        np.array([np.clip(lat + 1.2 * step_m / 111_000 * np.cos(bearing), -80, 80)]),
    )
    other = rounded_places(*near, step_m)
    apart_m = float(inverse(one[0][0], one[1][0], other[0][0], other[1][0])[0])
    assert apart_m < 0.001 or apart_m > 0.999 * step_m


@pytest.mark.parametrize("step_m", [50.0, 100.0, 1000.0])
def test_what_lies_in_one_square_cannot_be_told_apart(step_m):
    """A thousand places within a metre of a middle all become that middle."""
    rng = np.random.default_rng(7)
    lon, lat = rounded_places([-77.3351667], [34.0208333], step_m)
    spread = rng.uniform(-1e-5, 1e-5, (2, 1000))
    again = rounded_places(lon + spread[0], lat + spread[1], step_m)
    assert len(set(zip(*map(np.ndarray.tolist, again), strict=True))) == 1
