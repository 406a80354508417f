"""Areas from corners and from drawings, checked before anything is measured against them."""

from collections.abc import Sequence
from typing import TypeVar

import numpy as np
import shapely
from numpy.typing import ArrayLike
from shapely import MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry
from shapely.geometry.polygon import orient
from shapely.validation import explain_validity

from registry.errors import GeometryError
from registry.measure.antimeridian import join_at_antimeridian, unwrap_polygon
from registry.measure.ring import ring_problem

__all__ = ["checked_shape", "shape_from_corners"]

Area = TypeVar("Area", Polygon, MultiPolygon)


def shape_from_corners(corners: ArrayLike, holes: Sequence[ArrayLike] = ()) -> Polygon:
    """
    Make an area from its corners.

    Parameters
    ----------
    corners : array_like, shape (n, 2)
        Longitude and latitude in order, either way round. Units: degrees.
    holes : sequence of such arrays
        Rings inside that do not belong to the area.

    Returns
    -------
    Polygon
        Outer ring counter-clockwise. Longitudes across the 180th meridian run on past 180.

    Raises
    ------
    GeometryError
        If there are fewer than three different corners, edges cross, or a hole does not lie inside.

    Examples
    --------
    >>> shape_from_corners([(179.9, 0.0), (-179.9, 0.0), (-179.9, 0.1), (179.9, 0.1)]).bounds
    (179.9, 0.0, 180.1, 0.1)
    """
    _refuse(corners, "")
    for number, hole in enumerate(holes, start=1):
        _refuse(hole, f"Hole {number}: ")
    rings = [np.asarray(ring, dtype=float) for ring in (corners, *holes)]
    return orient(_valid(unwrap_polygon(Polygon(rings[0], rings[1:]))))


def checked_shape(geometry: BaseGeometry) -> Polygon | MultiPolygon:
    """
    Check an area that was drawn elsewhere.

    Parameters
    ----------
    geometry : shapely geometry
        Longitude and latitude. Parts that meet on the 180th meridian are put together again. Units: degrees.

    Returns
    -------
    Polygon or MultiPolygon
        Without heights, outer rings counter-clockwise, longitudes running on past 180 where need be.

    Raises
    ------
    GeometryError
        If it is empty or no polygon, a ring crosses itself, or its parts overlap.

    Examples
    --------
    >>> checked_shape(shapely.Point(0, 0))
    Traceback (most recent call last):
    registry.errors.GeometryError: A Point bounds no area. Give a polygon.
    """
    if not isinstance(geometry, Polygon | MultiPolygon):
        what = f"A {geometry.geom_type} bounds no area."
        raise GeometryError(what, remedy="Give a polygon.")
    if geometry.is_empty:
        raise GeometryError("The polygon is empty.", remedy="Give at least three corners.")
    parts = [
        shape_from_corners(part.exterior.coords, [ring.coords for ring in part.interiors])
        for part in shapely.get_parts(join_at_antimeridian(shapely.force_2d(geometry)))
        if not part.is_empty
    ]
    return parts[0] if len(parts) == 1 else _valid(MultiPolygon(parts))


def _refuse(corners: ArrayLike, where: str) -> None:
    problem = ring_problem(corners)
    if problem is not None:
        raise GeometryError(f"{where}{problem}", remedy="Check the corners and their order.")


def _valid(shape: Area) -> Area:
    if not shape.is_valid:
        what = f"The area cannot be used: {explain_validity(shape)} (longitude, latitude)."
        raise GeometryError(what, remedy="Holes must lie inside, and parts must not overlap.")
    return shape
