"""
How far inside an area, or how far from a thing, along the ellipsoid.

A plane around the site proposes the nearest stretch of boundary; what the plane bends is put right by the
curvature of the ellipsoid, and beyond a few kilometres by solving for the foot point on the geodesic
itself. Points that lie far apart are taken in tiles, each with its own plane, so that a swapped digit that
lands in another ocean is measured as exactly as a near miss.

Sources
-------
Distance in an azimuthal equidistant plane: the expansion of the metric in normal coordinates,
``d² = |p - q|² - K/3 |p × q|²`` (K: Gaussian curvature). Foot point: Baselga and Martínez-Llario,
"Intersection and point-to-line solutions for geodesics on the ellipsoid", Stud. Geophys. Geod. 62 (2018).
"""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np
import shapely
from numpy.typing import ArrayLike, NDArray
from shapely import MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry

from registry.errors import GeometryError
from registry.measure.antimeridian import join_at_antimeridian
from registry.measure.edges import Edges, run_edges
from registry.measure.geodesic import (
    EARTH_RADIUS_M,
    ELLIPSOID,
    SitePlane,
    centre_of,
    direct,
    earth_centred,
    inverse,
)

__all__ = ["Boundary", "distance_to", "signed_distance"]

Floats = NDArray[np.float64]
Rows = NDArray[np.intp]

#: How far from its centre one plane is trusted with distances. Units: m.
_PLANE_M = 12_000.0
#: Side of a cube whose points get a plane of their own; none is then 20 km from its centre. Units: m.
_TILE_M = 11_000.0
#: How far a piece of an edge may part from its straight image in the plane. Units: m.
_SAG_M = 2e-5
#: Up to so many pieces are tried one by one.
_FEW = 48
#: Rows times pieces looked at in one go: about what fits the processor's cache.
_BLOCK = 100_000
#: No area of this trade holds a point that is this far from its boundary. Units: m.
_ABSURD_M = 5e6


@dataclass(frozen=True, slots=True)
class Boundary:
    """Where the nearest boundary lies, one row per point."""

    #: Distance along the ellipsoid, signed as the function says that made it; NaN for a point that is none.
    distance_m: Floats
    #: True bearing from the point to the nearest point of the boundary, 0 to below 360. It has no meaning
    #: within a millimetre of the boundary.
    bearing_deg: Floats


def signed_distance(lon: ArrayLike, lat: ArrayLike, shape: Polygon | MultiPolygon, edges: Edges) -> Boundary:
    """
    Measure how far inside an area points lie.

    Parameters
    ----------
    lon, lat : array_like, shape (n,)
        The points. Units: degrees, in the frame of the area.
    shape : Polygon or MultiPolygon
        The area; its rings may run on past 180 or jump from 179 to -179. An area stored in two parts that
        meet on the 180th meridian is taken as one: the seam is no boundary.
    edges : {"geodesic", "rhumb"}
        How the line between two corners runs.

    Returns
    -------
    Boundary
        Distance to the nearest boundary, holes included: positive inside, negative outside.

    Raises
    ------
    GeometryError
        If the shape is empty or no polygon.

    Notes
    -----
    Good to 0.1 mm for geodesic edges. A rhumb line is walked in steps short enough to stay within 0.1 mm.

    Examples
    --------
    A square of about 2 km, one point inside and one to the south of it:

    >>> square = Polygon([(-77.01, 34.0), (-76.99, 34.0), (-76.99, 34.02), (-77.01, 34.02)])
    >>> found = signed_distance([-77.002, -76.992], [34.005, 33.999], square, "geodesic")
    >>> found.distance_m.round(2).tolist(), found.bearing_deg.round(1).tolist()
    ([554.57, -110.94], [180.0, 0.0])
    """
    if not isinstance(shape, Polygon | MultiPolygon):
        what = f"A {shape.geom_type} bounds no area."
        raise GeometryError(what, remedy="Give a polygon.")
    found = distance_to(lon, lat, shape, edges)
    return Boundary(-found.distance_m + 0.0, found.bearing_deg)


