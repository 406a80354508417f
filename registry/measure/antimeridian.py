"""
Shapes that cross the 180th meridian: whole in the registry, cut only for export.

An area cut at the meridian has two new corners, which move its geodesic edges by centimetres, and a seam
that bounds nothing; so the record keeps the whole ring, whose longitudes run on past 180.
"""

import numpy as np
import shapely
from numpy.typing import ArrayLike, NDArray
from shapely import MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry
from shapely.geometry.polygon import orient

from registry.errors import GeometryError

__all__ = ["join_at_antimeridian", "split_at_antimeridian", "unwrap_polygon", "unwrap_ring"]

Floats = NDArray[np.float64]


def unwrap_ring(coords: ArrayLike) -> Floats:
    """
    Let longitudes run on past 180 instead of jumping, so that a ring can be drawn.

    Parameters
    ----------
    coords : array_like, shape (n, 2)
        Longitude and latitude along a ring or line; no edge spans half the globe. Units: degrees.

    Returns
    -------
    numpy.ndarray, shape (n, 2)
        The same points; the first longitude is kept.

    Examples
    --------
    >>> unwrap_ring([(179.0, 1.0), (-179.0, 1.0), (-179.0, 2.0), (179.0, 2.0)])[:, 0].tolist()
    [179.0, 181.0, 181.0, 179.0]
    """
    ring = np.array(np.asarray(coords, dtype=float)[:, :2])
    if len(ring) > 1:
        turns = np.cumsum(np.round(np.diff(ring[:, 0]) / 360.0))
        ring[1:, 0] -= 360.0 * turns
    return ring


def unwrap_polygon(polygon: Polygon) -> Polygon:
    """
    Unwrap every ring of a polygon, with the holes beside their shell.

    Examples
    --------
    >>> unwrap_polygon(Polygon([(179.0, 0.0), (-179.0, 0.0), (-179.0, 1.0), (179.0, 1.0)])).bounds
    (179.0, 0.0, 181.0, 1.0)
    """
    shell = unwrap_ring(polygon.exterior.coords)
    middle = (shell[:, 0].min() + shell[:, 0].max()) / 2.0
    holes = []
    for interior in polygon.interiors:
        hole = unwrap_ring(interior.coords)
        hole[:, 0] += 360.0 * np.round((middle - (hole[:, 0].min() + hole[:, 0].max()) / 2.0) / 360.0)
        holes.append(hole)
    return Polygon(shell, holes)


def join_at_antimeridian(shape: BaseGeometry) -> BaseGeometry:
    """
    Put together again an area that was stored in parts on both sides of the 180th meridian.

    The seam is an artefact of the file format and bounds nothing. Other shapes come back as they are.

    Examples
    --------
    >>> west = Polygon([(179.0, 0.0), (180.0, 0.0), (180.0, 1.0), (179.0, 1.0)])
    >>> east = Polygon([(-180.0, 0.0), (-179.0, 0.0), (-179.0, 1.0), (-180.0, 1.0)])
    >>> join_at_antimeridian(MultiPolygon([west, east])).bounds
    (179.0, 0.0, 181.0, 1.0)
    """
    if not isinstance(shape, MultiPolygon):
        return shape
    west, _, east, _ = shape.bounds
    if west != -180.0 or east != 180.0:
        return shape
    moved = [_turned(part, 1) if part.bounds[0] == -180.0 else part for part in shape.geoms]
    whole = shapely.union_all(moved)
    if not isinstance(whole, Polygon | MultiPolygon):
        return shape
    return whole


def _turned(polygon: Polygon, turns: int) -> Polygon:
    """Move a polygon by whole turns to the east."""
    turn = np.array([360.0 * turns, 0.0])
    shell, *holes = (np.asarray(r.coords)[:, :2] + turn for r in (polygon.exterior, *polygon.interiors))
    return Polygon(shell, holes)


def split_at_antimeridian(shape: Polygon | MultiPolygon) -> Polygon | MultiPolygon:
    """
    Cut an area at the 180th meridian for formats that know longitudes from -180 to 180 only.

    Parameters
    ----------
    shape : Polygon or MultiPolygon
        Rings may run on past 180 or jump. Units: degrees.

    Returns
    -------
    Polygon or MultiPolygon
        Shells counter-clockwise, holes clockwise, all longitudes from -180 to 180.

    Raises
    ------
    GeometryError
        If a ring goes round a pole: it has no two sides at the 180th meridian.

    Notes
    -----
    The cut is made on lines that are straight in longitude and latitude: put points along the edges first
    (:func:`registry.measure.edges.densify`). Keep the whole area as the record; the cut copy is for export.

    Sources
    -------
    RFC 7946 (GeoJSON), sections 3.1.6 and 3.1.9.

    Examples
    --------
    >>> cut = split_at_antimeridian(Polygon([(179.0, 0.0), (-179.0, 0.0), (-179.0, 1.0), (179.0, 1.0)]))
    >>> sorted(part.bounds for part in cut.geoms)
    [(-180.0, 0.0, -179.0, 1.0), (179.0, 0.0, 180.0, 1.0)]
    """
    parts: list[Polygon] = []
    for polygon in shape.geoms if isinstance(shape, MultiPolygon) else [shape]:
        shell = unwrap_ring(polygon.exterior.coords)
        if abs(shell[-1, 0] - shell[0, 0]) > 180.0:
            what = "The ring goes round a pole and cannot be cut at the 180th meridian."
            raise GeometryError(what, remedy="Give the area in two or more parts that leave the pole out.")
        whole = unwrap_polygon(polygon)
        west, _, east, _ = whole.bounds
        for turn in range(int(np.floor((west + 180.0) / 360.0)), int(np.ceil((east + 180.0) / 360.0))):
            window = shapely.box(turn * 360.0 - 180.0, -90.0, turn * 360.0 + 180.0, 90.0)
            inside = whole if window.covers(whole) else whole.intersection(window)
            parts.extend(
                orient(_turned(part, -turn))
                for part in shapely.get_parts(inside)
                if isinstance(part, Polygon) and part.area > 0.0
            )
    return parts[0] if len(parts) == 1 else MultiPolygon(parts)
