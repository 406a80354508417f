"""
Where could the hook go instead? The nearest ground that keeps every distance that is asked.

The search is made in a plane around the asking point, in which distances from that point are exact, and
widens until it finds ground. What it finds is then measured on the ellipsoid and, if it falls short by a
hair, sought again with that hair added.
"""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import ArrayLike, NDArray
from shapely import MultiPolygon, Point, Polygon
from shapely.geometry.base import BaseGeometry

from registry.errors import GeometryError
from registry.measure.antimeridian import join_at_antimeridian
from registry.measure.boundary import distance_to, signed_distance
from registry.measure.edges import Edges, densify
from registry.measure.geodesic import SitePlane, inverse

__all__ = ["Move", "nearest_clear"]

Floats = NDArray[np.float64]

#: Sides of a quarter circle in buffers.
_QUARTER = 32
#: Widens a buffer whose corners lie on the circle until its edges touch the circle from outside.
_OUTSIDE = 1.0 / math.cos(math.pi / (4 * _QUARTER))
#: No more than this is given away where a buffer is wide. Units: m.
_ROOM_M = 0.02
#: Added to every distance so that rounding stays on the safe side. Units: m.
_PAD_M = 1e-3
#: Edges are drawn in the plane by points this far apart. Units: m.
_STEP_M = 1_000.0
#: First reach of the search, and by how much it widens. Units: m.
_FIRST_REACH_M = 25.0
_WIDEN = 4.0
#: How often a spot that falls short is sought again before the search gives up.
_TRIES = 8


@dataclass(frozen=True, slots=True, kw_only=True)
class Move:
    """How to get from here to clear ground."""

    #: Geodesic distance; zero where the asking point is clear itself. Units: m.
    distance_m: float
    #: True bearing, 0 to below 360; zero where there is nowhere to go.
    bearing_deg: float
    #: The clear spot. Units: degrees.
    lon: float
    lat: float


@dataclass(frozen=True, slots=True)
class _Site:
    """All that the spot must keep clear of."""

    area: Polygon | MultiPolygon
    edges: Edges
    setback_m: float
    lon: Floats
    lat: Floats
    radius_m: Floats
    keep_outs: Sequence[tuple[BaseGeometry, float]]

    def shortfall_m(self, lon: float, lat: float) -> float:
        """Measure on the ellipsoid by how much the worst distance falls short; zero or less is clear."""
        short = [self.setback_m - float(signed_distance(lon, lat, self.area, self.edges).distance_m[0])]
        if self.lon.size:
            short.append(float(np.max(self.radius_m - inverse(lon, lat, self.lon, self.lat)[0])))
        short.extend(
            setback_m - float(distance_to(lon, lat, geometry).distance_m[0])
            for geometry, setback_m in self.keep_outs
        )
        return max(short)


def nearest_clear(
    lon: float,
    lat: float,
    *,
    area: Polygon | MultiPolygon,
    edges: Edges,
    setback_m: float = 0.0,
    discs: tuple[ArrayLike, ArrayLike, ArrayLike] = ((), (), ()),
    keep_outs: Sequence[tuple[BaseGeometry, float]] = (),
) -> Move | None:
    """
    Find the nearest spot that lies inside an area and clear of everything.

    Parameters
    ----------
    lon, lat : float
        Where one is. Units: degrees.
    area : Polygon or MultiPolygon
        Where placement is allowed.
    edges : {"geodesic", "rhumb"}
        How the edges of the area run.
    setback_m : float
        Least distance inside the boundary of the area, already widened by the doubt. Units: m.
    discs : tuple of three array_like
        Longitude, latitude (degrees) and radius (m) of circles to stay out of, such as neighbours with
        their spacing, footprints and doubt.
    keep_outs : sequence of (geometry, float)
        Things to stay clear of, each with its least distance in m. Their edges run as geodesics.

    Returns
    -------
    Move or None
        The shortest way to clear ground, at zero distance if the point is clear; None if there is none.

    Raises
    ------
    GeometryError
        If a distance is negative or not a number.

    Notes
    -----
    The spot keeps every distance on the ellipsoid, checked before it is returned. It lies farther than the
    very nearest one by at most 0.03 % of the largest distance asked; a gap narrower than that is not seen.

    Examples
    --------
    In a square of some 2 km, 3 m from a neighbour that asks for 10 m:

    >>> square = Polygon([(-77.01, 34.0), (-76.99, 34.0), (-76.99, 34.02), (-77.01, 34.02)])
    >>> near = [-77.0], [34.010027], [10.0]
    >>> move = nearest_clear(-77.0, 34.01, area=square, edges="geodesic", setback_m=25.0, discs=near)
    >>> f"{move.distance_m:.1f} m toward {move.bearing_deg:.0f}"
    '7.0 m toward 181'
    """
    circles = [np.atleast_1d(np.asarray(v, dtype=float)) for v in discs]
    asked = [setback_m, *circles[2].tolist(), *(distance for _, distance in keep_outs)]
    if not (math.isfinite(lon) and math.isfinite(lat)) or any(not d >= 0.0 for d in asked):
        what = "A position or a distance to keep is negative or not a number."
        raise GeometryError(what, remedy="Give finite coordinates, and distances of zero or more.")
    site = _Site(area, edges, setback_m, circles[0], circles[1], circles[2], keep_outs)
    if site.shortfall_m(lon, lat) <= 0.0:
        return Move(distance_m=0.0, bearing_deg=0.0, lon=float(lon), lat=float(lat))
    pad_m = _PAD_M
    for _ in range(_TRIES):
        spot = _nearest_in_plane(lon, lat, site, pad_m)
        if spot is None:
            return None
        short_m = site.shortfall_m(*spot)
        if short_m <= 0.0:
            distance_m, bearing_deg = inverse(lon, lat, *spot)
            return Move(
                distance_m=float(distance_m), bearing_deg=float(bearing_deg), lon=spot[0], lat=spot[1]
            )
        pad_m += 1.1 * short_m + _PAD_M
    return None