def distance_to(
    lon: ArrayLike, lat: ArrayLike, geometry: BaseGeometry, edges: Edges = "geodesic"
) -> Boundary:
    """
    Measure how far points lie from a thing to stay clear of.

    Parameters
    ----------
    lon, lat : array_like, shape (n,)
        The points. Units: degrees, in the frame of the geometry.
    geometry : shapely geometry
        Points, lines, polygons, or several of them.
    edges : {"geodesic", "rhumb"}
        How the line between two corners runs.

    Returns
    -------
    Boundary
        Distance to the nearest point of it: positive outside, negative inside a polygon.

    Raises
    ------
    GeometryError
        If the geometry is empty.

    Examples
    --------
    >>> found = distance_to([-77.0], [34.0], shapely.Point(-77.0, 34.001))
    >>> f"{found.distance_m[0]:.2f} m toward {found.bearing_deg[0]:.0f}"
    '110.92 m toward 0'
    """
    p, q = np.broadcast_arrays(np.atleast_1d(np.asarray(lon, float)), np.atleast_1d(np.asarray(lat, float)))
    distance, bearing = np.full(p.shape, np.nan), np.full(p.shape, np.nan)
    outline = _Outline.of(geometry, edges)
    for rows, plane in _tiles(p, q, outline):
        distance[rows], bearing[rows] = outline.seen_from(plane, p[rows], q[rows])
    return Boundary(distance, bearing)


@dataclass(frozen=True, slots=True)
class _Outline:
    """A geometry as short geodesic pieces, and the rings of its polygons."""

    #: Points along every ring, line and point, one after the other; a ring repeats its first. Units: degrees.
    vertices: Floats
    #: Rows of ``vertices`` where each piece begins and ends; a lone point begins and ends in itself.
    first: Rows
    second: Rows
    #: For each polygon its rings, shell first.
    polygons: tuple[tuple[slice, ...], ...]
    #: Where the middle lies (degrees), and how far the farthest corner from it (m).
    centre: tuple[float, float]
    radius_m: float

    @classmethod
    def of(cls, geometry: BaseGeometry, edges: Edges) -> "_Outline":
        """Take a geometry apart."""
        if geometry.is_empty:
            what = "The geometry is empty: it bounds nothing and nothing can be measured from it."
            raise GeometryError(what, remedy="Give it at least one point.")
        parts = shapely.get_parts(join_at_antimeridian(geometry))
        corners = shapely.get_coordinates(geometry)
        centre = centre_of(corners[:, 0], corners[:, 1])
        radius = float(np.max(inverse(*centre, corners[:, 0], corners[:, 1])[0]))
        step = np.sqrt(8.0 * EARTH_RADIUS_M**2 * _SAG_M / min(max(radius, 1.0), _PLANE_M))
        lines: list[Floats] = []
        first: list[Rows] = []
        polygons = []
        count = 0
        for part in _simple(parts):
            rings = [part.exterior, *part.interiors] if isinstance(part, Polygon) else [part]
            slices = []
            for ring in rings:
                line = run_edges(shapely.get_coordinates(ring), edges, float(step))
                lines.append(line)
                first.append(np.arange(count, count + max(1, len(line) - 1)))
                slices.append(slice(count, count + len(line)))
                count += len(line)
            if isinstance(part, Polygon):
                polygons.append(tuple(slices))
        begin = np.concatenate(first)
        end = begin + np.concatenate(
            [np.full(len(f), int(len(x) > 1)) for f, x in zip(first, lines, strict=True)]
        )
        return cls(np.concatenate(lines), begin, end, tuple(polygons), centre, radius)

    def seen_from(self, plane: SitePlane, lon: Floats, lat: Floats) -> tuple[Floats, Floats]:
        """Distance (negative inside) and bearing of points that lie near the centre of the plane."""
        p = np.column_stack(plane.to_plane(lon, lat))
        vertices = np.column_stack(plane.to_plane(self.vertices[:, 0], self.vertices[:, 1]))
        piece = _nearest(p, vertices[self.first], vertices[self.second], plane.curvature_per_m2)
        first, second = self.first[piece], self.second[piece]
        squared = _squared(p, vertices[first], vertices[second], plane.curvature_per_m2)
        distance = np.sqrt(np.maximum(squared, 0.0))
        foot = _foot(p, vertices[first], vertices[second])
        toward = foot - p
        half_turn = np.radians(np.remainder(lon - plane.lon0 + 180.0, 360.0) - 180.0) / 2.0
        phi, phi0 = np.radians(lat), np.radians(plane.lat0)
        convergence = 2.0 * np.arctan2(
            np.sin(half_turn) * np.sin((phi + phi0) / 2.0), np.cos(half_turn) * np.cos((phi - phi0) / 2.0)
        )
        bearing = np.mod(np.degrees(np.arctan2(toward[:, 0], toward[:, 1]) + convergence), 360.0)
        bearing[bearing >= 360.0] = 0.0
        far = np.flatnonzero(np.hypot(foot[:, 0], foot[:, 1]) > _PLANE_M)
        if far.size:
            a, b = self.vertices[first[far]], self.vertices[second[far]]
            distance[far], bearing[far] = _to_piece(lon[far], lat[far], a, b)
        inside = self._holds(vertices, p) & (distance < _ABSURD_M)
        return np.where(inside, -distance, distance), bearing

    def _holds(self, vertices: Floats, points: Floats) -> NDArray[np.bool_]:
        """Tell which points lie inside a polygon, all in the plane."""
        inside = np.zeros(len(points), dtype=bool)
        for shell, *holes in self.polygons:
            polygon = Polygon(vertices[shell], [vertices[hole] for hole in holes])
            shapely.prepare(polygon)
            inside |= shapely.contains_xy(polygon, points[:, 0], points[:, 1])
        return inside


