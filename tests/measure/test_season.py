"""Windows of the year: both ends included, over New Year, and the leap day."""

from datetime import date, timedelta

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from registry.measure.season import allowed_days, days_inside

SUMMER, FEAST = ((5, 1), (10, 31)), ((12, 24), (1, 2))
days = st.dates(date(1890, 1, 1), date(2150, 12, 31))
of_year = st.dates(date(2024, 1, 1), date(2024, 12, 31)).map(lambda d: (d.month, d.day))
windows = st.lists(st.tuples(of_year, of_year), min_size=1, max_size=3)


def inside(*texts, **season):
    return days_inside(np.array(texts, dtype="datetime64[D]"), **season).tolist()


def in_window(day, window):
    """As a person reads it, without an array."""
    (first, last), here = window, (day.month, day.day)
    return first <= here <= last if first <= last else here >= first or here <= last


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("2026-04-30", 0.0),
        ("2026-05-01", -1.0),
        ("2026-10-31", -1.0),
        ("2026-11-01", 0.0),
        ("2026-08-01", -92.0),
        ("2026-12-23", 0.0),
        ("2026-12-24", -1.0),
        ("2027-01-01", -2.0),
        ("2027-01-02", -1.0),
        ("2027-01-03", 0.0),
        ("2027-01-13", 10.0),
    ],
)
def test_both_ends_of_a_closed_window_are_closed(text, expected):
    assert inside(text, outside=[SUMMER, FEAST]) == [expected]


def test_what_is_open_only_within_a_window():
    assert inside("2026-05-01", "2026-04-30", "2026-10-31", "2026-11-02", within=[SUMMER]) == [
        0.0,
        -1.0,
        0.0,
        -2.0,
    ]


def test_closed_days_count_also_where_a_window_is_open():
    assert inside("2026-07-03", "2026-07-04", "2026-07-05", within=[SUMMER], outside=[((7, 4), (7, 4))]) == [
        0,
        -1,
        0,
    ]


def test_a_season_over_new_year_is_one():
    winter = ((11, 1), (4, 30))
    assert inside("2026-12-31", "2027-01-01", "2027-05-01", "2026-11-01", within=[winter]) == [
        60.0,
        61.0,
        -1.0,
        0.0,
    ]


def test_the_leap_day_is_a_day_of_its_own():
    assert inside("2028-02-29", "2027-02-28", "2027-03-01", outside=[((2, 1), (2, 29))]) == [-1.0, -1.0, 0.0]
    assert inside("2028-02-29", "2028-02-28", outside=[((2, 1), (2, 28))]) == [0.0, -1.0]
    assert inside("2027-02-28", "2027-03-01", outside=[((2, 29), (2, 29))]) == [365.0, 364.0]
    # No leap day from 29 February 1896 to that of 1904.
    assert inside("1900-03-01", outside=[((2, 29), (2, 29))]) == [1459.0]
    assert inside("1900-03-01", within=[((2, 29), (2, 29))]) == [-1460.0]


def test_a_day_that_is_none_and_a_year_without_end():
    assert np.isnan(inside("NaT", outside=[SUMMER])).all()
    assert inside("2026-06-01", "NaT", within=[((1, 1), (12, 31))])[0] == np.inf
    assert inside("2026-06-01", outside=[((1, 1), (12, 31))]) == [-np.inf]
    assert inside() == []


@given(st.lists(days, min_size=1, max_size=5), windows, st.booleans())
def test_the_count_leads_to_the_nearest_day_of_the_other_kind(some, season, closed):
    key = "outside" if closed else "within"
    array = np.array(some, dtype="datetime64[D]")
    found = days_inside(array, **{key: season})
    allowed = [any(in_window(day, w) for w in season) != closed for day in some]
    assert allowed_days(array, **{key: season}).tolist() == allowed
    for day, count, good in zip(some, found, allowed, strict=True):
        assert good == (count >= 0)
        if np.isfinite(count):
            away = int(count) + 1 if good else int(-count)
            others = [any(in_window(day + timedelta(s * away), w) for w in season) != closed for s in (-1, 1)]
            assert (not good) in others
            for nearer in {1, away // 2, away - 1} - {0, away}:
                assert all(
                    (any(in_window(day + timedelta(s * nearer), w) for w in season) != closed) == good
                    for s in (-1, 1)
                )


@given(days, windows)
def test_open_and_closed_are_each_others_contrary(day, season):
    array = np.array([day], dtype="datetime64[D]")
    assert (days_inside(array, within=season) >= 0) != (days_inside(array, outside=season) >= 0)
