"""
How a mark on the sea floor moves with its plate, as a receiver sees it.

A receiver works in WGS 84 (ITRF2020), in which every plate turns; a certificate needs the drift to lead
someone to the module in thirty years.

Sources
-------
Altamimi, Z., et al., ITRF2020 plate motion model, doi 10.1029/2023GL106373: the rotation rates in the
``ITRF2020`` init file that PROJ carries, with the translation rate of the origin (its rows ``_T``). With
it the model meets the velocities published for station TTCD and for Australia to 0.4 mm a year, without it
to 0.8.
"""

from functools import lru_cache

import numpy as np
from numpy.typing import ArrayLike, NDArray
from pyproj import Geod, Transformer

from registry.errors import FrameError

__all__ = ["PLATES", "drift", "moved", "velocity"]

Floats = NDArray[np.float64]

#: Plates of the model, by its own abbreviations, with their names in a sentence.
PLATES = {
    "AMUR": "Amurian plate",
    "ANTA": "Antarctic plate",
    "ARAB": "Arabian plate",
    "AUST": "Australian plate",
    "CARB": "Caribbean plate",
    "EURA": "Eurasian plate",
    "INDI": "Indian plate",
    "NAZC": "Nazca plate",
    "NOAM": "North American plate",
    "NUBI": "Nubian plate",
    "PCFC": "Pacific plate",
    "SOAM": "South American plate",
    "SOMA": "Somalian plate",
}

#: Any epoch will do: the model turns at a constant rate.
_START = 2010.0
#: Over which the velocity is taken; long enough to be exact to 0.001 mm a year.
_VELOCITY_YEARS = 10.0
_GEOD = Geod(ellps="GRS80")


@lru_cache(maxsize=32)
def _turning(plate: str) -> Transformer:
    """Build the transformer that moves a point with its plate from the start to an epoch."""
    if plate not in PLATES:
        what = f"{plate!r} is not a plate of the ITRF2020 model."
        raise FrameError(what, remedy=f"It is one of {', '.join(PLATES)}.")
    return Transformer.from_pipeline(
        "+proj=pipeline +step +proj=unitconvert +xy_in=deg +xy_out=rad +step +proj=cart +ellps=GRS80 "
        f"+step +init=ITRF2020:{plate}_T +t_epoch={_START} "
        "+step +inv +proj=cart +ellps=GRS80 +step +proj=unitconvert +xy_in=rad +xy_out=deg"
    )


def moved(lon_deg: ArrayLike, lat_deg: ArrayLike, *, plate: str, years: ArrayLike) -> tuple[Floats, Floats]:
    """
    Move fixed marks with their plate, as ITRF2020 coordinates change.

    Parameters
    ----------
    lon_deg, lat_deg : array_like
        ITRF2020 (WGS 84). Broadcast together with `years`. Units: degrees.
    plate : str
        Abbreviation of the plate, a key of :data:`PLATES`.
    years : array_like
        How long; negative for back in time. Units: year.

    Returns
    -------
    lon_deg, lat_deg : numpy.ndarray
        Coordinates of the same marks then. Units: degrees.

    Raises
    ------
    FrameError
        If the model has no such plate or a number is not finite.

    Examples
    --------
    >>> lon, lat = moved(-157.0, 21.0, plate="PCFC", years=30.0)
    >>> f"{float(lat):.7f} {float(lon):.7f}"
    '21.0000094 -157.0000179'
    """
    numbers = (np.asarray(a, dtype=float) for a in (lon_deg, lat_deg, years))
    lon, lat, span = np.broadcast_arrays(*numbers)
    if not (np.isfinite(lon) & (np.abs(lat) <= 90.0) & np.isfinite(span)).all():
        raise FrameError("A point or a number of years is not a number.", remedy="Give degrees and years.")
    x, y, _, _ = _turning(plate).transform(
        lon.ravel(), lat.ravel(), np.zeros(lon.size), _START + span.ravel()
    )
    return np.asarray(x).reshape(lon.shape), np.asarray(y).reshape(lon.shape)


def velocity(lon_deg: ArrayLike, lat_deg: ArrayLike, *, plate: str) -> tuple[Floats, Floats]:
    """
    Give the velocity of fixed marks in ITRF2020.

    Parameters
    ----------
    lon_deg, lat_deg : array_like
        Units: degrees.
    plate : str
        Abbreviation of the plate, a key of :data:`PLATES`.

    Returns
    -------
    north_mm_per_year, east_mm_per_year : numpy.ndarray

    Raises
    ------
    FrameError
        If the model has no such plate or a number is not finite.

    Notes
    -----
    The plate as a rigid shell: near its edges (California, the Caribbean) the true velocity lies between
    those of the neighbours.

    Examples
    --------
    >>> north, east = velocity(-78.0, 33.0, plate="NOAM")
    >>> f"{float(north):.2f} {float(east):.2f}"
    '3.68 -13.17'
    """
    distance_m, azimuth_deg = drift(lon_deg, lat_deg, plate=plate, years=_VELOCITY_YEARS)
    rate, azimuth = distance_m / _VELOCITY_YEARS * 1000.0, np.radians(azimuth_deg)
    return rate * np.cos(azimuth), rate * np.sin(azimuth)


def drift(lon_deg: ArrayLike, lat_deg: ArrayLike, *, plate: str, years: ArrayLike) -> tuple[Floats, Floats]:
    """
    Say how far and which way a receiver's position of fixed marks will have moved.

    Parameters
    ----------
    lon_deg, lat_deg : array_like
        Units: degrees.
    plate : str
        Abbreviation of the plate, a key of :data:`PLATES`.
    years : array_like
        Units: year.

    Returns
    -------
    distance_m, azimuth_deg : numpy.ndarray
        Geodesic distance, and true azimuth clockwise from north, 0 to below 360.

    Raises
    ------
    FrameError
        If the model has no such plate or a number is not finite.

    Examples
    --------
    >>> distance_m, azimuth_deg = drift(-78.0, 33.0, plate="NOAM", years=30.0)
    >>> f"{float(distance_m):.2f} m toward {float(azimuth_deg):.0f}"
    '0.41 m toward 286'
    """
    lon, lat = moved(lon_deg, lat_deg, plate=plate, years=years)
    from_lon, from_lat, _ = np.broadcast_arrays(
        np.asarray(lon_deg, dtype=float), np.asarray(lat_deg, dtype=float), np.asarray(years, dtype=float)
    )
    azimuth, _, distance = _GEOD.inv(from_lon.ravel(), from_lat.ravel(), lon.ravel(), lat.ravel())
    return np.asarray(distance).reshape(lon.shape), np.asarray(azimuth).reshape(lon.shape) % 360.0
