"""One point as programs write it: well-known text, GeoJSON, a bare array, the centre of a web map."""

import json
import re
from typing import Any, NoReturn

from registry.errors import AmbiguousPositionError, PositionTextError
from registry.formats.angle_pair import canonical_text, pair_position, quoted
from registry.records.written_position import WrittenAngle, WrittenPosition

__all__ = ["read_bare_array", "read_geojson_point", "read_map_centre", "read_wkt_point"]

_NUMBER = r"[+-]?[0-9]+(?:\.[0-9]+)?"
_WKT = re.compile(
    rf"(?:SRID=(?P<srid>[0-9]{{4,5}});)?POINT\s*(?:ZM|Z|M)?\s*\(\s*(?P<x>{_NUMBER})\s+(?P<y>{_NUMBER})"
    rf"(?:\s+{_NUMBER}){{0,2}}\s*\)",
    re.IGNORECASE,
)
_ARRAY = re.compile(rf"\[\s*({_NUMBER})\s*[,;]\s*({_NUMBER})\s*(?:,\s*{_NUMBER}\s*)?\]")
_CENTRE = re.compile(rf"@({_NUMBER}),({_NUMBER}),[0-9]+(?:\.[0-9]+)?[zm](?:/.*)?", re.IGNORECASE)

MAP_CENTRE = "This is the centre of a web map's view, not a surveyed position: hold it as approximate."


class _Digits(str):
    """A number of a JSON text, digit by digit."""

    __slots__ = ()


def _angle(number: str) -> WrittenAngle:
    return WrittenAngle(sign=number[0] if number[0] in "+-" else "", degrees=number.lstrip("+-"))


def read_wkt_point(text: str, plain: str) -> WrittenPosition:
    """
    Read ``POINT (longitude latitude)``, with ``SRID=4326;`` before it where the writer says so.

    Raises
    ------
    PositionTextError
        If it is no point.

    Sources
    -------
    OGC 06-103r4, Simple features: x before y.

    Examples
    --------
    >>> position = read_wkt_point("", "POINT Z (-78.2076 33.75205 -18.3)")
    >>> position.lat_deg, position.lon_deg
    (33.75205, -78.2076)
    """
    found = _WKT.fullmatch(plain)
    if found is None:
        raise PositionTextError(
            f"{quoted(text)} is no well-known text of a point.",
            remedy="Write POINT (longitude latitude), without exponents.",
        )
    frame = f"EPSG:{found['srid']}" if found["srid"] else None
    return pair_position(text, _angle(found["y"]), _angle(found["x"]), notation="wkt", frame=frame)


def read_geojson_point(text: str, plain: str) -> WrittenPosition:
    """
    Read a GeoJSON point, or a feature that is one.

    Raises
    ------
    PositionTextError
        If the text is no JSON, no point, names a reference system of its own, or writes an exponent.

    Sources
    -------
    RFC 7946: WGS 84, longitude before latitude; the member `crs` is gone.

    Examples
    --------
    >>> read_geojson_point("", '{"type":"Point","coordinates":[-78.2076,33.75205]}').lat_deg
    33.75205
    """
    point = _parsed(text, plain)
    if isinstance(point, dict) and point.get("type") == "Feature":
        point = point.get("geometry")
    if not isinstance(point, dict) or point.get("type") != "Point" or "crs" in point:
        raise PositionTextError(
            f"{quoted(text)} is no GeoJSON point in WGS 84.",
            remedy='Write {"type": "Point", "coordinates": [longitude, latitude]}, without crs.',
        )
    numbers = point.get("coordinates")
    if not (
        isinstance(numbers, list)
        and len(numbers) in (2, 3)
        and all(isinstance(n, _Digits) and re.fullmatch(_NUMBER, n) for n in numbers)
    ):
        raise PositionTextError(
            f"{quoted(text)}: the coordinates are no two or three plain numbers.",
            remedy="Write [longitude, latitude], without exponents.",
        )
    return pair_position(text, _angle(numbers[1]), _angle(numbers[0]), notation="geojson", frame="EPSG:4326")


def _parsed(text: str, plain: str) -> Any:
    def refuse(constant: str) -> NoReturn:
        raise ValueError(constant)

    try:
        return json.loads(plain, parse_float=_Digits, parse_int=_Digits, parse_constant=refuse)
    except (ValueError, RecursionError) as error:
        raise PositionTextError(
            f"{quoted(text)} is no JSON text.", remedy="Copy the whole object, with its brackets."
        ) from error


def read_bare_array(text: str, plain: str) -> NoReturn:
    """
    Ask what a bare array means: programs disagree about the order of its numbers.

    Raises
    ------
    AmbiguousPositionError
        For two numbers in brackets, with the readings that are possible.
    PositionTextError
        For anything else in brackets.

    Examples
    --------
    >>> read_bare_array("[-78.2076, 33.75205]", "[-78.2076, 33.75205]")
    Traceback (most recent call last):
    registry.errors.AmbiguousPositionError: “[-78.2076, 33.75205]” does not say ...
    """
    found = _ARRAY.fullmatch(plain)
    if found is None:
        raise PositionTextError(
            f"{quoted(text)} is no pair of numbers in brackets.",
            remedy="Give latitude and longitude, as 33.75205 N 78.2076 W.",
        )
    first, second = _angle(found[1]), _angle(found[2])
    pairs = ((second, first), (first, second))  # longitude first, as GeoJSON has it, is the likelier
    readings = [
        canonical_text(lat, lon)
        for lat, lon in pairs
        if abs(lat.value_deg) <= 90 and abs(lon.value_deg) <= 180
    ]
    if not readings:
        raise PositionTextError(
            f"{quoted(text)}: no order of the two numbers gives a latitude and a longitude.",
            remedy="Latitude runs to 90 degrees, longitude to 180.",
        )
    raise AmbiguousPositionError(
        f"{quoted(text)} does not say whether latitude or longitude comes first.",
        remedy="Type one of the readings.",
        readings=readings,
    )


def read_map_centre(text: str, plain: str) -> WrittenPosition:
    """
    Read the part ``@latitude,longitude,17z`` of a web map's address, with a warning.

    Raises
    ------
    PositionTextError
        If it is not that.

    Examples
    --------
    >>> read_map_centre("", "@33.75205,-78.2076,17z").warnings[0][:38]
    "This is the centre of a web map's view"
    """
    found = _CENTRE.fullmatch(plain)
    if found is None:
        raise PositionTextError(
            f"{quoted(text)} is no centre of a web map.",
            remedy="Give latitude and longitude, as 33.75205 N 78.2076 W.",
        )
    return pair_position(
        text, _angle(found[1]), _angle(found[2]), notation="dd", frame="EPSG:4326", warnings=(MAP_CENTRE,)
    )
