"""Any shape cut at the 180th meridian, lines and points like areas, for formats that end there."""

from collections.abc import Iterator

import numpy as np
import shapely
from shapely import GeometryCollection, LineString, MultiLineString, MultiPoint, MultiPolygon, Point, Polygon
from shapely.geometry.base import BaseGeometry, BaseMultipartGeometry

from registry.measure.antimeridian import split_at_antimeridian, unwrap_ring

__all__ = ["cut_at_antimeridian", "single_parts"]


def cut_at_antimeridian(shape: BaseGeometry) -> BaseGeometry:
    """
    Cut a shape so that every longitude lies from -180 to 180.

    Parameters
    ----------
    shape : shapely geometry
        Lines and rings may run on past 180 or jump. Units: degrees.

    Returns
    -------
    shapely geometry
        The shape itself, or its parts on both sides.

    Sources
    -------
    RFC 7946, section 3.1.9.

    Examples
    --------
    >>> cut_at_antimeridian(LineString([(170.0, 45.0), (190.0, 45.0)]))
    <MULTILINESTRING ((170 45, 180 45), (-180 45, -170 45))>
    """
    if isinstance(shape, Polygon | MultiPolygon):
        return split_at_antimeridian(shape)
    parts = [piece for part in single_parts(shape) for piece in _pieces(part)]
    if len(parts) == 1:
        return parts[0]
    lines = [part for part in parts if isinstance(part, LineString)]
    points = [part for part in parts if isinstance(part, Point)]
    if len(lines) == len(parts):
        return MultiLineString(lines)
    return MultiPoint(points) if len(points) == len(parts) else GeometryCollection(parts)


def single_parts(shape: BaseGeometry) -> Iterator[BaseGeometry]:
    """Give the points, lines and polygons of a shape, however deep they were collected."""
    if isinstance(shape, BaseMultipartGeometry):
        for part in shape.geoms:
            yield from single_parts(part)
    elif not shape.is_empty:
        yield shape


def _pieces(part: BaseGeometry) -> Iterator[BaseGeometry]:
    if isinstance(part, Polygon):
        yield from single_parts(split_at_antimeridian(part))
        return
    coords = unwrap_ring(shapely.get_coordinates(part))
    west, east = float(coords[:, 0].min()), float(coords[:, 0].max())
    if isinstance(part, Point):
        yield part if -180 <= west <= 180 else Point((west + 180) % 360 - 180, coords[0, 1])
        return
    line = LineString(coords)
    first, last = int(np.floor((west + 180) / 360)), int(np.ceil((east + 180) / 360))
    # A line along the meridian itself is no wider than a point: it lies within one turn.
    for turn in range(first, max(last, first + 1)):
        window = shapely.box(turn * 360.0 - 180, -90, turn * 360.0 + 180, 90)
        inside = line if window.covers(line) else line.intersection(window)
        for piece in single_parts(inside):
            if isinstance(piece, LineString):
                yield LineString(shapely.get_coordinates(piece) - np.array([360.0 * turn, 0.0]))
