"""
Positions as they are printed for people, in the three customary notations.

Latitude comes first, every number has its letter, both have the same number of decimals, and the caller says
how many of them the uncertainty supports.
"""

from typing import Literal

from registry.formats.rounded_angle import rounded_angle

__all__ = ["Style", "write_dd", "write_ddm", "write_dms"]

#: "marks" for paper and screens; "plain" as it is keyed into a plotter.
Style = Literal["marks", "plain"]


def write_dd(
    lat_deg: float, lon_deg: float, *, decimals: int, style: Literal["marks", "plain", "signed"] = "marks"
) -> str:
    """
    Write decimal degrees.

    Parameters
    ----------
    lat_deg, lon_deg : float
        Units: degrees, north and east positive.
    decimals : int
        Digits behind the point, the same for both.
    style : {"marks", "plain", "signed"}
        With degree signs and letters, with letters only, or with signs only.

    Examples
    --------
    >>> write_dd(34.0208333, -77.3351667, decimals=5)
    '34.02083° N 77.33517° W'
    >>> write_dd(34.0208333, -77.3351667, decimals=5, style="signed")
    '34.02083, -77.33517'
    """
    south, (lat,) = rounded_angle(lat_deg, form="dd", decimals=decimals, degree_digits=1)
    west, (lon,) = rounded_angle(lon_deg, form="dd", decimals=decimals, degree_digits=1)
    if style == "signed":
        return f"{'-' if south else ''}{lat}, {'-' if west else ''}{lon}"
    mark = "°" if style == "marks" else ""
    return f"{lat}{mark} {'S' if south else 'N'} {lon}{mark} {'W' if west else 'E'}"


def write_ddm(lat_deg: float, lon_deg: float, *, decimals: int, style: Style = "marks") -> str:
    """
    Write degrees and decimal minutes, the notation of receivers and charts.

    Parameters
    ----------
    lat_deg, lon_deg : float
        Units: degrees, north and east positive.
    decimals : int
        Digits behind the point of the minutes, the same for both.
    style : {"marks", "plain"}
        With marks for paper, without for a plotter.

    Examples
    --------
    >>> write_ddm(34.0208333, -77.3351667, decimals=3)
    '34°01.250′ N 077°20.110′ W'
    >>> write_ddm(34.0208333, -77.3351667, decimals=3, style="plain")
    '34 01.250 N 077 20.110 W'
    >>> write_ddm(33.99999999, -76.99999999, decimals=3)
    '34°00.000′ N 077°00.000′ W'
    """
    return _fields(lat_deg, lon_deg, "ddm", decimals, style)


def write_dms(lat_deg: float, lon_deg: float, *, decimals: int, style: Style = "marks") -> str:
    """
    Write degrees, minutes and seconds.

    Parameters
    ----------
    lat_deg, lon_deg : float
        Units: degrees, north and east positive.
    decimals : int
        Digits behind the point of the seconds, the same for both.
    style : {"marks", "plain"}
        With marks for paper, without for a form.

    Examples
    --------
    >>> write_dms(34.0208333, -77.3351667, decimals=2)
    '34°01′15.00″ N 077°20′06.60″ W'
    """
    return _fields(lat_deg, lon_deg, "dms", decimals, style)


def _fields(lat_deg: float, lon_deg: float, form: Literal["ddm", "dms"], decimals: int, style: Style) -> str:
    parts = []
    for value, width, letters in ((lat_deg, 2, "NS"), (lon_deg, 3, "EW")):
        negative, fields = rounded_angle(value, form=form, decimals=decimals, degree_digits=width)
        if style == "marks":
            written = "".join(f"{digits}{mark}" for digits, mark in zip(fields, "°′″", strict=False))
        else:
            written = " ".join(fields)
        parts.append(f"{written} {letters[negative]}")
    return " ".join(parts)
