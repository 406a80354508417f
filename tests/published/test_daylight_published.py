"""
Sunrise and sunset against a published almanac.

``usno_sun_atlanta_2007.txt``: U.S. Naval Observatory, Astronomical Applications Department, "Rise and Set for
the Sun for 2007, Atlanta, Georgia", whole minutes of Eastern Standard Time; a work of the U.S. Government, as
the test data of the PyPI package ephem 4.2.1 carry it (``ephem/tests/usno/riset_sun.txt``), unchanged.
"""

from datetime import date, datetime
from pathlib import Path
from zoneinfo import ZoneInfo

from registry.measure.daylight import daylight

TABLE = Path(__file__).with_name("usno_sun_atlanta_2007.txt")
LON_DEG, LAT_DEG = -(84 + 25 / 60), 33 + 46 / 60
#: Eastern Standard Time all year; the sign of these zones is turned round.
ZONE = "Etc/GMT+5"


def printed() -> list[tuple[date, str, str]]:
    """Give day, sunrise and sunset as the table prints them."""
    found = []
    for row in TABLE.read_text(encoding="ascii").splitlines():
        if row[:2].isdigit() and row[2:4] == "  ":
            for month in range(12):
                cell = row[4 + 11 * month : 13 + 11 * month].split()
                if cell:
                    found.append((date(2007, month + 1, int(row[:2])), cell[0], cell[1]))
    return found


def minutes_off(found: datetime | None, told: str) -> float:
    assert found is not None
    local = found.astimezone(ZoneInfo(ZONE))
    return local.hour * 60 + local.minute + local.second / 60 - (int(told[:2]) * 60 + int(told[2:]))


def test_sunrise_and_sunset_of_a_year_are_those_of_the_naval_observatory():
    table = printed()
    assert len(table) == 365
    off = []
    for day, rise, set_ in table:
        found = daylight(LON_DEG, LAT_DEG, day, ZONE)
        off += [minutes_off(found.rises_at, rise), minutes_off(found.sets_at, set_)]
    # The table rounds to whole minutes, and its place to whole minutes of arc (4 seconds).
    assert max(map(abs, off)) < 0.5 + 0.15
    assert abs(sum(off) / len(off)) < 0.05
