"""
Geometry as a GeoPackage keeps it: a short header and well-known binary, longitude first.

Points, which there may be a million of, are packed and read without a geometry library.
"""

import math
import sqlite3
import struct
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry

__all__ = ["add_spatial_functions", "blob_bounds", "point_blob", "shape_blob", "shape_from_blob"]

Bounds = tuple[float, float, float, float]

_POINT = struct.Struct("<2sBBiBIdd")
#: Doubles in the envelope, by the indicator in bits 1 to 3 of the flags (GeoPackage 1.3, table 6).
_ENVELOPE_DOUBLES = (0, 4, 6, 6, 8)
_EMPTY_FLAG = 0x10


def point_blob(lon_deg: float, lat_deg: float, srs_id: int) -> bytes:
    """
    Pack a point.

    Examples
    --------
    The bytes that GDAL 3.12.4 writes for the same point:

    >>> point_blob(-80.1, 27.5, 4326).hex()
    '47500001e6100000010100000066666666660654c00000000000803b40'
    """
    return _POINT.pack(b"GP", 0, 1, srs_id, 1, 1, lon_deg, lat_deg)


def shape_blob(geometry: "BaseGeometry", srs_id: int) -> bytes:
    """Pack any geometry, with its envelope in the header so that the R-tree need not read the rest."""
    import shapely

    if geometry.is_empty:
        return struct.pack("<2sBBi", b"GP", 0, 1 | _EMPTY_FLAG, srs_id) + shapely.to_wkb(
            geometry, byte_order=1
        )
    west, south, east, north = geometry.bounds
    header = struct.pack("<2sBBi4d", b"GP", 0, 0b11, srs_id, west, east, south, north)
    return header + bytes(shapely.to_wkb(geometry, byte_order=1))


def shape_from_blob(blob: bytes) -> "BaseGeometry":
    """Unpack any geometry."""
    import shapely

    return shapely.from_wkb(blob[8 + 8 * _ENVELOPE_DOUBLES[(blob[3] >> 1) & 7] :])


def blob_bounds(blob: bytes) -> Bounds | None:
    """Give west, south, east and north of a packed geometry; None where it is empty."""
    flags = blob[3]
    if flags & _EMPTY_FLAG:
        return None
    order = "<" if flags & 1 else ">"
    if (flags >> 1) & 7:
        west, east, south, north = struct.unpack_from(order + "4d", blob, 8)
        return (west, south, east, north)
    if len(blob) == _POINT.size and blob[8] == 1:
        lon_deg, lat_deg = struct.unpack_from("<dd", blob, 13)
        return None if math.isnan(lon_deg) else (lon_deg, lat_deg, lon_deg, lat_deg)
    shape = shape_from_blob(blob)
    return None if shape.is_empty else shape.bounds


def add_spatial_functions(connection: sqlite3.Connection) -> None:
    """Give a connection the functions that the triggers of the R-tree call (GeoPackage 1.3, annex F.3)."""

    def bound(index: int) -> "object":
        def function(blob: bytes | None) -> float | None:
            bounds = blob_bounds(blob) if blob else None
            return bounds[index] if bounds else None

        return function

    def is_empty(blob: bytes | None) -> int | None:
        return None if blob is None else int(blob_bounds(blob) is None)

    for name, index in (("ST_MinX", 0), ("ST_MinY", 1), ("ST_MaxX", 2), ("ST_MaxY", 3)):
        connection.create_function(name, 1, bound(index), deterministic=True)  # type: ignore[arg-type]
    connection.create_function("ST_IsEmpty", 1, is_empty, deterministic=True)
