"""Grid coordinates: round trips, published examples in this direction, and what lies outside a zone."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from registry.errors import FrameError
from registry.measure.datum import resolve, to_geographic
from registry.measure.grid_coordinates import to_grid, utm_grid, utm_zone

# Code, latitude, longitude, easting, northing in the unit of the grid, tolerance, source.
PUBLISHED = [
    ("EPSG:6340", 47 + 11 / 60 + 24.99997 / 3600, -(119 + 17 / 60 + 13.97839 / 3600), 326734.825, 5228847.071,
     0.001, "NGS OPUS report, UTM 11"),
    ("EPSG:6598", 47 + 11 / 60 + 24.99997 / 3600, -(119 + 17 / 60 + 13.97839 / 3600), 591905.162, 207112.470,
     0.001, "NGS OPUS report, SPC 4602"),
    ("EPSG:7855", -(37 + 57 / 60 + 3.72030 / 3600), 144 + 25 / 60 + 29.52440 / 3600, 273741.297, 5796489.777,
     0.001, "ICSM GDA2020 manual, Flinders Peak"),
    ("EPSG:32040", 28.5, -96.0, 2963503.91, 254759.80, 0.005, "IOGP GN7-2, Texas South Central, US survey feet"),
]  # fmt: skip


@pytest.mark.parametrize("row", PUBLISHED, ids=lambda row: row[-1])
def test_published_grid_coordinates(row):
    code, lat, lon, easting, northing, tolerance, _ = row
    assert [float(v) for v in to_grid(lon, lat, code)] == pytest.approx([easting, northing], abs=tolerance)


@given(lon=st.floats(-180, 179.999), lat=st.floats(-79.9, 83.9))
def test_every_place_has_a_utm_grid_that_brings_it_back(lon, lat):
    grid = utm_grid(resolve("WGS 84"), lon, lat)
    assert f"zone {utm_zone(lon, lat)}" in grid.name
    back_lon, back_lat = to_geographic(*to_grid(lon, lat, grid.code), grid.code)
    assert abs((float(back_lon) - lon + 180) % 360 - 180) < 1e-8
    assert float(back_lat) == pytest.approx(lat, abs=1e-8)


def test_the_two_feet_differ_by_two_parts_in_a_million():
    survey = to_grid(-77.3, 34.2, "EPSG:6543")
    metres = to_grid(-77.3, 34.2, "EPSG:6542")
    assert float(survey[0]) == pytest.approx(float(metres[0]) * 3937 / 1200, abs=5e-3)
    south_carolina = to_grid(-79.0, 33.5, "EPSG:6570"), to_grid(-79.0, 33.5, "EPSG:6569")
    assert float(south_carolina[0][0]) == pytest.approx(float(south_carolina[1][0]) / 0.3048, abs=1e-3)


@pytest.mark.parametrize(("lon", "lat", "code"), [(77.3, 34.0, "EPSG:32618"), (-77.3, -60.0, "EPSG:6543")])
def test_a_place_outside_a_grid_is_refused(lon, lat, code):
    with pytest.raises(FrameError, match="outside the area"):
        to_grid(lon, lat, code)


def test_what_is_no_grid_or_has_none():
    with pytest.raises(FrameError, match="no easting"):
        to_grid(-77.3, 34.0, "EPSG:6318")
    with pytest.raises(FrameError, match="no UTM grid"):
        utm_grid(resolve("WGS 84"), 0.0, 85.0)
    with pytest.raises(FrameError, match="no UTM grid"):
        utm_grid(resolve("ETRF2020"), 2.0, 50.0)
    assert utm_grid(resolve("NAD83"), -77.3, 34.0).code == "EPSG:26918"
    assert [utm_zone(20.0, 78.0), utm_zone(8.9, 78.0), utm_zone(9.1, 78.0)] == [33, 31, 33]
