"""
Which points lie near which: candidates from strips or a tree in space, exact geodesics to decide.

Works across the 180th meridian and at the poles. Distances are those on the ellipsoid, between the points
at height zero: the straight chord is never longer than the geodesic, so no neighbour is missed.

What is found for a point depends on what lies around it alone, to the last bit, and not on how it was found
or who else asked: chords are computed in one way, and of two as near the one of the lower row is taken.

Points that stand as modules do, at some usual spacing, are swept in narrow strips along parallels; those
that stand alone, in a crowd, at the 180th meridian or at a pole are looked up in a kd-tree.
"""

from collections.abc import Iterator
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from registry.measure.geodesic import EARTH_RADIUS_M, earth_centred, earth_centred_axes, inverse
from registry.measure.strips import CROWD, Strips, squared_chords

__all__ = ["Neighbourhood", "cross_pairs_within", "nearest", "nearest_other", "pairs_within"]

Floats = NDArray[np.float64]
Rows = NDArray[np.intp]

#: Chords up to here give the geodesic by a series good to 0.1 micrometre; longer ones are solved. Units: m.
_SERIES_M = 2_000.0
#: Beyond here the flattening may put another point nearer than the one with the least chord. Units: m.
_FAR_M = 20_000.0
#: Chords that differ by less than this share are compared once more, bit by bit.
_ALIKE = 1.0 + 1e-12
#: What floating point may lose of a short distance. Units: m.
_ROUNDING_M = 1e-8
#: Number of points from which a second processor is worth its start.
_MANY = 50_000
#: Up to this many pairs of points every chord is measured: sooner done than a tree is loaded and built.
_FEW_PAIRS = 100_000
#: A sweep of all points costs about as much as asking the tree for so large a share of them.
_SHARE = 4
#: Strips are asked for what lies up to so many reaches away; beyond, the tree.
_MANY_STRIPS = 8.0
#: How often points that stand alone are asked again, each time twice as far away.
_WIDER = 4
#: So few may be asked again in a crowd of so many to a strip: sooner done than a tree is loaded and built.
_FEW_LEFT, _DENSE = 5_000, 2_000
#: How many points of one place are a sample of the spacing, and how far around it they are sought in degrees.
_SAMPLE, _AROUND_DEG = 300, 0.0015
#: Strips are made for spacings up to here. Units: m.
_LARGEST_SPACING_M = 200.0


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
    p, q = (np.atleast_1d(np.asarray(v, dtype=float)) for v in (lon_a, lat_a))
    self_row = np.full(len(p), -1) if own is None else np.atleast_1d(np.asarray(own))
    return Neighbourhood(lon_b, lat_b).nearest_to(p, q, self_row)


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
    return Neighbourhood(lon, lat).nearest_other()


