"""Positions told less exactly than they are known: each is moved to the middle of a square that holds it."""

import numpy as np
from numpy.typing import ArrayLike, NDArray

from registry.measure.geodesic import FLATTENING, SEMI_MAJOR_M

__all__ = ["rounded_places", "rounding_reach_m"]

Floats = NDArray[np.float64]

#: Shortest degree of latitude, at the equator. Units: m.
_LEAST_DEGREE_M = np.radians(1.0) * SEMI_MAJOR_M * (1.0 - FLATTENING) ** 2
#: Half the diagonal of a square, widened since the squares are up to 2.5 % larger than asked.
_HALF_DIAGONAL = 0.725


def rounded_places(lon_deg: ArrayLike, lat_deg: ArrayLike, step_m: float) -> tuple[Floats, Floats]:
    """
    Move points to the middles of squares.

    Parameters
    ----------
    lon_deg, lat_deg : array_like, shape (n,)
        Units: degrees.
    step_m : float
        Side of the squares, which is never shorter on the ground. Units: m.

    Returns
    -------
    lon_deg, lat_deg : numpy.ndarray, shape (n,)
        Longitude in [-180, 180).

    Notes
    -----
    The squares lie in rows along parallels, counted from the equator; a whole number of them goes round each
    row, from Greenwich. Their width follows from the row alone, so that nothing of the true place can be
    worked out of it. The same place always gives the same middle, so that no number of publications together
    tells more than one.

    Examples
    --------
    >>> lon, lat = rounded_places([-77.335167], [34.020833], 1000.0)
    >>> f"{lat[0]:.4f} {lon[0]:.4f}"
    '34.0224 -77.3362'
    """
    high_deg = step_m / _LEAST_DEGREE_M
    row = np.clip(np.round(np.asarray(lat_deg, dtype=float) / high_deg) * high_deg, -90.0, 90.0)
    # As wide as asked at the edge of the row that lies nearer to the pole, where it is narrowest.
    edge = np.minimum(np.abs(row) + high_deg / 2, 89.9)
    wide_deg = np.minimum(high_deg / np.cos(np.radians(edge)), 180.0)
    # A whole number of squares goes round each row, so that none is cut at the antimeridian.
    columns = np.floor(360.0 / wide_deg)
    column = np.round(np.asarray(lon_deg, dtype=float) * columns / 360.0)
    eastward = np.where(2 * column >= columns, column - columns, column)
    return eastward * (360.0 / columns) + 0.0, row + 0.0


def rounding_reach_m(step_m: float) -> float:
    """
    Give how far a point may have been moved at most. Units: m.

    Holds up to 80 degrees of latitude for steps up to 20 km.
    """
    return _HALF_DIAGONAL * step_m
