"""Neighbours against every pair measured one by one with an independent geodesic."""

import numpy as np
import pytest
from geographiclib.geodesic import Geodesic
from hypothesis import given, settings
from hypothesis import strategies as st

from registry.measure.geodesic import direct, inverse
from registry.measure.neighbours import (
    Neighbourhood,
    cross_pairs_within,
    nearest,
    nearest_other,
    pairs_within,
)

GRS80 = Geodesic(6378137.0, 1 / 298.257222101)
PLACES = [(-77.0, 34.0), (180.0, 10.0), (0.0, 90.0), (45.0, -89.9999)]


def scattered(lon, lat, count, spread_m, seed=1):
    rng = np.random.default_rng(seed)
    return direct(lon, lat, rng.uniform(0, 360, count), np.sqrt(rng.uniform(0, 1, count)) * spread_m)


def all_distances(lon, lat):
    n = len(lon)
    d = np.full((n, n), np.inf)
    for i in range(n):
        for j in range(n):
            if i != j:
                d[i, j] = GRS80.Inverse(lat[i], lon[i], lat[j], lon[j])["s12"]
    return d


@pytest.mark.parametrize("spread_m", [30.0, 3_000.0, 200_000.0])
@pytest.mark.parametrize(("lon", "lat"), PLACES)
def test_pairs_and_nearest_agree_with_every_pair_measured(lon, lat, spread_m):
    x, y = scattered(lon, lat, 40, spread_m)
    d = all_distances(x, y)
    reach = spread_m / 3.0
    i, j, distance = pairs_within(x, y, reach)
    expected = [(a, b) for a in range(40) for b in range(a + 1, 40) if d[a, b] <= reach]
    assert list(zip(i, j, strict=True)) == expected
    assert distance == pytest.approx([d[a, b] for a, b in expected], abs=1e-6)
    index, least = nearest(x, y)
    assert least == pytest.approx(d.min(axis=1), abs=1e-6)
    assert d[np.arange(40), index] == pytest.approx(d.min(axis=1), abs=1e-6)


def test_pairs_across_two_sets():
    x, y = scattered(180.0, -17.0, 60, 500.0)
    i, j, distance = cross_pairs_within(x[:20], y[:20], x[20:], y[20:], 200.0)
    d = all_distances(x, y)[:20, 20:]
    expected = [(a, b) for a in range(20) for b in range(40) if d[a, b] <= 200.0]
    assert list(zip(i, j, strict=True)) == expected
    assert distance == pytest.approx([d[a, b] for a, b in expected], abs=1e-6)


def test_the_reach_itself_is_within_reach():
    lon, lat = (float(v) for v in direct(-77.0, 34.0, 63.0, 6.0))
    distance, _ = inverse(-77.0, 34.0, lon, lat)
    assert len(pairs_within([-77.0, lon], [34.0, lat], float(distance))[0]) == 1
    assert len(pairs_within([-77.0, lon], [34.0, lat], float(distance) - 1e-6)[0]) == 0


def test_two_in_one_spot_are_each_other_s_nearest():
    index, distance = nearest([-77.0, -77.0, -77.0, 0.0], [34.0, 34.0, 34.0, 0.0])
    assert distance[:3].tolist() == [0.0, 0.0, 0.0]
    assert all(index[k] != k for k in range(4))
    assert pairs_within([1.0, 1.0], [2.0, 2.0], 0.0)[2].tolist() == [0.0]


def test_a_point_is_not_its_own_neighbour_in_a_set_that_holds_it():
    x, y = scattered(-77.0, 34.0, 30, 300.0)
    index, distance = nearest_other(x[5:9], y[5:9], x, y, own=[5, 6, 7, 8])
    expected = nearest(x, y)
    assert index.tolist() == expected[0][5:9].tolist()
    assert distance.tolist() == expected[1][5:9].tolist()
    assert nearest_other(x[5:9], y[5:9], x, y)[0].tolist() == [5, 6, 7, 8]


