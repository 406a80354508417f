"""
The numbers of a placement as one value beside its columns, so that those of a million are read at once.

A value has 49 bytes: a key, then six little-endian IEEE 754 doubles of which every byte is combined with the
key by exclusive or. The key is a byte that the doubles do not hold, so that no byte of the value is zero, and
SQLite joins values by ``group_concat``: some of its versions cut text short at a zero byte.
"""

import math
import struct
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

__all__ = ["packed_numbers", "unpacked_numbers"]

_NUMBERS = struct.Struct("<6d")
_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
_MILLISECOND = timedelta(milliseconds=1)


def packed_numbers(
    *,
    lon_deg: float,
    lat_deg: float,
    r95_m: float,
    depth_m: float | None,
    depth_u95_m: float | None,
    placed_at: str,
) -> bytes:
    """
    Pack the numbers of one placement.

    Parameters
    ----------
    lon_deg, lat_deg : float
        In the home frame. Units: degrees.
    r95_m : float
        Units: m.
    depth_m, depth_u95_m : float or None
        Charted depth and its 95 % uncertainty, None where unknown, which is packed as NaN. Units: m.
    placed_at : str
        The instant of touch-down as the registry writes it; packed as seconds since 1970-01-01T00:00Z.

    Returns
    -------
    bytes
        Of length 49, none of them zero.

    Examples
    --------
    >>> packed_numbers(
    ...     lon_deg=-77.0, lat_deg=34.0, r95_m=0.5, depth_m=18.25, depth_u95_m=None,
    ...     placed_at="2026-06-01T12:00:00.000Z",
    ... ).hex(" ", 8)
    '01 01010101014152c1 0101010101014041 010101010101e13e 0101010101413341 010101010101f97e 010101115c86db40'
    """
    placed_at_s = ((datetime.fromisoformat(placed_at) - _EPOCH) // _MILLISECOND) / 1000.0
    numbers = (lon_deg, lat_deg, r95_m, _known(depth_m), _known(depth_u95_m), placed_at_s)
    plain = _NUMBERS.pack(*map(float, numbers))
    key = next(byte for byte in range(1, 256) if byte not in plain)
    return bytes((key, *(byte ^ key for byte in plain)))


def _known(number: float | None) -> float:
    return math.nan if number is None else number


def unpacked_numbers(packed: bytes) -> "NDArray[np.float64]":
    """
    Unpack the numbers of placements whose packed values stand one behind the other.

    Returns
    -------
    numpy.ndarray of float
        Shape (n, 6): longitude, latitude, R95, depth and its uncertainty, instant, as they were packed.

    Examples
    --------
    >>> one = packed_numbers(
    ...     lon_deg=-77.0, lat_deg=34.0, r95_m=0.5, depth_m=18.25, depth_u95_m=None,
    ...     placed_at="2026-06-01T12:00:00.000Z",
    ... )
    >>> unpacked_numbers(one).tolist()
    [[-77.0, 34.0, 0.5, 18.25, nan, 1780315200.0]]
    """
    import numpy as np

    values = np.frombuffer(packed, dtype=np.uint8).reshape(-1, 1 + _NUMBERS.size)
    return (values[:, 1:] ^ values[:, :1]).view("<f8")
