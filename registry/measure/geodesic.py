"""
How far, and in which direction, along the shortest line on the ellipsoid.

All coordinates are geographic degrees in one plate-fixed frame, in the order longitude, latitude. The
ellipsoid is GRS 80; on WGS 84, whose flattening differs in the ninth digit, every distance of this trade
comes out the same to a micrometre.
"""

import math

import numpy as np
from numpy.typing import ArrayLike, NDArray
from pyproj import Geod

__all__ = [
    "EARTH_RADIUS_M",
    "ELLIPSOID",
    "FARTHEST_M",
    "FLATTENING",
    "SEMI_MAJOR_M",
    "SitePlane",
    "centre_of",
    "direct",
    "earth_centred",
    "earth_centred_axes",
    "inverse",
    "near_surface",
]

#: The ellipsoid of every home frame. Source: Moritz, Geodetic Reference System 1980.
ELLIPSOID = Geod(ellps="GRS80")
#: Units: m.
SEMI_MAJOR_M = float(ELLIPSOID.a)
#: Dimensionless.
FLATTENING = float(ELLIPSOID.f)
#: Mean radius (2a + b) / 3 of GRS 80, for bounds and corrections only. Units: m.
EARTH_RADIUS_M = SEMI_MAJOR_M * (1.0 - FLATTENING / 3.0)
#: Half way round the ellipsoid is nearer than this. Units: m.
FARTHEST_M = 21_000_000.0

Floats = NDArray[np.float64]

_E2 = FLATTENING * (2.0 - FLATTENING)


def inverse(lon1: ArrayLike, lat1: ArrayLike, lon2: ArrayLike, lat2: ArrayLike) -> tuple[Floats, Floats]:
    """
    Measure the shortest line between points, and the true bearing in which it sets out.

    Parameters
    ----------
    lon1, lat1, lon2, lat2 : array_like
        From the first point to the second; broadcast together. Units: degrees.

    Returns
    -------
    distance_m, bearing_deg : numpy.ndarray
        Length of the geodesic, and its azimuth at the first point, 0 to below 360, clockwise from true north.

    Sources
    -------
    Karney, "Algorithms for geodesics", J. Geodesy 87 (2013), as PROJ implements it.

    Examples
    --------
    >>> distance_m, bearing_deg = inverse(-78.0, 33.0, -77.9892994586, 32.9999995414)
    >>> f"{distance_m:.3f} m toward {bearing_deg:.3f}"
    '1000.000 m toward 90.000'
    """
    p, q, r, s = np.broadcast_arrays(*(np.asarray(a, dtype=float) for a in (lon1, lat1, lon2, lat2)))
    azimuth, _, distance = ELLIPSOID.inv(p.copy(), q.copy(), r.copy(), s.copy())
    return np.asarray(distance, dtype=float)[()], _full_circle(azimuth)[()]


def direct(
    lon: ArrayLike, lat: ArrayLike, bearing_deg: ArrayLike, distance_m: ArrayLike
) -> tuple[Floats, Floats]:
    """
    Walk along a geodesic.

    Parameters
    ----------
    lon, lat : array_like
        Where to start. Units: degrees.
    bearing_deg, distance_m : array_like
        True bearing at the start, and how far to go. All four broadcast together.

    Returns
    -------
    lon, lat : numpy.ndarray
        Where one arrives; longitude from -180 to 180. Units: degrees.

    Examples
    --------
    >>> lon, lat = direct(-78.0, 33.0, 118.5, 23.7)
    >>> f"{lat:.10f} {lon:.10f}"
    '32.9998980322 -77.9997771297'
    """
    p, q, z, s = np.broadcast_arrays(
        *(np.asarray(a, dtype=float) for a in (lon, lat, bearing_deg, distance_m))
    )
    lon2, lat2, _ = ELLIPSOID.fwd(p.copy(), q.copy(), z.copy(), s.copy())
    return np.asarray(lon2, dtype=float)[()], np.asarray(lat2, dtype=float)[()]


def _full_circle(azimuth_deg: ArrayLike) -> Floats:
    """Bring azimuths into 0 to below 360."""
    turned = np.mod(np.asarray(azimuth_deg, dtype=float), 360.0)
    return np.asarray(np.where(turned >= 360.0, 0.0, turned))


