"""The test for movement: against scipy, by simulation at rest, and with wild marks among the others."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from registry.errors import QuantityError
from registry.measure.movement import (
    LEAST_FOR_SHIFT,
    Motion,
    bearing_of,
    circular_covariance,
    common_shift,
    holm,
    least_seen_m,
    motion_of,
    robust_scale,
    stillness_p,
)
from registry.measure.uncertainty import R95_FACTOR


@given(east=st.floats(-20, 20), north=st.floats(-20, 20), first=st.floats(0.1, 10), second=st.floats(0.1, 10))
def test_circular_doubt_is_chi_square_with_two_degrees(east, north, first, second):
    p = float(stillness_p(east, north, circular_covariance(first) + circular_covariance(second)))
    t = (east**2 + north**2) / ((first**2 + second**2) / R95_FACTOR**2)
    assert p == pytest.approx(float(stats.chi2.sf(t, 2)), rel=1e-9, abs=1e-300)


def test_an_ellipse_is_tested_along_its_axes():
    """3 m along the long axis of an ellipse is nothing, across it a movement: radii could not tell."""
    long_east = np.diag([2.0**2, 0.2**2])
    assert float(stillness_p(3.0, 0.0, long_east)) > 0.3
    assert float(stillness_p(0.0, 3.0, long_east)) < 1e-20
    turned = np.array([[1.0, 0.8], [0.8, 1.0]])
    d = np.array([0.7, -0.4])
    expected = stats.chi2.sf(d @ np.linalg.inv(turned) @ d, 2)
    assert float(stillness_p(0.7, -0.4, turned)) == pytest.approx(expected, rel=1e-12)


def test_at_rest_one_mark_in_twenty_is_suspected_and_a_site_hardly_ever():
    rng = np.random.default_rng(417)
    d = rng.normal(0.0, math.sqrt(1.0 + 4.0), (400, 60, 2))
    covariance = circular_covariance(R95_FACTOR) + circular_covariance(2.0 * R95_FACTOR)
    p = stillness_p(d[..., 0], d[..., 1], covariance)
    assert float((p <= 0.05).mean()) == pytest.approx(0.05, abs=0.005)
    alarms = np.mean([holm(site).min() <= 0.05 for site in p])
    assert 0.02 < alarms < 0.08


def test_a_displacement_of_the_size_named_is_found_19_times_in_20():
    rng = np.random.default_rng(1)
    u95_m = 3.0
    d = rng.normal(0.0, u95_m / R95_FACTOR, (40_000, 2)) + np.array([least_seen_m(u95_m), 0.0])
    p = stillness_p(d[:, 0], d[:, 1], circular_covariance(u95_m))
    assert float((p <= 0.05).mean()) == pytest.approx(0.95, abs=0.005)
    limit = stats.chi2.ppf(0.95, 2)
    assert stats.ncx2.sf(limit, 2, 15.4431) == pytest.approx(0.95, abs=1e-5)


def test_holm_is_what_its_paper_says():
    assert holm([0.01, 0.04, 0.03, 0.005]).tolist() == pytest.approx([0.03, 0.06, 0.06, 0.02])
    assert holm([]).tolist() == []
    assert holm([0.9, 0.8]).tolist() == [1.0, 1.0]
    assert motion_of(0.05, 0.05) == Motion.MOVED


def test_without_doubt_there_is_no_test():
    with pytest.raises(QuantityError):
        stillness_p(1.0, 1.0, circular_covariance(0.0))
    with pytest.raises(QuantityError):
        stillness_p(1.0, 1.0, circular_covariance(float("nan")))


@pytest.mark.parametrize("count", [3, 5, 8, 9, 12, 60])
def test_the_robust_scale_is_unbiased_for_few_and_many(count):
    rng = np.random.default_rng(count)
    scales = [robust_scale(rng.normal(0.0, 2.0, count)) for _ in range(4_000)]
    assert np.mean(scales) == pytest.approx(2.0, rel=0.05)


@pytest.mark.parametrize("count", [5, 8, 20, 60])
def test_a_common_shift_is_not_seen_where_there_is_none(count):
    rng = np.random.default_rng(count)
    shifts = [common_shift(*rng.normal(0.0, 1.5, (2, count))) for _ in range(3_000)]
    assert np.mean([shift is not None and shift.real for shift in shifts]) < 0.03


def test_a_common_shift_is_found_under_four_modules_in_ten_that_moved():
    rng = np.random.default_rng(3)
    east, north = rng.normal(0.0, 0.5, (2, 30)) + np.array([[0.64], [-0.86]])
    east[:12] += rng.uniform(5.0, 40.0, 12)
    shift = common_shift(east, north)
    assert shift is not None
    assert shift.real
    assert shift.distance_m == pytest.approx(1.07, abs=0.5)
    assert np.mean(east) > 5.0, "the mean would not have done"


def test_few_marks_cannot_tell():
    assert common_shift([1.0] * (LEAST_FOR_SHIFT - 1), [1.0] * (LEAST_FOR_SHIFT - 1)) is None
    alike = common_shift([1.0] * LEAST_FOR_SHIFT, [1.0] * LEAST_FOR_SHIFT)
    assert alike is not None
    assert alike.real


@pytest.mark.parametrize(("east", "north", "bearing"), [(0, 1, 0), (1, 0, 90), (0, -1, 180), (-1, 0, 270)])
def test_bearings(east, north, bearing):
    assert bearing_of(east, north) == bearing
