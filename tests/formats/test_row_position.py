"""The position of a row: one text, latitude and longitude, or easting and northing on a named grid."""

import pytest

from registry.errors import LeadlineError, TableError
from registry.formats.row_position import read_row_position
from registry.formats.written_position import read_position, read_position_in

# One point on UTM zone 17 and in degrees, by PROJ 9.5 on the WGS 84 ellipsoid.
GRID = {"easting": "758658.400", "northing": "3738167.977"}


def read(say, frame=None, units=None):
    return read_row_position(say, tag="MC-1", frame=frame, units=units or {})


def test_an_easting_and_a_northing_are_read_on_the_grid_that_is_stated():
    found = read(GRID, "EPSG:32617")
    assert (found.lat_deg, found.lon_deg) == pytest.approx((33.75205, -78.2076), abs=1e-8)
    assert (found.grid, found.frame) == ("EPSG:32617", "EPSG:4326")
    assert found.resolution_lat_deg == pytest.approx(0.001 / 111_320)


def test_a_grid_is_known_by_its_name_and_its_unit_may_stand_in_the_header():
    found = read(GRID, "WGS 84 / UTM zone 17N", {"easting": "m", "northing": "metres"})
    assert found.grid == "EPSG:32617"


@pytest.mark.parametrize(("frame", "units", "words"), [
    (None, {}, "no grid is named"),
    ("EPSG:6318", {}, "is no grid"),
    ("EPSG:32617", {"easting": "ft"}, "is in metre"),
    ("EPSG:2264", {"northing": "m"}, "is in US survey foot"),
    ("EPSG:99999", {}, "EPSG:99999"),
])  # fmt: skip
def test_a_grid_that_is_not_certain_is_asked_for(frame, units, words):
    with pytest.raises(LeadlineError, match=words) as caught:
        read(GRID, frame, units)
    assert caught.value.remedy


@pytest.mark.parametrize("say", [{}, {"position": ""}, {"lat": "34.0 N", "lon": ""}, {"easting": "758658.4"}])
def test_a_row_without_a_position_says_so(say):
    with pytest.raises(TableError, match="MC-1 has no position"):
        read(say, "EPSG:32617")


@pytest.mark.parametrize("text", [
    "758658.4 3738167.977", "758658.4, 3738167.977", "758658.4 E 3738167.977 N", "E758658.4 N3738167.977",
    "N 3738167.977 E 758658.4", "758658.4m 3738167.977m",
])  # fmt: skip
def test_two_bare_numbers_are_a_grid_only_beside_a_grid(text):
    assert read_position_in(text, "EPSG:32617").lat_deg == pytest.approx(33.75205, abs=1e-6)
    for frame in (None, "EPSG:6318"):
        with pytest.raises(LeadlineError):
            read_position_in(text, frame)


@pytest.mark.parametrize(
    "text", ["34 01.250 N 077 20.110 W", "N 34.02 W 77.33", "EPSG:32617 758658.4 3738167.977"]
)
def test_what_says_more_than_two_numbers_is_read_as_it_says(text):
    assert read_position_in(text, "EPSG:32617") == read_position(text)


def test_degrees_beside_a_grid_are_not_taken_for_metres():
    with pytest.raises(LeadlineError, match="look like degrees"):
        read_position_in("34.02083 -77.33517", "EPSG:32617")
