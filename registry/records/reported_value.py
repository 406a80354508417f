"""Lengths and masses in the unit that an authority asks for, with no digit beyond what is known."""

import math

from registry.measure.digits import metres_decimals, u95_rounded_up_m
from registry.measure.units import kilograms_per, metres_per
from registry.records.permit import LengthUnit, MassUnit

__all__ = ["reported_length", "reported_mass"]


def reported_length(value_m: float, u95_m: float, unit: LengthUnit) -> tuple[str, str]:
    """
    Write a measured length and its 95 % uncertainty in a unit, without its name.

    Parameters
    ----------
    value_m, u95_m : float
        Units: m.
    unit : LengthUnit
        What is asked for; international and US survey feet differ.

    Returns
    -------
    value, u95 : str
        The uncertainty rounded upward, the value to its last digit; empty where the value is unknown, and
        the uncertainty alone empty where only that is.

    Examples
    --------
    >>> reported_length(20.36, 0.4, "m"), reported_length(20.36, 0.4, "ft")
    (('20.36', '0.40'), ('66.8', '1.4'))
    >>> reported_length(20.36, 0.4, "fathoms"), reported_length(float("nan"), 0.4, "m")
    (('11.13', '0.22'), ('', ''))
    """
    if not math.isfinite(value_m):
        return "", ""
    size = metres_per(unit)
    if not math.isfinite(u95_m):
        return f"{value_m / size:.0f}", ""
    if u95_m <= 0:
        return f"{value_m / size:.2f}", "0"
    u95 = u95_m / size
    decimals = metres_decimals(u95)
    return f"{value_m / size:.{decimals}f}", f"{u95_rounded_up_m(u95):.{decimals}f}"


def reported_mass(mass_kg: float, unit: MassUnit) -> str:
    """
    Write a mass in a unit, without its name: to the kilogram, as it is recorded; empty where unknown.

    Examples
    --------
    >>> [reported_mass(1400.0, unit) for unit in ("kg", "t", "lb", "short tons")]
    ['1400', '1.400', '3086', '1.543']
    """
    if not math.isfinite(mass_kg):
        return ""
    return f"{mass_kg / kilograms_per(unit):.{0 if unit in ('kg', 'lb') else 3}f}"
