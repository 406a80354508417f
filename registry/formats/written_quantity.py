"""
Lengths, masses, spans of time and densities as people write them: a number with its unit, nothing guessed.

A bare number, an unknown unit, and a unit with two meanings are refused, with what to write instead.
"""

import re
from collections.abc import Mapping

from registry.errors import QuantityError
from registry.formats.plain_text import plain_text
from registry.measure.units import AMBIGUOUS_UNITS, DENSITY_UNITS, LENGTH_UNITS, MASS_UNITS, TIME_UNITS
from registry.records.quantity import Dimension, Quantity

__all__ = ["read_density", "read_length", "read_mass", "read_time"]

#: For each dimension its units, and those that are named where another was written.
_DIMENSIONS: Mapping[Dimension, tuple[Mapping[str, float], str]] = {
    "length": (LENGTH_UNITS, "m, ft, fm, yd, in, cm, mm, km, nmi"),
    "mass": (MASS_UNITS, "kg, t, lb, short ton, long ton"),
    "time": (TIME_UNITS, "s, min"),
    "density": (DENSITY_UNITS, "kg/m3, g/cm3, t/m3, lb/ft3"),
}

_LONGEST = 80
_NUMBER = r"[0-9]{1,12}(?:[.,][0-9]{1,12})?"
_ONE = re.compile(rf"(?P<sign>[+-]?)\s*(?P<number>{_NUMBER}|\.[0-9]{{1,12}})\s*(?P<unit>[^0-9\s+-].*)?")
_TWO = re.compile(
    rf"(?P<first>[0-9]{{1,6}})\s*(?P<unit1>'|[A-Za-z]{{1,8}}\.?)\s*-?\s*"
    rf"(?P<second>{_NUMBER})\s*(?P<unit2>\"|''|[A-Za-z]{{1,8}}\.?)"
)
_THOUSANDS = re.compile(r"[1-9][0-9]{0,2},[0-9]{3}")
_EXPONENT = re.compile(r"[0-9]\s*[eE][+-]?[0-9]")
_NOT_FINITE = re.compile(r"\b(?:nan|inf|infinity)\b", re.IGNORECASE)
_RANGE = re.compile(r"[0-9]\s*(?:-|±|\+/-|to|\.\.)\s*[0-9]")


def read_length(text: str, *, unit: str | None = None) -> Quantity:
    """
    Read a length.

    Parameters
    ----------
    text : str
        A number with a unit, with point or decimal comma; feet with inches; fathoms with feet.
    unit : str, optional
        The unit of a bare number, where a form or the head of a column declares one. A unit in the text goes
        before it.

    Returns
    -------
    Quantity
        Units: m.

    Raises
    ------
    QuantityError
        If the unit is missing, unknown or ambiguous, or the number cannot be read in one way only.

    Examples
    --------
    >>> read_length("50 ft").value, round(read_length("62 ft 6 in").value, 3), read_length("18,3 m").value
    (15.24, 19.05, 18.3)
    >>> read_length("60", unit="ft").written
    '60'
    >>> read_length("60")
    Traceback (most recent call last):
    registry.errors.QuantityError: “60” has no unit. Write it with its unit, as 60 m or 60 ft.
    """
    return _read(text, unit, "length", "m or {} ft")


def read_mass(text: str, *, unit: str | None = None) -> Quantity:
    """
    Read a mass.

    Parameters
    ----------
    text : str
        A number with a unit, with point or decimal comma.
    unit : str, optional
        The unit of a bare number, where a form or the head of a column declares one.

    Returns
    -------
    Quantity
        Units: kg.

    Raises
    ------
    QuantityError
        If the unit is missing, unknown or ambiguous, or the number cannot be read in one way only.

    Examples
    --------
    >>> read_mass("2.3 t").value, read_mass("2.3 t").resolution
    (2300.0, 100.0)
    >>> read_mass("2 tons")
    Traceback (most recent call last):
    registry.errors.QuantityError: “2 tons”: the unit tons is ambiguous: tonnes (write t) or ...
    """
    return _read(text, unit, "mass", "kg or {} lb")


def read_time(text: str) -> Quantity:
    """
    Read a span of time, such as the period of a wave.

    Parameters, errors and what is accepted are those of :func:`read_length`; units: s.

    Examples
    --------
    >>> read_time("12 s").value
    12.0
    """
    return _read(text, None, "time", "s or {} min")


def read_density(text: str) -> Quantity:
    """
    Read a density, such as that of sea water.

    Parameters, errors and what is accepted are those of :func:`read_length`; units: kg/m3.

    Examples
    --------
    >>> read_density("1025 kg/m3").value, read_density("1.025 g/cm³").value
    (1025.0, 1025.0)
    """
    return _read(text, None, "density", "kg/m3 or {} lb/ft3")


