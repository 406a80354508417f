"""The position that a tablet finds for itself, as its browser tells it."""

import math

from registry.errors import PositionTextError
from registry.formats.printed_position import write_dd

__all__ = ["read_tablet_position"]

#: About a centimetre, finer than any tablet is.
_DECIMALS = 7


def read_tablet_position(latitude: str, longitude: str, accuracy: str) -> dict[str, str]:
    """
    Read what a browser's geolocation gave, as the fields of a written position.

    Parameters
    ----------
    latitude, longitude : str
        Decimal degrees in WGS 84, north and east positive.
    accuracy : str
        95 % radius. Units: m.

    Returns
    -------
    dict
        "text", "frame" and "r95".

    Raises
    ------
    PositionTextError
        If one of them is no number, or out of range.

    Notes
    -----
    Some tablets pass on a radius of 68 % under that name (common knowledge, from memory): the page says so.

    Sources
    -------
    W3C Geolocation, the interface GeolocationCoordinates: WGS 84, accuracy at 95 % confidence (from memory).

    Examples
    --------
    >>> read_tablet_position("34.0016667", "-77", "4.2")["text"]
    '34.0016667 N 77.0000000 W'
    """
    try:
        lat_deg, lon_deg, r95_m = (float(text) for text in (latitude, longitude, accuracy))
    except ValueError:
        lat_deg = lon_deg = r95_m = math.nan
    if not (abs(lat_deg) <= 90 and abs(lon_deg) <= 180 and 0 < r95_m < 1e7):
        what = f"“{latitude[:40]}, {longitude[:40]}” within “{accuracy[:40]}” m is no position of a tablet."
        raise PositionTextError(what, remedy="Take the position again, or state it in another way.")
    text = write_dd(lat_deg, lon_deg, decimals=_DECIMALS, style="plain")
    return {"text": text, "frame": "EPSG:4326", "r95": f"{r95_m:.10g} m"}
