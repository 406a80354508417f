"""An angle rounded once to the digits that will be printed, with the carry done: never 60.000."""

import math
from typing import Literal

from registry.errors import InvalidRecordError

__all__ = ["rounded_angle"]

_UNITS = {"dd": 1, "ddm": 60, "dms": 3600}


def rounded_angle(
    value_deg: float, *, form: Literal["dd", "ddm", "dms"], decimals: int, degree_digits: int
) -> tuple[bool, tuple[str, ...]]:
    """
    Round an angle and cut it into printed fields.

    Definition: the angle is rounded half to even, once, as a whole number of its last digits, and only
    then cut.

    Parameters
    ----------
    value_deg : float
        Units: degrees.
    form : {"dd", "ddm", "dms"}
        One field, two fields or three.
    decimals : int
        Digits behind the point of the last field, 0 to 9.
    degree_digits : int
        Least number of digits of the degrees, padded with zeros.

    Returns
    -------
    tuple
        Whether it is negative (never for a printed zero), and the fields.

    Raises
    ------
    InvalidRecordError
        If the value is not finite or the number of decimals is out of range.

    Examples
    --------
    >>> rounded_angle(-77.99999999, form="ddm", decimals=3, degree_digits=3)
    (True, ('078', '00.000'))
    >>> rounded_angle(-1e-9, form="dd", decimals=5, degree_digits=1)
    (False, ('0.00000',))
    """
    if not math.isfinite(value_deg):
        what = f"An angle of {value_deg} degrees cannot be printed."
        raise InvalidRecordError(what, remedy="Give a finite angle.")
    if not 0 <= decimals <= 9:
        what = f"{decimals} decimals cannot be printed."
        raise InvalidRecordError(what, remedy="Use 0 to 9 decimals.")
    scale = 10**decimals
    units = round(abs(value_deg) * _UNITS[form] * scale)
    negative = value_deg < 0 and units > 0
    whole, fraction = divmod(units, scale)
    tail = f".{fraction:0{decimals}d}" if decimals else ""
    if form == "dd":
        return negative, (f"{whole:0{degree_digits}d}{tail}",)
    if form == "ddm":
        degrees, minutes = divmod(whole, 60)
        return negative, (f"{degrees:0{degree_digits}d}", f"{minutes:02d}{tail}")
    degrees, seconds = divmod(whole, 3600)
    minutes, seconds = divmod(seconds, 60)
    return negative, (f"{degrees:0{degree_digits}d}", f"{minutes:02d}", f"{seconds:02d}{tail}")
