"""
Strips along parallels, in which points are sorted from west to east: who lies beside whom, without a tree.

Works across the 180th meridian and at the poles.
"""

from collections.abc import Iterator, Sequence
from functools import cached_property
from itertools import pairwise
from typing import Any

import numpy as np
from numpy.typing import NDArray

from registry.measure.distinct import distinct
from registry.measure.geodesic import FLATTENING, SEMI_MAJOR_M, earth_centred_axes

__all__ = ["CROWD", "Strips", "squared_chords"]

Floats = NDArray[np.float64]
Rows = NDArray[np.intp]

#: So many points beside each in its strip are compared; a denser crowd is left to other means.
CROWD = 24
#: Points swept in one go: what the processor's cache holds.
_CHUNK = 8_192
#: Candidates measured in one go.
_CANDIDATES = 200_000
#: Steps of longitude in the key of a strip: 2**32 to the circle.
_STEPS_PER_DEG = 2.0**32 / 360.0
#: Least length of a radian of latitude, at the equator. Units: m.
_LEAST_MERIDIAN_M = SEMI_MAJOR_M * (1.0 - FLATTENING) ** 2


class Strips:
    """
    Points in the order of strips along parallels, two reaches high, and in each from west to east.

    A chord is never shorter than the way to the other's meridian plane, ``p sin(dlon)`` (p: distance from
    the axis), nor than the chord between the parallels: so far to both sides and no farther must one look.
    """

    def __init__(self, lon: Floats, lat: Floats, xyz: Floats, *, reach_m: float, shift: float) -> None:
        self.reach_m = reach_m
        self._shift = shift
        self._per_deg = np.radians(_LEAST_MERIDIAN_M) / (2.0 * 1.001 * reach_m)
        self._lat, self._east = lat, _east_of_seam(lon)
        key = self._strip(lat)
        key <<= 32
        key += self._step(self._east)
        self.order = np.argsort(key)
        self._key = key.take(self.order)
        self._xyz = np.empty_like(xyz)
        for axis, sorted_axis in zip(xyz, self._xyz, strict=True):
            axis.take(self.order, out=sorted_axis, mode="clip")

    def _strip(self, lat: Floats) -> NDArray[np.int64]:
        high = lat * self._per_deg
        high += 90.0 * self._per_deg + self._shift + 1.0
        return np.asarray(high).astype(np.int64)

    def _step(self, east_deg: Floats) -> NDArray[np.int64]:
        step = np.asarray(east_deg * _STEPS_PER_DEG)
        return np.clip(step, 0.0, 2.0**32 - 1.0, out=step).astype(np.int64)

    def sweep(self) -> tuple[Rows, Floats, Rows, Rows]:
        """
        Compare each point with those that follow within reach in its strip.

        Returns
        -------
        other : numpy.ndarray of int, shape (n,)
            Place in ``order`` of the nearest, for each place in ``order``.
        squared : numpy.ndarray, shape (n,)
            Square of the chord to it; infinite where there is none. Units: m².
        unsure : numpy.ndarray of int
            Rows of points that were not compared with all that might be in reach.
        tied : numpy.ndarray of int
            Rows of points that have another as near, as far as the sweep can tell.
        """
        key, (x, y, z) = self._key, self._xyz
        least = np.full(len(key), np.inf)
        other = np.arange(len(key))
        unsure, tied = np.zeros(len(key), dtype=bool), np.zeros(len(key), dtype=bool)
        for low in range(0, len(key), _CHUNK):
            chunk = slice(low, low + _CHUNK)
            width, unsure[chunk] = self._width(chunk)
            for step in range(1, CROWD + 2):
                high = min(low + _CHUNK, len(key) - step)
                a, b = slice(low, high), slice(low + step, high + step)
                active = key[b] - key[a] <= width[: max(high - low, 0)]
                count = int(np.count_nonzero(active))
                if not count:
                    break
                if step > CROWD:
                    unsure[a] |= active
                    unsure[b] |= active
                    break
                if count * 4 > len(active):
                    _note_nearer(least, tied, a, b, _squared(x, y, z, a, b), step=step)
                else:
                    first = low + np.flatnonzero(active)
                    after = first + step
                    _note_nearer(least, tied, first, after, _squared(x, y, z, first, after), step=step)
            code = least[chunk].view(np.int64) & 63
            away = code >> 1
            other[chunk] += np.where(code & 1, -away, away)
            # The code took the last bits: measured again, a distance depends on its two points alone.
            found = low + np.flatnonzero(away)
            least[found] = _squared(x, y, z, found, other[found])
        return other, least, self.order[unsure], self.order[tied]

    def _width(self, chunk: slice) -> tuple[NDArray[np.int64], NDArray[np.bool_]]:
        """Give for a chunk how far east must be looked, in steps; and which points lie where strips fail."""
        x, y, _ = self._xyz[:, chunk]
        axis_m = np.sqrt(x * x + y * y)
        polar = axis_m < 100.0 * self.reach_m
        scale = np.degrees(1.05 * self.reach_m) * _STEPS_PER_DEG
        width = (scale / np.where(polar, 100.0 * self.reach_m, axis_m)).astype(np.int64) + 2
        east = self._key[chunk] & 0xFFFFFFFF
        return width, polar | (east < width) | (east > 2**32 - 1 - width)

    def within(self, rows: Rows, reach_m: Floats, most: int | None = None) -> tuple[Rows, Rows, Floats]:
        """
        Find all points within a chord of some of them, those themselves included.

        Parameters
        ----------
        rows : numpy.ndarray of int
            Rows of the points that ask.
        reach_m : numpy.ndarray of float
            Greatest chord of each. Units: m.
        most : int, optional
            Pass over points in a crowd of more than so many to each strip.

        Returns
        -------
        i, j : numpy.ndarray of int
            Place in ``rows``, and row of the point found.
        chord_m : numpy.ndarray
        """
        xyz = np.stack([axis.take(self._place[rows]) for axis in self._xyz])
        east, lat = self._east[rows], self._lat[rows]
        return self._around(xyz, east, lat, reach_m=reach_m, most=most)

    def around(self, lon: Floats, lat: Floats, reach_m: Floats) -> tuple[Rows, Rows, Floats]:
        """
        Find all points within a chord of each place, each with its own reach.

        Returns
        -------
        i, j : numpy.ndarray of int
            Row of the place, and row of the point found.
        chord_m : numpy.ndarray
        """
        return self._around(earth_centred_axes(lon, lat), _east_of_seam(lon), lat, reach_m=reach_m)

    def _around(
        self, xyz: Floats, east: Floats, lat: Floats, *, reach_m: Floats, most: int | None = None
    ) -> tuple[Rows, Rows, Floats]:
        """Look into every strip that a reach touches, as far to both sides as it may touch."""
        axis_m = np.hypot(xyz[0], xyz[1])
        whole = axis_m < 100.0 * reach_m
        half_deg = np.where(whole, 360.0, np.degrees(1.01 * reach_m / np.where(whole, 1.0, axis_m)) + 1e-6)
        rise_deg = np.degrees(1.001 * reach_m / _LEAST_MERIDIAN_M)
        first = self._strip(np.maximum(lat - rise_deg, -90.0))
        last = self._strip(np.minimum(lat + rise_deg, 90.0))
        asked, begin, end = [], [], []
        for up in range(int((last - first).max(initial=-1)) + 1):
            for turn in (-360.0, 0.0, 360.0):
                at = np.flatnonzero(
                    (first + up <= last)
                    & (east + turn - half_deg < 360.0)
                    & (east + turn + half_deg >= 0.0)
                    & ((turn == 0.0) | ~whole)
                )
                base = (first[at] + up) << 32
                asked.append(at)
                begin.append(np.searchsorted(self._key, base + self._step(east[at] + turn - half_deg[at])))
                far = base + self._step(east[at] + turn + half_deg[at])
                end.append(np.searchsorted(self._key, far, side="right"))
        at, start, stop = (np.concatenate(v) for v in (asked, begin, end))
        if most is not None:
            many = np.zeros(len(lat), dtype=bool)
            many[at[stop - start > most]] = True
            at, start, stop = at[~many[at]], start[~many[at]], stop[~many[at]]
        i, j, chords = [], [], []
        for part in _parts(stop - start):
            count = stop[part] - start[part]
            asking = np.repeat(at[part], count)
            place = np.arange(len(asking)) + np.repeat(start[part] - np.cumsum(count) + count, count)
            squared = squared_chords(
                [axis.take(asking) for axis in xyz], [axis.take(place) for axis in self._xyz]
            )
            near = np.flatnonzero(squared <= (reach_m * reach_m).take(asking))
            i.append(asking[near])
            j.append(self.order[place[near]])
            chords.append(np.sqrt(squared[near]))
        return np.concatenate(i), np.concatenate(j), np.concatenate(chords)

    @cached_property
    def _place(self) -> Rows:
        """Place in ``order`` of each row."""
        place = np.empty(len(self.order), dtype=np.intp)
        place[self.order] = np.arange(len(place))
        return place


