"""Accuracy from check points: coverage by simulation, correlated errors, outliers."""

import numpy as np
import pytest

from registry.errors import QuantityError
from registry.measure.accuracy import assess, outliers


@pytest.mark.parametrize("covariance", [
    [[1.0, 0.0], [0.0, 1.0]], [[4.0, 0.0], [0.0, 0.25]], [[1.0, 0.9], [0.9, 1.0]], [[2.0, -0.7], [-0.7, 0.5]],
])  # fmt: skip
def test_the_ellipse_holds_95_of_100(covariance):
    d = np.random.default_rng(4).multivariate_normal([0.0, 0.0], covariance, 60_000)
    found = assess(d[:, 0], d[:, 1])
    assert (np.hypot(*d.T) <= found.ellipse_r95_m).mean() == pytest.approx(0.95, abs=0.004)


def test_correlated_errors_are_no_circle():
    """Both axes alike, yet all along one diagonal: the formula sees a circle and is 12 % too wide or short."""
    d = np.array([1.0, -1.0, 0.5, -0.5])
    found = assess(d, d)
    assert found.ratio == 1.0
    assert found.ellipse_r95_m == pytest.approx(1.96 * np.sqrt(2 * np.mean(d**2)), rel=1e-3)


def test_the_bias_counts():
    assert assess(np.full(20, 3.0), np.zeros(20)).rmse_east_m == 3.0


@pytest.mark.parametrize(("east", "north"), [([], []), ([1.0], [np.nan]), ([1.0, 2.0], [1.0])])
def test_what_cannot_be_assessed(east, north):
    with pytest.raises(QuantityError):
        assess(east, north)


@pytest.mark.parametrize("count", [5, 8, 20, 100])
def test_normal_samples_are_seldom_accused(count):
    rng = np.random.default_rng(count)
    accused = np.mean([outliers(*rng.normal(0.0, 2.0, (2, count))).any() for _ in range(1_500)])
    assert accused < 0.15


def test_wild_points_are_named_under_a_third_of_them():
    rng = np.random.default_rng(9)
    d = rng.normal(0.0, 1.0, (30, 2))
    d[:9] += [40.0, -25.0]
    assert outliers(d[:, 0], d[:, 1]).tolist()[:9] == [True] * 9
    assert outliers(d[:, 0], d[:, 1])[9:].sum() <= 1
    assert not outliers([0.0, 0.0, 0.0, 99.0], [0.0, 0.0, 0.0, 99.0]).any(), "four cannot tell"


def test_digits_follow_the_number_of_points():
    assert [assess(np.full(n, 3.0), np.full(n, 3.0)).decimals for n in (2, 20, 2000)] == [1, 1, 2]
