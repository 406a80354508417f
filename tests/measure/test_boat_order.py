"""A course through some points that does not go to and fro."""

from itertools import pairwise, permutations

import numpy as np
import pytest

from registry.measure.boat_order import boat_order
from registry.measure.geodesic import inverse


def length(lon, lat, order):
    return sum(float(inverse(lon[a], lat[a], lon[b], lat[b])[0]) for a, b in pairwise(order))


@pytest.mark.parametrize("seed", range(8))
def test_the_course_is_all_but_the_shortest_of_all(seed):
    rng = np.random.default_rng(seed)
    lon, lat = -77 + 0.02 * rng.random(7), 34 + 0.02 * rng.random(7)
    order, course_m = boat_order(lon, lat)
    best = min(length(lon, lat, each) for each in permutations(range(7)) if each[0] < each[-1])
    assert sorted(order) == list(range(7))
    assert course_m == pytest.approx(length(lon, lat, order), rel=1e-6)
    assert course_m <= 1.05 * best


def test_a_line_is_sailed_from_end_to_end():
    lon = [-77.0, -76.7, -76.9, -76.8, -76.6]
    assert boat_order(lon, [34.0] * 5)[0] == [0, 2, 3, 1, 4]


def test_a_course_over_the_antimeridian_does_not_go_round_the_world():
    order, course_m = boat_order([179.99, -179.99, -179.98, 179.98], [10.0] * 4)
    assert order in ([2, 1, 0, 3], [3, 0, 1, 2])
    assert course_m < 5_000


def test_no_two_stretches_cross_in_a_wide_course():
    rng = np.random.default_rng(1)
    lon, lat = rng.random(60), rng.random(60)
    order, course_m = boat_order(lon, lat)
    turned = [order[:i] + order[i:j][::-1] + order[j:] for i in range(60) for j in range(i + 2, 61)]
    lengths = [length(lon, lat, each) for each in turned[::17]]
    assert min(lengths) > course_m - 5.0  # chords against geodesics of 100 km: metres


@pytest.mark.parametrize(("lon", "expected"), [([-77.0], ([0], 0.0)), ([-77.0, -77.0], ([0, 1], 0.0))])
def test_one_or_two_points_are_a_course(lon, expected):
    assert boat_order(lon, [34.0] * len(lon)) == expected


@pytest.mark.parametrize("west", [-77.0, 179.99])
def test_many_points_are_swept_in_strips(west):
    """Few 1955 (from memory): through n points of a unit square a path of sqrt(2 n) + 1.75 is always enough."""
    rng = np.random.default_rng(4)
    lon, lat = rng.random(900), rng.random(900)
    lon, lat = west + 0.02 * lon, 0.02 * (lat - 0.5)
    order, course_m = boat_order((lon + 180) % 360 - 180, lat)
    assert sorted(order) == list(range(900))
    side_m = float(inverse(west, 0.0, west + 0.02, 0.0)[0])
    assert course_m < (np.sqrt(2 * 900) + 1.75) * side_m
    assert course_m == pytest.approx(length(lon, lat, order), rel=1e-6)


def test_many_points_on_a_line_are_sailed_from_end_to_end():
    assert boat_order(np.linspace(-77.0, -76.0, 400), np.full(400, 34.0))[0] == list(range(400))