def test_where_there_is_nobody_there_is_no_neighbour():
    for index, distance in (
        nearest_other([-77.0], [34.0], [], []),
        nearest_other([-77.0], [34.0], [-77.0], [34.0], own=[0]),
        nearest([-77.0], [34.0]),
    ):
        assert index.tolist() == [-1]
        assert distance.tolist() == [np.inf]
    assert nearest([], [])[0].shape == (0,)
    assert all(len(v) == 0 for v in pairs_within([], [], 5.0))
    assert all(len(v) == 0 for v in cross_pairs_within([], [], [1.0], [1.0], 5.0))


def test_the_flattening_decides_between_far_neighbours():
    """Two chords of nearly one length: the shorter chord is not always the shorter geodesic."""
    rng = np.random.default_rng(4)
    lon, lat = rng.uniform(-180, 180, 12), np.degrees(np.arcsin(rng.uniform(-1, 1, 12)))
    d = all_distances(lon, lat)
    assert nearest(lon, lat)[1] == pytest.approx(d.min(axis=1), abs=1e-6)


@settings(max_examples=40, deadline=None)
@given(st.integers(2, 25), st.floats(1.0, 1e5), st.integers(0, 99), st.sampled_from(PLACES))
def test_a_new_neighbour_never_moves_the_nearest_away(count, spread_m, seed, place):
    x, y = scattered(place[0], place[1], count + 1, spread_m, seed)
    fewer, more = nearest(x[:-1], y[:-1])[1], nearest(x, y)[1][:-1]
    assert (more <= fewer + 1e-7).all()


def grid(lon, lat, side, spacing_m, seed=1):
    """Modules on a grid around a place, each some decimetres off."""
    rng = np.random.default_rng(seed)
    east, north = (v.ravel() * spacing_m for v in np.meshgrid(np.arange(side), np.arange(side)))
    east, north = (v - v.mean() + rng.normal(0.0, spacing_m / 20.0, side * side) for v in (east, north))
    return direct(lon, lat, np.degrees(np.arctan2(east, north)), np.hypot(east, north))


def a_world(seed=3):
    """Permits of several spacings, a crowd, twins, some that stand alone, the seam, poles: in no order."""
    rng = np.random.default_rng(seed)
    parts = [
        grid(*PLACES[0], 14, 15.0),
        grid(20.0, -75.0, 10, 15.0),
        grid(-180.0, 52.0, 12, 15.0),
        grid(10.0, 90.0, 9, 15.0),
        grid(0.0, 0.0, 6, 40.0),
        grid(3.0, 0.0, 12, 0.4),
        grid(4.0, -33.0, 5, 900.0),
        (rng.uniform(-180, 180, 9), rng.uniform(-90, 90, 9)),
    ]
    lon, lat = (np.concatenate([np.atleast_1d(v[k]) for v in parts]) for k in (0, 1))
    lon, lat = np.append(lon, lon[:40]), np.append(lat, lat[:40])
    order = rng.permutation(len(lon))
    return lon[order], lat[order]


def test_sweep_and_tree_find_what_measuring_every_pair_finds():
    lon, lat = a_world()
    d = np.stack([inverse(lon[k], lat[k], lon, lat)[0] for k in range(len(lon))])
    np.fill_diagonal(d, np.inf)
    world = Neighbourhood(lon, lat)
    index, distance = world.nearest_other()
    assert (world._sweep[0] >= 0).any()
    assert (world._sweep[0] < 0).any()
    assert distance == pytest.approx(d.min(axis=1), abs=1e-6)
    assert d[np.arange(len(lon)), index] == pytest.approx(d.min(axis=1), abs=1e-6)
    few = np.array([7, 3, 400])
    assert world.nearest_other(few)[1] == pytest.approx(d.min(axis=1)[few], abs=1e-6)
    for i in few:
        assert distance[i] == pytest.approx(
            GRS80.Inverse(lat[i], lon[i], lat[index[i]], lon[index[i]])["s12"], abs=1e-6
        )


