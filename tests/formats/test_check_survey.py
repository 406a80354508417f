"""The spreadsheet of positions observed again."""

from datetime import UTC, datetime

import pytest

from registry.errors import LeadlineError, TableError, TimeTextError
from registry.formats.check_survey import read_check_survey, read_time
from registry.formats.csv_table import read_csv_table
from registry.formats.placement_log import read_placement_log

ZONE = "America/New_York"


def rows(text, **more):
    table = read_csv_table(text)
    return [row for _, row in read_check_survey(table, zone=ZONE, source={"file": "f"}, **more)]


def test_each_row_is_read_as_it_says():
    (row,) = rows(
        "Tag,Latitude,Longitude,Datum,Epoch,When,Accuracy\nMC-1,34 N,77 W,EPSG:4326,2027.5,2027-10-02 09:30,2 m\n"
    )
    assert (row.tag, row.position.lat_deg, row.position.lon_deg) == ("MC-1", 34.0, -77.0)
    assert (row.frame, row.epoch, row.r95.value) == ("EPSG:4326", 2027.5, 2.0)
    assert row.placed_at == datetime(2027, 10, 2, 13, 30, tzinfo=UTC)
    assert row.source["row"] == 2


def test_a_day_is_enough_and_options_fill_gaps():
    when = datetime(2027, 1, 1, tzinfo=UTC)
    first, second = rows(
        "tag,position,date,r95_ft\nA,34 N 77 W,2027-10-02,10\nB,34 N 77 W,,\n", when=when, frame="EPSG:6318"
    )
    assert first.placed_at == datetime(2027, 10, 2, 16, tzinfo=UTC)
    assert first.r95.value == pytest.approx(3.048)
    assert (second.placed_at, second.frame, second.r95) == (when, "EPSG:6318", None)


def test_a_row_that_cannot_be_read_says_why():
    found = rows(
        "tag,position,date,epoch\n,34 N 77 W,2027-10-02,\nB,,2027-10-02,\nC,34 N 77 W,,\nD,34 N 77 W,2027-10-02,soon\nE,34 N 77 W\nF,34 77,2027-10-02,\n"
    )
    assert all(isinstance(row, LeadlineError) for row in found)
    for row, words in zip(
        found, ("no tag", "no position", "no time", "no epoch", "2 cells", "hemisphere"), strict=True
    ):
        assert words in str(row)


@pytest.mark.parametrize(("header", "words"), [
    ("tag,lat,when", "position"), ("position,when", "tag"), ("tag,position", "when"),
    ("tag,module,position,when", "both mean tag"), ("tag,position,lat,lon,when", "one form"),
])  # fmt: skip
def test_columns_that_cannot_be_understood(header, words):
    with pytest.raises(TableError) as caught:
        rows(f"{header}\n{','.join('1' for _ in header.split(','))}\n")
    assert words in f"{caught.value}"


def test_the_same_words_in_a_placement_log_are_another_row():
    table = read_csv_table("tag,position,when\nA,34 N 77 W,2027-10-02T12:00Z\n")
    ((_, here),) = read_check_survey(table, zone=ZONE, source={})
    ((_, there),) = read_placement_log(table, zone=ZONE, permit="P", source={})
    assert not isinstance(here, LeadlineError)
    assert not isinstance(there, LeadlineError)
    assert here.source["key"] != there.source["key"]


def test_what_is_neither_day_nor_instant():
    with pytest.raises(TimeTextError):
        read_time("10/02/27", ZONE)
