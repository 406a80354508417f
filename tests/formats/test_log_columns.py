"""Columns as a person chooses them, and rows as a person mends them."""

import pytest

from registry.errors import LeadlineError, TableError
from registry.formats.csv_table import read_csv_table
from registry.formats.log_columns import chosen_columns, guessed_columns, refuse_unstated
from registry.formats.placement_log import read_placement_log

TABLE = read_csv_table(
    "Stone,Where,Lat,Lon,Seen,Sounding,Depth (ft)\n"
    "MC-1,34 00.2 N 77 00.0 W,,,2026-06-15 10:00,20,66\n"
    "MC-2,,34.1,77.1,2026-06-15T10:00Z,20 ft,66\n"
)
CHOICE = {"tag": "stone", "position": "where", "when": "seen", "depth": "sounding"}


def rows(columns, **stated):
    said = {"zone": "UTC", "permit": "HB-1", "frame": "EPSG:4326", "source": {}} | stated
    return [row for _, row in read_placement_log(TABLE, columns=columns, **said)]


def test_columns_of_any_name_mean_what_was_chosen():
    first, second = rows(chosen_columns(TABLE, CHOICE, {"depth": "m"}))
    assert (first.tag, first.depth.written, first.permit) == ("MC-1", "20 m", "HB-1")
    assert first.source["columns"] == {"depth_ft": "66"}
    assert isinstance(second, TableError)


def test_a_mended_row_keeps_its_key_and_says_what_it_said():
    columns = chosen_columns(TABLE, CHOICE, {"depth": "m"})
    plain = rows(columns)
    mended = rows(columns, mends={2: {"tag": "MC-3"}, 3: {"position": "34.1 N 77.1 W"}})
    assert mended[0].tag == "MC-3"
    assert mended[0].source["key"] == plain[0].source["key"]
    assert mended[0].source["mended"] == {"tag": ["MC-1", "MC-3"]}
    assert mended[1].position.lat_deg == pytest.approx(34.1)
    assert mended[1].depth.written == "20 ft"
    assert isinstance(rows(columns, mends={2: {"weight": "9"}})[0], LeadlineError)


def test_a_mended_position_goes_before_latitude_and_longitude():
    columns = chosen_columns(TABLE, {"tag": "stone", "lat": "lat", "lon": "lon", "when": "seen"}, {})
    before, after = rows(columns)[1], rows(columns, mends={3: {"position": "34.1 N 77.1 W"}})[1]
    assert isinstance(before, LeadlineError)
    assert (after.position.lat_deg, after.position.lon_deg) == pytest.approx((34.1, -77.1))


def test_a_time_without_a_zone_is_refused_where_each_has_to_state_its_own():
    assert isinstance(rows(chosen_columns(TABLE, CHOICE, {"depth": "m"}), zone=None)[0], LeadlineError)


@pytest.mark.parametrize(
    ("changes", "units", "told"),
    [
        ({"depth": "depth_ft"}, {"depth": "m"}, "its unit is stated as m"),
        ({"r95": "stone"}, {}, "is to mean"),
        ({"depth": "nowhere"}, {}, "cannot be read"),
        ({"weight": "depth_ft"}, {}, "cannot be read"),
        ({}, {"depth": "cubits"}, "no unit of length"),
        ({"lat": "lat"}, {}, "several forms"),
    ],
)
def test_what_cannot_have_been_meant_is_refused(changes, units, told):
    with pytest.raises(TableError, match=told):
        chosen_columns(TABLE, CHOICE | changes, units)


def test_the_unit_of_a_header_stands_where_none_is_stated():
    assert chosen_columns(TABLE, CHOICE | {"depth": "depth_ft"}, {}).units == {"depth": "ft"}


def test_what_must_not_be_assumed_has_a_column_or_is_stated():
    columns = chosen_columns(TABLE, CHOICE, {})
    with pytest.raises(TableError, match="permit is to be named by each row"):
        refuse_unstated(columns, frame="EPSG:4326", permit=None)
    angles = chosen_columns(TABLE, {"tag": "stone", "lat": "lat", "lon": "lon", "when": "seen"}, {})
    with pytest.raises(TableError, match="frame is to be named by each row"):
        refuse_unstated(angles, frame=None, permit="HB-1")
    # A position in one cell may name its own datum.
    refuse_unstated(columns, frame=None, permit="HB-1")


def test_a_guess_refuses_nothing():
    guess = guessed_columns(TABLE)
    assert (guess.by_meaning["lat"], guess.units) == ("lat", {"depth": "ft"})
    assert "tag" not in guess.by_meaning