@pytest.mark.parametrize("reach_m", [0.0, 0.5, 16.0, 90.0, 5_000.0])
def test_within_finds_what_measuring_every_pair_finds(reach_m):
    lon, lat = a_world(5)
    rows = np.arange(len(lon))[::2]
    d = np.stack([inverse(lon[k], lat[k], lon, lat)[0] for k in rows])
    i, j, distance = Neighbourhood(lon, lat).within(rows, reach_m)
    expected = [(rows[a], b) for a, b in np.argwhere(d <= reach_m) if rows[a] != b]
    assert list(zip(i, j, strict=True)) == expected
    assert distance == pytest.approx(d[i // 2, j], abs=1e-6)
    backwards = Neighbourhood(lon, lat).within(rows[::-1], reach_m)
    assert [v.tolist() for v in backwards] == [v.tolist() for v in (i, j, distance)]


def test_one_asked_by_another_place_than_its_own_is_measured_from_that_place():
    lon, lat = grid(-77.0, 34.0, 20, 15.0)
    moved_lon, moved_lat = direct(lon, lat, 90.0, 5.0)
    _, distance = nearest_other(moved_lon, moved_lat, lon, lat, own=np.arange(len(lon)))
    d = np.stack([inverse(moved_lon[k], moved_lat[k], lon, lat)[0] for k in range(len(lon))])
    np.fill_diagonal(d, np.inf)
    assert distance == pytest.approx(d.min(axis=1), abs=1e-6)


@settings(max_examples=60, deadline=None)
@given(
    st.integers(2, 40),
    st.floats(0.1, 1e4),
    st.integers(0, 99),
    st.sampled_from([*PLACES, (-180.0, -52.0), (20.0, 89.99), (0.0, 0.0)]),
    st.floats(0.0, 1.0),
)
def test_strips_miss_nobody_wherever_and_however_dense(count, spread_m, seed, place, share):
    lon, lat = place
    x, y = scattered(lon, lat, count, spread_m, seed)
    d = np.stack([inverse(x[k], y[k], x, y)[0] for k in range(count)])
    np.fill_diagonal(d, np.inf)
    reach_m = share * spread_m
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("registry.measure.neighbours._FEW_PAIRS", 0)
        points = Neighbourhood(x, y)
        assert points.nearest_other()[1] == pytest.approx(d.min(axis=1), abs=1e-6)
        i, j, distance = points.within(np.arange(count), reach_m)
    known = set(zip(i.tolist(), j.tolist(), strict=True))
    assert known >= {(a, b) for a, b in np.argwhere(d <= reach_m - 1e-6).tolist()}
    assert known <= {(a, b) for a, b in np.argwhere(d <= reach_m + 1e-6).tolist()}
    assert distance == pytest.approx(d[i, j], abs=1e-6)


def typed_grid(lon, lat, side, step_deg=1e-4):
    """Modules on a regular grid, typed with seven decimals: many have several neighbours equally far."""
    east, north = (v.ravel() * step_deg for v in np.meshgrid(np.arange(side), np.arange(side)))
    return np.round(lon + east, 7), np.round(lat + north, 7)


@pytest.mark.parametrize("place", [(-77.0, 34.0), (179.999, 0.0), (12.0, 71.0), (0.0, 0.0)])
def test_what_is_found_does_not_depend_on_who_else_is_there(place):
    """The same neighbour, and the same distance to the last bit, among few and among many."""
    grid = typed_grid(place[0], place[1], 40)
    lon, lat = (np.append(v, w) for v, w in zip(grid, a_world(), strict=True))
    order = np.random.default_rng(7).permutation(len(lon))
    lon, lat = (lon[order] + 180.0) % 360.0 - 180.0, lat[order]
    whole = Neighbourhood(lon, lat)
    index, distance = whole.nearest_other(np.arange(len(lon)))
    pairs = {
        (i, j): d
        for i, j, d in zip(*(v.tolist() for v in whole.within(np.arange(len(lon)), 12.0)), strict=True)
    }
    away = inverse(place[0], place[1], lon, lat)[0]
    for reach_m in (60.0, 150.0, 400.0, 1000.0):
        own = np.flatnonzero(away < reach_m)
        around = np.flatnonzero(away < reach_m + 120.0)
        part = Neighbourhood(lon[around], lat[around])
        asked = np.searchsorted(around, own)
        found, distance_m = part.nearest_other(asked)
        assert around[found].tolist() == index[own].tolist()
        assert distance_m.tolist() == distance[own].tolist()
        i, j, d = part.within(asked, 12.0)
        told = {(a, b): c for a, b, c in zip(around[i].tolist(), around[j].tolist(), d.tolist(), strict=True)}
        assert told == {pair: d for pair, d in pairs.items() if pair[0] in set(own.tolist())}
