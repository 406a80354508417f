"""Predictions over the turn of a year, turning points, and reading between the readings of a gauge."""

from datetime import UTC, datetime, timedelta, timezone
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from registry.errors import InvalidRecordError, QuantityError, TimeTextError
from registry.measure.tide import (
    HarmonicConstant,
    interpolate_height,
    predict_heights,
    turning_points,
    utc_datetime64,
)

CONSTANTS = (
    HarmonicConstant(name="M2", amplitude_m=0.61, phase_deg=9.0),
    HarmonicConstant(name="S2", amplitude_m=0.11, phase_deg=32.0),
    HarmonicConstant(name="K1", amplitude_m=0.09, phase_deg=190.0),
)


def test_the_step_at_the_turn_of_the_year_is_small():
    times = np.array(["2026-12-31T23:59:59", "2027-01-01T00:00:00"], "M8[us]")
    before, after = predict_heights(times, CONSTANTS, 0.7)
    assert abs(after - before) < 0.02


def test_one_call_over_two_years_is_two_calls():
    times = np.arange("2026-12-30", "2027-01-03", 3600, dtype="M8[s]")
    whole = predict_heights(times, CONSTANTS, 0.7)
    parts = [predict_heights(times[:48], CONSTANTS, 0.7), predict_heights(times[48:], CONSTANTS, 0.7)]
    assert whole.tolist() == np.concatenate(parts).tolist()


def test_a_naive_instant_is_refused():
    with pytest.raises(TimeTextError, match="has no zone"):
        utc_datetime64(datetime.fromisoformat("2026-06-14T10:00"))


def test_an_instant_is_the_same_in_every_zone():
    there = datetime(2026, 6, 14, 6, tzinfo=timezone(timedelta(hours=-4)))
    assert utc_datetime64(there) == utc_datetime64(datetime(2026, 6, 14, 10, tzinfo=UTC))


def test_no_constants_is_no_tide():
    with pytest.raises(QuantityError, match="no tidal constituent"):
        predict_heights(np.array(["2026-06-14"], "M8[us]"), (), 0.0)


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"name": "M22"}, "not known"),
        ({"amplitude_m": -0.1}, "amplitude"),
        ({"amplitude_m": 61.0}, "check the unit"),
        ({"phase_deg": 1813.0}, "phase"),
    ],
)
def test_what_is_no_constant_is_refused(changes, words):
    with pytest.raises(InvalidRecordError, match=words):
        HarmonicConstant(**{"name": "M2", "amplitude_m": 0.6, "phase_deg": 9.0} | changes)


def test_turning_points_are_those_of_every_minute_of_a_year():
    start, end = datetime(2026, 1, 1, tzinfo=UTC), datetime(2027, 1, 1, tzinfo=UTC)
    found = turning_points(start, end, CONSTANTS, 0.7)
    minutes = np.arange("2025-12-31T23:58", "2027-01-01T00:02", dtype="M8[m]")
    heights = predict_heights(minutes, CONSTANTS, 0.7)
    rises = np.diff(heights) > 0
    turns = np.flatnonzero(rises[1:] != rises[:-1]) + 1
    wanted = [minutes[t].astype("M8[us]").item().replace(tzinfo=UTC) for t in turns]
    wanted = [at for at in wanted if start <= at < end]
    # f and u step at midnight of the new year; a turn there is none of the sea's.
    assert len(found) == pytest.approx(len(wanted), abs=1)
    assert {point.at for point in found} >= set(wanted[1:-1])
    kinds = [point.kind for point in found]
    assert all(one != other for one, other in pairwise(kinds))


def test_a_turn_at_midnight_belongs_to_one_day_only():
    point = turning_points(
        datetime(2026, 6, 14, tzinfo=UTC), datetime(2026, 6, 15, tzinfo=UTC), CONSTANTS, 0.0
    )[0]
    up_to = turning_points(point.at - timedelta(hours=1), point.at, CONSTANTS, 0.0)
    since = turning_points(point.at, point.at + timedelta(hours=1), CONSTANTS, 0.0)
    assert (len(up_to), len(since)) == (0, 1)


def gauge(step_min, hours=12.0):
    times = np.arange(0, hours * 60 + 1, step_min).astype("m8[m]") + np.datetime64("2026-06-14T00:00", "us")
    return times, predict_heights(times, CONSTANTS, 0.7)


@given(minute=st.floats(0, 720), step=st.sampled_from([6, 10, 15, 30, 60]))
def test_between_readings_the_truth_lies_within_the_doubt(minute, step):
    times, heights = gauge(step)
    at = datetime(2026, 6, 14, tzinfo=UTC) + timedelta(minutes=minute)
    found = interpolate_height(times, heights, at)
    truth = float(predict_heights(np.array([utc_datetime64(at)]), CONSTANTS, 0.7)[0])
    assert abs(found.height_m - truth) <= found.u95_m + 2e-4


def test_at_a_reading_it_is_the_reading():
    times, heights = gauge(6)
    found = interpolate_height(times, heights, datetime(2026, 6, 14, 3, tzinfo=UTC))
    assert (found.height_m, found.u95_m, found.gap_min) == (heights[30], 0.0, 0.0)


def test_a_gap_of_an_hour_is_bridged_and_a_longer_one_is_not():
    times, heights = gauge(60)
    at = datetime(2026, 6, 14, 3, 30, tzinfo=UTC)
    assert interpolate_height(times, heights, at).gap_min == 60
    with pytest.raises(TimeTextError, match="gap of 120 min"):
        interpolate_height(np.delete(times, 3), np.delete(heights, 3), at)
    nearly = times.copy()
    nearly[3] -= np.timedelta64(1, "m")
    with pytest.raises(TimeTextError, match="gap of 61 min"):
        interpolate_height(nearly, heights, at)


@pytest.mark.parametrize("hour", [-1, 13])
def test_outside_the_readings_nothing_is_made_up(hour):
    times, heights = gauge(6)
    with pytest.raises(TimeTextError, match="2026-06-14T00:00Z to 2026-06-14T12:00Z"):
        interpolate_height(times, heights, datetime(2026, 6, 14, tzinfo=UTC) + timedelta(hours=hour))


def test_beside_a_gap_the_line_is_taken_with_more_doubt():
    times, heights = gauge(10)
    times, heights = np.delete(times, range(20, 40)), np.delete(heights, range(20, 40))
    found = interpolate_height(times, heights, datetime(2026, 6, 14, 3, 5, tzinfo=UTC))
    assert found.height_m == pytest.approx((heights[18] + heights[19]) / 2)
    assert found.u95_m >= abs(heights[19] - heights[18]) / 4
