"""
How sure: 95 % everywhere, one-dimensional for lengths and as a radius for positions.

Sources
-------
JCGM 100:2008 (GUM), 5.1.2: combining independent uncertainties (clause from memory).
FGDC-STD-007.3-1998 (NSSDA), appendix 3-A: 95 % radius (read second-hand).
"""

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from registry.errors import InvalidRecordError, QuantityError

__all__ = [
    "R95_FACTOR",
    "RADIAL_FACTORS",
    "U95_FACTOR",
    "UNIFORM_95",
    "Length",
    "RadialMeasure",
    "boundary_distance_u95",
    "combine",
    "convert_radius",
    "r95_from_sigmas",
    "radial_probability",
    "separation_u95",
]

Floats = NDArray[np.float64]
RadialMeasure = Literal["sigma", "cep", "drms", "r95", "2drms"]

#: Radius of the circle that holds 95 % of a circular normal error, in standard deviations of one axis.
R95_FACTOR = math.sqrt(-2.0 * math.log(0.05))
#: Half width of the interval that holds 95 % of a normal error, in standard deviations.
U95_FACTOR = 1.959963984540054

#: A uniform error of half a unit holds 95 % of its values within this share of the unit.
UNIFORM_95 = 0.475

#: Measures of a circular normal error, in standard deviations of one axis.
RADIAL_FACTORS: dict[RadialMeasure, float] = {
    "sigma": 1.0,
    "cep": math.sqrt(2.0 * math.log(2.0)),
    "drms": math.sqrt(2.0),
    "r95": R95_FACTOR,
    "2drms": 2.0 * math.sqrt(2.0),
}

#: Directions over which an error ellipse is summed; the sum converges to rounding with far fewer.
_DIRECTIONS = (np.arange(128) + 0.5) * (math.pi / 256.0)


@dataclass(frozen=True, slots=True)
class Length:
    """
    A measured length and its doubt.

    Examples
    --------
    >>> Length(20.36, 0.56).u95_m
    0.56
    """

    #: Units: m.
    value_m: float
    #: Expanded uncertainty at 95 %. Units: m.
    u95_m: float

    def __post_init__(self) -> None:
        """Refuse what is no measurement."""
        if not math.isfinite(self.value_m):
            what = f"A length of {self.value_m} m is not a measurement."
            raise InvalidRecordError(what, remedy="Give a finite number, or leave the length out.")
        if not (math.isfinite(self.u95_m) and self.u95_m >= 0):
            what = f"An uncertainty of {self.u95_m} m is not one."
            raise InvalidRecordError(what, remedy="Give zero or more, at 95 %.")


def r95_from_sigmas(sigma_east: ArrayLike, sigma_north: ArrayLike) -> Floats:
    """
    Find the radius that holds 95 % of an error whose axes differ.

    Definition: the root of ``1 - mean(exp(-r**2 / (2 (a**2 cos² + b**2 sin²)))) = 0.95`` over all directions.

    Parameters
    ----------
    sigma_east, sigma_north : array_like
        Standard deviations along two uncorrelated axes; broadcast together. Any unit, one for both.

    Returns
    -------
    numpy.ndarray
        The 95 % radius, in the same unit.

    Raises
    ------
    InvalidRecordError
        If a standard deviation is negative or not a number.

    Notes
    -----
    Always integrates the ellipse. The formula ``2.4477 (sigma_x + sigma_y) / 2`` of the NSSDA, meant for
    ratios from 0.6 to 1, is too small by 1.2 % at 0.8 and by 5.9 % at 0.6.

    Sources
    -------
    Integral over the ellipse in polar form: Craig, MILCOM 1991 (reference from memory).

    Examples
    --------
    >>> f"{r95_from_sigmas(1.0, 1.0):.4f} {r95_from_sigmas(1.0, 0.0):.4f}"
    '2.4477 1.9600'
    """
    a, b = np.broadcast_arrays(np.asarray(sigma_east, dtype=float), np.asarray(sigma_north, dtype=float))
    if not (np.isfinite(a).all() and np.isfinite(b).all() and (a >= 0).all() and (b >= 0).all()):
        what = "A standard deviation is negative or not a number."
        raise InvalidRecordError(what, remedy="Give standard deviations of zero or more.")
    major = np.maximum(a, b)
    ratio = np.divide(np.minimum(a, b), major, out=np.ones(a.shape), where=major > 0)
    variance = np.cos(_DIRECTIONS) ** 2 + ratio[..., None] ** 2 * np.sin(_DIRECTIONS) ** 2
    r = U95_FACTOR + (R95_FACTOR - U95_FACTOR) * ratio
    for _ in range(8):
        outside = np.exp(-(r[..., None] ** 2) / (2.0 * variance))
        density = r * (outside / variance).mean(axis=-1)
        r = r + (outside.mean(axis=-1) - 0.05) / density
    return np.asarray(r * major)[()]


