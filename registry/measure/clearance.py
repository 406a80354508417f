"""
Water left over the top of a module, and the share of the water that the module takes.

Sources
-------
JCGM 100:2008 (GUM), 5.1.2: combining independent uncertainties (clause from memory).
"""

import numpy as np
from numpy.typing import ArrayLike, NDArray

from registry.errors import InvalidRecordError
from registry.measure.uncertainty import Length

__all__ = ["clearance_arrays", "clearance_over_module", "share_of_water_column"]

Floats = NDArray[np.float64]


def clearance_over_module(seabed_depth: Length, module_height: Length) -> Length:
    """
    Compute the water left between the top of a module and the depth datum.

    Definition: ``c = d - h``, with ``U_c = sqrt(U_d**2 + U_h**2)``.

    Parameters
    ----------
    seabed_depth : Length
        Depth of the seabed under the module, below the permit's depth datum
        (tide already removed). Positive down. Units: m.
    module_height : Length
        Height of the highest point above that same seabed, not the height as
        cast: subtract any settlement first. Units: m.

    Returns
    -------
    Length
        Clearance below the same datum, with its 95 % uncertainty. Units: m.
        Negative when the module stands above the datum.

    Raises
    ------
    InvalidRecordError
        If the module height is negative.

    Notes
    -----
    The inputs are taken as independent: true of a sounded depth and a
    yard-measured height, not of two readings of one diver gauge.
    Whether the clearance is *enough* is decided in ``registry.rules.clearance``.

    Examples
    --------
    A 1.50 m module on 20.36 m of water, depth good to 0.56 m:

    >>> clearance = clearance_over_module(Length(20.36, 0.56), Length(1.50, 0.05))
    >>> f"{clearance.value_m:.2f} m ± {clearance.u95_m:.2f} m"
    '18.86 m ± 0.56 m'
    """
    value, u95 = clearance_arrays(
        seabed_depth.value_m, seabed_depth.u95_m, module_height.value_m, module_height.u95_m
    )
    return Length(float(value), float(u95))


def clearance_arrays(
    depth_m: ArrayLike, depth_u95_m: ArrayLike, height_m: ArrayLike, height_u95_m: ArrayLike
) -> tuple[Floats, Floats]:
    """
    Compute :func:`clearance_over_module` for many modules.

    Parameters
    ----------
    depth_m, depth_u95_m, height_m, height_u95_m : array_like
        Values and 95 % uncertainties; broadcast together. NaN where unknown. Units: m.

    Returns
    -------
    clearance_m, u95_m : numpy.ndarray
        NaN where an input is unknown.

    Raises
    ------
    InvalidRecordError
        If a height is negative.

    Examples
    --------
    >>> clearance_m, u95_m = clearance_arrays([20.0, 0.5], 0.3, 1.5, 0.4)
    >>> clearance_m.tolist(), u95_m.tolist()
    ([18.5, -1.0], [0.5, 0.5])
    """
    depth, depth_u, height, height_u = _together(depth_m, depth_u95_m, height_m, height_u95_m)
    _refuse_negative(height)
    return (depth - height)[()], np.hypot(depth_u, height_u)[()]


def share_of_water_column(
    height_m: ArrayLike, height_u95_m: ArrayLike, depth_m: ArrayLike, depth_u95_m: ArrayLike
) -> tuple[Floats, Floats]:
    """
    Compute which share of the water column modules take.

    Definition: ``s = h / d``, with ``U_s = sqrt(U_h**2 + (s U_d)**2) / d``.

    Parameters
    ----------
    height_m, height_u95_m, depth_m, depth_u95_m : array_like
        Height above the seabed and depth below the datum, with 95 % uncertainties; broadcast together.
        NaN where unknown. Units: m.

    Returns
    -------
    share, u95 : numpy.ndarray
        0 to 1 for what stays under water. NaN where an input is unknown or the depth is not below the datum.

    Raises
    ------
    InvalidRecordError
        If a height is negative.

    Examples
    --------
    A structure of 20 ft in 40 ft of water:

    >>> share, u95 = share_of_water_column(20 * 0.3048, 0.1, 40 * 0.3048, 0.5)
    >>> f"{share:.3f} ± {u95:.3f}"
    '0.500 ± 0.022'
    """
    height, height_u, depth, depth_u = _together(height_m, height_u95_m, depth_m, depth_u95_m)
    _refuse_negative(height)
    water = np.where(depth > 0.0, depth, np.nan)
    share = height / water
    return share[()], (np.hypot(height_u, share * depth_u) / water)[()]


def _together(*values: ArrayLike) -> tuple[Floats, ...]:
    """Broadcast."""
    return tuple(np.broadcast_arrays(*(np.asarray(v, dtype=float) for v in values)))


def _refuse_negative(height: Floats) -> None:
    """A module cannot stand lower than the seabed that it stands on."""
    if np.any(height < 0.0):
        what = f"A module height of {float(np.nanmin(height)):g} m is below the seabed that it stands on."
        raise InvalidRecordError(what, remedy="Give the height of the top above the seabed, zero or more.")
