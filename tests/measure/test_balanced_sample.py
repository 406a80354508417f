"""A sample that is spread: sizes, chances and balance against theory."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from registry.errors import QuantityError
from registry.measure.balanced_sample import balanced_sample, inclusion_probabilities, voronoi_balance

#: A chance of one in a million, in standard deviations and both ways; allows for every unit of a test at once.
SIX_NINES = 4.9


def reef(count, seed=5):
    rng = np.random.default_rng(seed)
    return -77.0 + 0.01 * rng.random(count), 34.0 + 0.01 * rng.random(count), rng


def grid(side):
    x, y = np.meshgrid(np.arange(side), np.arange(side))
    return -77.0 + 0.00018 * x.ravel(), 34.0 + 0.00018 * y.ravel()


@given(
    weights=st.lists(st.floats(0.01, 100.0), min_size=1, max_size=40),
    share=st.floats(0.0, 1.0),
)
def test_chances_add_up_to_the_size_and_follow_the_weights(weights, share):
    size = max(1, math.ceil(share * len(weights)))
    p = inclusion_probabilities(weights, size)
    assert p.sum() == pytest.approx(size)
    assert ((p > 0) & (p <= 1)).all()
    ratio = p / np.array(weights)
    free = p < 1
    if free.any():
        assert np.allclose(ratio[free], ratio[free][0])
        assert (ratio[~free] <= ratio[free][0] * (1 + 1e-9)).all()


def test_a_point_that_would_be_drawn_more_than_once_is_certain():
    assert inclusion_probabilities([1, 1, 1, 1, 100], 3).tolist() == [0.5, 0.5, 0.5, 0.5, 1.0]
    # Once the first is certain, the second becomes so.
    assert inclusion_probabilities([1, 1, 4, 100], 3).tolist() == [0.5, 0.5, 1.0, 1.0]


@pytest.mark.parametrize(("weights", "size"), [([1.0, 0.0], 1), ([1.0, math.nan], 1), ([1.0], 2), ([1.0], 0)])
def test_what_cannot_be_a_chance_is_refused(weights, size):
    with pytest.raises(QuantityError):
        inclusion_probabilities(weights, size)


def test_chances_that_add_up_to_no_whole_number_are_refused():
    with pytest.raises(QuantityError):
        balanced_sample([-77.0, -77.1], [34.0, 34.0], [0.5, 0.6], seed="1")
    with pytest.raises(QuantityError):
        balanced_sample([-77.0, -77.1], [34.0, 34.0], [1.5, 0.5], seed="1")


@settings(max_examples=60, deadline=None)
@given(count=st.integers(1, 60), share=st.floats(0.0, 1.0), seed=st.integers(0, 10**6), lattice=st.booleans())
def test_the_size_is_always_exact(count, share, seed, lattice):
    lon, lat, rng = reef(count, seed)
    if lattice:
        lon, lat = np.round(lon, 3), np.round(lat, 3)
    size = max(1, math.ceil(share * count))
    p = inclusion_probabilities(rng.random(count) + 0.05, size)
    drawn = balanced_sample(lon, lat, p, seed=str(seed))
    assert len(set(drawn.tolist())) == len(drawn) == size
    assert set(np.flatnonzero(p == 1).tolist()) <= set(drawn.tolist())


def test_the_same_seed_gives_the_same_sample_everywhere():
    lon, lat = grid(10)
    p = np.full(100, 0.1)
    first = balanced_sample(lon, lat, p, seed="4711")
    # Computed here; frozen, so that another machine, library or version that draws otherwise is found out.
    assert first.tolist() == FROZEN
    assert balanced_sample(lon + 1e-10, lat, p, seed="4711").tolist() == FROZEN
    assert balanced_sample(lon, lat, p, seed="4712").tolist() != FROZEN


FROZEN = [2, 14, 26, 34, 40, 58, 75, 77, 83, 90]


@pytest.mark.slow
@pytest.mark.parametrize("lattice", [False, True])
def test_each_point_is_drawn_as_often_as_its_chance_says(lattice):
    draws, size = 4000, 8
    lon, lat, rng = reef(36)
    if lattice:
        lon, lat = grid(6)
    p = inclusion_probabilities(rng.random(36) + 0.1, size)
    times = np.zeros(36)
    for seed in range(draws):
        times[balanced_sample(lon, lat, p, seed=f"draw {seed}")] += 1
    deviation = np.sqrt(draws * p * (1 - p))
    free = p < 1
    z = (times - draws * p)[free] / deviation[free]
    assert np.abs(z).max() < SIX_NINES
    # And together: chi-square of so many units, less one for the fixed size, within five deviations.
    degrees = free.sum() - 1
    assert abs((z**2 * (1 - p[free])).sum() / (1 - p[free]).mean() - degrees) < 5 * math.sqrt(2 * degrees)


@pytest.mark.slow
def test_near_neighbours_are_seldom_together():
    lon, lat = grid(6)
    p = np.full(36, 8 / 36)
    together = np.zeros((36, 36))
    draws = 1500
    for seed in range(draws):
        drawn = balanced_sample(lon, lat, p, seed=str(seed))
        together[np.ix_(drawn, drawn)] += 1
    side = [(row, row + 1) for row in range(36) if row % 6 < 5]
    simple = 8 * 7 / (36 * 35)
    assert np.mean([together[pair] for pair in side]) / draws < simple / 4


@pytest.mark.slow
@pytest.mark.parametrize("unequal", [False, True])
def test_the_spread_is_better_than_by_simple_chance(unequal):
    lon, lat, rng = reef(400)
    p = inclusion_probabilities(rng.random(400) + 0.3 if unequal else np.ones(400), 25)
    local = [voronoi_balance(lon, lat, p, balanced_sample(lon, lat, p, seed=str(s))) for s in range(150)]
    # Poisson-like sampling of the same size by the same chances: successive draws without replacement.
    simple = [
        voronoi_balance(lon, lat, p, rng.choice(400, 25, replace=False, p=p / p.sum())) for _ in range(150)
    ]
    # Every deviation of the means is far below the gap.
    assert np.mean(local) < 0.5 * np.mean(simple)
    assert np.mean(local) < 0.15


def test_a_sample_over_the_antimeridian_and_at_the_pole_is_spread_as_well():
    # Two heaps of ten on either side of the 180th meridian, at one place: five are drawn of the twenty.
    lon = np.array([179.99999] * 10 + [-179.99999] * 10 + [0.0] * 20)
    lat = np.array([0.0] * 20 + [89.99999] * 20)
    drawn = balanced_sample(lon, lat, np.full(40, 0.25), seed="1")
    assert (drawn < 20).sum() == 5


def test_a_thousand_modules_in_one_place_do_not_stop_it():
    assert len(balanced_sample([-77.0] * 1000, [34.0] * 1000, np.full(1000, 0.02), seed="1")) == 20


def test_balance_is_zero_where_each_of_the_sample_stands_for_one():
    lon, lat = grid(4)
    corners = [5, 6, 9, 10]
    assert voronoi_balance(lon, lat, np.full(16, 0.25), corners) == pytest.approx(0.0)
    # One that stands for all, and three far away that stand for nothing but themselves.
    assert voronoi_balance([0, 0.001, 0.002, 5, 6, 7], [0] * 6, [0.5] * 6, [1, 4, 5]) == pytest.approx(
        ((1.5 - 1) ** 2 + (1.0 - 1) ** 2 + (0.5 - 1) ** 2) / 3
    )
