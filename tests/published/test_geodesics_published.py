"""Geodesics, plane bearings and edges against published lines. Tolerances stand in the rows."""

import math

import numpy as np
import pytest
from pyproj import Geod
from shapely import Polygon

from registry.measure.boundary import signed_distance
from registry.measure.edges import run_edges
from registry.measure.geodesic import direct, inverse


def dms(degrees, minutes, seconds):
    return math.copysign(abs(degrees) + minutes / 60.0 + seconds / 3600.0, degrees)


def angle_apart(a, b):
    return abs((a - b + 180.0) % 360.0 - 180.0)


# Vincenty, "Direct and inverse solutions of geodesics on the ellipsoid with application of nested equations",
# Survey Review 23 (176), 1975, table II. Lines (a), (c) and (e); the others are not at hand. The paper's own
# rounding is known to reach 0.8 mm, hence 1 mm. They lie on other ellipsoids than ours, so they check the
# library that `inverse` stands on.
VINCENTY = [
    pytest.param(
        (6377397.155, 299.1528128),
        (dms(55, 45, 0), dms(96, 36, 8.79960), dms(-33, 26, 0), dms(108, 13, 0)),
        (14110526.170, dms(137, 52, 22.01454)),
        1e-3,
        id="a Bessel",
    ),
    pytest.param(
        (6378388.0, 297.0),
        (dms(35, 16, 11.24862), dms(15, 44, 23.74850), dms(67, 22, 14.77638), dms(137, 47, 28.31435)),
        (8084823.839, dms(144, 55, 39.92147)),
        1e-3,
        id="c Hayford",
    ),
    pytest.param(
        (6378388.0, 297.0),
        (dms(1, 0, 0), dms(4, 59, 59.99995), dms(1, 1, 15.18952), dms(179, 46, 17.84244)),
        (19780006.558, dms(174, 59, 59.88481)),
        1e-3,
        id="e Hayford",
    ),
]


@pytest.mark.parametrize(("ellipsoid", "line", "expected", "tolerance_m"), VINCENTY)
def test_vincenty_table_ii(ellipsoid, line, expected, tolerance_m):
    lat1, bearing1, lat2, turn = line
    geod = Geod(a=ellipsoid[0], rf=ellipsoid[1])
    azimuth, back, distance = geod.inv(0.0, lat1, turn, lat2)
    assert distance == pytest.approx(expected[0], abs=tolerance_m)
    assert angle_apart(azimuth, bearing1) * 3600.0 < 1e-4
    assert angle_apart(back + 180.0, expected[1]) * 3600.0 < 1e-4


def test_flinders_peak_to_buninyong():
    """GDA Technical Manual (Intergovernmental Committee on Surveying and Mapping), worked example on GRS 80."""
    flinders = dms(144, 25, 29.52440), dms(-37, 57, 3.72030)  # coordinates from memory; reproduced to 0.2 mm
    buninyong = dms(143, 55, 35.38390), dms(-37, 39, 10.15610)
    distance, bearing = inverse(*flinders, *buninyong)
    _, reverse = inverse(*buninyong, *flinders)
    assert distance == pytest.approx(54972.271, abs=1e-3)
    assert angle_apart(float(bearing), dms(306, 52, 5.37)) * 3600.0 < 0.02
    assert angle_apart(float(reverse), dms(127, 10, 25.07)) * 3600.0 < 0.02
    lon, lat = direct(*flinders, dms(306, 52, 5.37), 54972.271)
    assert inverse(lon, lat, *buninyong)[0] < 5e-3


# Karney, GeodTest, three of the lines that the geographiclib package tests itself with; WGS 84.
# lat1 lon1 azimuth1 lat2 lon2 azimuth2 distance
KARNEY = [
    (
        35.60777,
        -139.44815,
        111.098748429560326,
        -11.17491,
        -69.95921,
        129.289270889708762,
        8935244.5604818305,
    ),
    (55.52454, 106.05087, 22.020059880982801, 77.03196, 197.18234, 109.112041110671519, 4105086.1713924406),
    (-21.97856, 142.59065, -32.44456876433189, 41.84138, 98.56635, -41.84359951440466, 8394328.894657671),
]


@pytest.mark.parametrize("line", KARNEY, ids=["Pacific", "Siberia", "Coral Sea"])
def test_karney_lines(line):
    lat1, lon1, azimuth1, lat2, lon2, azimuth2, metres = line
    azimuth, back, distance = Geod(ellps="WGS84").inv(lon1, lat1, lon2, lat2)
    assert distance == pytest.approx(metres, abs=1e-7)
    assert angle_apart(azimuth, azimuth1) < 1e-10
    assert angle_apart(back + 180.0, azimuth2) < 1e-10
    # GRS 80 and WGS 84 differ by 0.1 mm in the polar radius: the same line on ours.
    ours, bearing = inverse(lon1, lat1, lon2, lat2)
    assert ours == pytest.approx(metres, abs=2e-4)
    assert angle_apart(float(bearing), azimuth1) < 1e-8


