"""Linear waves: the equation is solved everywhere, and the motion behaves as water does."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from registry.errors import InvalidRecordError
from registry.measure.sea_pressure import STANDARD_GRAVITY
from registry.measure.waves import breaks, celerity, near_bed, wavelength

periods = st.floats(0.5, 60.0)
depths = st.floats(1e-6, 11_000.0)
heights = st.floats(0.0, 30.0)


@given(periods, depths)
def test_the_length_satisfies_the_equation_from_a_puddle_to_the_deep_sea(period_s, depth_m):
    length_m = wavelength(period_s, depth_m)
    deep_m = STANDARD_GRAVITY * period_s**2 / (2.0 * np.pi)
    assert length_m == pytest.approx(deep_m * np.tanh(2.0 * np.pi * depth_m / length_m), rel=1e-12)


def test_the_two_ends_are_those_of_the_textbook():
    assert celerity(60.0, 0.01) == pytest.approx(np.sqrt(STANDARD_GRAVITY * 0.01), rel=1e-5)
    assert wavelength(5.0, 4000.0) == pytest.approx(STANDARD_GRAVITY * 25.0 / (2.0 * np.pi), rel=1e-12)


@given(heights, st.floats(0.0, 10.0), periods, depths)
def test_a_bigger_wave_moves_the_water_no_less(height_m, more_m, period_s, depth_m):
    small, big = near_bed(height_m, period_s, depth_m), near_bed(height_m + more_m, period_s, depth_m)
    assert big.velocity_mps >= small.velocity_mps
    assert big.acceleration_mps2 >= small.acceleration_mps2


@given(heights, periods, depths, st.floats(0.0, 1000.0))
def test_deeper_water_is_never_rougher_at_the_bed(height_m, period_s, depth_m, more_m):
    shallow, deep = near_bed(height_m, period_s, depth_m), near_bed(height_m, period_s, depth_m + more_m)
    assert deep.velocity_mps <= shallow.velocity_mps * (1.0 + 1e-12)
    assert deep.acceleration_mps2 <= shallow.acceleration_mps2 * (1.0 + 1e-12)


def test_many_are_solved_as_each_alone():
    period, depth = np.array([6.0, 9.0, 14.0])[:, None], np.array([5.0, 20.0, 80.0, 4000.0])
    together = near_bed(3.0, period, depth)
    assert together.velocity_mps.shape == (3, 4)
    for (i, j), found in np.ndenumerate(together.velocity_mps):
        assert found == near_bed(3.0, period[i, 0], depth[j]).velocity_mps


def test_where_there_is_no_water_or_nobody_knows_there_is_no_answer():
    for depth_m in (0.0, -2.0, np.nan):
        assert np.isnan(wavelength(8.0, depth_m))
        assert np.isnan(near_bed(2.0, 8.0, depth_m).velocity_mps)
    assert breaks(2.0, [0.0, -2.0, np.nan]).tolist() == [True, True, False]


@pytest.mark.parametrize("period_s", [0.0, -8.0])
def test_a_period_that_is_none_is_refused(period_s):
    with pytest.raises(InvalidRecordError, match="above zero"):
        wavelength(period_s, 20.0)


def test_a_height_below_zero_is_refused():
    with pytest.raises(InvalidRecordError, match="zero or more"):
        near_bed(-2.0, 8.0, 20.0)
