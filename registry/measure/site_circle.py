"""A point in the middle of an area that a plotter can be given, and how far the area reaches from it."""

from typing import NamedTuple

import shapely
from shapely.geometry.base import BaseGeometry

from registry.measure.digits import Notation, coordinate_decimals
from registry.measure.geodesic import inverse

__all__ = ["SiteCircle", "site_circle"]


class SiteCircle(NamedTuple):
    """A point and a radius."""

    #: Units: degrees, longitude in [-180, 180); with as many digits as the size of the area deserves.
    lon_deg: float
    lat_deg: float
    decimals: int
    #: From that very point to the farthest of the area. Units: m.
    radius_m: float


def site_circle(shape: BaseGeometry) -> SiteCircle:
    """
    Give the centroid of an area, or another point within it where the centroid lies outside.

    Parameters
    ----------
    shape : shapely geometry
        Polygons in longitude and latitude, which may run on past 180. Units: degrees.

    Notes
    -----
    The point is no measurement: its last digit is at most a thirtieth of the radius. The radius is measured
    to the corners of the drawn outline, as a geodesic.

    Examples
    --------
    >>> circle = site_circle(shapely.box(-77.01, 33.99, -76.99, 34.01))
    >>> circle.lon_deg, circle.lat_deg, circle.decimals, round(circle.radius_m)
    (-77.0, 34.0, 4, 1444)
    """
    middle = shapely.centroid(shape)
    if not shapely.contains(shape, middle):
        middle = shapely.point_on_surface(shape)
    corners = shapely.get_coordinates(shape)
    rough_m = float(inverse(middle.x, middle.y, corners[:, 0], corners[:, 1])[0].max())
    decimals = coordinate_decimals(Notation.DEGREES, max(rough_m / 10.0, 0.1))
    lon_deg, lat_deg = round(middle.x, decimals) + 0.0, round(middle.y, decimals) + 0.0
    radius_m = float(inverse(lon_deg, lat_deg, corners[:, 0], corners[:, 1])[0].max())
    return SiteCircle((lon_deg + 180.0) % 360.0 - 180.0, lat_deg, decimals, radius_m)