class Neighbourhood:
    """
    Points that stand together, and what may be asked of them again and again.

    Order and tree are made when first needed and kept.

    Parameters
    ----------
    lon, lat : array_like, shape (m,)
        Units: degrees.

    Examples
    --------
    >>> modules = Neighbourhood([-77.0, -77.0, -77.0], [34.0, 34.001, 34.0025])
    >>> index, distance_m = modules.nearest_other()
    >>> index.tolist(), distance_m.round(2).tolist()
    ([1, 0, 1], [110.92, 110.92, 166.38])
    >>> i, j, distance_m = modules.within([2], 200.0)
    >>> i.tolist(), j.tolist(), distance_m.round(2).tolist()
    ([2], [1], [166.38])
    """

    def __init__(self, lon: ArrayLike, lat: ArrayLike) -> None:
        self.lon = np.atleast_1d(np.asarray(lon, dtype=float))
        self.lat = np.atleast_1d(np.asarray(lat, dtype=float))

    def __len__(self) -> int:
        return len(self.lon)

    def nearest_other(self, rows: ArrayLike | None = None) -> tuple[Rows, Floats]:
        """
        Find for each of these points the nearest other one.

        Parameters
        ----------
        rows : array_like of int, shape (n,), optional
            Which points ask; all of them if left out.

        Returns
        -------
        index : numpy.ndarray of int, shape (n,)
            Row of the nearest other point; -1 where there is none.
        distance_m : numpy.ndarray, shape (n,)
            Geodesic distance to it; infinite where there is none.
        """
        asked = np.arange(len(self)) if rows is None else np.atleast_1d(np.asarray(rows, dtype=np.intp))
        return self.nearest_to(self.lon.take(asked), self.lat.take(asked), asked)

    def nearest_to(self, lon: ArrayLike, lat: ArrayLike, own: ArrayLike) -> tuple[Rows, Floats]:
        """
        Find the nearest of these points to each place.

        Parameters
        ----------
        lon, lat : array_like, shape (n,)
            The places. Units: degrees.
        own : array_like of int, shape (n,)
            Row of the point that is the asking one itself and does not count; -1 where it is not there.

        Returns
        -------
        index : numpy.ndarray of int, shape (n,)
            Row of the nearest point; -1 where there is none.
        distance_m : numpy.ndarray, shape (n,)
            Geodesic distance to it; infinite where there is none.
        """
        p, q = (np.atleast_1d(np.asarray(v, dtype=float)) for v in (lon, lat))
        self_row = np.atleast_1d(np.asarray(own))
        if not (len(p) and len(self)):
            return np.full(len(p), -1, dtype=np.intp), np.full(len(p), np.inf)
        if len(p) * len(self) <= _FEW_PAIRS:
            chords = _chords(earth_centred(p, q), self._xyz.T)
            return _nearest_of_few(chords, (p, q), (self.lon, self.lat), self_row)
        index, chord = self._swept(p, q, self_row)
        alone = np.flatnonzero(index < 0)
        if alone.size:
            index[alone], chord[alone] = self._looked_up(p[alone], q[alone], self_row[alone])
        distance = np.full(len(p), np.inf)
        known = slice(None) if np.isfinite(chord).all() else np.flatnonzero(np.isfinite(chord))
        at = index[known]
        distance[known] = _geodesic((p[known], q[known]), (self.lon[at], self.lat[at]), chord[known])
        for i in np.flatnonzero(np.isfinite(chord) & (chord > _FAR_M)):
            # The flattening may put another point nearer than the one with the least chord.
            centre = earth_centred(p[i], q[i])[0]
            near = np.sort(self._columns[self._tree.query_ball_point(centre, chord[i] * 1.005)])
            near = near[near != self_row[i]]
            away = inverse(p[i], q[i], self.lon[near], self.lat[near])[0]
            index[i], distance[i] = near[np.argmin(away)], away.min()
        return index, distance

    def within(self, rows: ArrayLike, reach_m: float) -> tuple[Rows, Rows, Floats]:
        """
        Find every other point that lies within reach of these.

        Parameters
        ----------
        rows : array_like of int, shape (n,)
            Which points ask, each once.
        reach_m : float
            Greatest geodesic distance, itself included. Units: m.

        Returns
        -------
        i, j : numpy.ndarray of int
            Row of the point that asked and row of the other, in order; a pair of two that ask comes twice.
        distance_m : numpy.ndarray
            Geodesic distance between them.
        """
        asked = np.atleast_1d(np.asarray(rows, dtype=np.intp))
        lon, lat = self.lon[asked], self.lat[asked]
        if len(asked) * len(self) <= _FEW_PAIRS:
            i, j, distance = cross_pairs_within(lon, lat, self.lon, self.lat, reach_m)
        else:
            if reach_m <= _MANY_STRIPS * self._strips.reach_m:
                i, j, chord = self._strips.within(asked, np.full(len(asked), _chord_reach(reach_m)))
            else:
                order = _sorted_in_space(self._xyz[:, asked].T)
                found = _tree(self._xyz[:, asked[order]].T).sparse_distance_matrix(
                    self._tree, _chord_reach(reach_m), output_type="ndarray"
                )
                i, j = order[found["i"]], self._columns[found["j"]]
                chord = np.sqrt(squared_chords(self._xyz[:, asked[i]], self._xyz[:, j]))
            i, j, distance = _decide((lon, lat), (self.lon, self.lat), i=i, j=j, chord=chord, reach_m=reach_m)
        other = asked[i] != j
        i, j, distance = asked[i[other]], j[other], distance[other]
        if np.all(asked[1:] > asked[:-1]):
            return i, j, distance
        order = np.lexsort((j, i))
        return i[order], j[order], distance[order]

    def _swept(self, lon: Floats, lat: Floats, own: NDArray[Any]) -> tuple[Rows, Floats]:
        """Answer by the sweep what it can answer: row and chord; -1 and infinity for all else."""
        if len(own) * _SHARE < len(self) or own.min() < 0:
            return np.full(len(own), -1, dtype=np.intp), np.full(len(own), np.inf)
        index, chord = self._sweep[0].take(own), self._sweep[1].take(own)
        astray = (lon != self.lon.take(own)) | (lat != self.lat.take(own))
        index[astray], chord[astray] = -1, np.inf
        return index, chord

    def _looked_up(self, lon: Floats, lat: Floats, own: NDArray[Any]) -> tuple[Rows, Floats]:
        """Ask the tree: row and chord; -1 and infinity where there is none."""
        xyz = earth_centred(lon, lat)
        order = _sorted_in_space(xyz)
        chords, found = self._tree.query(xyz[order], k=3, workers=2 if len(order) >= _MANY else 1)
        # Where there is no third point, the tree answers with its length.
        found = np.append(self._columns, -1)[found]
        chords[found == own[order, None]] = np.inf
        pick = np.arange(len(order)), chords.argmin(axis=1)
        least, index = chords[pick], np.empty(len(order), dtype=np.intp)
        index[order] = np.where(np.isfinite(least), found[pick], -1)
        alike = np.flatnonzero(np.isfinite(least) & ((chords <= least[:, None] * _ALIKE).sum(axis=1) > 1))
        balls = self._tree.query_ball_point(xyz[order[alike]], least[alike] * _ALIKE)
        for row, ball in zip(order[alike].tolist(), balls, strict=True):
            near = np.sort(self._columns[ball])
            near = near[near != own[row]]
            index[row] = near[squared_chords(xyz[row], self._xyz[:, near]).argmin()]
        chord = np.full(len(order), np.inf)
        known = np.flatnonzero(index >= 0)
        chord[known] = np.sqrt(squared_chords(xyz[known].T, self._xyz[:, index[known]]))
        return index, chord

    @cached_property
    def _xyz(self) -> Floats:
        return earth_centred_axes(self.lon, self.lat)

    @cached_property
    def _columns(self) -> Rows:
        return _sorted_in_space(self._xyz.T)

    @cached_property
    def _tree(self) -> Any:
        return _tree(self._xyz[:, self._columns].T)

    @cached_property
    def _strips(self) -> Strips:
        reach_m = _usual_spacing(self.lon, self.lat)
        return Strips(self.lon, self.lat, self._xyz, reach_m=reach_m, shift=0.0)

    def _both_strips(self) -> Iterator[Strips]:
        """Give the strips, and then others half a strip higher for pairs that a strip's edge parts."""
        yield self._strips
        yield Strips(self.lon, self.lat, self._xyz, reach_m=self._strips.reach_m, shift=0.5)

    @cached_property
    def _sweep(self) -> tuple[Rows, Floats]:
        """Row of the nearest of each and the chord to it; -1 and infinity where strips cannot tell."""
        least = np.full(len(self), np.inf)
        index = np.full(len(self), -1, dtype=np.intp)
        sure, tied = np.ones(len(self), dtype=bool), np.zeros(len(self), dtype=bool)
        for strips in self._both_strips():
            other, squared, unsure, alike = strips.sweep()
            sure[unsure] = False
            tied[alike] = True
            before = least.take(strips.order)
            found = strips.order.take(other)
            nearer = np.flatnonzero(
                (squared < before) | ((squared == before) & (found < index.take(strips.order)))
            )
            row = strips.order.take(nearer)
            least[row], index[row] = squared.take(nearer), found.take(nearer)
        del strips, other, squared, before, found, nearer, row
        reach_m = self._strips.reach_m
        sure &= least <= reach_m**2
        left = np.flatnonzero(~sure)
        index[left], least[left] = -1, np.inf
        chord = np.sqrt(least)
        again = np.flatnonzero(tied & sure)
        if again.size:
            _take_nearest(index, chord, again, self._strips.within(again, chord[again] * _ALIKE))
        for _ in range(_WIDER):
            if not left.size:
                break
            most = CROWD if left.size > _FEW_LEFT else _DENSE
            near = self._strips.within(left, np.full(len(left), reach_m), most=most)
            _take_nearest(index, chord, left, near)
            left = left[index[left] < 0]
            reach_m *= 2.0
        return index, chord


