"""
Plain areas of a few kilometres, thousands at a time: their outlines in planes of their own.

What most permits name: one ring without holes, geodesic edges, corners by the dozen. Whatever is larger,
has holes or parts, or follows rhumb lines is left to :mod:`registry.measure.boundary`, one by one.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from registry.measure.edges import Edges
from registry.measure.geodesic import EARTH_RADIUS_M, FLATTENING, earth_centred_axes
from registry.measure.near_planes import NEAR_M, NearPlanes
from registry.measure.pieces import Pieces

__all__ = ["SmallSites"]

Floats = NDArray[np.float64]
Rows = NDArray[np.intp]

#: How far the middle of an edge may part from its straight image in the plane. Units: m.
_SAG_M = 2e-5
#: The largest site that one plane serves, and what is left to its points around it. Units: m.
_RADIUS_M = NEAR_M / 2.0
#: Within so far of the centre the curvature moves no distance by more than 2 micrometres. Units: m.
_FLAT_M = 600.0
#: Points measured in one go: what the processor's cache holds.
_CHUNK = 8_192

_E2 = FLATTENING * (2.0 - FLATTENING)


@dataclass(frozen=True, slots=True)
class SmallSites:
    """The plain areas among many, each as a closed ring in its plane, counter-clockwise."""

    #: Which of the shapes given is here, shape (k,), rising.
    member: Rows
    planes: NearPlanes
    #: Edges of all rings, one ring after the other.
    sides: Pieces
    #: Where the sides of each ring begin, and where the last end; shape (k + 1,).
    begin: Rows
    #: How far the corners lie from the centre at most, shape (k,). Units: m.
    radius_m: Floats

    @classmethod
    def among(cls, shapes: Sequence[BaseGeometry], edges: Sequence[Edges]) -> "SmallSites":
        """Take the plain areas out of many shapes."""
        given: NDArray[Any] = np.array(shapes, dtype=object)
        plain = (shapely.get_type_id(given) == shapely.GeometryType.POLYGON) & ~shapely.is_empty(given)
        plain &= (shapely.get_num_interior_rings(given) == 0) & (np.array(edges, dtype=object) == "geodesic")
        member = np.flatnonzero(plain)
        coords, ring = shapely.get_coordinates(given[member], return_index=True)
        begin = np.searchsorted(ring, np.arange(len(member) + 1))
        xyz = earth_centred_axes(coords[:, 0], coords[:, 1])
        x, y, z = _of_each(np.add, xyz, begin) / np.diff(begin)
        centre = np.degrees(np.arctan2(y, x)), np.degrees(np.arctan2(z, np.hypot(x, y) * (1.0 - _E2)))
        planes = NearPlanes.around(*centre)
        corners, away_m = planes.project(xyz, begin)
        radius_m = _of_each(np.maximum, away_m, begin)
        # Sides by the rows of their first corners; the last corner of a ring is its first again.
        side = np.flatnonzero(ring[:-1] == ring[1:])
        a, b = corners[:, side], corners[:, side + 1]
        length_m = np.hypot(*(b - a))
        begin = begin - np.arange(len(begin))
        # An edge beside the centre bends by s² r / 8 R² in the plane.
        step_m = np.sqrt(8.0 * EARTH_RADIUS_M**2 * _SAG_M / np.maximum(radius_m, 1.0))
        good = (radius_m < _RADIUS_M) & (_of_each(np.maximum, length_m, begin) < step_m)
        # A corner given twice has no direction to go on in.
        good &= _of_each(np.minimum, length_m, begin) > 0.0
        good &= shapely.is_valid(shapely.polygons(shapely.linearrings(corners.T, indices=ring)))
        # A ring that runs clockwise is gone round the other way, last side first.
        turns_left = _of_each(np.add, a[0] * b[1] - a[1] * b[0], begin) > 0.0
        own, index = ring[side], np.arange(len(side))
        order = np.where(turns_left[own], index, begin[own] + begin[own + 1] - 1 - index)
        a, b = (np.where(turns_left[own], *ends)[:, order] for ends in ((a, b), (b, a)))
        kept = good[own]
        count = np.diff(begin)[good]
        return cls(
            member[good],
            NearPlanes(planes.origin[good], planes.axes[good], planes.curvature_per_m2[good]),
            Pieces(a[:, kept].T, b[:, kept].T),
            np.concatenate(([0], np.cumsum(count))),
            radius_m[good],
        )

    def distance(self, lon: Floats, lat: Floats, begin: Rows) -> Floats:
        """
        Measure how far inside its site each point lies.

        Parameters
        ----------
        lon, lat : numpy.ndarray, shape (n,)
            The points, site by site. Units: degrees.
        begin : numpy.ndarray of int, shape (k + 1,)
            Where the points of each site begin, and where the last end.

        Returns
        -------
        numpy.ndarray, shape (n,)
            Units: m; negative outside, NaN where a point lies too far away to tell in the site's plane.

        Notes
        -----
        The side of a point that is nearest to a corner is that of the sum of both normals there: Bærentzen
        and Aanæs, "Signed distance computation using the angle weighted pseudonormal", IEEE Transactions on
        Visualization and Computer Graphics 11 (2005), in two dimensions.
        """
        plane, away_m = self.planes.project(earth_centred_axes(lon, lat), begin)
        piece = np.zeros(len(lon), dtype=np.intp)
        count = np.diff(begin)
        farthest_m = np.zeros(len(count))
        farthest_m[count > 0] = np.maximum.reduceat(away_m, begin[:-1][count > 0]) if len(lon) else 0.0
        flat = np.maximum(farthest_m, self.radius_m) < _FLAT_M
        curvature = self.planes.curvature_per_m2
        bent = np.where(flat, 0.0, curvature).tolist()
        sides, rows = self.begin.tolist(), begin.tolist()
        for k in np.flatnonzero(count).tolist():
            points = slice(rows[k], rows[k + 1])
            piece[points] = self.sides.nearest(plane[:, points], bent[k], slice(sides[k], sides[k + 1]))
        distance = np.empty(len(lon))
        beside = self._beside
        site = np.repeat(np.arange(len(count)), count)
        for low in range(0, len(lon), _CHUNK):
            part = slice(low, low + _CHUNK)
            bend = curvature.take(site[part])
            distance[part] = _left_of(plane[:, part], piece[part], self.sides, beside, bend)
        distance[away_m > NEAR_M / 1.5] = np.nan
        return distance

    @property
    def _beside(self) -> tuple[Rows, Rows]:
        """Side that follows each side of a ring, and the one before it."""
        following, before = np.arange(len(self.sides)) + 1, np.arange(len(self.sides)) - 1
        following[self.begin[1:] - 1], before[self.begin[:-1]] = self.begin[:-1], self.begin[1:] - 1
        return following, before


def _of_each(reduce: np.ufunc, values: Floats, begin: Rows) -> Floats:
    """Reduce the values of each group; no group is empty."""
    if len(begin) == 1:
        return np.empty((*values.shape[:-1], 0))
    return np.asarray(reduce.reduceat(values, begin[:-1], axis=-1))


def _left_of(
    p: Floats, piece: Rows, sides: Pieces, beside: tuple[Rows, Rows], curvature_per_m2: Floats
) -> Floats:
    """Distance to the nearest piece of each point, positive on its left."""
    (x, y), (ux, uy) = p, sides.along.take(piece, axis=0).T
    ax, ay = sides.a.take(piece, axis=0).T
    px, py = x - ax, y - ay
    over = px * ux + py * uy
    over -= np.clip(over, 0.0, sides.length.take(piece))
    aside = py * ux - px * uy
    cross = over * (y * ux - x * uy) - aside * (x * ux + y * uy)
    squared = over * over + aside * aside - curvature_per_m2 / 3.0 * cross * cross
    corner = np.flatnonzero(over)
    k, past = piece[corner], over[corner]
    other = np.where(past > 0.0, beside[0][k], beside[1][k])
    # The sum of both left normals, told in the frame of the nearest piece.
    (ax, ay), (bx, by) = sides.along[k].T, sides.along[other].T
    turn_cos, turn_sin = ax * bx + ay * by, ax * by - ay * bx
    aside[corner] = aside[corner] * (1.0 + turn_cos) - past * turn_sin
    return np.asarray(np.copysign(np.sqrt(np.maximum(squared, 0.0)), aside))
