"""
Straight pieces in a plane, and which of them is nearest to each point.

The plane is azimuthal equidistant around some centre; what it bends is put right by the curvature of the
ellipsoid: ``d² = |p - q|² - K/3 |p × q|²`` (K: Gaussian curvature).
"""

import numpy as np
from numpy.typing import NDArray

__all__ = ["Pieces", "squared_in_plane"]

Floats = NDArray[np.float64]
Rows = NDArray[np.intp]

#: Up to so many pieces are tried one by one.
_FEW = 96
#: Points times pieces looked at in one go: about what fits the processor's cache.
_BLOCK = 20_000
_ALL = slice(None)


class Pieces:
    """
    Pieces from points ``a`` to points ``b``; a lone point begins and ends in itself.

    Parameters
    ----------
    a, b : numpy.ndarray, shape (m, 2)
        East and north of the centre. Units: m.

    Examples
    --------
    >>> square = np.array([(0.0, 0.0), (10.0, 0.0), (10.0, 10.0), (0.0, 10.0)])
    >>> sides = Pieces(square, np.roll(square, -1, axis=0))
    >>> sides.nearest(np.array([(5.0, 12.0), (1.0, 5.0)]), 0.0).tolist()
    [0, 1]
    """

    def __init__(self, a: Floats, b: Floats) -> None:
        self.a, self.b = a, b
        along = b - a
        self.length = np.sqrt((along * along).sum(axis=1))
        still = self.length < 1e-9
        self.along = along / np.where(still, 1.0, self.length)[:, None]
        self.along[still] = (1.0, 0.0)
        ux, uy = self.along.T
        start = (a * self.along).sum(axis=1)
        # What (east, north, 1) is multiplied by to get the way past the end of each piece, the way short of
        # its beginning, and the way to its left.
        self._past = np.array([ux, uy, -start - self.length])
        self._short = np.array([-ux, -uy, start])
        self._left = np.array([-uy, ux, a[:, 0] * uy - a[:, 1] * ux])

    def __len__(self) -> int:
        return len(self.a)

    def nearest(self, p: Floats, curvature_per_m2: float, part: slice = _ALL) -> Rows:
        """
        Find the row of the piece that is nearest to each point.

        Parameters
        ----------
        p : numpy.ndarray, shape (2, n)
            East and north. Units: m.
        curvature_per_m2 : float
            Gaussian curvature at the centre; zero to leave it out where all lie near the centre.
        part : slice, optional
            Which pieces may be found; they have one centre.

        Returns
        -------
        numpy.ndarray of int, shape (n,)
        """
        first, last, _ = part.indices(len(self))
        if last - first > _FEW:
            return first + _nearest_by_runs(p.T, self.a[part], self.b[part], curvature_per_m2)
        nearest = np.empty(p.shape[1], dtype=np.intp)
        size = max(1, _BLOCK // (last - first))
        frames = self._past[:, part], self._short[:, part], self._left[:, part]
        for low in range(0, p.shape[1], size):
            block = p[:, low : low + size]
            lifted = np.ones((block.shape[1], 3))
            lifted[:, :2] = block.T
            squared = _squared_to_all(lifted, *frames, curvature_per_m2)
            nearest[low : low + size] = squared.argmin(axis=1)
        return first + nearest


def _squared_to_all(
    lifted: Floats, past: Floats, short: Floats, left: Floats, curvature_per_m2: float
) -> Floats:
    """Squared distance from points (east, north, 1) to every piece, shape (n, m)."""
    over, back, aside = lifted @ past, lifted @ short, lifted @ left
    if not curvature_per_m2:
        np.maximum(over, back, out=over)
        np.maximum(over, 0.0, out=over)
        over *= over
        aside *= aside
        over += aside
        return np.asarray(over)
    np.maximum(over, 0.0, out=over)
    over -= np.maximum(back, 0.0, out=back)
    # as in squared_in_plane, with w = over u + aside n
    cross = over * (lifted[:, :2] @ left[:2])
    cross -= aside * (lifted[:, :2] @ past[:2])
    return np.asarray(over * over + aside * aside - curvature_per_m2 / 3.0 * cross * cross)


def _nearest_by_runs(p: Floats, a: Floats, b: Floats, curvature_per_m2: float) -> Rows:
    """
    Bundle many pieces into runs as they follow one another, and leave out the runs that are too far.

    All of a run lies within its stray of the chord between its ends, so a run whose chord is farther
    than the nearest vertex by more than the stray is left out.
    """
    size = int(np.sqrt(len(a) / 3.0))
    runs = np.minimum(np.arange(0, len(a), size)[:, None] + np.arange(size), len(a) - 1)
    start, middle, stop = a[runs[:, 0]], a[runs[:, size // 2]], b[runs[:, -1]]
    ends = (squared_in_plane(v[runs], start[:, None], stop[:, None], 0.0).max(axis=1) for v in (a, b))
    stray = np.sqrt(np.maximum(*ends))
    nearest = np.empty(len(p), dtype=np.intp)
    for rows in np.array_split(np.arange(len(p)), max(1, len(p) * len(runs) // _BLOCK)):
        q = p[rows, None]
        squared = squared_in_plane(q, start, stop, curvature_per_m2)
        apart = np.hypot(q[..., 0] - middle[:, 0], q[..., 1] - middle[:, 1]).min(axis=1)
        reach = apart * (1.0 + 1e-6) + 1e-6
        row, run = np.nonzero(np.sqrt(np.maximum(squared, 0.0)) - stray <= reach[:, None])
        within = squared_in_plane(q[row], a[runs[run]], b[runs[run]], curvature_per_m2)
        best = np.argmin(within, axis=1)
        least = within[np.arange(len(row)), best]
        begin = np.searchsorted(row, np.arange(len(rows)))
        lowest = np.minimum.reduceat(least, begin)[row]
        winner = np.flatnonzero(least == lowest)
        winner = winner[np.unique(row[winner], return_index=True)[1]]
        nearest[rows] = runs[run[winner], best[winner]]
    return nearest


def squared_in_plane(p: Floats, a: Floats, b: Floats, curvature_per_m2: float) -> Floats:
    """Square the distance on the ellipsoid of points to pieces straight in the plane; (..., 2) each."""
    px, py = p[..., 0] - a[..., 0], p[..., 1] - a[..., 1]
    dx, dy = b[..., 0] - a[..., 0], b[..., 1] - a[..., 1]
    t = np.clip((px * dx + py * dy) / np.maximum(dx * dx + dy * dy, 1e-12), 0.0, 1.0)
    px -= t * dx
    py -= t * dy
    # with f the foot and q the point, q × f = q × (q - w) = w × q, where w leads from the foot to the point
    cross = px * p[..., 1] - py * p[..., 0]
    return px * px + py * py - curvature_per_m2 / 3.0 * cross * cross