def earth_centred(lon: ArrayLike, lat: ArrayLike) -> Floats:
    """
    Place points of the ellipsoid in Earth-centred coordinates.

    Returns
    -------
    numpy.ndarray, shape (n, 3)
        X, Y, Z at ellipsoidal height zero. Units: m.

    Examples
    --------
    >>> earth_centred([0.0], [0.0]).round(3).tolist()
    [[6378137.0, 0.0, 0.0]]
    """
    return np.ascontiguousarray(earth_centred_axes(lon, lat).T)


def earth_centred_axes(lon: ArrayLike, lat: ArrayLike) -> Floats:
    """
    Place points in Earth-centred coordinates, axis by axis: quicker to pick many points from.

    Returns
    -------
    numpy.ndarray, shape (3, n)
        X, Y, Z at ellipsoidal height zero. Units: m.
    """
    lam, phi = np.radians(np.atleast_1d(lon)), np.radians(np.atleast_1d(lat))
    z, across = np.sin(phi), np.cos(phi)
    prime_vertical = SEMI_MAJOR_M / np.sqrt(1.0 - _E2 * z**2)
    across *= prime_vertical
    z *= prime_vertical
    z *= 1.0 - _E2
    return np.stack((across * np.cos(lam), across * np.sin(lam), z))


def centre_of(lon: ArrayLike, lat: ArrayLike) -> tuple[float, float]:
    """
    Find a point in the middle of points, right across the 180th meridian and at the poles.

    Returns
    -------
    lon, lat : float
        Units: degrees.

    Examples
    --------
    >>> lon, lat = centre_of([179.0, -179.0], [10.0, 10.0])
    >>> round(abs(lon)), round(lat, 1)
    (180, 10.0)
    """
    x, y, z = earth_centred(lon, lat).mean(axis=0).tolist()
    return near_surface(x, y, z)


def near_surface(x_m: float, y_m: float, z_m: float) -> tuple[float, float]:
    """
    Give the place on the ellipsoid beside a point that is at most some kilometres off it.

    Returns
    -------
    lon, lat : float
        Units: degrees.

    Examples
    --------
    >>> [round(v, 6) for v in near_surface(*earth_centred([-77.0], [34.0])[0])]
    [-77.0, 34.0]
    """
    across = math.hypot(x_m, y_m)
    return math.degrees(math.atan2(y_m, x_m)), math.degrees(math.atan2(z_m, across * (1.0 - _E2)))


class SitePlane:
    """
    A plane in metres around one point, in which distances and bearings from that point are exact.

    The azimuthal equidistant projection of the ellipsoid. Between two other points of a site the plane is
    long by at most ``d * r**2 / (6 R**2)`` (r: their distance from the centre), 3 mm in a site of 20 km.

    Parameters
    ----------
    lon0, lat0 : float
        The centre. Units: degrees.

    Notes
    -----
    Made from the geodesic problems themselves: as a projection, PROJ (9.5.1) draws whatever lies within
    0.6 mm of the centre onto the centre, and a centre that close to the equator onto the equator.

    Examples
    --------
    >>> plane = SitePlane(-77.0, 34.0)
    >>> east, north = plane.to_plane([-77.0], [34.01])
    >>> f"{east[0]:.3f} {north[0]:.3f}"
    '0.000 1109.225'
    """

    def __init__(self, lon0: float, lat0: float) -> None:
        self.lon0 = float(lon0)
        self.lat0 = float(lat0)

    @property
    def curvature_per_m2(self) -> float:
        """Gaussian curvature of the ellipsoid at the centre. Units: 1/m²."""
        sin_phi = math.sin(math.radians(self.lat0))
        w2 = 1.0 - _E2 * sin_phi**2
        return w2**2 / (SEMI_MAJOR_M**2 * (1.0 - _E2))

    def to_plane(self, lon: ArrayLike, lat: ArrayLike) -> tuple[Floats, Floats]:
        """Project longitude and latitude (degrees) to east and north of the centre (m)."""
        distance, bearing = inverse(self.lon0, self.lat0, lon, lat)
        azimuth = np.radians(bearing)
        return distance * np.sin(azimuth), distance * np.cos(azimuth)

    def from_plane(self, east_m: ArrayLike, north_m: ArrayLike) -> tuple[Floats, Floats]:
        """Bring east and north of the centre (m) back to longitude and latitude (degrees)."""
        east, north = np.asarray(east_m, dtype=float), np.asarray(north_m, dtype=float)
        return direct(self.lon0, self.lat0, np.degrees(np.arctan2(east, north)), np.hypot(east, north))
