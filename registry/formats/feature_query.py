"""
What a program asks of a collection of features: where, when, how many, from which on.

Sources
-------
OGC 17-069r4 (OGC API - Features, Part 1: Core, 1.0.1), 7.15.2 to 7.15.4: limit, bbox and datetime.
RFC 3339: instants; an interval is two of them with a slash between, ".." or nothing for an open end.
"""

import math
from dataclasses import dataclass
from datetime import UTC, date, datetime

from registry.errors import RequestError

__all__ = ["Box", "FeatureQuery", "Period", "read_box", "read_period"]

Box = tuple[float, float, float, float]
#: First and last day, both within; None where an end is open.
Period = tuple[date | None, date | None]


@dataclass(frozen=True, slots=True, kw_only=True)
class FeatureQuery:
    """One question to a collection."""

    #: West, south, east, north; west is greater than east across the 180th meridian. Units: degrees.
    box: Box | None = None
    period: Period | None = None
    #: How many features to give at most, and how many of those found to leave out before them.
    limit: int = 100
    offset: int = 0


def read_box(text: str) -> Box:
    """
    Read a bounding box in CRS84.

    Parameters
    ----------
    text : str
        Four numbers (west, south, east, north) or six (with heights, which are left aside). Units: degrees.

    Raises
    ------
    RequestError
        If it is no such box.

    Examples
    --------
    >>> read_box("-77.5,33.9,-77.0,34.1")
    (-77.5, 33.9, -77.0, 34.1)
    >>> read_box("-77.5,33.9,-60,-77.0,34.1,0")
    (-77.5, 33.9, -77.0, 34.1)
    """
    try:
        numbers = [float(part) for part in text.split(",")]
    except ValueError:
        numbers = []
    if len(numbers) == 6:
        numbers = [*numbers[:2], *numbers[3:5]]
    sound = len(numbers) == 4 and all(map(math.isfinite, numbers))
    if sound:
        west, south, east, north = numbers
        sound = abs(west) <= 180 and abs(east) <= 180 and -90 <= south <= north <= 90
    if not sound:
        what = f"{text[:100]!r} is no bounding box."
        raise RequestError(what, remedy="Give west,south,east,north in degrees, as -77.5,33.9,-77.0,34.1.")
    return west, south, east, north


def read_period(text: str) -> Period:
    """
    Read an instant, a day or an interval, as the days that it touches in UTC.

    Raises
    ------
    RequestError
        If it is none, or ends before it begins.

    Examples
    --------
    >>> read_period("2026-06-14T23:30:00-04:00/..")
    (datetime.date(2026, 6, 15), None)
    >>> read_period("2026-06-14")
    (datetime.date(2026, 6, 14), datetime.date(2026, 6, 14))
    """
    first, slash, last = text.partition("/")
    try:
        if not slash:
            day = _day(first)
            if day is None:
                raise ValueError
            return day, day
        begin, end = _day(first), _day(last)
        if begin and end and begin > end:
            raise ValueError
        return begin, end
    except (ValueError, OverflowError):
        what = f"{text[:100]!r} is no instant and no interval."
        remedy = "Give RFC 3339, as 2026-06-14T10:32:00Z or 2026-06-01T00:00:00Z/.. for an interval."
        raise RequestError(what, remedy=remedy) from None


def _day(text: str) -> date | None:
    if text in {"", ".."}:
        return None
    if len(text) == 10:
        return date.fromisoformat(text)
    instant = datetime.fromisoformat(text)
    if instant.tzinfo is None:
        raise ValueError
    return instant.astimezone(UTC).date()