def _nearest_in_plane(lon: float, lat: float, site: _Site, pad_m: float) -> tuple[float, float] | None:
    """Look for clear ground in ever wider circles."""
    plane = SitePlane(lon, lat)
    here = Point(0.0, 0.0)
    area = shapely.make_valid(_flat(plane, densify(join_at_antimeridian(site.area), site.edges, _STEP_M)))
    allowed = area.buffer(-float(_wide(site.setback_m, pad_m)), quad_segs=_QUARTER)
    east, north = plane.to_plane(site.lon, site.lat)
    radii = _wide(site.radius_m, pad_m)
    away = np.hypot(east, north) - radii
    things = [
        (_flat(plane, densify(shape, "geodesic", _STEP_M)), setback_m + pad_m)
        for shape, setback_m in site.keep_outs
    ]
    for reach in _reaches(here, allowed):
        window = here.buffer(reach, quad_segs=_QUARTER)
        near = away <= reach
        circles = zip(east[near], north[near], radii[near], strict=True)
        forbidden: list[BaseGeometry] = [
            Point(x, y).buffer(radius, quad_segs=_QUARTER) for x, y, radius in circles
        ]
        in_reach = (
            (thing, clear_m) for thing, clear_m in things if thing.dwithin(here, reach + 1.01 * clear_m)
        )
        forbidden += [_buffered(thing, clear_m) for thing, clear_m in in_reach]
        ground = allowed.intersection(window).difference(shapely.union_all(forbidden))
        parts = [part for part in shapely.get_parts(ground) if part.area > 0.0]
        if parts:
            spot = min((shapely.shortest_line(here, part) for part in parts), key=shapely.length).coords[-1]
            x, y = plane.from_plane(*spot)
            return float(x), float(y)
    return None


def _reaches(here: Point, allowed: BaseGeometry) -> Iterator[float]:
    """Widen the search from just enough to see the area until it takes in all of it."""
    if allowed.is_empty:
        return
    corners = shapely.get_coordinates(allowed)
    farthest = float(np.hypot(*corners.T).max()) * _OUTSIDE + 1.0
    reach = allowed.distance(here) + _FIRST_REACH_M
    while reach < farthest:
        yield reach
        reach *= _WIDEN
    yield farthest


def _buffered(thing: BaseGeometry, clear_m: float) -> BaseGeometry:
    """Draw all that lies nearer to a thing than a distance, and little more however great it is."""
    sides = max(_QUARTER, math.ceil(math.pi / 4.0 * math.sqrt(clear_m / (2.0 * _ROOM_M))))
    return thing.buffer(clear_m / math.cos(math.pi / (4 * sides)), quad_segs=sides)


def _wide(distance_m: ArrayLike, pad_m: float) -> Floats:
    """Give the radius of a buffer no edge of which comes nearer than a distance and the pad."""
    return np.asarray((np.asarray(distance_m, dtype=float) + pad_m) * _OUTSIDE)


def _flat(plane: SitePlane, shape: BaseGeometry) -> BaseGeometry:
    """Draw a shape in the plane."""
    flat: BaseGeometry = shapely.transform(shape, lambda c: np.column_stack(plane.to_plane(c[:, 0], c[:, 1])))
    return flat
