"""Observed and predicted tides, told apart, and the day of a station."""

from datetime import UTC, date, datetime, timedelta

import pytest

from registry.actions.tide_at import observed_tide, predicted_tide
from registry.actions.tide_day import tide_day
from registry.errors import InvalidRecordError, NotFoundError, TimeTextError
from tests.tide_builders import a_station, some_readings

AT = datetime(2026, 6, 14, 14, 32, tzinfo=UTC)


def test_observed_and_predicted_are_told_apart():
    seen = observed_tide(some_readings(), AT, "MLLW")
    told = predicted_tide(a_station(), AT, "MLLW")
    assert (seen.kind, told.kind) == ("observed", "predicted")
    assert seen.height_m - told.height_m == pytest.approx(0.2, abs=0.001)
    assert (seen.at, told.at) == (AT, AT)


@pytest.mark.parametrize("weather_u95_m", [None, 0.01, 0.5])
def test_a_predicted_tide_is_wider_than_an_observed_one(weather_u95_m):
    seen = observed_tide(some_readings(), AT, "MLLW").height
    told = predicted_tide(a_station(weather_u95_m=weather_u95_m), AT, "MLLW").height
    assert told.u95_m > seen.u95_m


def test_the_doubt_of_a_prediction_says_where_it_is_from():
    usual = predicted_tide(a_station(), AT, "MLLW").terms[0].source
    stated = (
        predicted_tide(a_station(weather_u95_m=0.4, weather_source="residuals of 2024"), AT, "MLLW")
        .terms[0]
        .source
    )
    assert "common practice, no source" in usual
    assert "residuals of 2024" in stated


def test_another_datum_moves_the_prediction_by_their_difference():
    heights = [predicted_tide(a_station(), AT, datum).height_m for datum in ("MLLW", "LAT")]
    assert heights[1] - heights[0] == pytest.approx(0.20)
    with pytest.raises(NotFoundError, match="NAVD88"):
        predicted_tide(a_station(), AT, "NAVD88")


def test_readings_above_another_datum_are_refused():
    with pytest.raises(InvalidRecordError, match="reads above MLLW, the depth is wanted below LAT"):
        observed_tide(some_readings(), AT, "LAT")


def test_distance_to_the_gauge_is_a_term_of_its_own():
    near = observed_tide(some_readings(), AT, "MLLW")
    far = observed_tide(some_readings(), AT, "MLLW", away_u95_m=0.15)
    assert len(far.terms) == len(near.terms) + 1
    assert far.height.u95_m**2 == pytest.approx(near.height.u95_m**2 + 0.15**2)


def test_hourly_readings_are_surer_at_their_hours_than_between():
    hourly = some_readings(step_min=60)
    on, between = (
        observed_tide(hourly, AT.replace(minute=minute), "MLLW").height.u95_m for minute in (0, 30)
    )
    assert on == pytest.approx(0.05)
    assert between > on


def test_a_day_without_readings_is_refused():
    with pytest.raises(TimeTextError, match="outside the readings"):
        observed_tide(some_readings(), AT + timedelta(days=1), "MLLW")


def test_a_day_has_its_curve_and_turns():
    day = tide_day(a_station(), date(2026, 6, 14), zone="America/New_York")
    assert (len(day.times), day.times[0].isoformat()) == (145, "2026-06-14T00:00:00-04:00")
    assert day.times[-1].isoformat() == "2026-06-15T00:00:00-04:00"
    assert [turn.kind for turn in day.turns] in (["high", "low"] * 2, ["low", "high"] * 2)
    for turn in day.turns:
        assert min(day.heights_m) - 0.01 <= turn.height_m <= max(day.heights_m) + 0.01
    assert day.datum == "MLLW"


@pytest.mark.parametrize(("day", "hours"), [(date(2026, 3, 8), 23), (date(2026, 11, 1), 25)])
def test_a_day_of_the_change_of_clocks_is_shorter_or_longer(day, hours):
    tide = tide_day(a_station(), day, zone="America/New_York")
    assert tide.times[-1].astimezone(UTC) - tide.times[0].astimezone(UTC) == timedelta(hours=hours)


@pytest.mark.parametrize("zone", ["EST5", "Nowhere/At_All", "../etc/passwd", ""])
def test_an_unknown_zone_is_refused(zone):
    with pytest.raises(TimeTextError, match="no zone of the IANA database"):
        tide_day(a_station(), date(2026, 6, 14), zone=zone)
