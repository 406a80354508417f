"""
From the pressure of sea water to depth and back, and gravity on the way.

Sources
-------
Fofonoff and Millard, Algorithms for computation of fundamental properties of seawater, UNESCO Technical
Papers in Marine Science 44 (1983): Saunders and Fofonoff's formula.
"""

import math

from registry.errors import QuantityError

__all__ = [
    "PA_PER_DBAR",
    "STANDARD_GRAVITY",
    "depth_of_pressure_m",
    "gravity_mps2",
    "metres_per_dbar",
    "pressure_at_depth_dbar",
]

PA_PER_DBAR = 10_000.0
#: By convention, exactly. Units: m/s².
STANDARD_GRAVITY = 9.80665
_DEEPEST_DBAR = 12_000.0


def gravity_mps2(lat_deg: float, pressure_dbar: float = 0.0) -> float:
    """
    Give gravity at sea, as it grows with latitude and half the pressure's depth.

    Raises
    ------
    QuantityError
        If the latitude is none.

    Examples
    --------
    >>> f"{gravity_mps2(34.0):.4f}"
    '9.7965'
    """
    if not abs(lat_deg) <= 90.0:
        what = f"{lat_deg} is not a latitude."
        raise QuantityError(what, remedy="Give degrees from -90 to 90.")
    x = math.sin(math.radians(lat_deg)) ** 2
    return 9.780318 * (1.0 + (5.2788e-3 + 2.36e-5 * x) * x) + 1.092e-6 * pressure_dbar


def depth_of_pressure_m(pressure_dbar: float, lat_deg: float) -> float:
    """
    Find the depth at which a pressure is found.

    Parameters
    ----------
    pressure_dbar : float
        Above that of the air on the surface. Units: dbar.
    lat_deg : float
        Units: degrees.

    Returns
    -------
    float
        Below the surface at that instant. Units: m.

    Raises
    ------
    QuantityError
        If the pressure is negative or greater than in any ocean.

    Notes
    -----
    Holds for a standard ocean of salinity 35 at 0 °C: in warm surface water, some 0.4 % too shallow.

    Examples
    --------
    The check value of the source:

    >>> f"{depth_of_pressure_m(10000.0, 30.0):.3f}"
    '9712.653'
    """
    if not 0.0 <= pressure_dbar <= _DEEPEST_DBAR:
        what = f"A pressure of {pressure_dbar} dbar is not one of sea water."
        raise QuantityError(what, remedy="Give decibars above the air's pressure, zero or more.")
    p = pressure_dbar
    column = (((-1.82e-15 * p + 2.279e-10) * p - 2.2512e-5) * p + 9.72659) * p
    return column / gravity_mps2(lat_deg, p)


def pressure_at_depth_dbar(depth_m: float, lat_deg: float) -> float:
    """
    Find the pressure at a depth: the inverse of :func:`depth_of_pressure_m`.

    Raises
    ------
    QuantityError
        If the depth is negative or greater than in any ocean.

    Examples
    --------
    >>> f"{pressure_at_depth_dbar(9712.653, 30.0):.3f}"
    '10000.000'
    """
    if not 0.0 <= depth_m <= 11_500.0:
        what = f"{depth_m} m is not a depth."
        raise QuantityError(what, remedy="Depths are positive downward, in metres.")
    p = 1.0076 * depth_m
    for _ in range(8):
        p = min(max(p + 1.01 * (depth_m - depth_of_pressure_m(p, lat_deg)), 0.0), _DEEPEST_DBAR)
    return p


def metres_per_dbar(lat_deg: float) -> float:
    """
    Give the layer of usual sea water (1025 kg/m³) that weighs a decibar: turns a small doubt into metres.

    Examples
    --------
    >>> f"{metres_per_dbar(34.0):.4f}"
    '0.9959'
    """
    return PA_PER_DBAR / (1025.0 * gravity_mps2(lat_deg))
