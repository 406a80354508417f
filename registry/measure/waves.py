"""
What a regular wave does above the seabed, by linear theory.

Sources
-------
Airy (linear) wave theory, as in US Army Corps of Engineers, Coastal Engineering Manual, EM 1110-2-1100,
Part II, chapter 1. Greatest height of a solitary wave in the depth where it stands, 0.78: McCowan 1894, as
commonly cited (from memory).
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from registry.errors import InvalidRecordError
from registry.measure.decision import ARITHMETIC
from registry.measure.sea_pressure import STANDARD_GRAVITY

__all__ = ["BREAKING_SHARE", "NearBed", "breaks", "celerity", "near_bed", "wavelength"]

Floats = NDArray[np.float64]

#: A wave this high, as a share of the depth, breaks.
BREAKING_SHARE = 0.78

#: Newton's steps: from Eckart's start the third reaches the last digit that a double holds.
_STEPS = 4


@dataclass(frozen=True, slots=True)
class NearBed:
    """Greatest speed and acceleration of the water just above the seabed, a quarter period apart."""

    velocity_mps: Floats
    acceleration_mps2: Floats


def wavelength(period_s: ArrayLike, depth_m: ArrayLike) -> Floats:
    """
    Find the length of a wave from its period.

    Definition: ``L = g T**2 / (2 pi) * tanh(2 pi d / L)``.

    Parameters
    ----------
    period_s, depth_m : array_like
        Period and depth of the water; broadcast together. Units: s, m.

    Returns
    -------
    numpy.ndarray
        Units: m. NaN where the depth is unknown or not above zero.

    Raises
    ------
    InvalidRecordError
        If a period is not above zero.

    Examples
    --------
    >>> wavelength(10.0, [3.0, 200.0]).round(2).tolist()
    [53.15, 156.08]
    """
    depth, k_d = _relative_depth(period_s, depth_m)
    return np.asarray(2.0 * np.pi * depth / k_d)[()]


def celerity(period_s: ArrayLike, depth_m: ArrayLike) -> Floats:
    """
    Find how fast the crest of a wave runs: its length over its period.

    Parameters, returns and errors are those of :func:`wavelength`. Units: m/s.

    Examples
    --------
    >>> f"{celerity(10.0, 3.0):.3f}"
    '5.315'
    """
    return np.asarray(wavelength(period_s, depth_m) / np.asarray(period_s, dtype=float))[()]


def near_bed(height_m: ArrayLike, period_s: ArrayLike, depth_m: ArrayLike) -> NearBed:
    """
    Find how the water moves to and fro just above the seabed.

    Definition: ``u = pi H / (T sinh k d)`` and ``a = 2 pi u / T``.

    Parameters
    ----------
    height_m, period_s, depth_m : array_like
        Height from trough to crest, period, and depth of the water; broadcast together. Units: m, s, m.

    Returns
    -------
    NearBed
        Both of them greatest over the phase. NaN where the depth is unknown or not above zero.

    Raises
    ------
    InvalidRecordError
        If a period is not above zero or a height is below zero.

    Notes
    -----
    Says nothing of a wave that breaks: ask :func:`breaks` first.

    Examples
    --------
    >>> found = near_bed(4.0, 10.0, 20.0)
    >>> f"{found.velocity_mps:.4f} m/s, {found.acceleration_mps2:.4f} m/s2"
    '1.0194 m/s, 0.6405 m/s2'
    """
    height, period = np.asarray(height_m, dtype=float), np.asarray(period_s, dtype=float)
    if np.any(height < 0.0):
        what = f"A wave of {float(np.nanmin(height)):g} m is not one."
        raise InvalidRecordError(what, remedy="Give the height from trough to crest, zero or more.")
    _, k_d = _relative_depth(period, depth_m)
    # 1 / sinh x, written so that deep water gives nothing and not an overflow.
    still = 2.0 * np.exp(-k_d) / -np.expm1(-2.0 * k_d)
    velocity = np.pi * height / period * still
    return NearBed(np.asarray(velocity)[()], np.asarray(velocity * 2.0 * np.pi / period)[()])


def breaks(height_m: ArrayLike, depth_m: ArrayLike) -> NDArray[np.bool_]:
    """
    Tell where a wave is too high for the water that it runs in, so that linear theory does not hold.

    Parameters
    ----------
    height_m, depth_m : array_like
        Height of the wave and depth of the water; broadcast together. Units: m.

    Returns
    -------
    numpy.ndarray of bool
        False where either is unknown.

    Examples
    --------
    >>> breaks(4.0, [5.0, 5.2]).tolist()
    [True, False]
    """
    height, depth = np.asarray(height_m, dtype=float), np.asarray(depth_m, dtype=float)
    return np.asarray(height >= BREAKING_SHARE * depth - ARITHMETIC)[()]


def _relative_depth(period_s: ArrayLike, depth_m: ArrayLike) -> tuple[Floats, Floats]:
    """Give the depth, NaN where there is no water, and solve ``k d tanh k d = w**2 d / g`` for ``k d``."""
    period, depth = np.broadcast_arrays(np.asarray(period_s, dtype=float), np.asarray(depth_m, dtype=float))
    if np.any(period <= 0.0):
        what = f"A period of {float(np.nanmin(period)):g} s is not one."
        raise InvalidRecordError(what, remedy="Give the period of the wave, above zero.")
    water = np.where(depth > 0.0, depth, np.nan)
    deep = (2.0 * np.pi / period) ** 2 * water / STANDARD_GRAVITY
    # Eckart's form is within a few per cent everywhere, from where Newton's steps cannot stray.
    k_d = deep / np.sqrt(np.tanh(deep))
    for _ in range(_STEPS):
        t = np.tanh(k_d)
        k_d = k_d - (k_d * t - deep) / (t + k_d * (1.0 - t * t))
    return water, k_d