def _take_nearest(index: Rows, chord: Floats, rows: Rows, pairs: tuple[Rows, Rows, Floats]) -> None:
    """Note, in place, the nearest other of some rows: pairs of a place in `rows`, a row, and the chord."""
    i, j, away = pairs
    other = np.flatnonzero(j != rows[i])
    order = other[np.lexsort((j[other], away[other], i[other]))]
    place, first = np.unique(i[order], return_index=True)
    index[rows[place]], chord[rows[place]] = j[order[first]], away[order[first]]


def _usual_spacing(lon: Floats, lat: Floats) -> float:
    """
    Guess how far the nearest lies for most points, from a few places; a bad guess costs time, never truth.

    Those that follow one another in the table mostly stand together; if not, neighbours are sought.
    """
    places = np.linspace(0, max(len(lon) - _SAMPLE, 0), 8).astype(np.intp)
    usual = _spacing_among(lon, lat, [np.arange(k, min(k + _SAMPLE, len(lon))) for k in places])
    if usual > _LARGEST_SPACING_M:
        around = [np.flatnonzero(np.abs(lat - lat[k]) < _AROUND_DEG) for k in places[1:-1:2]]
        around = [
            near[np.abs(lon[near] - lon[k]) < _AROUND_DEG][:_SAMPLE]
            for near, k in zip(around, places[1:-1:2], strict=True)
        ]
        usual = _spacing_among(lon, lat, around)
    return float(np.clip(1.2 * usual, 0.5, _LARGEST_SPACING_M))


