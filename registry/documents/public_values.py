"""Coordinates and depths as the public pages write them: no digit that nobody knows."""

from dataclasses import dataclass

from registry.measure.digits import (
    Notation,
    coordinate_decimals,
    metres_decimals,
    split_degrees,
    split_minutes,
    u95_rounded_up_m,
)

__all__ = ["FOOT_M", "DepthText", "decimal_pair", "depth_text", "measured", "plotter_text"]

FOOT_M = 0.3048


def decimal_pair(lat_deg: float, lon_deg: float, r95_m: float) -> tuple[str, str]:
    """
    Write latitude and longitude in decimal degrees, with the digits that R95 supports.

    Examples
    --------
    >>> decimal_pair(34.0208333, -77.3351667, 6.0)
    ('34.02083', '-77.33517')
    """
    decimals = coordinate_decimals(Notation.DEGREES, r95_m)
    signed = []
    for degrees in (lat_deg, lon_deg):
        text = split_degrees(degrees, decimals)
        # Longitude runs up to 180 but never reaches it.
        below = float(text) != 0 and (degrees < 0 or float(text) == 180)
        signed.append("-" + text if below else text)
    return signed[0], signed[1]


def plotter_text(lat_deg: float, lon_deg: float, r95_m: float) -> str:
    """
    Write a position in degrees and minutes, with the digits that R95 supports.

    Examples
    --------
    >>> plotter_text(34.0208333, -77.3351667, 6.0)
    '34 01.250 N 077 20.110 W'
    """
    decimals = coordinate_decimals(Notation.MINUTES, r95_m)
    lat, lon = split_minutes(lat_deg, decimals), split_minutes(lon_deg, decimals)
    north_south = "S" if lat_deg < 0 and lat.degrees + float(lat.minutes) > 0 else "N"
    below = lon_deg < 0 and lon.degrees + float(lon.minutes) > 0
    east_west = "W" if below or lon.degrees == 180 else "E"
    return f"{lat.degrees:02d} {lat.minutes} {north_south} {lon.degrees:03d} {lon.minutes} {east_west}"


def measured(value: float, u95: float | None = None) -> str:
    """
    Write a length, or with no second value its own uncertainty, in the digits that the uncertainty supports.

    Examples
    --------
    >>> measured(19.684, 0.305), measured(0.305)
    ('19.68', '0.31')
    """
    decimals = metres_decimals(value if u95 is None else u95)
    return f"{u95_rounded_up_m(value) if u95 is None else value:.{decimals}f}"


@dataclass(frozen=True, slots=True)
class DepthText:
    """A depth as it is written: metres, their uncertainty, and feet as far as that supports them."""

    depth: str = ""
    u95: str = ""
    feet: str = ""


def depth_text(depth_m: float | None, u95_m: float | None) -> DepthText:
    """
    Write a depth; nothing where nobody measured, and whole metres alone where its uncertainty is unknown.

    Examples
    --------
    >>> depth_text(19.684, 0.305)
    DepthText(depth='19.68', u95='0.31', feet='64.6')
    """
    if depth_m is None:
        return DepthText()
    if not u95_m:
        return DepthText(f"{depth_m:.0f}")
    return DepthText(measured(depth_m, u95_m), measured(u95_m), measured(depth_m / FOOT_M, u95_m / FOOT_M))
