"""
Positions as geo URIs: ``geo:33.75205,-78.2076;u=5``.

Sources
-------
RFC 5870: WGS 84, latitude first, no plus sign, no exponent, `crs` before `u` before other parameters, `u` in
metres; the longitude of a pole means nothing. The uncertainty is taken as a 95 % radius.
"""

import math
import re

from registry.errors import InvalidRecordError, PositionTextError
from registry.formats.angle_pair import pair_position, quoted
from registry.formats.rounded_angle import rounded_angle
from registry.records.written_position import WrittenAngle, WrittenPosition

__all__ = ["read_geo_uri", "write_geo_uri"]

_URI = re.compile(
    r"geo:(?P<lat>-?[0-9]+(?:\.[0-9]+)?),(?P<lon>-?[0-9]+(?:\.[0-9]+)?)(?:,-?[0-9]+(?:\.[0-9]+)?)?"
    r"(?:;crs=(?P<crs>[A-Za-z0-9-]+))?(?:;u=(?P<u>[0-9]+(?:\.[0-9]+)?))?"
    r"(?:;(?!crs=|u=)[A-Za-z0-9-]+(?:=[^;\s]*)?)*",
    re.IGNORECASE,
)


def read_geo_uri(text: str, plain: str) -> WrittenPosition:
    """
    Read one geo URI.

    Raises
    ------
    PositionTextError
        If it breaks the grammar of RFC 5870 or names another reference system than WGS 84.

    Examples
    --------
    >>> position = read_geo_uri("", "geo:48.198634,16.371648;crs=wgs84;u=40")
    >>> position.lat_deg, position.lon_deg, position.stated_r95_m
    (48.198634, 16.371648, 40.0)
    """
    found = _URI.fullmatch(plain)
    if found is None:
        raise PositionTextError(
            f"{quoted(text)} is no geo URI.",
            remedy="Write geo:latitude,longitude;u=metres, without blanks, plus signs and exponents.",
        )
    if found["crs"] and found["crs"].lower() != "wgs84":
        raise PositionTextError(
            f"{quoted(text)}: a geo URI in {found['crs']} is not understood.",
            remedy="Use crs=wgs84, or write the position with its EPSG code.",
        )
    lat, lon = _angle(found["lat"]), _angle(found["lon"])
    if abs(lat.value_deg) == 90:
        lon = _angle("0")
    if abs(lon.value_deg) > 180:
        raise PositionTextError(
            f"{quoted(text)}: a longitude of {found['lon']} is over 180.",
            remedy="Longitude runs from -180 to 180.",
        )
    return pair_position(
        text,
        lat,
        lon,
        notation="geo",
        frame="EPSG:4326",
        sure=abs(lat.value_deg) == 90,
        stated_r95_m=float(found["u"]) if found["u"] else None,
    )


def _angle(number: str) -> WrittenAngle:
    return WrittenAngle(sign="-" if number.startswith("-") else "", degrees=number.lstrip("-"))


def write_geo_uri(lat_deg: float, lon_deg: float, u_m: float | None = None, *, decimals: int) -> str:
    """
    Write a geo URI; the position must be in WGS 84.

    Parameters
    ----------
    lat_deg, lon_deg : float
        In WGS 84. Units: degrees.
    u_m : float or None
        95 % radius, rounded up to a tenth. Units: m.
    decimals : int
        Digits behind the point, the same for both.

    Raises
    ------
    InvalidRecordError
        If the radius is negative or not finite.

    Examples
    --------
    >>> write_geo_uri(34.0208333, -77.3351667, 4.62, decimals=5)
    'geo:34.02083,-77.33517;u=4.7'
    """
    south, (lat,) = rounded_angle(lat_deg, form="dd", decimals=decimals, degree_digits=1)
    west, (lon,) = rounded_angle(lon_deg, form="dd", decimals=decimals, degree_digits=1)
    uri = f"geo:{'-' if south else ''}{lat},{'-' if west else ''}{lon}"
    if u_m is None:
        return uri
    if not (math.isfinite(u_m) and u_m >= 0):
        what = f"An uncertainty of {u_m} m cannot be printed."
        raise InvalidRecordError(what, remedy="Give a radius of zero or more.")
    tenths = f"{math.ceil(round(u_m * 10, 6)) / 10:.1f}"
    return f"{uri};u={tenths.removesuffix('.0')}"
