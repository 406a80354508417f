"""
How many digits a number may be printed with, and coordinates split into them.

Sources
-------
The rule for coordinates (the unit of the last digit is at most a third of R95) is this project's own: the
rounding then widens R95 by less than 3 %. For a length, JCGM 100:2008 (GUM) 7.2.6: an uncertainty is given
with at most two significant digits, and the value to the same digit (clause from memory).
"""

import math
from decimal import ROUND_HALF_EVEN, Decimal
from enum import Enum
from typing import NamedTuple

from registry.errors import QuantityError

__all__ = [
    "Notation",
    "Sexagesimal",
    "coordinate_decimals",
    "metres_decimals",
    "rounding_r95_m",
    "split_degrees",
    "split_minutes",
    "split_seconds",
    "u95_rounded_up_m",
    "unit_m",
]

#: Length of a degree by which digits are judged: the longest, of longitude on the equator. Units: m.
_DEGREE_M = 111_320.0
_MOST_DECIMALS = 9
#: WGS 84.
_SEMI_MAJOR_M = 6378137.0
_ECCENTRICITY_2 = 0.00669437999014


class Notation(Enum):
    """How a coordinate is written; the value is the number of its last parts in a degree."""

    DEGREES = 1
    MINUTES = 60
    SECONDS = 3600


class Sexagesimal(NamedTuple):
    """A coordinate without its sign, as it is written: the last part carries the decimals as text."""

    degrees: int
    minutes: str
    seconds: str


def unit_m(notation: Notation, decimals: int) -> float:
    """
    Give the size on the ground of one unit of the last digit.

    Examples
    --------
    >>> f"{unit_m(Notation.MINUTES, 3):.2f}"
    '1.86'
    """
    return _DEGREE_M / notation.value / 10.0**decimals


def coordinate_decimals(notation: Notation, r95_m: float) -> int:
    """
    Give the fewest decimals that do a position justice, and no more.

    Definition: the least ``k`` with ``unit_m(notation, k) <= R95 / 3``.

    Parameters
    ----------
    notation : Notation
        What the decimals belong to.
    r95_m : float
        Radius of 95 % of the position. Units: m.

    Returns
    -------
    int
        From 0 to 9.

    Raises
    ------
    QuantityError
        If the radius is not a positive number.

    Notes
    -----
    The worst radial rounding is 0.24 R95. Use the same decimals for latitude and longitude, and round once.

    Examples
    --------
    >>> [coordinate_decimals(n, 3.0) for n in Notation]
    [6, 4, 2]
    """
    if not (math.isfinite(r95_m) and r95_m > 0):
        raise QuantityError(f"R95 of {r95_m} m is not a radius.", remedy="Give a positive number of metres.")
    for decimals in range(_MOST_DECIMALS):
        if unit_m(notation, decimals) <= r95_m / 3.0:
            return decimals
    return _MOST_DECIMALS


def rounding_r95_m(notation: Notation, decimals: int, lat_deg: float) -> float:
    """
    Give the doubt that a position has because it was written with few digits.

    Definition: the radius that holds 95 % of errors uniform over the rectangle of half a unit of the last
    digit, ``+-a`` in latitude and ``+-b`` in longitude at that latitude.

    Parameters
    ----------
    notation : Notation
        What the decimals belong to.
    decimals : int
        How many were written; the coarser of latitude and longitude. 0 for a whole number.
    lat_deg : float
        Units: degrees.

    Returns
    -------
    float
        Units: m.

    Raises
    ------
    QuantityError
        If the decimals are negative or the latitude is none.

    Notes
    -----
    The share of the rectangle inside a circle is found by its exact area, and the radius by bisection.

    Examples
    --------
    A receiver's thousandth of a minute at 33 N:

    >>> f"{rounding_r95_m(Notation.MINUTES, 3, 33.0):.2f}"
    '1.03'
    """
    if decimals < 0 or not abs(lat_deg) <= 90.0:
        what = f"{decimals} decimals at latitude {lat_deg} make no sense."
        raise QuantityError(what, remedy="Give zero or more decimals, and a latitude from -90 to 90.")
    phi = math.radians(lat_deg)
    w2 = 1.0 - _ECCENTRICITY_2 * math.sin(phi) ** 2
    per_degree_lat = math.radians(1.0) * _SEMI_MAJOR_M * (1.0 - _ECCENTRICITY_2) / w2**1.5
    per_degree_lon = math.radians(1.0) * _SEMI_MAJOR_M * math.cos(phi) / math.sqrt(w2)
    half_unit = 0.5 / notation.value / 10.0**decimals
    a, b = half_unit * per_degree_lat, half_unit * per_degree_lon
    low, high = 0.0, math.hypot(a, b)
    for _ in range(60):
        middle = (low + high) / 2.0
        low, high = (middle, high) if _share_inside(middle, a, b) < 0.95 else (low, middle)
    return high


