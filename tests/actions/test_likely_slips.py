"""
What a mistyped position could have been.

The slips are common practice, no source. Their displacements from 27 30.500 N 80 06.250 W are geodesics on the
WGS 84 ellipsoid, worked out beforehand to the digits given.
"""

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pyproj import Geod

from registry.actions.likely_slips import likely_slips
from registry.formats.written_position import read_position

TRUE = read_position("27 30.500 N 80 06.250 W")
WGS84 = Geod(ellps="WGS84")

# What came ashore, the slip that explains it, and how far off it was. Units: m, and its tolerance.
MISTYPED = [
    ("27.30500, -80.06250", "minutes-as-decimals", 22_900, 100),
    ("27 30 50.0 N 80 06 25.0 W", "minutes-as-seconds", 674, 5),
    ("27.50833, -79.89583", "sign-on-degrees", 20_600, 100),
    ("27 30.500 N 80 06.250 E", "longitude-hemisphere", 13_562_000, 1000),
    ("27 30.500 S 80 06.250 W", "latitude-hemisphere", None, None),
    ("27 30.500 S 80 06.250 E", "both-hemispheres", None, None),
    ("80 06.250 S 27 30.500 E", "axes-swapped", 13_333_000, 1000),
    ("27 30.050 N 80 06.250 W", "latitude-digits-transposed", 831, 2),
    ("27 30.500 N 80 02.650 W", "longitude-digits-transposed", None, None),
    ("72 30.500 N 80 06.250 W", "latitude-digits-transposed", None, None),
]


@pytest.mark.parametrize(
    ("typed", "name", "displacement_m", "tolerance_m"), MISTYPED, ids=[f"{m[1]}: {m[0]}" for m in MISTYPED]
)
def test_each_slip_at_sea_is_undone(typed, name, displacement_m, tolerance_m):
    written = read_position(typed)
    found = {slip.name for slip in likely_slips(written)
             if slip.lat_deg == pytest.approx(TRUE.lat_deg, abs=6e-6) and slip.lon_deg == pytest.approx(TRUE.lon_deg, abs=6e-6)}  # fmt: skip
    assert name in found
    if displacement_m is not None:
        distance_m = WGS84.inv(TRUE.lon_deg, TRUE.lat_deg, written.lon_deg, written.lat_deg)[2]
        assert distance_m == pytest.approx(displacement_m, abs=max(tolerance_m, 0.003 * displacement_m))


def test_seconds_typed_as_decimals_are_undone():
    true = read_position("33 45 07.38 N 78 12 27.36 W")
    for typed, name in (
        ("33.450738, -78.122736", "seconds-as-decimals"),
        ("33 45.0738 N 78 12.2736 W", "seconds-as-minutes"),
    ):
        slip = next(slip for slip in likely_slips(read_position(typed)) if slip.name == name)
        assert (slip.lat_deg, slip.lon_deg) == pytest.approx((true.lat_deg, true.lon_deg), abs=1e-9)


def test_degrees_typed_as_minutes_are_undone():
    slips = likely_slips(read_position("33 45.123 N 78 12.456 W"))
    slip = next(slip for slip in slips if slip.name == "decimals-as-minutes")
    assert (slip.lat_deg, slip.lon_deg) == pytest.approx((33.45123, -78.12456), abs=1e-9)


def test_the_digits_are_named():
    slip = next(
        s
        for s in likely_slips(read_position("27 30.050 N 80 06.250 W"))
        if s.lat_deg == pytest.approx(TRUE.lat_deg)
    )
    assert "27 30.050 was typed for 27 30.500" in slip.sentence


def test_the_likelier_slip_comes_first():
    names = [slip.name for slip in likely_slips(read_position("33.45123, -78.12456"))]
    order = ["longitude-hemisphere", "axes-swapped", "minutes-as-decimals", "latitude-digits-transposed"]
    assert sorted(order, key=names.index) == order


def test_grid_coordinates_have_no_written_angles():
    assert likely_slips(read_position("17SQT5865838167")) == ()


@given(st.integers(0, 89), st.integers(0, 179), st.integers(0, 59_999), st.integers(0, 59_999))
def test_slips_are_places_all_different_from_the_text_and_from_one_another(lat, lon, lat_min, lon_min):
    written = read_position(f"{lat} {lat_min / 1000:06.3f} N {lon} {lon_min / 1000:06.3f} W")
    slips = likely_slips(written)
    places = [(slip.lat_deg, slip.lon_deg) for slip in slips]
    assert all(abs(a) <= 90 and abs(b) <= 180 for a, b in places)
    assert len(set(places)) == len(places)
    assert (written.lat_deg, written.lon_deg) not in places
    assert all(slip.sentence.endswith(".") for slip in slips)
