"""
How the line between two corners runs.

A permit that says "along the parallel" or "on a constant course" means rhumb lines; one that says nothing
is read as geodesics. Between corners 10 km apart at latitude 30 the two lie 1.1 m apart.
"""

from collections.abc import Callable
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray
from shapely import LineString, Point, Polygon
from shapely.geometry.base import BaseGeometry, BaseMultipartGeometry

from registry.errors import GeometryError
from registry.measure.antimeridian import unwrap_polygon, unwrap_ring
from registry.measure.geodesic import EARTH_RADIUS_M, FLATTENING, direct, inverse

__all__ = ["Edges", "densify", "geodesic_circle", "run_edges"]

Edges = Literal["geodesic", "rhumb"]
Floats = NDArray[np.float64]

#: The longest stretch of a rhumb line that is taken as a geodesic, whatever the latitude. Units: m.
RHUMB_STEP_M = 500.0
#: How far a rhumb line may lie from the geodesics that stand for it. Units: m.
RHUMB_GAP_M = 1e-4
#: How far a circle may lie from its polygon. Units: m.
SAGITTA_M = 1e-3

_ECCENTRICITY = float(np.sqrt(FLATTENING * (2.0 - FLATTENING)))


def run_edges(coords: ArrayLike, edges: Edges, step_m: float) -> Floats:
    """
    Put points along the edges of a ring or line, so that what lies between them is a short geodesic.

    Parameters
    ----------
    coords : array_like, shape (n, 2)
        Corners, longitude and latitude; a ring repeats its first. Units: degrees.
    edges : {"geodesic", "rhumb"}
        How the line between two corners runs.
    step_m : float
        Greatest distance between neighbours. On rhumb lines the steps are shorter where needed: at most
        500 m, and short enough to stay within 0.1 mm of the line.

    Returns
    -------
    numpy.ndarray, shape (m, 2)
        The corners and the points between them, unwrapped.

    Raises
    ------
    GeometryError
        If ``edges`` is neither word.
    """
    ring = unwrap_ring(coords)
    if edges == "geodesic":
        return _run(ring, _geodesic_steps(ring, step_m), _along_geodesic)
    if edges == "rhumb":
        return _run(ring, _rhumb_steps(ring, step_m), _along_rhumb)
    what = f"Edges that run as {edges!r} are not known."
    raise GeometryError(what, remedy='Say "geodesic" (the shortest line) or "rhumb" (a constant course).')


def _run(ring: Floats, steps: NDArray[np.int64], along: Callable[[Floats, Floats, Floats], Floats]) -> Floats:
    """Put ``steps - 1`` points on each edge."""
    if len(ring) < 2:
        return ring
    edge = np.repeat(np.arange(len(steps)), steps)
    first = np.concatenate(([0], np.cumsum(steps)[:-1]))
    k = np.arange(len(edge)) - first[edge]
    line = np.array(ring[edge])
    between = k > 0
    if between.any():
        e = edge[between]
        line[between] = along(ring[e], ring[e + 1], k[between] / steps[e])
    return unwrap_ring(np.vstack((line, ring[-1:])))


def _geodesic_steps(ring: Floats, step_m: float) -> NDArray[np.int64]:
    """Count the steps that each geodesic edge needs."""
    length = np.atleast_1d(inverse(ring[:-1, 0], ring[:-1, 1], ring[1:, 0], ring[1:, 1])[0])
    return np.asarray(np.maximum(1, np.ceil(length / step_m)), dtype=np.int64)


def _along_geodesic(a: Floats, b: Floats, share: Floats) -> Floats:
    """Give the points that lie a share of the way along geodesics."""
    length, course = inverse(a[:, 0], a[:, 1], b[:, 0], b[:, 1])
    return np.column_stack(direct(a[:, 0], a[:, 1], course, share * length))


def _rhumb_steps(ring: Floats, step_m: float) -> NDArray[np.int64]:
    """Count the steps that each rhumb edge needs: a chord leaves it by s² tan(lat) sin(course) / 8R."""
    phi = np.radians(ring[:, 1])
    ends = np.abs(np.column_stack((phi[:-1], phi[1:])))
    lower, upper = ends.min(axis=1), ends.max(axis=1)
    lower = np.where(phi[:-1] * phi[1:] < 0.0, 0.0, lower)
    east = np.abs(np.radians(np.diff(ring[:, 0]))) * np.cos(lower) * EARTH_RADIUS_M * 1.01
    north = np.abs(np.diff(phi)) * EARTH_RADIUS_M * 1.01
    length = np.hypot(east, north)
    bend = np.tan(np.minimum(upper, np.radians(89.9))) * east / np.maximum(length, 1e-9)
    step = np.sqrt(8.0 * EARTH_RADIUS_M * RHUMB_GAP_M / np.maximum(bend, 1e-9))
    count = np.ceil(length / np.minimum(step, min(step_m, RHUMB_STEP_M)))
    return np.asarray(np.maximum(1, count), dtype=np.int64)


