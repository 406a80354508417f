"""
How far many points lie from the nearest of some shapes, of which some may be very long: a coast, a baseline.

Points are taken in cubes of some kilometres. For each cube only the stretches of shapes that may be nearest
to one of its points are kept and measured exactly. Edges are wrapped in balls for that: a geodesic between
two points lies within the ball that has them on opposite sides.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import ArrayLike, NDArray
from shapely import LineString, MultiLineString, MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry

from registry.measure.antimeridian import join_at_antimeridian, unwrap_ring
from registry.measure.boundary import distance_to
from registry.measure.edges import run_edges
from registry.measure.geodesic import earth_centred

__all__ = ["nearest_shape"]

Floats = NDArray[np.float64]
Rows = NDArray[np.intp]

#: Side of the cubes. Units: m.
_CUBE_M = 11_000.0
#: Edges of polygons are drawn by points this far apart, and then are straight in longitude and latitude as
#: well, to less than the margin. Units: m.
_STEP_M, _MARGIN_M = 2_000.0, 5.0
#: A polygon wider than this, or nearer to a pole, has no plain inside in longitude and latitude.
_WIDEST_DEG, _HIGHEST_DEG = 180.0, 88.0


def nearest_shape(lon: ArrayLike, lat: ArrayLike, shapes: Sequence[BaseGeometry]) -> tuple[Floats, Rows]:
    """
    Find the shape that is nearest to each point, and how far away it is.

    Parameters
    ----------
    lon, lat : array_like, shape (n,)
        The points. Units: degrees, in the frame of the shapes.
    shapes : sequence of shapely geometry, length k
        Lines, polygons, or several of them; edges run as geodesics.

    Returns
    -------
    distance_m : numpy.ndarray, shape (n,)
        The least of what :func:`registry.measure.boundary.distance_to` gives for each shape, negative inside
        a polygon; NaN where there is no point or no shape.
    shape : numpy.ndarray of int, shape (n,)
        Row of the shape; -1 where there is none.

    Raises
    ------
    GeometryError
        If a shape is empty.

    Examples
    --------
    >>> shore = shapely.LineString([(-77.1, 33.0), (-77.1, 35.0)])
    >>> island = shapely.box(-77.0, 34.0, -76.9, 34.1)
    >>> distance_m, shape = nearest_shape([-77.09, -76.99], [34.05, 34.05], [shore, island])
    >>> distance_m.round(1).tolist(), shape.tolist()
    ([923.3, -923.3], [0, 1])
    """
    p, q = np.broadcast_arrays(np.atleast_1d(np.asarray(lon, float)), np.atleast_1d(np.asarray(lat, float)))
    distance, nearest = np.full(p.shape, np.nan), np.full(p.shape, -1, dtype=np.intp)
    known = np.flatnonzero(np.isfinite(p) & np.isfinite(q))
    if not (known.size and len(shapes)):
        return distance, nearest
    outlines = _Outlines.of(shapes)
    for rows, centre, radius_m in _cubes(p, q, known):
        distance[rows] = np.inf
        for shape, stretch in outlines.near(centre, radius_m):
            found = distance_to(p[rows], q[rows], stretch).distance_m
            better = found < distance[rows]
            distance[rows[better]], nearest[rows[better]] = found[better], shape
    for shape, geometry in enumerate(shapes):
        rows = known[_perhaps_inside(p[known], q[known], distance[known], geometry)]
        if rows.size:
            found = distance_to(p[rows], q[rows], geometry).distance_m
            better = found < np.minimum(distance[rows], 0.0)
            distance[rows[better]], nearest[rows[better]] = found[better], shape
    return distance, nearest


@dataclass(frozen=True, slots=True)
class _Outlines:
    """Every line and ring, one after the other."""

    #: Longitude and latitude, shape (m, 2), and the same in Earth-centred coordinates, shape (m, 3).
    corners: Floats
    xyz: Floats
    #: Rows of the corners at which edges begin; each ends at the next.
    edge: Rows
    #: The shape of each edge.
    owner: Rows
    #: Balls around the edges.
    middle: Floats
    radius_m: Floats

    @classmethod
    def of(cls, shapes: Sequence[BaseGeometry]) -> "_Outlines":
        for shape in shapes:
            if shape.is_empty:
                distance_to([], [], shape)  # refuses it
        lines = [
            (owner, line)
            for owner, shape in enumerate(shapes)
            for line in _lines(join_at_antimeridian(shape))
        ]
        corners = np.vstack([line for _, line in lines])
        length = np.array([len(line) for _, line in lines])
        last = np.zeros(len(corners), dtype=bool)
        last[np.cumsum(length) - 1] = True
        edge = np.flatnonzero(~last)
        xyz = earth_centred(corners[:, 0], corners[:, 1])
        a, b = xyz[edge], xyz[edge + 1]
        return cls(
            corners=corners,
            xyz=xyz,
            edge=edge,
            owner=np.repeat([owner for owner, _ in lines], length - 1),
            middle=(a + b) / 2.0,
            radius_m=np.linalg.norm(b - a, axis=1) / 2.0,
        )

    def near(self, centre: Floats, radius_m: float) -> Iterator[tuple[int, BaseGeometry]]:
        """Give for each shape the stretches that may be nearest to a point within a ball."""
        away_m = np.linalg.norm(self.middle - centre, axis=1)
        reach_m = float(np.min(away_m + self.radius_m)) + 2.0 * radius_m
        # The ellipsoid bends, by direction, less than a hundredth otherwise than its chords tell.
        kept = np.flatnonzero(away_m - self.radius_m <= 1.01 * reach_m + 1.0)
        part = np.flatnonzero((np.diff(self.edge[kept]) > 1) | (np.diff(self.owner[kept]) > 0)) + 1
        runs: dict[int, list[Floats]] = {}
        for run in np.split(kept, part):
            corners = self.corners[self.edge[run[0]] : self.edge[run[-1]] + 2]
            runs.setdefault(int(self.owner[run[0]]), []).append(corners)
        for shape, lines in runs.items():
            yield shape, MultiLineString([LineString(line) for line in lines])


def _lines(shape: BaseGeometry) -> Iterator[Floats]:
    for part in shapely.get_parts(shape):
        if hasattr(part, "geoms"):
            yield from _lines(part)
        else:
            for line in (part.exterior, *part.interiors) if isinstance(part, Polygon) else (part,):
                yield shapely.get_coordinates(line)


def _cubes(lon: Floats, lat: Floats, rows: Rows) -> Iterator[tuple[Rows, Floats, float]]:
    """
    Give the rows of the points in each cube, with the ball around it.

    The ball is the cube's own: what is measured of a point does not depend on who shares its cube.
    """
    cells = np.floor(earth_centred(lon[rows], lat[rows]) / _CUBE_M)
    _, group = np.unique(cells.astype(np.int64), axis=0, return_inverse=True)
    order = np.argsort(group.ravel(), kind="stable")
    for member in np.split(order, np.flatnonzero(np.diff(group.ravel()[order])) + 1):
        yield rows[member], (cells[member[0]] + 0.5) * _CUBE_M, float(np.sqrt(0.75)) * _CUBE_M


def _perhaps_inside(lon: Floats, lat: Floats, distance_m: Floats, shape: BaseGeometry) -> NDArray[np.bool_]:
    """Tell which points lie inside a polygon, or so near to an edge that only measuring tells."""
    perhaps = np.zeros(lon.shape, dtype=bool)
    if not isinstance(shape, Polygon | MultiPolygon):
        return perhaps
    for part in shapely.get_parts(join_at_antimeridian(shape)):
        west, south, east, north = part.bounds
        if east - west > _WIDEST_DEG or max(-south, north) > _HIGHEST_DEG:
            return np.ones(lon.shape, dtype=bool)
        shell, *holes = (
            unwrap_ring(run_edges(shapely.get_coordinates(ring), "geodesic", _STEP_M))
            for ring in (part.exterior, *part.interiors)
        )
        drawn = Polygon(shell, holes)
        shapely.prepare(drawn)
        turned = lon + 360.0 * np.round(((drawn.bounds[0] + drawn.bounds[2]) / 2.0 - lon) / 360.0)
        perhaps |= shapely.contains_xy(drawn, turned, lat)
    return perhaps | (distance_m <= _MARGIN_M)