def _simple(parts: NDArray[Any]) -> Iterator[BaseGeometry]:
    """Give points, lines and polygons, however deep they were collected."""
    for part in parts:
        if part.is_empty:
            continue
        if hasattr(part, "geoms"):
            yield from _simple(shapely.get_parts(part))
        else:
            yield part


def _tiles(lon: Floats, lat: Floats, outline: _Outline) -> Iterator[tuple[NDArray[np.intp], SitePlane]]:
    """Part the points so that each group lies close around the centre of one plane."""
    rows = np.flatnonzero(np.isfinite(lon) & np.isfinite(lat))
    if not rows.size:
        return
    if outline.radius_m <= _PLANE_M:
        near = _near(lon[rows], lat[rows], outline.centre)
        if near.any():
            yield rows[near], SitePlane(*outline.centre)
        rows = rows[~near]
    if not rows.size:
        return
    xyz = earth_centred(lon[rows], lat[rows])
    cells = np.floor(xyz / _TILE_M).astype(np.int64)
    _, group = np.unique(cells, axis=0, return_inverse=True)
    order = np.argsort(group, kind="stable")
    for member in np.split(order, np.flatnonzero(np.diff(group[order])) + 1):
        tile = rows[member]
        yield tile, SitePlane(*centre_of(lon[tile], lat[tile]))


def _near(lon: Floats, lat: Floats, centre: tuple[float, float]) -> NDArray[np.bool_]:
    """Tell which points lie in a square that one plane serves; cheaply, and never too many."""
    half_m = _PLANE_M / 1.5
    north = np.radians(np.abs(lat - centre[1])) * EARTH_RADIUS_M
    turn = np.radians(np.abs(np.remainder(lon - centre[0] + 180.0, 360.0) - 180.0))
    east = turn * np.cos(np.radians(np.minimum(np.abs(lat), abs(centre[1])))) * EARTH_RADIUS_M
    return np.asarray((north < half_m) & (east < half_m))


