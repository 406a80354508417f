"""The average and its radius, against errors that are correlated in time as those of receivers are."""

import math

import numpy as np
import pytest
from scipy.signal import lfilter

from registry.errors import InvalidRecordError
from registry.measure.averaging import average_fixes
from registry.measure.uncertainty import R95_FACTOR, r95_from_sigmas

CLASS_R95_M = 3.0


def average(fixes, time, **stated):
    return average_fixes(fixes[0], fixes[1], time, **stated)


def correlated(rng, n, time_constant_s, sigma_m, step_s):
    """Errors of first-order Gauss-Markov kind, one row for each axis."""
    rho = math.exp(-step_s / time_constant_s)
    noise = rng.normal(size=(2, n)) * sigma_m * math.sqrt(1 - rho**2)
    start = rng.normal(size=(2, 1)) * sigma_m
    return lfilter([1.0], [1.0, -rho], noise, axis=1, zi=rho * start)[0]


def session(rng, minutes, wild_share, *, one_sided):
    """Fixes of a point at 0, 0: parts correlated over 60 s and over 1800 s, a burst of wild ones."""
    step_s = 1.0 if minutes <= 30 else 10.0
    n = int(minutes * 60 / step_s)
    sigma = CLASS_R95_M / R95_FACTOR
    error = correlated(rng, n, 60.0, 0.6 * sigma, step_s) + correlated(rng, n, 1800.0, 0.8 * sigma, step_s)
    wild = round(wild_share * n)
    if wild:
        begin = rng.integers(0, n - wild + 1)
        far = rng.uniform(5.0, 25.0, wild)
        toward = rng.uniform(0, 2 * np.pi) if one_sided else rng.uniform(0, 2 * np.pi, wild)
        error[:, begin : begin + wild] += far * np.array(
            [np.sin(toward) * np.ones(wild), np.cos(toward) * np.ones(wild)]
        )
    return error, np.arange(n) * step_s


@pytest.mark.parametrize("minutes", [2, 10, 30, 120])
@pytest.mark.parametrize(("wild_share", "one_sided"), [(0.0, False), (0.2, False), (0.2, True)])
def test_the_radius_covers_the_truth(minutes, wild_share, one_sided):
    rng = np.random.default_rng([2026, minutes, int(wild_share * 100), one_sided])
    runs, covered, naive, mean_error, median_error = 300, 0, 0, [], []
    for _ in range(runs):
        (east, north), time = session(rng, minutes, wild_share, one_sided=one_sided)
        found = average_fixes(east, north, time, class_r95_m=CLASS_R95_M)
        error = math.hypot(found.east_m, found.north_m)
        covered += error <= found.r95_m
        naive += error <= R95_FACTOR * np.std(east) / math.sqrt(len(east))
        median_error.append(error)
        mean_error.append(math.hypot(east.mean(), north.mean()))
        assert found.r95_m >= CLASS_R95_M
    assert covered / runs >= 0.95
    # What dividing by the root of the raw count would have claimed, for comparison.
    assert naive / runs < 0.6
    if one_sided:
        assert np.quantile(median_error, 0.95) < np.quantile(mean_error, 0.95)


def test_a_fifth_of_the_fixes_anywhere_moves_the_median_little():
    rng = np.random.default_rng(5)
    east, north = rng.normal(size=(2, 1000))
    still = average_fixes(east, north, np.arange(1000.0), class_r95_m=3.0)
    east[::5] = 1e6
    wild = average_fixes(east, north, np.arange(1000.0), class_r95_m=3.0)
    assert abs(wild.east_m - still.east_m) < 0.5
    assert wild.north_m == still.north_m
    assert wild.wild >= 200
    assert wild.scatter_m < 1.6


def test_the_count_alone_is_worth_nothing():
    rng = np.random.default_rng(1)
    slow = average(rng.normal(size=(2, 100)), np.arange(100.0), class_r95_m=3.0)
    fast = average(rng.normal(size=(2, 10000)), np.arange(10000.0) / 100, class_r95_m=3.0)
    assert slow.n_effective == fast.n_effective == 1.0
    assert fast.r95_m > 3.0


def test_two_bursts_far_apart_are_worth_two_at_most():
    rng = np.random.default_rng(1)
    time = np.concatenate([np.arange(60.0), 86400.0 + np.arange(60.0)])
    found = average(rng.normal(size=(2, 120)), time, class_r95_m=3.0)
    assert 1.0 <= found.n_effective < 2.0
    assert found.span_s == 59 + 600 + 59


def test_correlation_lowers_the_effective_number():
    rng = np.random.default_rng(3)
    time = np.arange(0.0, 36000.0, 10.0)
    white = average(rng.normal(size=(2, len(time))), time, class_r95_m=3.0)
    smooth = average(correlated(rng, len(time), 3000.0, 1.0, 10.0), time, class_r95_m=3.0)
    assert white.n_effective == pytest.approx(60.0, rel=0.01)
    assert smooth.correlation > 0.98
    assert smooth.n_effective < 25.0


def test_stated_deviations_count_where_they_are_worse_than_the_class():
    fixes = np.zeros((2, 5))
    time = np.arange(5.0)
    worse = average(
        fixes, time, class_r95_m=0.2, sigma_east_m=[0.3] * 5, sigma_north_m=[0.4, np.nan, 0.4, 0.4, 9.0]
    )
    better = average(fixes, time, class_r95_m=0.2, sigma_east_m=[0.01] * 5, sigma_north_m=[0.01] * 5)
    assert worse.r95_receiver_m == pytest.approx(float(r95_from_sigmas(0.3, 0.4)))
    assert better.r95_receiver_m == 0.2
    assert math.isnan(average(fixes, time, class_r95_m=0.2).r95_stated_m)


def test_one_fix_has_the_radius_of_its_class():
    found = average_fixes([1.0], [2.0], [0.0], class_r95_m=8.0)
    assert (found.east_m, found.north_m, found.r95_m, found.n_effective) == (1.0, 2.0, 8.0, 1.0)


@pytest.mark.parametrize("bad", [([], [], []), ([1.0], [np.nan], [0.0]), ([1.0], [1.0, 2.0], [0.0])])
def test_what_is_no_fix(bad):
    with pytest.raises(InvalidRecordError):
        average_fixes(bad[0], bad[1], bad[2], class_r95_m=3.0)
