"""Where the sun does not rise, rises twice a year, or rises on another day of UTC."""

from datetime import UTC, date, datetime, timedelta
from itertools import pairwise
from zoneinfo import ZoneInfo

import pytest

from registry.measure.daylight import daylight


def test_midnight_sun_and_polar_night_are_told_and_end():
    states = [daylight(18.9, 69.7, date(2026, 1, 1) + timedelta(n), "Europe/Oslo").sun for n in range(365)]
    changes = [states[0], *(now for before, now in pairwise(states) if now != before)]
    assert changes == ["down all day", "rises and sets", "up all day", "rises and sets", "down all day"]


def both(lon_deg: float, lat_deg: float, day: date, zone: str) -> tuple[datetime, datetime]:
    """Give sunrise and sunset of a day that has both."""
    found = daylight(lon_deg, lat_deg, day, zone)
    assert found.rises_at is not None
    assert found.sets_at is not None
    return found.rises_at, found.sets_at


@pytest.mark.parametrize(
    ("lon", "lat", "zone"),
    [
        (174.8, -36.8, "Pacific/Auckland"),
        (-157.9, 21.3, "Pacific/Honolulu"),
        (179.9, 52.2, "Pacific/Auckland"),
        (-77.3, 34.0, "America/New_York"),
        (0.0, 0.0, "UTC"),
    ],
)
def test_every_day_of_a_zone_has_its_own_sunrise_and_sunset(lon, lat, zone):
    clock = ZoneInfo(zone)
    for number in range(0, 365, 3):
        day = date(2026, 1, 1) + timedelta(number)
        rises, sets = both(lon, lat, day, zone)
        assert rises.astimezone(clock).date() == day
        assert sets.astimezone(clock).date() == day
        length = (sets - rises) % timedelta(days=1)
        assert timedelta(hours=7) < length < timedelta(hours=17)


def test_south_is_the_other_way_round_and_the_equator_has_twelve_hours():
    def length(lat_deg: float, day: date) -> timedelta:
        rises, sets = both(0.0, lat_deg, day, "UTC")
        return sets - rises

    assert length(-50.0, date(2026, 12, 21)) > timedelta(hours=16)
    assert length(-50.0, date(2026, 6, 21)) < timedelta(hours=9)
    # Half-diameter and refraction, 50 minutes of arc at both ends, make it 6.7 minutes longer.
    even = length(0.0, date(2026, 3, 20))
    assert abs(even - timedelta(hours=12, minutes=6.7)) < timedelta(seconds=30)


def test_a_day_on_which_the_clocks_change_is_searched_to_its_end():
    rises, sets = both(-77.3, 34.0, date(2026, 11, 1), "America/New_York")
    assert datetime(2026, 11, 1, 11, 0, tzinfo=UTC) < rises < datetime(2026, 11, 1, 12, 0, tzinfo=UTC)
    assert sets.date() == date(2026, 11, 1)
