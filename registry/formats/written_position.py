"""
Positions as people and programs write them, in one text.

What is plainly said is read; what could mean two things is asked about, with the readings to choose from;
what cannot be a position is refused with its fault. Nothing is mended silently.
"""

import re
from collections.abc import Callable

from registry.errors import PositionTextError
from registry.formats.angle_pair import quoted
from registry.formats.datum_label import DATUM_NOT_STATED_R95_M, read_datum_label
from registry.formats.geo_uri import read_geo_uri
from registry.formats.grid_reference import (
    is_projected,
    looks_like_grid,
    read_coded_grid,
    read_grid_position,
    read_grid_reference,
)
from registry.formats.iso6709 import looks_like_iso6709, read_iso6709
from registry.formats.nmea_sentence import read_nmea_position
from registry.formats.plain_text import plain_text
from registry.formats.point_text import (
    read_bare_array,
    read_geojson_point,
    read_map_centre,
    read_wkt_point,
)
from registry.formats.written_angle import read_angles
from registry.measure.datum import resolve
from registry.records.written_position import WrittenPosition

__all__ = ["LONGEST_TEXT", "read_position", "read_position_in"]

#: No position needs more characters.
LONGEST_TEXT = 300

_DATUM_UNSTATED = (
    "The datum is not stated: the position may be off by some 35 m, as between NAD 27 and NAD 83."
)


_GRID_LIKE = re.compile(
    r"[0-9]{1,2}\s*[A-Z]|[A-Z]{2}\s*[0-9]|[A-Z0-9]{2,8}\+|.*(?:SPC|PLANE|LORAN|TD|UTM)", re.I
)
_BY_FIRST: dict[str, Callable[[str, str], WrittenPosition]] = {
    "$": read_nmea_position,
    "{": read_geojson_point,
    "[": read_bare_array,
    "@": read_map_centre,
}


def read_position(text: str) -> WrittenPosition:
    """
    Read a position in any notation that says plainly what it means.

    Parameters
    ----------
    text : str
        Decimal degrees, degrees and minutes, degrees, minutes and seconds (with signs, letters, words or
        marks), ISO 6709, geo URI, well-known text, GeoJSON, one NMEA sentence, or a grid: EPSG code with
        easting and northing, UTM, MGRS, state plane. A datum and an epoch may stand beside it.

    Returns
    -------
    WrittenPosition
        Latitude and longitude as written, in the frame that the text names, if it does; no datum is changed.
        `warnings` tells what a person should look at.

    Raises
    ------
    AmbiguousPositionError
        If the text can be read in several ways: a hemisphere is missing, axes may be swapped, a decimal point
        was lost. `readings` holds what to type instead, the likely one first.
    PositionTextError
        If the text holds no position, or one that contradicts itself.

    Examples
    --------
    >>> position = read_position("34 01.250 N 077 20.110 W")
    >>> round(position.lat_deg, 6), round(position.lon_deg, 6), position.notation
    (34.020833, -77.335167, 'ddm')
    >>> read_position("33.75205, 78.2076")
    Traceback (most recent call last):
    registry.errors.AmbiguousPositionError: “33.75205, 78.2076”: the hemisphere of the latitude and ...
    """
    if len(text) > LONGEST_TEXT:
        raise PositionTextError(
            f"{quoted(text)} has {len(text)} characters; a position has at most {LONGEST_TEXT}.",
            remedy="Give one position.",
        )
    plain = plain_text(text)
    if len(plain) > 1 and plain[0] == plain[-1] == '"':
        plain = plain[1:-1].strip()
    if not plain:
        raise PositionTextError("The position is empty.", remedy="Give latitude and longitude.")
    if reader := _BY_FIRST.get(plain[0]):
        return reader(text, plain)
    if plain[0] in "+-" and looks_like_iso6709(plain):
        return read_iso6709(text, plain)
    if plain[0] in "gGpPsS":
        head = plain[:5].upper()
        if head.startswith("GEO:"):
            return read_geo_uri(text, plain)
        if head.startswith(("POINT", "SRID=")):
            return _in_known_frame(read_wkt_point(text, plain))
    return _in_words(text, plain)


def read_position_in(text: str, frame: str | None) -> WrittenPosition:
    """
    Read a position beside which a frame is stated: an easting and a northing where that is a grid.

    Parameters
    ----------
    text : str
        As for :func:`read_position`; or two numbers, where the frame is a grid.
    frame : str, optional
        Code or name, as "EPSG:32617". Only the grid of two bare numbers goes into the result: whether text
        and statement contradict each other is for the caller to tell.

    Raises
    ------
    AmbiguousPositionError, PositionTextError
        As for :func:`read_position`.
    FrameError
        If nothing is known by the name of the frame that two bare numbers need.

    Examples
    --------
    >>> read_position_in("758658.4 3738167.977", "EPSG:32617").grid
    'EPSG:32617'
    >>> read_position_in("34 01.250 N 077 20.110 W", "EPSG:4326").notation
    'ddm'
    """
    if frame is not None and len(text) <= LONGEST_TEXT and looks_like_grid(text):
        named = resolve(frame)
        if named.projected:
            return read_grid_position(text, named.code)
    return read_position(text)


def _in_words(text: str, plain: str) -> WrittenPosition:
    """Read what people type: angles or a grid, with words for the datum beside them."""
    label = read_datum_label(text, plain)
    if label.frame and "EPSG" in plain.upper() and is_projected(text, label.frame):
        return read_coded_grid(text, label)
    if _GRID_LIKE.match(label.rest.strip()) and (grid := read_grid_reference(text, label)):
        return grid
    return read_angles(
        text,
        label.rest.replace("''", '"').lstrip(" \t\r\n,;:/").rstrip(" \t\r\n.,;:/"),
        frame=label.frame,
        epoch=label.epoch,
        extra_r95_m=DATUM_NOT_STATED_R95_M if label.unknown else 0.0,
        datum_unknown=label.unknown,
        warnings=(_DATUM_UNSTATED,) if label.unknown else (),
    )


def _in_known_frame(position: WrittenPosition) -> WrittenPosition:
    """Refuse well-known text whose SRID is a grid: its numbers are no degrees."""
    if position.frame and is_projected(position.text, position.frame):
        raise PositionTextError(
            f"{quoted(position.text)}: {position.frame} is a grid, and the numbers are not degrees.",
            remedy="Write the EPSG code with easting and northing.",
        )
    return position