# Range and bearing, computed by geodesic direct (Karney's algorithm) and by hand-coded ECEF; sub-micrometre.
RANGE_BEARING = [
    (33.0, -78.0, 118.5, 23.7, 32.9998980322, -77.9997771297),
    (33.0, -78.0, 90.0, 1000.0, 32.9999995414, -77.9892994586),
    (21.0, -157.0, 301.25, 152.4, 21.0007140774, -157.0012531373),
    (-34.0, 151.5, 187.3, 1852.0, -34.0165609772, 151.4974522933),
    (60.0, 5.0, 270.0, 500.0, 59.9999996961, 4.9910394268),
]


@pytest.mark.parametrize("row", RANGE_BEARING, ids=lambda r: f"{r[0]:g} {r[1]:g}")
def test_range_and_bearing(row):
    lat, lon, bearing, metres, lat2, lon2 = row
    x, y = direct(lon, lat, bearing, metres)
    assert (float(y), float(x)) == pytest.approx((lat2, lon2), abs=6e-11)
    distance, azimuth = inverse(lon, lat, lon2, lat2)
    assert distance == pytest.approx(metres, abs=2e-5)
    assert angle_apart(float(azimuth), bearing) < 1e-4


# Sites in US Army Corps of Engineers public notices: north-west corner, south-east corner or centre, and the
# size that follows. Notice text is public; sizes computed.
NW_2018, SE_2018 = (-(80 + 6.792 / 60), 25 + 40.790 / 60), (-(80 + 6.737 / 60), 25 + 40.740 / 60)
NW_2021, CENTRE_2021 = (-(86 + 38.8436 / 60), 30 + 22.4881 / 60), (-(86 + 38.2658 / 60), 30 + 21.9865 / 60)


def extent(west_north, east_south):
    (west, north), (east, south) = west_north, east_south
    middle_lat, middle_lon = (north + south) / 2, (west + east) / 2
    return float(inverse(west, middle_lat, east, middle_lat)[0]), float(
        inverse(middle_lon, north, middle_lon, south)[0]
    )


def test_notice_saj_2018_00382_is_92_0_by_92_3_m():
    assert extent(NW_2018, SE_2018) == pytest.approx((92.0, 92.3), abs=0.05)


def test_notice_saj_2021_01854_is_one_nautical_mile_square():
    """Twice the way from corner to centre; minutes printed to 0.0001 leave 0.0002 nmi open."""
    half = extent(NW_2021, CENTRE_2021)
    assert sorted(2 * side / 1852.0 for side in half) == pytest.approx([0.9996, 1.0007], abs=2e-4)


def test_the_centre_of_notice_saj_2018_00382_lies_46_m_inside():
    (west, north), (east, south) = NW_2018, SE_2018
    site = Polygon([(west, south), (east, south), (east, north), (west, north)])
    inside = signed_distance((west + east) / 2, (north + south) / 2, site, "rhumb").distance_m[0]
    assert inside == pytest.approx(46.0, abs=0.05)


# Largest gap between the geodesic between two corners and the line of constant course, in metres.
# Computed with PROJ 9.5.1 and, east-west, by L² tan(lat) / (8 R); the last column is what the table resolves.
GAPS = [
    (30.0, 1e3, "east-west", 0.011, 5e-4),
    (30.0, 1e4, "east-west", 1.131, 2e-3),
    (30.0, 5e4, "east-west", 28.26, 2e-2),
    (30.0, 1e3, "diagonal", 0.008, 5e-4),
    (30.0, 1e4, "diagonal", 0.799, 5e-3),
    (30.0, 5e4, "diagonal", 19.99, 0.25),
    (45.0, 1e3, "east-west", 0.020, 6e-4),
    (45.0, 1e4, "east-west", 1.957, 2e-3),
    (45.0, 5e4, "east-west", 48.91, 3e-2),
    (45.0, 1e4, "diagonal", 1.384, 5e-3),
    (45.0, 5e4, "diagonal", 34.59, 0.25),
]


@pytest.mark.parametrize(("lat", "length_m", "course", "gap_m", "tolerance_m"), GAPS)
def test_gap_between_geodesic_and_rhumb_edges(lat, length_m, course, gap_m, tolerance_m):
    if course == "east-west":
        half = float(direct(0.0, lat, 90.0, length_m / 2)[0])
        a, b = (-half, lat), (half, lat)
    else:
        (x, y) = direct(0.0, lat, [225.0, 45.0], length_m / 2)
        a, b = (float(x[0]), float(y[0])), (float(x[1]), float(y[1]))
    rhumb = run_edges([a, b], "rhumb", 500.0)
    # A thin triangle whose long edge is the geodesic from corner to corner.
    away = direct(0.0, lat, 180.0 if course == "east-west" else 135.0, length_m)
    corners = Polygon([a, b, (float(away[0]), float(away[1]))])
    gap = np.abs(signed_distance(rhumb[:, 0], rhumb[:, 1], corners, "geodesic").distance_m).max()
    assert gap == pytest.approx(gap_m, abs=tolerance_m)