def squared_chords(a: Sequence[Floats] | Floats, b: Sequence[Floats] | Floats) -> Floats:
    """
    Square the chords between points given axis by axis; always in this order, so that bits never differ.

    Parameters
    ----------
    a, b : three arrays each that go together
        X, Y, Z. Units: m.
    """
    squared = np.asarray(b[0] - a[0])
    squared *= squared
    for mine, theirs in zip(a[1:], b[1:], strict=True):
        leg = theirs - mine
        leg *= leg
        squared += leg
    return squared


def _squared(x: Floats, y: Floats, z: Floats, a: Any, b: Any) -> Floats:
    """Squares of the chords between points a and points b."""
    squared = x[b] - x[a]
    squared *= squared
    for v in (y, z):
        leg = v[b] - v[a]
        leg *= leg
        squared += leg
    return np.asarray(squared)


def _note_nearer(
    least: Floats, tied: NDArray[np.bool_], a: Any, b: Any, squared: Floats, *, step: int
) -> None:
    """
    Keep the least square of each point, on both sides of a step, and whether another is as small.

    The last six bits of a square, a share of 1e-14, tell which step led to it: one minimum finds both.
    """
    code = squared.view(np.int64)
    code &= -64
    code |= 2 * step
    for rows in (a, b):
        before = least[rows]
        tied[rows] = (tied[rows] & (before < squared)) | ((before.view(np.int64) ^ code) < 64)
        least[rows] = np.minimum(before, squared)
        code |= 1


def _parts(count: Rows) -> Iterator[slice]:
    """Part questions so that those of one part have not many more answers than the cache holds."""
    total = np.cumsum(count)
    cuts = np.searchsorted(total, np.arange(_CANDIDATES, total[-1] if len(total) else 0, _CANDIDATES))
    edges = [0, *distinct(cuts + 1).tolist(), len(count)]
    yield from (slice(low, high) for low, high in pairwise(edges))


def _east_of_seam(lon: Floats) -> Floats:
    """Longitudes east of the 180th meridian, 0 to below 360."""
    east = lon + 180.0
    if len(east) and not (east.min() >= 0.0 and east.max() < 360.0):
        east -= 360.0 * np.floor(east / 360.0)
    return np.asarray(east)