def _spacing_among(lon: Floats, lat: Floats, groups: list[Rows]) -> float:
    """Nearest distance that 19 of 20 keep to within their group; infinite if there is nobody."""
    least = [np.full(1, np.inf)]
    for rows in groups:
        if len(rows) > 1:
            xyz = earth_centred(lon[rows], lat[rows])
            chords = _chords(xyz, xyz)
            np.fill_diagonal(chords, np.inf)
            least.append(chords.min(axis=1))
    return float(np.quantile(np.concatenate(least), 0.95, method="lower"))


def _chords(a: Floats, b: Floats) -> Floats:
    """Straight distances between every point of one set and every point of another, shape (n, m)."""
    return np.asarray(np.sqrt(squared_chords(a.T[:, :, None], b.T[:, None, :])))


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
    known = np.flatnonzero(index >= 0)
    at = index[known]
    distance[known] = _geodesic((a[0][known], a[1][known]), (b[0][at], b[1][at]), chord[known])
    for row in np.flatnonzero((index >= 0) & (chord > _FAR_M)):
        # The flattening may put another point nearer than the one with the least chord.
        near = np.flatnonzero(chords[row] <= chord[row] * 1.005)
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
    cells = (xyz * 1e-3 + 8192.0).astype(np.int64)
    return np.argsort((cells[:, 2] << 28) | (cells[:, 1] << 14) | cells[:, 0])


def _geodesic(a: tuple[Floats, Floats], b: tuple[Floats, Floats], chord: Floats) -> Floats:
    """Distance on the ellipsoid where the chord is known: ``c + c**3 / 24 R**2``, or solved if long."""
    distance = chord * chord
    distance *= chord
    distance *= 1.0 / (24.0 * EARTH_RADIUS_M**2)
    distance += chord
    long = np.flatnonzero(chord > _SERIES_M)
    if long.size:
        distance[long] = inverse(a[0][long], a[1][long], b[0][long], b[1][long])[0]
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
    distance = _geodesic((lon_a, lat_a), (lon_b, lat_b), chord)
    order = np.lexsort((j, i))
    order = order[distance[order] <= reach_m + _ROUNDING_M]
    return np.asarray(i[order], dtype=np.intp), np.asarray(j[order], dtype=np.intp), distance[order]
