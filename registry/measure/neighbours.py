"""
Which points lie near which: candidates from a tree in Earth-centred coordinates, exact geodesics to decide.

Works across the 180th meridian and at the poles. Distances are those on the ellipsoid, between the points
at height zero: the straight chord is never longer than the geodesic, so no neighbour is missed.
"""

from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from registry.measure.geodesic import EARTH_RADIUS_M, earth_centred, inverse

__all__ = ["cross_pairs_within", "nearest", "nearest_other", "pairs_within"]

Floats = NDArray[np.float64]
Rows = NDArray[np.intp]

#: Chords up to here give the geodesic by a series good to 0.1 micrometre; longer ones are solved. Units: m.
_SERIES_M = 2_000.0
#: Beyond here the flattening may put another point nearer than the one with the least chord. Units: m.
_FAR_M = 20_000.0
#: What floating point may lose of a short distance. Units: m.
_ROUNDING_M = 1e-8
#: Number of points from which a second processor is worth its start.
_MANY = 50_000
#: Up to this many pairs of points every chord is measured: sooner done than a tree is loaded and built.
_FEW_PAIRS = 100_000


def pairs_within(lon: ArrayLike, lat: ArrayLike, reach_m: float) -> tuple[Rows, Rows, Floats]:
    """
    Find every pair of points that lie within reach of one another.

    Parameters
    ----------
    lon, lat : array_like, shape (n,)
        Units: degrees.
    reach_m : float
        Greatest geodesic distance, itself included. Units: m.

    Returns
    -------
    i, j : numpy.ndarray of int
        Rows of the two points, ``i < j``, in order.
    distance_m : numpy.ndarray
        Geodesic distance between them.

    Examples
    --------
    >>> i, j, distance_m = pairs_within([179.99999, -179.99999, 0.0], [0.0, 0.0, 0.0], 5.0)
    >>> i.tolist(), j.tolist(), distance_m.round(3).tolist()
    ([0], [1], [2.226])
    """
    xyz = earth_centred(lon, lat)
    order = _sorted_in_space(xyz)
    found = _tree(xyz[order]).query_pairs(_chord_reach(reach_m), output_type="ndarray")
    i, j = order[found[:, 0]], order[found[:, 1]]
    i, j = np.minimum(i, j), np.maximum(i, j)
    chord = np.linalg.norm(xyz[i] - xyz[j], axis=1)
    return _decide((lon, lat), (lon, lat), i=i, j=j, chord=chord, reach_m=reach_m)


def cross_pairs_within(
    lon_a: ArrayLike, lat_a: ArrayLike, lon_b: ArrayLike, lat_b: ArrayLike, reach_m: float
) -> tuple[Rows, Rows, Floats]:
    """
    Find every pair of a point of one set and a point of another that lie within reach.

    Returns
    -------
    i, j : numpy.ndarray of int
        Rows in the first and in the second set, in order.
    distance_m : numpy.ndarray
        Geodesic distance between them. Units: m.

    Examples
    --------
    >>> i, j, distance_m = cross_pairs_within([0.0], [0.0], [1.0, 0.0], [0.0, 0.0], 10.0)
    >>> i.tolist(), j.tolist(), distance_m.tolist()
    ([0], [1], [0.0])
    """
    a, b = earth_centred(lon_a, lat_a), earth_centred(lon_b, lat_b)
    reach = _chord_reach(reach_m)
    if len(a) * len(b) <= _FEW_PAIRS:
        chords = _chords(a, b)
        i, j = np.nonzero(chords <= reach)
        return _decide((lon_a, lat_a), (lon_b, lat_b), i=i, j=j, chord=chords[i, j], reach_m=reach_m)
    rows, columns = _sorted_in_space(a), _sorted_in_space(b)
    found = _tree(a[rows]).sparse_distance_matrix(_tree(b[columns]), reach, output_type="ndarray")
    i, j = rows[found["i"]], columns[found["j"]]
    return _decide((lon_a, lat_a), (lon_b, lat_b), i=i, j=j, chord=found["v"], reach_m=reach_m)


def nearest_other(
    lon_a: ArrayLike, lat_a: ArrayLike, lon_b: ArrayLike, lat_b: ArrayLike, *, own: ArrayLike | None = None
) -> tuple[Rows, Floats]:
    """
    Find for each point of one set the nearest point of another.

    Parameters
    ----------
    lon_a, lat_a : array_like, shape (n,)
        The points that ask. Units: degrees.
    lon_b, lat_b : array_like, shape (m,)
        The points that may be found. Units: degrees.
    own : array_like of int, shape (n,), optional
        Row of the second set that is the asking point itself and does not count; -1 where it is not there.

    Returns
    -------
    index : numpy.ndarray of int
        Row in the second set; -1 where there is none.
    distance_m : numpy.ndarray
        Geodesic distance to it; infinite where there is none.

    Examples
    --------
    >>> index, distance_m = nearest_other([-77.0], [34.0], [-77.0, -77.0], [34.0, 34.001], own=[0])
    >>> index.tolist(), distance_m.round(2).tolist()
    ([1], [110.92])
    """
    p, q, r, s = (np.atleast_1d(np.asarray(v, dtype=float)) for v in (lon_a, lat_a, lon_b, lat_b))
    self_row = np.full(len(p), -1) if own is None else np.atleast_1d(np.asarray(own))
    index, distance = np.full(len(p), -1, dtype=np.intp), np.full(len(p), np.inf)
    if not (len(p) and len(r)):
        return index, distance
    a, b = earth_centred(p, q), earth_centred(r, s)
    if len(p) * len(r) <= _FEW_PAIRS:
        return _nearest_of_few(_chords(a, b), (p, q), (r, s), self_row)
    rows, columns = _sorted_in_space(a), _sorted_in_space(b)
    tree = _tree(b[columns])
    chords, found = tree.query(a[rows], k=2, workers=2 if len(p) >= _MANY else 1)
    found = np.append(columns, -1)[found]  # the tree answers with its length where it has no second point
    other = (found[:, 0] == self_row[rows]).astype(np.intp)
    pick = np.arange(len(p)), other
    index[rows], chord = found[pick], np.empty(len(p))
    chord[rows] = chords[pick]
    known = np.isfinite(chord)
    at = index[known]
    distance[known] = _geodesic(p[known], q[known], r[at], s[at], chord[known])
    for i in np.flatnonzero(known & (chord > _FAR_M)):
        near = columns[tree.query_ball_point(a[i], chord[i] * 1.005)]
        near = near[near != self_row[i]]
        away = inverse(p[i], q[i], r[near], s[near])[0]
        index[i], distance[i] = near[np.argmin(away)], away.min()
    return index, distance


