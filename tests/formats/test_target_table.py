"""A spreadsheet of targets, in whichever form the plan has its positions."""

import pytest

from registry.errors import LeadlineError, PositionTextError, QuantityError, TableError
from registry.formats.csv_table import read_csv_table
from registry.formats.target_table import read_targets, target_columns_left_out


def targets(text, **stated):
    return [target for _, target in read_targets(read_csv_table(text), **stated)]


@pytest.mark.parametrize(
    "text",
    [
        "tag,position\nMC-1,34.02 N 77.33 W\n",
        "Module;Latitude;Longitude\nMC-1;34.02;-77.33\n",
        "tag\tlat\tlon\nMC-1\t34 01.2 N\t077 19.8 W\n",
    ],
)
def test_a_position_stands_in_one_column_or_in_two(text):
    (target,) = targets(text)
    assert target.tag == "MC-1"
    assert (target.position.lat_deg, target.position.lon_deg) == pytest.approx((34.02, -77.33))
    assert (target.frame, target.epoch) == (None, None)


def test_a_grid_is_named_by_row_or_for_all():
    text = (
        "tag,easting_m,northing_m,frame\nMC-1,758658.4,3738167.977,EPSG:32617\nMC-2,758658.4,3738167.977,\n"
    )
    first, second = targets(text, frame="EPSG:26917")
    assert (first.position.grid, first.frame) == ("EPSG:32617", "EPSG:32617")
    assert (second.position.grid, second.frame) == ("EPSG:26917", "EPSG:26917")
    (bare, other) = targets(text)
    assert bare.position.grid == "EPSG:32617"
    assert isinstance(other, TableError)
    assert "no grid is named" in other.what
    (feet,) = targets("tag,easting_ft,northing_ft\nMC-1,758658.4,3738167.977\n", frame="EPSG:32617")
    assert "states the easting in ft" in feet.what


def test_frame_and_epoch_of_a_row_go_before_those_for_all():
    text = "tag,position,datum,epoch\nA,34.02 N 77.33 W,EPSG:4326,2024.5\nB,34.02 N 77.33 W,,\n"
    assert [(t.frame, t.epoch) for t in targets(text, frame="EPSG:6318", epoch=2010.0)] == [
        ("EPSG:4326", 2024.5),
        ("EPSG:6318", 2010.0),
    ]


@pytest.mark.parametrize(
    ("row", "error", "told"),
    [
        (",34.02 N 77.33 W,", TableError, "no tag"),
        ("A,,", TableError, "no position"),
        ("A,34 01.240 077 20.140,", PositionTextError, "hemisphere"),
        ("A,34.02 N 77.33 W,20x6", QuantityError, "'20x6' is no epoch"),
        ("A,34.02 N 77.33 W,inf", QuantityError, "'inf' is no epoch"),
        ("A,34.02 N 77.33 W", TableError, "2 cells"),
        ("a/b,34.02 N 77.33 W,", LeadlineError, "a/b"),
    ],
)
def test_a_row_that_cannot_be_read_says_why_and_the_next_goes_on(row, error, told):
    bad, good = targets(f"tag,position,epoch\n{row}\nB,34.02 N 77.33 W,2024\n")
    assert isinstance(bad, error)
    assert told in str(bad)
    assert good.tag == "B"


@pytest.mark.parametrize(
    ("header", "told"),
    [
        ("position,frame", "no column for tag"),
        ("tag,lat", "position"),
        ("tag,frame", "position"),
        ("tag,position,lat,lon", "several forms"),
        ("tag,module,position", "both mean tag"),
    ],
)
def test_columns_that_cannot_be_understood_are_refused(header, told):
    with pytest.raises(TableError, match=told) as refusal:
        targets(f"{header}\n")
    assert refusal.value.remedy


def test_columns_that_are_left_out_are_named_as_written():
    table = read_csv_table("Tag,Position,Row of the plan,reason\nA,34.02 N 77.33 W,3,x\n")
    assert target_columns_left_out(table) == ("Row of the plan",)