def _share_inside(r: float, a: float, b: float) -> float:
    """The share of the rectangle of half-sides a and b within the distance r of its centre."""
    if b <= 1e-12 * a:
        return min(1.0, r / a)
    x_end = min(a, r)
    x_start = math.sqrt(r * r - b * b) if r > b else 0.0
    x_start = min(x_start, x_end)

    def under_arc(x: float) -> float:
        return (x * math.sqrt(max(r * r - x * x, 0.0)) + r * r * math.asin(min(x / r, 1.0))) / 2.0

    return (x_start * b + under_arc(x_end) - under_arc(x_start)) / (a * b)


def _rounded(degrees: float, notation: Notation, decimals: int) -> Decimal:
    """The size of a coordinate in its last parts, rounded once from the exact stored value."""
    if not math.isfinite(degrees):
        raise QuantityError(f"{degrees} is not a coordinate.", remedy="Give a finite number of degrees.")
    # Decimal carries 28 digits, so that only the quantum rounds, not the product.
    return (abs(Decimal(degrees)) * notation.value).quantize(Decimal(1).scaleb(-decimals), ROUND_HALF_EVEN)


def _text(part: Decimal, decimals: int) -> str:
    """Write the last part with two digits before the point."""
    return f"{part:0{decimals + 3 if decimals else 2}.{decimals}f}"


def split_degrees(degrees: float, decimals: int) -> str:
    """
    Write the size of a coordinate in decimal degrees, without its sign.

    Examples
    --------
    >>> split_degrees(-78.2076, 5)
    '78.20760'
    """
    return f"{_rounded(degrees, Notation.DEGREES, decimals):.{decimals}f}"


def split_minutes(degrees: float, decimals: int) -> Sexagesimal:
    """
    Split the size of a coordinate into degrees and minutes, rounded once and carried.

    Parameters
    ----------
    degrees : float
        Its sign is left to the hemisphere letter. Units: degrees.
    decimals : int
        Of the minutes.

    Returns
    -------
    Sexagesimal
        With no seconds. The minutes are never 60.

    Examples
    --------
    >>> split_minutes(33.75205, 3)[:2], split_minutes(-77.9999999, 3)[:2]
    ((33, '45.123'), (78, '00.000'))
    """
    whole, minutes = divmod(_rounded(degrees, Notation.MINUTES, decimals), 60)
    return Sexagesimal(int(whole), _text(minutes, decimals), "")


def split_seconds(degrees: float, decimals: int) -> Sexagesimal:
    """
    Split the size of a coordinate into degrees, minutes and seconds, rounded once and carried.

    Parameters
    ----------
    degrees : float
        Its sign is left to the hemisphere letter. Units: degrees.
    decimals : int
        Of the seconds.

    Returns
    -------
    Sexagesimal
        Neither minutes nor seconds are ever 60.

    Examples
    --------
    >>> tuple(split_seconds(78.2076, 2)), tuple(split_seconds(-33.99999999, 2))
    ((78, '12', '27.36'), (34, '00', '00.00'))
    """
    minutes, seconds = divmod(_rounded(degrees, Notation.SECONDS, decimals), 60)
    whole, minutes = divmod(minutes, 60)
    return Sexagesimal(int(whole), _text(minutes, 0), _text(seconds, decimals))


def metres_decimals(u95_m: float) -> int:
    """
    Give the decimals of a length in metres that its uncertainty supports.

    Definition: the uncertainty written with two significant digits ends at this decimal; a value printed
    with one decimal fewer would lose a digit that is known, with one more would claim one that is not.

    Parameters
    ----------
    u95_m : float
        Expanded uncertainty (95 %). Units: m.

    Returns
    -------
    int
        From 0 to 6.

    Raises
    ------
    QuantityError
        If the uncertainty is not a positive number.

    Examples
    --------
    >>> [metres_decimals(u) for u in (12.0, 2.4, 0.56, 0.999, 0.031)]
    [0, 1, 2, 1, 3]
    """
    return max(0, min(6, _second_digit(u95_m)))


def _second_digit(u95_m: float) -> int:
    """The decimal place of the second significant digit, after rounding up."""
    if not (math.isfinite(u95_m) and u95_m > 0):
        what = f"An uncertainty of {u95_m} m is none."
        raise QuantityError(what, remedy="Give a positive number of metres.")
    exact = Decimal(repr(float(u95_m)))
    place = 1 - exact.adjusted()
    quantum = Decimal(1).scaleb(-place)
    up = (exact / quantum).to_integral_value(rounding="ROUND_CEILING")
    return place - 1 if up >= 100 else place


def u95_rounded_up_m(u95_m: float) -> float:
    """
    Round an uncertainty upward to two significant digits, or to the whole metre from 10 m on.

    Parameters
    ----------
    u95_m : float
        Units: m.

    Returns
    -------
    float
        Never less than what was given; printed with :func:`metres_decimals` of the same uncertainty.

    Raises
    ------
    QuantityError
        If the uncertainty is not a positive number.

    Examples
    --------
    >>> [u95_rounded_up_m(u) for u in (0.561, 0.56, 0.999, 2.41, 123.2)]
    [0.57, 0.56, 1.0, 2.5, 124.0]
    """
    quantum = Decimal(1).scaleb(-metres_decimals(u95_m))
    return float(
        (Decimal(repr(float(u95_m))) / quantum).to_integral_value(rounding="ROUND_CEILING") * quantum
    )
