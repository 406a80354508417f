"""Speeds, bearings and currents as people write them: unit and reference stand beside the number."""

import re

from registry.errors import QuantityError
from registry.formats.plain_text import plain_text
from registry.records.survey import Bearing, Current

__all__ = ["read_bearing", "read_current", "read_speed"]

#: Units: m/s. The knot is one nautical mile (1852 m, exactly) an hour.
_SPEEDS = {
    "m/s": 1.0,
    "mps": 1.0,
    "cm/s": 0.01,
    "kn": 1852.0 / 3600.0,
    "kt": 1852.0 / 3600.0,
    "kts": 1852.0 / 3600.0,
    "knot": 1852.0 / 3600.0,
    "knots": 1852.0 / 3600.0,
    "ft/s": 0.3048,
    "m/min": 1.0 / 60.0,
    "km/h": 1.0 / 3.6,
}
_NUMBER = r"[0-9]{1,6}(?:\.[0-9]{1,6})?"
_SPEED = re.compile(rf"({_NUMBER})\s*([A-Za-z]+(?:/[A-Za-z]+)?)")
_BEARING = re.compile(rf"({_NUMBER})\s*(?:°|deg|degrees)?\s*([A-Za-z]+)")
_CURRENT = re.compile(rf"(.+?)\s+toward\s+({_NUMBER})\s*(?:°|deg|degrees)?(?:\s*(?:true|T))?", re.IGNORECASE)
_REFERENCES = {"true": "true", "t": "true", "magnetic": "magnetic", "mag": "magnetic", "m": "magnetic",
               "relative": "relative", "rel": "relative"}  # fmt: skip


def read_speed(text: str) -> float:
    """
    Read a speed with its unit. Units of the answer: m/s.

    Raises
    ------
    QuantityError
        If the unit is missing or unknown.

    Examples
    --------
    >>> round(read_speed("1 kn"), 4)
    0.5144
    """
    found = _SPEED.fullmatch(plain_text(text))
    if found is None or found[2].lower() not in _SPEEDS:
        what = f"“{text.strip()[:80]}” is not a speed with a known unit."
        raise QuantityError(what, remedy=f"Write it as 0.5 m/s or 1 kn; known are {', '.join(_SPEEDS)}.")
    return float(found[1]) * _SPEEDS[found[2].lower()]


def read_bearing(text: str) -> Bearing:
    """
    Read a bearing that says from where it is counted.

    Raises
    ------
    QuantityError
        If it does not say true, magnetic or relative, or is not from 0 to 360.

    Examples
    --------
    >>> read_bearing("118.5 true").degrees
    118.5
    >>> read_bearing("118.5")
    Traceback (most recent call last):
    registry.errors.QuantityError: “118.5” does not say from where the bearing is counted. ...
    """
    plain = plain_text(text)
    found = _BEARING.fullmatch(plain)
    if found is None or found[2].lower() not in _REFERENCES or float(found[1]) > 360.0:
        told = (
            "does not say from where the bearing is counted"
            if re.fullmatch(_NUMBER, plain)
            else "is no bearing"
        )
        raise QuantityError(
            f"“{text.strip()[:80]}” {told}.",
            remedy='Write it as "118.5 true", "127 magnetic" or "30 relative".',
        )
    reference = _REFERENCES[found[2].lower()]
    if reference == "true":
        return Bearing(degrees=float(found[1]), reference="true")
    return Bearing(degrees=float(found[1]), reference="magnetic" if reference == "magnetic" else "relative")


def read_current(text: str) -> Current:
    """
    Read a current: its speed and the true direction toward which it sets.

    Raises
    ------
    QuantityError
        If it does not say both.

    Examples
    --------
    >>> read_current("0.5 m/s toward 120").toward_deg
    120.0
    """
    found = _CURRENT.fullmatch(plain_text(text))
    if found is None or float(found[2]) > 360.0:
        what = f"“{text.strip()[:80]}” is no current."
        raise QuantityError(what, remedy='Write it as "0.5 m/s toward 120", in degrees true.')
    return Current(speed_mps=read_speed(found[1]), toward_deg=float(found[2]))
