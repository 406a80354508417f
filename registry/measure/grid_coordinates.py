"""Easting and northing of geographic coordinates on the same datum, and the UTM grid of a place."""

from functools import lru_cache

import numpy as np
from numpy.typing import ArrayLike, NDArray
from pyproj import CRS, Transformer
from pyproj.enums import TransformDirection

from registry.errors import FrameError
from registry.measure.datum import ResolvedFrame, resolve

__all__ = ["to_grid", "utm_grid", "utm_zone"]

Floats = NDArray[np.float64]

#: How far outside its area of use a projection is still printed. Units: degrees.
_MARGIN_DEG = 3.0
#: What a projection must bring back to be believed. Units: degrees (1 mm).
_ROUND_TRIP_DEG = 1e-8


def to_grid(lon_deg: ArrayLike, lat_deg: ArrayLike, code: str) -> tuple[Floats, Floats]:
    """
    Project longitude and latitude without any change of datum: the inverse of ``datum.to_geographic``.

    Parameters
    ----------
    lon_deg, lat_deg : array_like
        In the geographic frame under the projection. Broadcast together. Units: degrees.
    code : str
        A projected system, as "EPSG:26918".

    Returns
    -------
    easting, northing : numpy.ndarray
        In the unit of the system's axes.

    Raises
    ------
    FrameError
        If the system is not projected, or a point lies far outside the area for which it is made.

    Sources
    -------
    The projections are PROJ's; checked against published worked examples in the tests.

    Examples
    --------
    >>> easting, northing = to_grid(-119.28721622222, 47.19027776944, "EPSG:6340")
    >>> f"{float(easting):.3f} {float(northing):.3f}"
    '326734.825 5228847.071'
    """
    found = resolve(code)
    if not found.projected:
        what = f"{found.code} ({found.name}) has no easting and northing."
        raise FrameError(what, remedy="Name a projected grid, as EPSG:26918.")
    lon, lat = np.broadcast_arrays(np.asarray(lon_deg, dtype=float), np.asarray(lat_deg, dtype=float))
    west, south, east, north = found.box
    width = (east - west) % 360.0 or 360.0
    good = (lat >= south - _MARGIN_DEG) & (lat <= north + _MARGIN_DEG)
    good &= (lon - west + _MARGIN_DEG) % 360.0 <= width + 2.0 * _MARGIN_DEG
    transformer = _projection(found.code)
    x, y = (np.asarray(a) for a in transformer.transform(lon, lat, direction=TransformDirection.INVERSE))
    back_lon, back_lat = transformer.transform(x, y)
    with np.errstate(invalid="ignore"):
        good &= np.abs((back_lon - lon + 180.0) % 360.0 - 180.0) <= _ROUND_TRIP_DEG
        good &= np.abs(back_lat - lat) <= _ROUND_TRIP_DEG
    if not np.all(good):
        i = int(np.argmin(good.ravel()))
        place = f"{lat.ravel()[i]:.4f}, {lon.ravel()[i]:.4f}"
        what = f"{place} lies outside the area of {found.code} ({found.name})."
        raise FrameError(what, remedy="Name the grid of the zone in which the position lies.")
    return x, y


@lru_cache(maxsize=64)
def _projection(code: str) -> Transformer:
    """Build the transformer from a grid to its own geographic system: no datum is touched."""
    crs = CRS.from_user_input(code)
    geographic = crs.geodetic_crs
    assert geographic is not None
    return Transformer.from_crs(crs, geographic, always_xy=True)


def utm_zone(lon_deg: float, lat_deg: float) -> int:
    """
    Give the UTM zone of a place, with its exceptions around Norway and Svalbard.

    Sources
    -------
    NGA.SIG.0012, universal grids (from memory): zones of six degrees; 32V and 31X to 37X are widened.

    Examples
    --------
    >>> utm_zone(-77.3, 34.0), utm_zone(5.0, 60.0), utm_zone(180.0, 0.0)
    (18, 32, 1)
    """
    lon = (lon_deg + 180.0) % 360.0 - 180.0
    if 56.0 <= lat_deg < 64.0 and 3.0 <= lon < 12.0:
        return 32
    if 72.0 <= lat_deg <= 84.0 and 0.0 <= lon < 42.0:
        return 31 + 2 * int((lon + 3.0) // 12.0)
    return int((lon + 180.0) // 6.0) + 1


def utm_grid(frame: ResolvedFrame, lon_deg: float, lat_deg: float) -> ResolvedFrame:
    """
    Find the UTM grid (in Australia the map grid, which is the same) of a frame for a place.

    Raises
    ------
    FrameError
        If the frame has none there.

    Examples
    --------
    >>> utm_grid(resolve("NAD83(2011)"), -77.3, 34.0).code, utm_grid(resolve("GDA2020"), 151.5, -34.0).code
    ('EPSG:6347', 'EPSG:7856')
    """
    zone = utm_zone(lon_deg, lat_deg)
    datum = "WGS 84" if frame.dynamic else frame.base_name
    side = "N" if lat_deg >= 0 else "S"
    outside = not -80.0 <= lat_deg <= 84.0
    for name in (f"{datum} / UTM zone {zone}{side}", f"{datum} / MGA zone {zone}"):
        try:
            found = resolve(name)
        except FrameError:
            continue
        if not outside:
            return found
    what = f"{frame.name} has no UTM grid in zone {zone}{side} at latitude {lat_deg:.1f}."
    raise FrameError(what, remedy="Name a grid by its EPSG code with --to, or choose another notation.")
