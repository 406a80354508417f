"""
The position in one pasted NMEA 0183 sentence: GGA, GLL, GNS or RMC.

A sentence counts only with a correct checksum and a valid fix. It does not say its datum: that is a
setting of the receiver.

Sources
-------
NMEA 0183 (read second-hand): checksum is the exclusive or of the characters between ``$`` and ``*``;
latitude ddmm.mm, longitude dddmm.mm; status A is valid; quality 0 is no fix, 6 estimated, 7 manual, 8
simulated.
"""

import re
from functools import reduce

from registry.errors import PositionTextError
from registry.formats.angle_pair import pair_position, quoted
from registry.records.written_position import WrittenAngle, WrittenPosition

__all__ = ["nmea_checksum", "read_nmea_position"]

_FRAME = re.compile(r"\$([A-Z]{2}[A-Z]{3},[^*$]*)\*([0-9A-Fa-f]{2})", re.ASCII)
#: Type of sentence to the index of its latitude field.
_LATITUDE_AT = {"GGA": 2, "GLL": 1, "GNS": 2, "RMC": 3}
_STATUS_AT = {"GLL": 6, "RMC": 2}
_MODE_AT = {"GLL": 7, "GNS": 6, "RMC": 12}
_NO_FIX = {
    "0": "no fix",
    "6": "dead reckoning",
    "7": "a manual position",
    "8": "a simulation",
    "N": "no fix",
    "E": "dead reckoning",
    "M": "a manual position",
    "S": "a simulation",
}


def nmea_checksum(body: str) -> str:
    """
    Compute the checksum of the characters between ``$`` and ``*``.

    Examples
    --------
    >>> nmea_checksum("GPHDT,123.456,T")
    '32'
    """
    return f"{reduce(lambda total, byte: total ^ byte, body.encode(), 0):02X}"


def read_nmea_position(text: str, plain: str) -> WrittenPosition:
    """
    Read the position in one sentence.

    Raises
    ------
    PositionTextError
        If the sentence is cut, damaged, void, not a fix, or of a type without position.

    Examples
    --------
    >>> sentence = "$GPGLL,3345.1230,N,07812.4560,W,154500,A*37"
    >>> round(read_nmea_position(sentence, sentence).lat_deg, 9)
    33.75205
    """
    found = _FRAME.fullmatch(plain)
    if found is None:
        raise PositionTextError(
            f"{quoted(text)} is no whole NMEA sentence.", remedy="Copy it from $ to the two digits after *."
        )
    body, given = found[1], found[2].upper()
    expected = nmea_checksum(body)
    if given != expected:
        raise PositionTextError(
            f"{quoted(text)}: the checksum is {given} where {expected} is due; the sentence is damaged.",
            remedy="Copy it again from the receiver's log.",
        )
    fields = [part.strip() for part in body.split(",")]
    kind = fields[0][2:]
    if kind not in _LATITUDE_AT:
        raise PositionTextError(
            f"{quoted(text)}: a sentence of type {kind} is not read as a position.",
            remedy=f"Use one of {', '.join(sorted(_LATITUDE_AT))}.",
        )
    _refuse_void(text, kind, fields)
    at = _LATITUDE_AT[kind]
    lat_digits, north, lon_digits, east = (*fields[at : at + 4], "", "", "", "")[:4]
    return pair_position(
        text,
        _angle(text, lat_digits, north, 2, "NS"),
        _angle(text, lon_digits, east, 3, "EW"),
        notation="nmea",
        sure=True,
    )


def _refuse_void(text: str, kind: str, fields: list[str]) -> None:
    def at(index: int | None) -> str:
        return fields[index] if index is not None and index < len(fields) else ""

    if kind in _STATUS_AT and at(_STATUS_AT[kind]) != "A":
        status = at(_STATUS_AT[kind]) or "missing"
        raise PositionTextError(
            f"{quoted(text)}: the status is {status}, a void fix.", remedy="Use a sentence with status A."
        )
    if kind == "GGA":
        quality = at(6)
        fault = _NO_FIX.get(quality) if quality.isascii() and quality.isdigit() else "no fix"
    else:
        mode = at(_MODE_AT[kind])
        fault = _NO_FIX.get(mode[:1]) if mode.strip("N") == "" else None
        fault = fault or (_NO_FIX.get(mode) if len(mode) == 1 else None)
        if kind == "GNS" and not fault and set(mode) <= set("NEMS"):
            fault = "no fix"
    if fault:
        raise PositionTextError(
            f"{quoted(text)} says {fault}.", remedy="Use a sentence with a measured satellite fix."
        )


def _angle(text: str, digits: str, letter: str, width: int, letters: str) -> WrittenAngle:
    if not (re.fullmatch(rf"[0-9]{{{width + 2}}}(\.[0-9]*)?", digits) and letter in letters and letter):
        raise PositionTextError(
            f"{quoted(text)}: “{digits}” with “{letter}” is no field of latitude or longitude.",
            remedy="Use a sentence with both fields filled, as 3345.1230,N,07812.4560,W.",
        )
    return WrittenAngle(degrees=digits[:width], minutes=digits[width:].rstrip("."), hemisphere=letter)
