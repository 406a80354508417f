"""
When the sun rises and sets at sea, on a day of a zone.

Sunrise and sunset are the instants at which the upper edge of the sun stands on a sea horizon, with a
standard refraction of 34 minutes of arc. Refraction varies: a minute or two either way is nobody's mistake,
and more where the sun grazes the horizon in high latitudes.

Sources
-------
Height of the sun's centre: the library ``astral`` (the formulas of the NOAA solar calculator, after Meeus,
Astronomical Algorithms). Its own search for sunrise by calendar days of UTC loses a day where the instant
passes midnight there, so the crossings are found here. Refraction and half-diameter: U.S. Naval Observatory,
"Rise, Set, and Twilight Definitions" (50 minutes of arc below the horizon; from memory).
"""

from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from itertools import pairwise
from typing import Literal
from zoneinfo import ZoneInfo

from astral import Observer
from astral.sun import elevation

__all__ = ["Daylight", "daylight"]

#: Geometric height of the sun's centre when its upper edge is seen on the horizon. Units: degrees.
_HORIZON_DEG = -50.0 / 60.0
#: Steps in which a day is searched: a sun that shows for less is grazing, and nobody can tell.
_STEP = timedelta(minutes=5)
_CLOSE = timedelta(seconds=1)

Sun = Literal["rises and sets", "up all day", "down all day"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Daylight:
    """One day of a zone."""

    #: First rise and last set within the day, in UTC; None where there is none.
    rises_at: datetime | None
    sets_at: datetime | None
    sun: Sun


def daylight(lon_deg: float, lat_deg: float, day: date, zone: str) -> Daylight:
    """
    Find sunrise and sunset.

    Parameters
    ----------
    lon_deg, lat_deg : float
        In WGS 84; a hundred metres do not matter. Units: degrees.
    day : datetime.date
        From midnight to midnight of the zone: 23 or 25 hours where the clocks change.
    zone : str
        Name of an IANA zone.

    Notes
    -----
    Where the polar day or night begins, a day may have one of the two alone; ``sun`` then still is "rises and
    sets".

    Examples
    --------
    >>> found = daylight(-77.3, 34.0, date(2026, 6, 21), "America/New_York")
    >>> found.rises_at.astimezone(ZoneInfo("America/New_York")).strftime("%H:%M")
    '05:58'
    >>> daylight(18.9, 69.7, date(2026, 6, 21), "Europe/Oslo").sun
    'up all day'
    """
    clock = ZoneInfo(zone)
    following = day + timedelta(days=1)
    start, end = (
        datetime(midnight.year, midnight.month, midnight.day, tzinfo=clock).astimezone(UTC)
        for midnight in (day, following)
    )
    observer = Observer(latitude=lat_deg, longitude=lon_deg)

    def up(at: datetime) -> bool:
        return elevation(observer, at, with_refraction=False) >= _HORIZON_DEG

    times = [start + _STEP * step for step in range((end - start) // _STEP + 1)]
    seen = [(at, up(at)) for at in times]
    rises: list[datetime] = []
    sets: list[datetime] = []
    for (before, was_up), (after, is_up) in pairwise(seen):
        if was_up != is_up:
            low, high = before, after
            while high - low > _CLOSE:
                middle = low + (high - low) / 2
                low, high = (middle, high) if up(middle) == was_up else (low, middle)
            (rises if is_up else sets).append(high)
    sun: Sun = "rises and sets" if rises or sets else "up all day" if seen[0][1] else "down all day"
    return Daylight(rises_at=min(rises, default=None), sets_at=max(sets, default=None), sun=sun)
