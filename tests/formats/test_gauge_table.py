"""Tables of a gauge: datum and zone stated or asked for, bad rows kept apart."""

import pytest

from registry.errors import InvalidRecordError, LeadlineError, TableError, TimeTextError
from registry.formats.gauge_table import read_gauge_table

TABLE = "Time (UTC),Height above MLLW (m)\n2026-06-14 14:30,0.61\n2026-06-14 14:36,0.63\n"


def read(text=TABLE, **stated):
    return read_gauge_table(text, source="pier", **stated)


def test_a_table_that_states_everything_needs_nothing_more():
    readings = read().readings
    assert (readings.datum, readings.heights_m.tolist()) == ("MLLW", [0.61, 0.63])
    assert str(readings.times[0]) == "2026-06-14T14:30:00.000000"
    assert readings.span[1].isoformat() == "2026-06-14T14:36:00+00:00"


def test_feet_and_local_time():
    table = read(
        "Date Time;Water Level (ft)\n2026-06-14 10:30;2.0\n", datum="MLLW", zone="America/New_York"
    ).readings
    assert str(table.times[0]) == "2026-06-14T14:30:00.000000"
    assert table.heights_m[0] == pytest.approx(0.6096)


def test_cells_may_carry_their_own_zone_and_unit():
    table = read("time,level\n2026-06-14T10:30-04:00,2 ft\n", datum="LAT").readings
    assert str(table.times[0]) == "2026-06-14T14:30:00.000000"
    assert table.datum == "LAT"


def test_a_table_without_datum_is_asked_about():
    with pytest.raises(InvalidRecordError, match="does not say which datum"):
        read(TABLE.replace(" above MLLW", ""))


def test_two_datums_that_disagree_are_refused():
    with pytest.raises(InvalidRecordError, match="differ by metres"):
        read(datum="NAVD88")
    assert read(datum="MLLW").readings.datum == "MLLW"


def test_a_table_without_zone_is_asked_about():
    with pytest.raises(TimeTextError, match="has no zone"):
        read(TABLE.replace(" (UTC)", ""))


def test_two_zones_that_disagree_are_refused():
    with pytest.raises(TimeTextError, match="keeps UTC by its heading"):
        read(zone="America/New_York")
    assert len(read(zone="UTC").readings.times) == 2


def test_a_height_without_unit_is_rejected_with_its_reason():
    with pytest.raises(TableError, match="has no unit"):
        read(TABLE.replace(" (m)", ""))
    assert read(TABLE.replace(" (m)", ""), unit="m").readings.heights_m.tolist() == [0.61, 0.63]


def test_bad_rows_are_kept_apart_and_good_ones_taken():
    text = (
        TABLE
        + "2026-06-14 14:42,-99.9\n06/14/2026 14:48,0.7\n2026-06-14 14:54,\n2026-06-14 15:00,0.7,x\n"
        + "2026-06-14 14:30,0.99\n2026-06-14 14:24,0.55\n"
    )
    table = read(text)
    assert table.readings.heights_m.tolist() == [0.55, 0.61, 0.63]
    reasons = [why for _, why in table.rejected]
    assert [row.number for row, _ in table.rejected] == [4, 5, 6, 7, 8]
    for why, words in zip(
        reasons, ("no tide reaches", "06/14/2026", "empty", "3 cells", "same instant"), strict=True
    ):
        assert words in why


@pytest.mark.parametrize(
    "header", ["Time (UTC),Temperature", "Level (m),Height (m)", "Time (UTC),Time,Height (m)", "a,b"]
)
def test_columns_that_cannot_be_told_are_refused(header):
    with pytest.raises(TableError, match="among its columns"):
        read(f"{header}\n1,2\n", datum="MLLW", zone="UTC")


@pytest.mark.parametrize("content", ["", "\x00", b"\xff\xfe\xfa", "Time (UTC),Height above MLLW (m)\n"])
def test_no_content_makes_it_fall_over(content):
    with pytest.raises(LeadlineError):
        read(content)
