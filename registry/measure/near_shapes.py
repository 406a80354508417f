"""
Which of many points come near which of many shapes, so that far ones are never measured.

Shapes are wrapped in balls: a polygon in one, a line in one for each of its edges. A point is measured
exactly from a shape only where it lies within reach of one of the shape's balls. A geodesic between two
points of a ball stays in it, and a straight chord is never longer than the geodesic, so nothing is missed.
"""

from collections.abc import Sequence
from typing import Any

import numpy as np
import shapely
from numpy.typing import ArrayLike, NDArray
from shapely.geometry.base import BaseGeometry

from registry.errors import GeometryError
from registry.measure.boundary import distance_to
from registry.measure.distinct import distinct
from registry.measure.geodesic import EARTH_RADIUS_M, FLATTENING, earth_centred_axes
from registry.measure.strips import Strips

__all__ = ["may_be_near", "near_shapes"]

Floats = NDArray[np.float64]
Rows = NDArray[np.intp]

#: Strips are made for what most balls ask for, within these limits. Units: m.
_LEAST_M, _GREATEST_M = 50.0, 20_000.0
_E2 = FLATTENING * (2.0 - FLATTENING)


def near_shapes(
    lon: ArrayLike, lat: ArrayLike, shapes: Sequence[BaseGeometry], reach_m: ArrayLike
) -> tuple[Rows, Rows, Floats]:
    """
    Find every point that lies within reach of a shape, or in it, and how far away.

    Parameters
    ----------
    lon, lat : array_like, shape (n,)
        The points. Units: degrees, in the frame of the shapes. One that is not a number is near nothing.
    shapes : sequence of shapely geometry, length k
        Points, lines, polygons, or several of them; edges run as geodesics.
    reach_m : array_like, shape (k,) or scalar
        For each shape the greatest distance that matters, itself included. Units: m.

    Returns
    -------
    point, shape : numpy.ndarray of int, shape (m,)
        Row of the point and row of the shape; by shape, and by point in each.
    distance_m : numpy.ndarray, shape (m,)
        As :func:`registry.measure.boundary.distance_to` gives it, negative inside a polygon.

    Raises
    ------
    GeometryError
        If a shape is empty.

    Examples
    --------
    >>> wrecks = [shapely.Point(-77.0, 34.001), shapely.Point(10.0, 50.0)]
    >>> point, shape, distance_m = near_shapes([-77.0, -76.0], [34.0, 34.0], wrecks, 200.0)
    >>> point.tolist(), shape.tolist(), distance_m.round(2).tolist()
    ([0], [0], [110.92])
    """
    p, q = np.broadcast_arrays(np.atleast_1d(np.asarray(lon, float)), np.atleast_1d(np.asarray(lat, float)))
    reach = np.broadcast_to(np.asarray(reach_m, dtype=float), (len(shapes),))
    point, shape = may_be_near(p, q, shapes, reach)
    distance = np.empty(len(point))
    begin = np.searchsorted(shape, np.arange(len(shapes) + 1))
    for k in np.flatnonzero(np.diff(begin)).tolist():
        rows = slice(begin[k], begin[k + 1])
        distance[rows] = distance_to(p[point[rows]], q[point[rows]], shapes[k]).distance_m
    near = np.flatnonzero(distance <= reach[shape])
    return point[near], shape[near], distance[near]


def may_be_near(
    lon: ArrayLike, lat: ArrayLike, shapes: Sequence[BaseGeometry], reach_m: ArrayLike
) -> tuple[Rows, Rows]:
    """
    Leave out the points and shapes that are certainly out of reach of one another.

    Parameters are those of :func:`near_shapes`.

    Returns
    -------
    point, shape : numpy.ndarray of int, shape (m,)
        Rows of those that may be within reach, each pair once; by shape, and by point in each.
    """
    p, q = np.broadcast_arrays(np.atleast_1d(np.asarray(lon, float)), np.atleast_1d(np.asarray(lat, float)))
    reach = np.broadcast_to(np.asarray(reach_m, dtype=float), (len(shapes),))
    known = np.flatnonzero(np.isfinite(p) & np.isfinite(q))
    x, y, radius, owner = _balls(shapes)
    if not (known.size and owner.size):
        return np.empty(0, dtype=np.intp), np.empty(0, dtype=np.intp)
    far = (radius + reach[owner]) * (1.0 + 1e-9) + 1e-3
    usual = float(np.clip(np.median(far), _LEAST_M, _GREATEST_M))
    p, q = p[known], q[known]
    strips = Strips(p, q, earth_centred_axes(p, q), reach_m=usual, shift=0.0)
    ball, found, _ = strips.around(x, y, far)
    pair = distinct(owner[ball] * len(known) + found)
    return known[pair % len(known)], np.asarray(pair // len(known), dtype=np.intp)


def _balls(shapes: Sequence[BaseGeometry]) -> tuple[Floats, Floats, Floats, Rows]:
    """Wrap shapes in balls: longitude, latitude (degrees), radius (m), and whose each is."""
    given: NDArray[Any] = np.array(shapes, dtype=object)
    if shapely.is_empty(given).any():
        what = "A shape to keep clear of is empty: nothing can be measured from it."
        raise GeometryError(what, remedy="Give it at least one point.")
    parts, owner = shapely.get_parts(given, return_index=True)
    while (deep := shapely.get_type_id(parts) >= shapely.GeometryType.MULTIPOINT).any():
        more, index = shapely.get_parts(parts[deep], return_index=True)
        parts = np.concatenate((parts[~deep], more))
        owner = np.concatenate((owner[~deep], owner[deep][index]))
    kept = ~shapely.is_empty(parts)
    parts, owner = parts[kept], owner[kept]
    coords, part = shapely.get_coordinates(parts, return_index=True)
    line = (shapely.get_type_id(parts) == shapely.GeometryType.LINESTRING)[part]
    # The corners of each ball: all of a polygon or point, two of a line, which share theirs with the next.
    pair = np.flatnonzero(line[:-1] & (part[:-1] == part[1:]))
    whole = np.flatnonzero(~line)
    corner = np.concatenate((whole, np.column_stack((pair, pair + 1)).ravel()))
    group = np.concatenate((part[whole], len(parts) + np.repeat(np.arange(len(pair)), 2)))
    whose = np.concatenate((owner[part[whole]], np.repeat(owner[part[pair]], 2)))
    begin = np.flatnonzero(np.concatenate(([True], group[1:] != group[:-1])))[: len(group)]
    if not len(group):
        return np.empty(0), np.empty(0), np.empty(0), np.empty(0, dtype=np.intp)
    xyz = earth_centred_axes(coords[corner, 0], coords[corner, 1])
    x, y, z = np.add.reduceat(xyz, begin, axis=1) / np.diff(begin, append=len(group))
    lon, lat = np.degrees(np.arctan2(y, x)), np.degrees(np.arctan2(z, np.hypot(x, y) * (1.0 - _E2)))
    centre = np.repeat(earth_centred_axes(lon, lat), np.diff(begin, append=len(group)), axis=1)
    radius = np.maximum.reduceat(np.sqrt(((xyz - centre) ** 2).sum(axis=0)), begin)
    # Beyond a tenth of the globe the flattening, and what lies across the pole, make a cap hard to bound.
    radius = np.where(radius < EARTH_RADIUS_M / 10.0, radius * 1.001, 4.0 * EARTH_RADIUS_M)
    return lon, lat, radius, whose[begin]
