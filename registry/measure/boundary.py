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

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache
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
    near_surface,
)
from registry.measure.pieces import Pieces, squared_in_plane
from registry.measure.small_sites import SmallSites

__all__ = ["Boundary", "distance_to", "signed_distance", "signed_distances"]

Floats = NDArray[np.float64]
Rows = NDArray[np.intp]

#: How far from its centre one plane is trusted with distances. Units: m.
_PLANE_M = 12_000.0
#: Side of a cube whose points get a plane of their own; none is then 20 km from its centre. Units: m.
_TILE_M = 11_000.0
#: How far a piece of an edge may part from its straight image in the plane. Units: m.
_SAG_M = 2e-5
#: No area of this trade holds a point that is this far from its boundary. Units: m.
_ABSURD_M = 5e6
#: So many areas are kept as they were taken apart.
_SITES_KEPT = 64


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


def signed_distances(
    lon: ArrayLike,
    lat: ArrayLike,
    shapes: Sequence[Polygon | MultiPolygon],
    which: ArrayLike,
    edges: Sequence[Edges],
) -> Floats:
    """
    Measure how far inside its own area each of many points lies.

    Parameters
    ----------
    lon, lat : array_like, shape (n,)
        The points. Units: degrees, in the frame of their areas.
    shapes : sequence of Polygon or MultiPolygon, length k
        The areas.
    which : array_like of int, shape (n,)
        Row of ``shapes`` for each point; -1 where there is none. Points of one area that follow one another
        are measured fastest.
    edges : sequence of {"geodesic", "rhumb"}, length k
        How the edges of each area run.

    Returns
    -------
    numpy.ndarray, shape (n,)
        As :func:`signed_distance` gives it, to 0.1 mm; NaN where there is no point or no area.

    Raises
    ------
    GeometryError
        If a shape that is asked for is empty or no polygon.

    Examples
    --------
    >>> square = Polygon([(-77.01, 34.0), (-76.99, 34.0), (-76.99, 34.02), (-77.01, 34.02)])
    >>> inside_m = signed_distances([-77.002, -76.992], [34.005, 33.999], [square], [0, 0], ["geodesic"])
    >>> inside_m.round(2).tolist()
    [554.57, -110.94]
    """
    p, q = np.broadcast_arrays(np.atleast_1d(np.asarray(lon, float)), np.atleast_1d(np.asarray(lat, float)))
    area = np.broadcast_to(np.atleast_1d(np.asarray(which, dtype=np.intp)), p.shape)
    order = None if np.all(area[1:] >= area[:-1]) else np.argsort(area, kind="stable")
    if order is not None:
        p, q, area = p.take(order), q.take(order), area.take(order)
    inside_m = np.full(p.shape, np.nan)
    begin = np.searchsorted(area, np.arange(len(shapes) + 1))
    asked = np.flatnonzero(np.diff(begin)).tolist()
    if len(asked) == 1:
        sites = _site_of(shapes[asked[0]], edges[asked[0]])
    else:
        sites = SmallSites.among([shapes[k] for k in asked], [edges[k] for k in asked])
    held = np.zeros(len(shapes), dtype=bool)
    member = np.array(asked, dtype=np.intp)[sites.member]
    held[member] = True
    quick = np.flatnonzero(held.take(area) & (area >= 0))
    count = np.diff(begin)[member]
    inside_m[quick] = sites.distance(p.take(quick), q.take(quick), np.cumsum(np.append(0, count)))
    for k in asked:
        rest = begin[k] + np.flatnonzero(np.isnan(inside_m[begin[k] : begin[k + 1]]))
        if rest.size:
            inside_m[rest] = signed_distance(p[rest], q[rest], shapes[k], edges[k]).distance_m
    if order is None:
        return inside_m
    found = np.empty_like(inside_m)
    found[order] = inside_m
    return found


@lru_cache(maxsize=_SITES_KEPT)
def _site_of(shape: Polygon | MultiPolygon, edges: Edges) -> SmallSites:
    """Take an area apart once, since a crew asks of one area again and again."""
    return SmallSites.among([shape], [edges])


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
        piece = Pieces(vertices[self.first], vertices[self.second]).nearest(p.T, plane.curvature_per_m2)
        first, second = self.first[piece], self.second[piece]
        squared = squared_in_plane(p, vertices[first], vertices[second], plane.curvature_per_m2)
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
        # The plane is the cube's own: what is measured of a point does not depend on who shares its cube.
        x, y, z = ((cells[member[0]] + 0.5) * _TILE_M).tolist()
        yield rows[member], SitePlane(*near_surface(x, y, z))


def _near(lon: Floats, lat: Floats, centre: tuple[float, float]) -> NDArray[np.bool_]:
    """Tell which points lie in a square that one plane serves; cheaply, and never too many."""
    half_m = _PLANE_M / 1.5
    north = np.radians(np.abs(lat - centre[1])) * EARTH_RADIUS_M
    turn = np.radians(np.abs(np.remainder(lon - centre[0] + 180.0, 360.0) - 180.0))
    east = turn * np.cos(np.radians(np.minimum(np.abs(lat), abs(centre[1])))) * EARTH_RADIUS_M
    return np.asarray((north < half_m) & (east < half_m))


def _foot(p: Floats, a: Floats, b: Floats) -> Floats:
    """Give the point of each straight piece that is nearest in the plane."""
    ab = b - a
    t = ((p - a) * ab).sum(axis=1) / np.maximum((ab * ab).sum(axis=1), 1e-12)
    return np.asarray(a + np.clip(t, 0.0, 1.0)[:, None] * ab)


def _to_piece(lon: Floats, lat: Floats, a: Floats, b: Floats) -> tuple[Floats, Floats]:
    """Solve for the foot point on one geodesic piece each; distance and bearing to it."""
    length, course = inverse(a[:, 0], a[:, 1], b[:, 0], b[:, 1])
    along = length / 2.0
    # Each point goes on for as long as it needs, whoever else is measured.
    going = np.arange(len(along))
    for _ in range(6):
        x, y, back = ELLIPSOID.fwd(a[going, 0], a[going, 1], course[going], along[going])
        distance, bearing = inverse(x, y, lon[going], lat[going])
        turn = np.radians(bearing - np.asarray(back) + 180.0)
        arc = distance / EARTH_RADIUS_M
        step = EARTH_RADIUS_M * np.arctan2(np.cos(turn) * np.sin(arc), np.cos(arc))
        moved = np.clip(along[going] + step, 0.0, length[going])
        far = np.abs(moved - along[going]) >= 1e-5
        along[going] = moved
        going = going[far]
        if not going.size:
            break
    x, y = direct(a[:, 0], a[:, 1], course, along)
    return inverse(lon, lat, x, y)
