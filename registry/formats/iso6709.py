"""
Positions as ISO 6709 strings: ``+33.75205-078.20760/``, ``+3345.123-07812.456/``, ``+334507.38-0781227.36/``.

Sources
-------
ISO 6709:2008, Annex H (read second-hand): two digits of degrees for latitude and three for longitude, a sign
on each, a solidus at the end, a height only with the name of its CRS.
"""

import re
from typing import Literal

from registry.errors import PositionTextError
from registry.formats.angle_pair import pair_position, quoted
from registry.formats.datum_label import frame_named
from registry.formats.rounded_angle import rounded_angle
from registry.records.written_position import WrittenAngle, WrittenPosition

__all__ = ["looks_like_iso6709", "read_iso6709", "write_iso6709"]

_STRING = re.compile(
    r"([+-])([0-9]{2}|[0-9]{4}|[0-9]{6})([.,][0-9]+)?([+-])([0-9]{3}|[0-9]{5}|[0-9]{7})([.,][0-9]+)?"
    r"(?P<height>[+-][0-9]+(?:[.,][0-9]+)?)?(?:CRS(?P<crs>[A-Za-z0-9_:() .-]+))?/?"
)


def looks_like_iso6709(plain: str) -> bool:
    """
    Tell whether a text has the shape of the standard's string.

    Examples
    --------
    >>> looks_like_iso6709("+38-097/"), looks_like_iso6709("-33.7, 78.2")
    (True, False)
    """
    return _STRING.fullmatch(plain) is not None


def read_iso6709(text: str, plain: str) -> WrittenPosition:
    """
    Read one ISO 6709 string.

    Raises
    ------
    PositionTextError
        If latitude and longitude are packed differently, or the CRS is not a known one.

    Examples
    --------
    >>> round(read_iso6709("+3345.123-07812.456/", "+3345.123-07812.456/").lon_deg, 9)
    -78.2076
    """
    found = _STRING.fullmatch(plain)
    if found is None:
        raise PositionTextError(
            f"{quoted(text)} is no ISO 6709 string.", remedy="Write it as +33.75205-078.20760/."
        )
    lat_digits, lon_digits = found[2], found[5]
    if len(lat_digits) + 1 != len(lon_digits):
        raise PositionTextError(
            f"{quoted(text)}: latitude and longitude are packed in different ways.",
            remedy="Write both as degrees (DD, DDD), or both with minutes (DDMM, DDDMM).",
        )
    frame = None
    if found["crs"]:
        frame = _frame(text, found["crs"])
    warnings: tuple[str, ...] = ()
    if found["height"] and not found["crs"]:
        warnings = ("A height without the name of its vertical reference was left aside.",)
    return pair_position(
        text,
        _angle(found[1], lat_digits, found[3] or "", 2),
        _angle(found[4], lon_digits, found[6] or "", 3),
        notation="iso6709",
        frame=frame,
        warnings=warnings,
    )


def _angle(sign: str, digits: str, fraction: str, width: int) -> WrittenAngle:
    parts = [digits[:width], digits[width : width + 2], digits[width + 2 :]]
    last = max(i for i, part in enumerate(parts) if part)
    parts[last] += fraction.replace(",", ".")
    return WrittenAngle(sign=sign, degrees=parts[0], minutes=parts[1], seconds=parts[2])


def _frame(text: str, crs: str) -> str:
    code = re.fullmatch(r"EPSG[:_]?([0-9]{4,5})", crs, re.IGNORECASE)
    frame = f"EPSG:{code[1]}" if code else frame_named(crs)
    if frame is None:
        raise PositionTextError(
            f"{quoted(text)}: the CRS {crs} is not known here.", remedy="Write CRSWGS_84 or CRSEPSG:6318."
        )
    return frame


def write_iso6709(
    lat_deg: float,
    lon_deg: float,
    *,
    decimals: int,
    form: Literal["dd", "ddm", "dms"] = "dd",
    crs: str = "",
) -> str:
    """
    Write an ISO 6709 string.

    Parameters
    ----------
    lat_deg, lon_deg : float
        Units: degrees.
    decimals : int
        Digits behind the point of the last part, the same for both.
    form : {"dd", "ddm", "dms"}
        Degrees, degrees and minutes, or degrees, minutes and seconds.
    crs : str
        Name of the reference system, without "CRS".

    Examples
    --------
    >>> write_iso6709(33.75205, -78.2076, decimals=5)
    '+33.75205-078.20760/'
    >>> write_iso6709(33.75205, -78.2076, decimals=3, form="ddm", crs="WGS_84")
    '+3345.123-07812.456CRSWGS_84/'
    """
    parts = []
    for value, width in ((lat_deg, 2), (lon_deg, 3)):
        negative, fields = rounded_angle(value, form=form, decimals=decimals, degree_digits=width)
        parts.append(("-" if negative else "+") + "".join(fields))
    return "".join(parts) + (f"CRS{crs}" if crs else "") + "/"