def _isometric(phi: Floats) -> Floats:
    """Isometric latitude, in which rhumb lines are straight (Snyder, USGS Prof. Paper 1395, eq. 3-7)."""
    sin_phi = np.sin(phi)
    return np.asarray(np.arctanh(sin_phi) - _ECCENTRICITY * np.arctanh(_ECCENTRICITY * sin_phi))


def _along_rhumb(a: Floats, b: Floats, share: Floats) -> Floats:
    """Give the points that lie a share of the change of latitude along rhumb lines."""
    lat = a[:, 1] + share * (b[:, 1] - a[:, 1])
    slanting = np.abs(b[:, 1] - a[:, 1]) > 1e-6
    run = np.array(share)
    if slanting.any():
        psi_a, psi, psi_b = (_isometric(np.radians(v[slanting])) for v in (a[:, 1], lat, b[:, 1]))
        run[slanting] = (psi - psi_a) / (psi_b - psi_a)
    return np.column_stack((a[:, 0] + run * (b[:, 0] - a[:, 0]), lat))


def densify(shape: BaseGeometry, edges: Edges, step_m: float) -> BaseGeometry:
    """
    Draw edges as the permit means them, for maps and exports that join points by straight lines.

    Parameters
    ----------
    shape : shapely geometry
        Corners in longitude and latitude. Units: degrees.
    edges : {"geodesic", "rhumb"}
        How the line between two corners runs.
    step_m : float
        Greatest distance between neighbouring points. Units: m.

    Returns
    -------
    shapely geometry
        Of the same kind. A ring across the 180th meridian runs on past 180.

    Examples
    --------
    The shortest line between two points of one parallel leaves it toward the pole:

    >>> line = densify(LineString([(-77.1, 30.0), (-76.9, 30.0)]), "geodesic", 10_000.0)
    >>> [round(lat, 5) for _, lat in line.coords]
    [30.0, 30.00004, 30.0]
    """
    if shape.is_empty or isinstance(shape, Point):
        return shape
    if isinstance(shape, Polygon):
        shell = run_edges(shape.exterior.coords, edges, step_m)
        return unwrap_polygon(Polygon(shell, [run_edges(h.coords, edges, step_m) for h in shape.interiors]))
    if isinstance(shape, BaseMultipartGeometry):
        kind: Callable[[list[BaseGeometry]], BaseGeometry] = type(shape)
        return kind([densify(part, edges, step_m) for part in shape.geoms])
    return LineString(run_edges(shape.coords, edges, step_m))


def geodesic_circle(lon: float, lat: float, radius_m: float) -> Polygon:
    """
    Draw all points at one distance from a centre.

    Parameters
    ----------
    lon, lat : float
        The centre. Units: degrees.
    radius_m : float
        Length of the geodesic from the centre. Units: m.

    Returns
    -------
    Polygon
        Corners on the circle, counter-clockwise; its edges lie inside the circle by less than 1 mm.

    Raises
    ------
    GeometryError
        If the radius is not a finite length above zero, or the centre is no place.

    Examples
    --------
    >>> circle = geodesic_circle(-77.0, 34.0, 100.0)
    >>> distance_m, _ = inverse(-77.0, 34.0, *np.array(circle.exterior.coords).T)
    >>> bool(np.allclose(distance_m, 100.0, atol=1e-6))
    True
    """
    if not (np.isfinite(radius_m) and radius_m > 0):
        what = f"A circle cannot have a radius of {radius_m} m."
        raise GeometryError(what, remedy="Give a length above zero, with its unit.")
    if not (np.isfinite(lon) and np.isfinite(lat) and abs(lat) <= 90):
        what = f"A circle cannot have its centre at longitude {lon}, latitude {lat}."
        raise GeometryError(what, remedy="Give latitude from -90 to 90 and longitude in degrees.")
    count = max(64, int(np.ceil(np.pi * np.sqrt(radius_m / (2.0 * 0.9 * SAGITTA_M)))))
    bearing = np.linspace(360.0, 0.0, count, endpoint=False)
    return Polygon(unwrap_ring(np.column_stack(direct(lon, lat, bearing, radius_m))))