def combine(*r95: ArrayLike) -> Floats:
    """
    Combine independent uncertainties of one level: the root of the sum of squares.

    Examples
    --------
    >>> float(combine(3.0, 4.0))
    5.0
    """
    total = np.zeros(())
    for term in r95:
        total = total + np.asarray(term, dtype=float) ** 2
    return np.asarray(np.sqrt(total))[()]


def separation_u95(r95_first: ArrayLike, r95_second: ArrayLike, shared_r95: ArrayLike = 0.0) -> Floats:
    """
    Give the uncertainty of the distance between two fixes.

    Definition: ``sqrt(R1**2 + R2**2 - 2 S**2)``; S is the part of the error that both fixes have in common.

    Parameters
    ----------
    r95_first, r95_second : array_like
        95 % radii of the two positions. Units: m.
    shared_r95 : array_like
        95 % radius of an error that is the same for both, as of one base station on one day. Zero unless
        somebody has declared it and the record says so. Units: m.

    Returns
    -------
    numpy.ndarray
        Uncertainty of the separation at 95 %. Units: m.

    Raises
    ------
    InvalidRecordError
        If the shared part is greater than either whole.

    Notes
    -----
    Along one line ``1.96 / 2.45`` of this would do; the radius is kept, which errs to the safe side.

    Examples
    --------
    >>> f"{separation_u95(2.0, 2.0):.2f} {separation_u95(2.0, 2.0, shared_r95=1.5):.2f}"
    '2.83 1.87'
    """
    first, second, shared = (np.asarray(v, dtype=float) for v in (r95_first, r95_second, shared_r95))
    if np.any(shared > np.minimum(first, second)) or np.any(shared < 0):
        what = f"A shared error of {np.max(shared)} m is greater than the whole error of a position."
        raise InvalidRecordError(what, remedy="Declare a shared error between zero and the smaller R95.")
    return np.asarray(np.sqrt(first**2 + second**2 - 2.0 * shared**2))[()]


def boundary_distance_u95(r95: ArrayLike) -> Floats:
    """
    Give the uncertainty of a distance to a boundary: the 95 % radius itself.

    Notes
    -----
    The distance is one-dimensional, so ``1.645`` standard deviations would be enough to be sure at 95 % on
    one side; the radius is ``2.4477`` of them. The difference is left on the safe side.

    Examples
    --------
    >>> float(boundary_distance_u95(2.5))
    2.5
    """
    return np.array(r95, dtype=float)[()]


def radial_probability(sigmas: float) -> float:
    """
    Give the share of a circular normal error that lies within a radius.

    Examples
    --------
    >>> f"{radial_probability(RADIAL_FACTORS['2drms']):.4f}"
    '0.9817'
    """
    return -math.expm1(-(sigmas**2) / 2.0)


def convert_radius(value: float, given: RadialMeasure, wanted: RadialMeasure) -> float:
    """
    Convert between the measures in which receivers state a horizontal error.

    Parameters
    ----------
    value : float
        Any unit.
    given, wanted : {"sigma", "cep", "drms", "r95", "2drms"}
        ``sigma`` is the standard deviation of one axis.

    Raises
    ------
    QuantityError
        If a measure is not one of these.

    Notes
    -----
    Holds for a circular normal error. 2DRMS is not 95 %: it holds 98.2 % of a circular error.

    Examples
    --------
    >>> f"{convert_radius(1.0, 'cep', 'r95'):.4f}"
    '2.0789'
    """
    for word in (given, wanted):
        if word not in RADIAL_FACTORS:
            what = f"{word!r} is no measure of a horizontal error."
            raise QuantityError(what, remedy=f"Use one of {', '.join(RADIAL_FACTORS)}.")
    return value * RADIAL_FACTORS[wanted] / RADIAL_FACTORS[given]
