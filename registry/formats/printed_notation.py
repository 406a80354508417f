"""A position written in a notation that is chosen by name, with the digits that its doubt supports."""

import math
from typing import Literal, get_args

from registry.errors import FrameError
from registry.formats.geo_uri import write_geo_uri
from registry.formats.iso6709 import write_iso6709
from registry.formats.printed_position import write_dd, write_ddm, write_dms
from registry.measure.datum import ResolvedFrame, resolve
from registry.measure.digits import Notation, coordinate_decimals, metres_decimals
from registry.measure.grid_coordinates import to_grid, utm_grid
from registry.records.position import Position

__all__ = [
    "NOTATIONS",
    "PrintedNotation",
    "position_words",
    "write_grid",
    "write_in_notation",
    "written_position",
]

PrintedNotation = Literal["dd", "ddm", "dms", "utm", "mgrs", "iso6709", "geo"]

#: The names, in the order in which they are offered.
NOTATIONS: tuple[PrintedNotation, ...] = get_args(PrintedNotation)
#: Digits of each half of an MGRS reference at most, which is a square of 1 m.
_MGRS_DIGITS = 5


def write_in_notation(
    lat_deg: float,
    lon_deg: float,
    *,
    notation: PrintedNotation,
    r95_m: float,
    frame: ResolvedFrame,
    say_radius: bool = True,
) -> str:
    """
    Write a position so that :func:`registry.formats.written_position.read_position` reads it back.

    Parameters
    ----------
    lat_deg, lon_deg : float
        In `frame`. Units: degrees.
    notation : PrintedNotation
        One of :data:`NOTATIONS`.
    r95_m : float
        95 % radius, from which the digits follow. Units: m.
    frame : ResolvedFrame
        Geographic.
    say_radius : bool
        Whether a geo URI states the radius; not where it is that of the digits alone.

    Raises
    ------
    FrameError
        If the notation does not exist in the frame: MGRS and geo URI are of WGS 84 alone.

    Notes
    -----
    MGRS names the south-west corner of a square; the position lies in it, up to a side to the north-east.

    Examples
    --------
    >>> from registry.measure.datum import resolve
    >>> wgs84 = resolve("WGS 84")
    >>> write_in_notation(34.0208333, -77.3351667, notation="ddm", r95_m=3.0, frame=wgs84)
    '34 01.2500 N 077 20.1100 W'
    >>> write_in_notation(34.0208333, -77.3351667, notation="mgrs", r95_m=3.0, frame=wgs84)
    '18STC8438266925'
    >>> write_in_notation(34.0208333, -77.3351667, notation="utm", r95_m=3.0, frame=wgs84)
    'EPSG:32618 284382.6 3766925.1'
    """
    if notation in ("mgrs", "geo") and not frame.dynamic:
        what = f"{notation} is written in WGS 84, not in {frame.name}."
        raise FrameError(what, remedy="Convert with --to EPSG:4326, or choose another notation.")
    if notation == "utm":
        return write_grid(lat_deg, lon_deg, grid=utm_grid(frame, lon_deg, lat_deg), r95_m=r95_m)
    if notation == "mgrs":
        return _mgrs(lat_deg, lon_deg, r95_m)
    if notation in ("ddm", "dms"):
        parts, write = (Notation.MINUTES, write_ddm) if notation == "ddm" else (Notation.SECONDS, write_dms)
        return write(lat_deg, lon_deg, decimals=coordinate_decimals(parts, r95_m), style="plain")
    decimals = coordinate_decimals(Notation.DEGREES, r95_m)
    if notation == "geo":
        return write_geo_uri(lat_deg, lon_deg, r95_m if say_radius else None, decimals=decimals)
    if notation == "iso6709":
        crs = "WGS_84" if frame.base == "EPSG:4326" else frame.base
        return write_iso6709(lat_deg, lon_deg, decimals=decimals, crs=crs)
    return write_dd(lat_deg, lon_deg, decimals=decimals, style="plain")


def position_words(position: Position) -> str:
    """
    Write a position as it stands: degrees and minutes, no digit beyond its radius, and the name of its frame.

    Examples
    --------
    >>> here = Position(lat_deg=34.0208333, lon_deg=-77.3351667, frame="EPSG:6318", epoch=2010.0, r95_m=3.0)
    >>> position_words(here)
    '34 01.2500 N 077 20.1100 W  NAD83(2011)'
    """
    frame = resolve(position.frame)
    written = write_in_notation(
        position.lat_deg, position.lon_deg, notation="ddm", r95_m=position.r95_m, frame=frame
    )
    return f"{written}  {frame.name}"


def written_position(position: Position) -> dict[str, str]:
    """
    Write a position as plotters and phones take it: "ddm", "dd", "dms" and "geo".

    Parameters
    ----------
    position : Position
        In WGS 84.
    """
    frame = resolve(position.frame)
    wanted: tuple[PrintedNotation, ...] = ("ddm", "dd", "dms", "geo")
    return {
        notation: write_in_notation(
            position.lat_deg, position.lon_deg, notation=notation, r95_m=position.r95_m, frame=frame
        )
        for notation in wanted
    }


def write_grid(lat_deg: float, lon_deg: float, *, grid: ResolvedFrame, r95_m: float) -> str:
    """
    Write easting and northing behind the code of their grid, in its own unit.

    Parameters
    ----------
    lat_deg, lon_deg : float
        In the geographic frame under the grid. Units: degrees.
    grid : ResolvedFrame
        Projected.
    r95_m : float
        95 % radius, from which the digits follow. Units: m.

    Raises
    ------
    FrameError
        If the position lies far outside the grid.
    """
    easting, northing = to_grid(lon_deg, lat_deg, grid.code)
    decimals = metres_decimals(r95_m / grid.axis_unit_size)
    return f"{grid.code} {float(easting):.{decimals}f} {float(northing):.{decimals}f}"


def _mgrs(lat_deg: float, lon_deg: float, r95_m: float) -> str:
    import mgrs

    if not -80.0 <= lat_deg <= 84.0:
        what = f"At latitude {lat_deg:.1f} MGRS squares are polar and not written here."
        raise FrameError(what, remedy="Choose another notation.")
    if -1e-7 < lat_deg < 0.0:
        # A centimetre south of the equator the library rounds up to it, and names a square 10,000 km off.
        lat_deg = 0.0
    # A square no wider than the radius, 1 m at best.
    digits = min(_MGRS_DIGITS, max(1, _MGRS_DIGITS - math.floor(math.log10(max(r95_m, 1.0)))))
    return str(mgrs.MGRS().toMGRS(lat_deg, lon_deg, MGRSPrecision=digits))
