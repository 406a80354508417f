"""
A random sample that is spread over the ground, with chances that may differ from point to point.

Sources
-------
Grafström, Lundström and Schelin, "Spatially balanced sampling through the pivotal method", Biometrics 68
(2012) 514-520: the local pivotal method. Deville and Tillé, "Unequal probability sampling without replacement
through a splitting method", Biometrika 85 (1998) 89-101: the pivotal step. Stevens and Olsen, "Spatially
balanced sampling of natural resources", JASA 99 (2004) 262-278: balance by Voronoi polygons. All from memory.
"""

from collections.abc import Callable

import numpy as np
from numpy.typing import ArrayLike, NDArray

from registry.errors import QuantityError
from registry.measure.geodesic import earth_centred
from registry.measure.seeded_draws import SeededDraws

__all__ = ["balanced_sample", "inclusion_probabilities", "voronoi_balance"]

Floats = NDArray[np.float64]
Rows = NDArray[np.intp]

#: Neighbours that are looked up for every point at once.
_NEIGHBOURS = 12
#: A chance that is nearer to none or to certainty than this is that.
_DECIDED = 1e-9
#: Positions are taken to this before ties are broken. Units: m.
_GRAIN_M = 0.01


def inclusion_probabilities(weights: ArrayLike, size: int) -> Floats:
    """
    Give the chance of each of n points to be among a sample of a fixed size.

    Definition: ``p = size * w / sum(w)``; where that exceeds 1 the point is certain, and the others share
    what is left by their weights.

    Parameters
    ----------
    weights : array_like, shape (n,)
        Above zero.
    size : int
        From 1 to n.

    Returns
    -------
    numpy.ndarray, shape (n,)
        Above 0 to 1; the sum is `size`.

    Raises
    ------
    QuantityError
        If a weight is not above zero, or there are fewer points than asked for.

    Examples
    --------
    >>> inclusion_probabilities([1.0, 1.0, 2.0, 4.0], 2).tolist()
    [0.25, 0.25, 0.5, 1.0]
    """
    w = np.asarray(weights, dtype=float)
    if not (np.isfinite(w) & (w > 0)).all():
        raise QuantityError("A weight is not above zero.", remedy="Give every point a finite weight.")
    if not 1 <= size <= len(w):
        what = f"A sample of {size} cannot be drawn from {len(w)}."
        raise QuantityError(what, remedy=f"Ask for 1 to {len(w)}.")
    certain = np.zeros(len(w), dtype=bool)
    while True:
        left = size - int(certain.sum())
        share = left * w / w[~certain].sum() if left else np.zeros(len(w))
        over = ~certain & (share >= 1.0)
        if not over.any():
            return np.where(certain, 1.0, share)
        certain |= over


def balanced_sample(lon_deg: ArrayLike, lat_deg: ArrayLike, chances: ArrayLike, *, seed: str) -> Rows:
    """
    Draw a sample in which near neighbours are seldom together.

    Two undecided points that are each other's nearest settle their chances between them, until every chance
    is 0 or 1: what one gains, the other loses, and each keeps its chance on average.

    Parameters
    ----------
    lon_deg, lat_deg : array_like, shape (n,)
        Units: degrees.
    chances : array_like, shape (n,)
        Chance of each to be drawn, 0 to 1; their sum is a whole number, the size of the sample.
    seed : str
        From which everything random follows (see :class:`SeededDraws`).

    Returns
    -------
    numpy.ndarray of int
        The rows drawn, ascending; exactly as many as the chances add up to.

    Raises
    ------
    QuantityError
        If a chance is none, or their sum is no whole number.

    Notes
    -----
    The published method draws a point and its nearest, and draws anew unless each is the other's nearest.
    Here the walk goes on from neighbour to neighbour until that is so, which ends since every step is shorter
    than the last. A chance does not notice how pairs are found, only that a pair is settled fairly.
    Positions are taken to the centimetre and moved within it by the seed: ties, as in modules set on a
    grid, are broken by the seed and not by the libraries of one machine.

    Examples
    --------
    Two of four, two of which stand together far from the other two:

    >>> lon_deg = [-77.0, -77.0001, -76.9, -76.8999]
    >>> rows = balanced_sample(lon_deg, [34.0] * 4, [0.5] * 4, seed="1")
    >>> sorted((rows // 2).tolist())
    [0, 1]
    """
    p = np.array(chances, dtype=float)
    size = round(float(p.sum()))
    if not ((p >= 0) & (p <= 1)).all() or abs(float(p.sum()) - size) > 1e-6:
        what = "The chances are not from 0 to 1, or do not add up to a whole number."
        raise QuantityError(what, remedy="Take them from inclusion_probabilities.")
    draws = SeededDraws(seed)
    points = np.round(earth_centred(lon_deg, lat_deg) / _GRAIN_M)
    points += np.array([draws.uniform() for _ in range(points.size)]).reshape(points.shape) - 0.5
    drawn: Rows = np.flatnonzero(_settled(points, p, draws) > 0.5)
    return drawn


