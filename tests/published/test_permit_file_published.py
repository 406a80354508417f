"""
Corners as public notices print them, all the way from a permit file to an area.

Sources
-------
Corners: public notices of the US Army Corps of Engineers, Jacksonville District, SAJ-2018-00382 and
SAJ-2021-01854 (site 20), the column in degrees and decimal minutes. Only north-west, south-east and centre are
printed; the other corners follow, since the sides run along parallels and meridians.
Lengths: GeographicLib by way of pyproj; that the sites are meant to be 300 ft and 1 nmi square is worked out
from the printed corners.
"""

import pytest
from pyproj import Geod

from registry.formats.permit_file import read_permit_file
from registry.formats.written_position import read_position
from registry.measure.area_shape import shape_from_corners

GRS80 = Geod(ellps="GRS80")
FEET_300 = 300 * 0.3048
NAUTICAL_MILE = 1852.0

HEAD = """
[permit]
number = "P-1"
authority = "An invented office"
valid_from = 2024-05-01
valid_to = 2034-04-30
chart_datum = "MLLW"
[[area]]
id = "site"
frame = "EPSG:6318"
"""


def area(*corners):
    (draft,) = read_permit_file(f"{HEAD}corners = {list(corners)!r}\n").areas
    read = [read_position(corner) for corner in draft.corners]
    return shape_from_corners([(position.lon_deg, position.lat_deg) for position in read])


SMALL = (
    "25 40.790° / -80 06.792°",
    "25 40.790° / -80 06.737°",
    "25 40.740° / -80 06.737°",
    "25 40.740° / -80 06.792°",
)
LARGE = (
    "30°22.4881' / -86°38.8436'",
    "30°22.4881' / -86°37.6880'",
    "30°21.4849' / -86°37.6880'",
    "30°21.4849' / -86°38.8436'",
)


@pytest.mark.parametrize(
    ("corners", "north_south_m", "east_west_m", "meant_m", "slack_m"),
    [
        (SMALL, 92.3, 92.0, FEET_300, 1.0),
        (LARGE, 1.0007 * NAUTICAL_MILE, 0.9996 * NAUTICAL_MILE, NAUTICAL_MILE, 2.0),
    ],
    ids=["SAJ-2018-00382", "SAJ-2021-01854 site 20"],
)
def test_sites_have_the_size_that_is_meant(corners, north_south_m, east_west_m, meant_m, slack_m):
    west, south, east, north = area(*corners).bounds
    height_m = GRS80.inv(west, south, west, north)[2]
    width_m = GRS80.inv(west, north, east, north)[2]
    assert (height_m, width_m) == pytest.approx((north_south_m, east_west_m), rel=1e-3)
    assert (height_m, width_m) == pytest.approx((meant_m, meant_m), abs=slack_m)


def test_the_sign_is_taken_over_degrees_and_minutes():
    """The column in decimal degrees of SAJ-2018-00382: 25.67983 / -80.11320 and 25.67900 / -80.11228."""
    west, south, east, north = area(*SMALL).bounds
    assert (west, south, east, north) == pytest.approx((-80.11320, 25.67900, -80.11228, 25.67983), abs=5.1e-6)


def test_the_printed_centre_is_the_middle():
    """SAJ-2018-00382 prints 25 40.765 / -80 06.765; SAJ-2021-01854 site 20 prints 30°21.9865' / -86°38.2658'."""
    for corners, printed in ((SMALL, "25 40.765° / -80 06.765°"), (LARGE, "30°21.9865' / -86°38.2658'")):
        middle, centre = area(*corners).centroid, read_position(printed)
        assert GRS80.inv(middle.x, middle.y, centre.lon_deg, centre.lat_deg)[2] < 1.0