def _read(text: str, unit: str | None, dimension: Dimension, example: str) -> Quantity:
    shown = f"“{text.strip()[:_LONGEST]}”"
    plain = plain_text(text)
    if not plain:
        raise QuantityError(f"The {dimension} is empty.", remedy="Give a number with its unit.")
    if len(plain) > _LONGEST:
        raise QuantityError(f"{shown}… is too long for a {dimension}.", remedy="Give a number with its unit.")
    if _EXPONENT.search(plain):
        raise QuantityError(
            f"{shown} is in notation with an exponent.", remedy="Write the number in plain digits."
        )
    if dimension == "length" and (pair := _TWO.fullmatch(plain)):
        value, resolution = _two_units(shown, pair)
        return Quantity(value=value, dimension=dimension, written=text, resolution=resolution)
    found = _ONE.fullmatch(plain)
    if found is None or (found["unit"] and _RANGE.search(plain)):
        raise QuantityError(f"{shown} {_fault(plain)}.", remedy="Give one plain number with its unit.")
    digits = _decimal(shown, found["number"])
    spelling = " ".join((found["unit"] or "").split()) or unit
    if not spelling:
        number = found["sign"] + found["number"]
        raise QuantityError(
            f"{shown} has no unit.",
            remedy=f"Write it with its unit, as {number} {example.format(number)}.",
        )
    factor = _factor(shown, spelling, dimension)
    value = float(digits) * factor
    return Quantity(
        value=-value if found["sign"] == "-" else value,
        dimension=dimension,
        written=text,
        resolution=_unit_in_last_place(digits) * factor,
    )


def _fault(plain: str) -> str:
    if _NOT_FINITE.search(plain):
        return "is not a finite number"
    if _RANGE.search(plain):
        return "is a range or holds two numbers"
    return "is not a number with a unit"


def _decimal(shown: str, number: str) -> str:
    """Give the digits with a decimal point; refuse a comma that may group thousands."""
    if _THOUSANDS.fullmatch(number):
        raise QuantityError(
            f"{shown}: the comma may stand for the decimal point or for thousands.",
            remedy=f"Write {number.replace(',', '.')} or {number.replace(',', '')}.",
        )
    return number.replace(",", ".")


def _unit_in_last_place(digits: str) -> float:
    return float(10.0 ** -len(digits.partition(".")[2]))


def _factor(shown: str, spelling: str, dimension: Dimension) -> float:
    units, known = _DIMENSIONS[dimension]
    if spelling in units:
        return units[spelling]
    if len(spelling) > 3 and spelling.lower() in units:  # only in shorter ones the case tells units apart
        return units[spelling.lower()]
    if spelling in AMBIGUOUS_UNITS:
        meanings = " or ".join(AMBIGUOUS_UNITS[spelling])
        raise QuantityError(
            f"{shown}: the unit {spelling} is ambiguous: {meanings}.", remedy="Write the one that is meant."
        )
    if _NOT_FINITE.search(spelling):
        raise QuantityError(f"{shown} is not a finite number.", remedy="Give a number with its unit.")
    for other, (spellings, _) in _DIMENSIONS.items():
        if spelling in spellings:
            raise QuantityError(
                f"{shown} is a {other}, where a {dimension} is wanted.", remedy=f"Give a {dimension}."
            )
    raise QuantityError(f"{shown}: the unit {spelling} is not known.", remedy=f"Use one of {known}.")


def _two_units(shown: str, pair: re.Match[str]) -> tuple[float, float]:
    """Read feet with inches or fathoms with feet: the value and its resolution in metres."""
    names = {"'": "ft", '"': "in", "''": "in"}
    units = [names.get(pair[group], pair[group]) for group in ("unit1", "unit2")]
    large, small = (_factor(shown, spelling, "length") for spelling in units)
    steps = round(large / small)
    if (large, small) not in (
        (LENGTH_UNITS["ft"], LENGTH_UNITS["in"]),
        (LENGTH_UNITS["fm"], LENGTH_UNITS["ft"]),
    ):
        raise QuantityError(
            f"{shown} joins two units that are not read together.", remedy="Write one number with one unit."
        )
    digits = _decimal(shown, pair["second"])
    if float(digits) >= steps:
        raise QuantityError(
            f"{shown}: {pair['second']} is not under {steps}.", remedy="Check the smaller of the two numbers."
        )
    return int(pair["first"]) * large + float(digits) * small, _unit_in_last_place(digits) * small
