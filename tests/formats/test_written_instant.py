"""Instants and days as people write them. The clock changes are those of the IANA database for New York, 2026."""

from datetime import UTC, date, datetime

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from registry.errors import TimeTextError
from registry.formats.written_instant import read_day, read_instant

ZONE = "America/New_York"

READ = [
    ("2026-06-14T10:32Z", None, "2026-06-14T10:32:00"),
    ("2026-06-14 10:32 UTC", ZONE, "2026-06-14T10:32:00"),
    ("2026-06-14 10:32 GMT", None, "2026-06-14T10:32:00"),
    ("2026-06-14 10:32:07.5-04:00", None, "2026-06-14T14:32:07.500000"),
    ("2026-06-14T10:32-0400", None, "2026-06-14T14:32:00"),
    ("2026-06-14T10:32+05:30", ZONE, "2026-06-14T05:02:00"),
    ("2026-06-14T10:32−04:00", None, "2026-06-14T14:32:00"),
    ("2026-06-14T10:32", ZONE, "2026-06-14T14:32:00"),
    ("2026-01-14 9:32", ZONE, "2026-01-14T14:32:00"),
    ("2026-06-14 10:32 America/New_York", None, "2026-06-14T14:32:00"),
    ("2026-11-01T01:30-05:00", ZONE, "2026-11-01T06:30:00"),
]


@pytest.mark.parametrize(("text", "zone", "utc"), READ, ids=[row[0] for row in READ])
def test_instants(text, zone, utc):
    instant = read_instant(text, zone)
    assert instant == datetime.fromisoformat(utc).replace(tzinfo=UTC)
    assert instant.tzinfo is UTC


REFUSED = [
    ("2026-06-14T10:32", None, "has no zone"),
    ("2026-06-14 10:32 EDT", ZONE, "abbreviations"),
    ("2026-06-14 10:32 PM", ZONE, "twelve hours"),
    ("2026-03-08T02:30", ZONE, r"does not exist.*02:30-05:00 or 2026-03-08T02:30-04:00"),
    ("2026-11-01T01:30", ZONE, r"comes twice.*01:30-04:00 or 2026-11-01T01:30-05:00"),
    ("06/07/26 10:32", ZONE, "2026-06-07 or 2026-07-06"),
    ("14/06/2026 10:32", ZONE, "year-month-day"),
    ("2026-06-14", ZONE, "no time of day"),
    ("2026-13-14T10:00Z", ZONE, "no day"),
    ("2026-06-14T24:00Z", ZONE, "time of day"),
    ("2026-06-14T10:60Z", ZONE, "time of day"),
    ("0026-06-14T10:00Z", ZONE, "year 26"),
    ("2026-06-14T10:32+19:00", ZONE, "far from UTC"),
    ("2026-06-14T10:32", "Nowhere/Atlantis", "IANA"),
    ("46187.43", ZONE, "year-month-day"),
    ("", ZONE, "empty"),
]


@pytest.mark.parametrize(("text", "zone", "told"), REFUSED, ids=[row[0] or "empty" for row in REFUSED])
def test_an_unclear_instant_is_refused_with_its_fault(text, zone, told):
    with pytest.raises(TimeTextError, match=f"(?s){told}") as caught:
        read_instant(text, zone)
    assert caught.value.remedy


def test_both_readings_of_a_doubled_hour_can_be_typed():
    first, second = read_instant("2026-11-01T01:30-04:00", ZONE), read_instant("2026-11-01T01:30-05:00", ZONE)
    assert (second - first).total_seconds() == 3600


@pytest.mark.parametrize(
    "text", ["06/07/26", "6.7.2026", "2026-6-7", "20260607", "2026-02-30", "yesterday", ""]
)
def test_days_are_year_month_day(text):
    with pytest.raises(TimeTextError):
        read_day(text)


def test_a_day():
    assert read_day(" 2026-06-07 ") == date(2026, 6, 7)


@given(
    st.datetimes(
        datetime.fromisoformat("1901-01-01"), datetime.fromisoformat("2198-01-01"), timezones=st.just(UTC)
    )
)
def test_what_is_written_in_utc_reads_back(instant):
    assert read_instant(instant.isoformat(), None) == instant


@given(
    st.one_of(
        st.text(max_size=100),
        st.from_regex(
            r"[0-9]{4}-[0-9]{2}-[0-9]{2}[T ][0-9]{2}:[0-9]{2}(:[0-9]{2})?( ?[A-Za-z/+:0-9._-]{0,12})?",
            fullmatch=True,
        ),
    ),
    st.sampled_from([None, ZONE, "Pacific/Apia", "../x", ""]),
)
@settings(max_examples=300)
def test_no_text_raises_anything_else(text, zone):
    try:
        instant = read_instant(text, zone)
    except TimeTextError:
        return
    assert instant.tzinfo is UTC


def test_a_month_that_there_is_not_is_told_before_the_missing_time():
    with pytest.raises(TimeTextError, match="no day, as there is no month 13"):
        read_instant("2026-13-01", None)
