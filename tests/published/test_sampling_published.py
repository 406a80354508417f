"""Spatially balanced sampling against what is published of it."""

import numpy as np
import pytest

from registry.measure.balanced_sample import balanced_sample, inclusion_probabilities, voronoi_balance


@pytest.mark.parametrize(
    ("size_of_pair", "first_wins"),
    # Deville and Tillé, Biometrika 85 (1998): of two units with chances p and q of sum 1 exactly one is drawn,
    # the first with chance p. Grafström et al., Biometrics 68 (2012): the same step (from memory).
    [((0.3, 0.7), 0.3), ((0.5, 0.5), 0.5), ((0.9, 0.1), 0.9)],
)
def test_the_pivotal_step(size_of_pair, first_wins):
    times = sum(
        int(balanced_sample([-77.0, -76.0], [34.0, 34.0], size_of_pair, seed=str(seed))[0] == 0)
        for seed in range(2000)
    )
    deviation = np.sqrt(2000 * first_wins * (1 - first_wins))
    assert abs(times - 2000 * first_wins) < 4.9 * deviation


def test_the_pivotal_step_above_one():
    # Three units of chance 2/3 each, two of them drawn: each is left out once in three.
    left_out = np.zeros(3)
    for seed in range(3000):
        drawn = balanced_sample([-77.0, -76.99, -76.0], [34.0] * 3, [2 / 3] * 3, seed=str(seed))
        left_out[list({0, 1, 2} - set(drawn.tolist()))] += 1
    assert left_out.sum() == 3000
    assert np.abs(left_out - 1000).max() < 4.9 * np.sqrt(3000 * (1 / 3) * (2 / 3))


@pytest.mark.slow
def test_simple_random_samples_scatter_as_poisson_voronoi_cells_do():
    """
    The area of a Poisson-Voronoi cell of mean 1 has the variance 0.280 (Gilbert, Ann. Math. Stat. 33 (1962)
    958-972: 0.280176, from memory). The balance of simple random samples comes near it where many are drawn from
    a wide lattice; cells on its edge are more uneven.
    """
    rng = np.random.default_rng(11)
    x, y = np.meshgrid(np.arange(300.0), np.arange(300.0))
    lon, lat = 0.0001 * x.ravel(), 0.0001 * y.ravel()
    p = np.full(90_000, 1000 / 90_000)
    simple = [voronoi_balance(lon, lat, p, rng.choice(90_000, 1000, replace=False)) for _ in range(30)]
    assert np.mean(simple) == pytest.approx(0.280, abs=0.02)


@pytest.mark.slow
def test_the_local_pivotal_method_is_as_balanced_as_its_authors_found():
    """
    On a square lattice of 20 by 20 with equal chances the authors' tables give a balance of about 0.1 for the
    local pivotal method, against 0.3 for simple random samples (Biometrics 68 (2012), table 1; the figures from
    memory, and so the wide limits).
    """
    x, y = np.meshgrid(np.arange(20.0), np.arange(20.0))
    lon, lat = 0.0001 * x.ravel(), 0.0001 * y.ravel()
    p = inclusion_probabilities(np.ones(400), 16)
    local = [voronoi_balance(lon, lat, p, balanced_sample(lon, lat, p, seed=str(s))) for s in range(200)]
    assert 0.05 < np.mean(local) < 0.15