def _nearest(p: Floats, a: Floats, b: Floats, curvature: float) -> Rows:
    """
    Find the row of the piece that is nearest to each point.

    Where there are many, pieces are bundled into runs as they follow one another. All of a run lies within
    its stray of the chord between its ends, so a run whose chord is farther than the nearest vertex by more
    than the stray is left out.
    """
    size = int(np.sqrt(len(a) / 3.0)) if len(a) > _FEW else 1
    runs = np.minimum(np.arange(0, len(a), size)[:, None] + np.arange(size), len(a) - 1)
    start, middle, stop = a[runs[:, 0]], a[runs[:, size // 2]], b[runs[:, -1]]
    ends = (_squared(v[runs], start[:, None], stop[:, None], 0.0).max(axis=1) for v in (a, b))
    stray = np.sqrt(np.maximum(*ends))
    nearest = np.empty(len(p), dtype=np.intp)
    for rows in np.array_split(np.arange(len(p)), max(1, len(p) * len(runs) // _BLOCK)):
        q = p[rows, None]
        squared = _squared(q, start, stop, curvature)
        if size == 1:
            nearest[rows] = np.argmin(squared, axis=1)
            continue
        apart = np.hypot(q[..., 0] - middle[:, 0], q[..., 1] - middle[:, 1]).min(axis=1)
        reach = apart * (1.0 + 1e-6) + 1e-6
        row, run = np.nonzero(np.sqrt(np.maximum(squared, 0.0)) - stray <= reach[:, None])
        within = _squared(q[row], a[runs[run]], b[runs[run]], curvature)
        best = np.argmin(within, axis=1)
        least = within[np.arange(len(row)), best]
        begin = np.searchsorted(row, np.arange(len(rows)))
        lowest = np.minimum.reduceat(least, begin)[row]
        winner = np.flatnonzero(least == lowest)
        winner = winner[np.unique(row[winner], return_index=True)[1]]
        nearest[rows] = runs[run[winner], best[winner]]
    return nearest


def _squared(p: Floats, a: Floats, b: Floats, curvature: float) -> Floats:
    """Squared distance on the ellipsoid from points to pieces that are straight in the plane."""
    px, py = p[..., 0] - a[..., 0], p[..., 1] - a[..., 1]
    dx, dy = b[..., 0] - a[..., 0], b[..., 1] - a[..., 1]
    t = np.clip((px * dx + py * dy) / np.maximum(dx * dx + dy * dy, 1e-12), 0.0, 1.0)
    px -= t * dx
    py -= t * dy
    # with f the foot and q the point, q × f = q × (q - w) = w × q, where w leads from the foot to the point
    cross = px * p[..., 1] - py * p[..., 0]
    return px * px + py * py - curvature / 3.0 * cross * cross


def _foot(p: Floats, a: Floats, b: Floats) -> Floats:
    """Give the point of each straight piece that is nearest in the plane."""
    ab = b - a
    t = ((p - a) * ab).sum(axis=1) / np.maximum((ab * ab).sum(axis=1), 1e-12)
    return np.asarray(a + np.clip(t, 0.0, 1.0)[:, None] * ab)


def _to_piece(lon: Floats, lat: Floats, a: Floats, b: Floats) -> tuple[Floats, Floats]:
    """Solve for the foot point on one geodesic piece each; distance and bearing to it."""
    length, course = inverse(a[:, 0], a[:, 1], b[:, 0], b[:, 1])
    along = length / 2.0
    for _ in range(6):
        x, y, back = ELLIPSOID.fwd(a[:, 0], a[:, 1], course, along)
        distance, bearing = inverse(x, y, lon, lat)
        turn = np.radians(bearing - np.asarray(back) + 180.0)
        arc = distance / EARTH_RADIUS_M
        step = EARTH_RADIUS_M * np.arctan2(np.cos(turn) * np.sin(arc), np.cos(arc))
        moved = np.clip(along + step, 0.0, length)
        if np.all(np.abs(moved - along) < 1e-5):
            break
        along = moved
    x, y = direct(a[:, 0], a[:, 1], course, along)
    return inverse(lon, lat, x, y)