def _settled(points: Floats, p: Floats, draws: SeededDraws) -> Floats:
    """Settle pairs of nearest neighbours until every chance is 0 or 1."""
    chance = p.tolist()
    undecided = [row for row, value in enumerate(chance) if _DECIDED < value < 1.0 - _DECIDED]
    place = {row: index for index, row in enumerate(undecided)}
    nearest: Callable[[int], int] | None = None
    rebuild_at = 0
    while len(undecided) > 1:
        if nearest is None or len(undecided) < rebuild_at:
            # Half of those among whom a nearest is looked up are decided by then: look among the rest only.
            nearest = _neighbours(points, np.array(undecided, dtype=np.intp), place)
            rebuild_at = len(undecided) // 2
        a = undecided[draws.below(len(undecided))]
        b = nearest(a)
        while (c := nearest(b)) != a:
            a, b = b, c
        chance[a], chance[b] = _pivot(chance[a], chance[b], draws.uniform())
        for row in (a, b):
            if not _DECIDED < chance[row] < 1.0 - _DECIDED:
                last = undecided.pop()
                hole = place.pop(row)
                if last != row:
                    undecided[hole], place[last] = last, hole
    return np.asarray(np.round(chance))


def _pivot(p: float, q: float, u: float) -> tuple[float, float]:
    """Let one of two win what the other loses, fairly: the means stay."""
    both = p + q
    if both < 1.0:
        return (both, 0.0) if u * both < p else (0.0, both)
    return (1.0, both - 1.0) if u * (2.0 - both) < 1.0 - q else (both - 1.0, 1.0)


def _neighbours(points: Floats, rows: Rows, undecided: dict[int, int]) -> Callable[[int], int]:
    """Make a function that gives the nearest undecided point of one of some rows."""
    from scipy.spatial import cKDTree

    tree = cKDTree(points[rows])
    count = min(_NEIGHBOURS, len(rows))
    _, found = tree.query(points[rows], k=count)
    named = dict(zip(rows.tolist(), rows[found].tolist(), strict=True))
    first = dict.fromkeys(named, 0)

    def nearest(row: int) -> int:
        near = named[row]
        index = first[row]
        while True:
            while index < len(near):
                other: int = near[index]
                if other != row and other in undecided:
                    first[row] = index
                    return other
                index += 1
            # Every neighbour that was looked up is decided: look farther.
            near = named[row] = rows[tree.query(points[row], k=min(4 * len(near), len(rows)))[1]].tolist()

    return nearest


def voronoi_balance(lon_deg: ArrayLike, lat_deg: ArrayLike, chances: ArrayLike, drawn: ArrayLike) -> float:
    """
    Measure how evenly a sample is spread.

    Definition: ``mean((v - 1)**2)`` over the sample, where ``v`` is the sum of the chances of all points that
    are nearest to that one of the sample.

    Parameters
    ----------
    lon_deg, lat_deg, chances : array_like, shape (n,)
        As for :func:`balanced_sample`.
    drawn : array_like of int
        The rows of the sample, at least one.

    Returns
    -------
    float
        0 for a perfect spread; about 0.28 for a simple random sample of a wide area.

    Examples
    --------
    >>> lon_deg = [-77.0, -77.0001, -76.9, -76.8999]
    >>> [voronoi_balance(lon_deg, [34.0] * 4, [0.5] * 4, drawn) for drawn in ([0, 3], [0, 1])]
    [0.0, 0.25]
    """
    from scipy.spatial import cKDTree

    points, rows = earth_centred(lon_deg, lat_deg), np.asarray(drawn, dtype=np.intp)
    _, nearest = cKDTree(points[rows]).query(points)
    shares = np.bincount(nearest, weights=np.asarray(chances, dtype=float), minlength=len(rows))
    return float(np.mean((shares - 1.0) ** 2))