def nearest(lon: ArrayLike, lat: ArrayLike) -> tuple[Rows, Floats]:
    """
    Find the nearest other point of each.

    Parameters
    ----------
    lon, lat : array_like, shape (n,)
        Units: degrees.

    Returns
    -------
    index : numpy.ndarray of int
        Row of the nearest other point; -1 where there is none.
    distance_m : numpy.ndarray
        Geodesic distance to it; infinite where there is none.

    Examples
    --------
    >>> index, distance_m = nearest([-77.0, -77.0, -77.0], [34.0, 34.001, 34.0025])
    >>> index.tolist(), distance_m.round(2).tolist()
    ([1, 0, 1], [110.92, 110.92, 166.38])
    >>> nearest([-77.0], [34.0])
    (array([-1]), array([inf]))
    """
    return nearest_other(lon, lat, lon, lat, own=np.arange(np.size(lon)))


def _chords(a: Floats, b: Floats) -> Floats:
    """Straight distances between every point of one set and every point of another, shape (n, m)."""
    return np.asarray(np.sqrt(((a[:, None, :] - b[None, :, :]) ** 2).sum(axis=2)))


def _nearest_of_few(
    chords: Floats, a: tuple[Floats, Floats], b: tuple[Floats, Floats], self_row: NDArray[Any]
) -> tuple[Rows, Floats]:
    """Answer :func:`nearest_other` from every chord."""
    present = np.flatnonzero(self_row >= 0)
    chords[present, self_row[present]] = np.inf
    index = chords.argmin(axis=1)
    chord = chords[np.arange(len(index)), index]
    index[~np.isfinite(chord)] = -1
    distance = np.full(len(index), np.inf)
    for row in np.flatnonzero(index >= 0):
        # The flattening may put another point nearer than the one with the least chord.
        near = np.flatnonzero(chords[row] <= (chord[row] * 1.005 if chord[row] > _FAR_M else chord[row]))
        away = inverse(a[0][row], a[1][row], b[0][near], b[1][near])[0]
        index[row], distance[row] = near[np.argmin(away)], away.min()
    return index, distance


def _tree(xyz: Floats) -> Any:
    """Build the tree; scipy is loaded here, so that what needs no neighbours starts fast."""
    from scipy.spatial import cKDTree

    return cKDTree(xyz, balanced_tree=False)


def _chord_reach(reach_m: float) -> float:
    """Widen the reach by what floating point may lose."""
    return float(reach_m) * (1.0 + 1e-12) + 1e-7


def _sorted_in_space(xyz: Floats) -> Rows:
    """Order points so that neighbours in space are neighbours in memory: trees answer much faster."""
    cells = np.floor(xyz / 1_000.0).astype(np.int64)
    return np.lexsort((cells[:, 0], cells[:, 1], cells[:, 2]))


def _geodesic(lon1: Floats, lat1: Floats, lon2: Floats, lat2: Floats, chord: Floats) -> Floats:
    """Distance on the ellipsoid where the chord is known: ``c + c**3 / 24 R**2``, or solved if long."""
    distance = chord + chord**3 / (24.0 * EARTH_RADIUS_M**2)
    long = chord > _SERIES_M
    if long.any():
        distance[long] = inverse(lon1[long], lat1[long], lon2[long], lat2[long])[0]
    return np.asarray(distance)


def _decide(
    a: tuple[ArrayLike, ArrayLike],
    b: tuple[ArrayLike, ArrayLike],
    *,
    i: Rows,
    j: Rows,
    chord: Floats,
    reach_m: float,
) -> tuple[Rows, Rows, Floats]:
    """Keep the candidates that really lie within reach, in order."""
    lon_a, lat_a = (np.atleast_1d(np.asarray(v, dtype=float))[i] for v in a)
    lon_b, lat_b = (np.atleast_1d(np.asarray(v, dtype=float))[j] for v in b)
    distance = _geodesic(lon_a, lat_a, lon_b, lat_b, chord)
    order = np.lexsort((j, i))
    order = order[distance[order] <= reach_m + _ROUNDING_M]
    return np.asarray(i[order], dtype=np.intp), np.asarray(j[order], dtype=np.intp), distance[order]
