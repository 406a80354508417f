"""Positions as people type them: the traps, the round trips, and that nothing else is ever raised."""

import re
import time

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from registry.errors import AmbiguousPositionError, PositionTextError
from registry.formats.geo_uri import write_geo_uri
from registry.formats.iso6709 import write_iso6709
from registry.formats.printed_position import write_dd, write_ddm, write_dms
from registry.formats.written_position import LONGEST_TEXT, read_position
from registry.records.written_position import MINUTES_AS_DECIMALS

LAT, LON = 33.75205, -78.2076

# Common practice, no source: ways in which the same place is typed.
SAME_PLACE = [
    "33.75205 −78.2076",
    "33.75205 N - 78.2076 W",
    "33.75205N-78.2076W",
    "33.75205 N, 78.2076 West",
    "-78.2076 Lon, 33.75205 Lat",
    "lon: -78.2076 lat: 33.75205",
    "33.75205 N lat, 78.2076 W lon",
    "33.75205° N latitude and 78.2076° W longitude",
    "33 45,123; -78 12,456",
    "33°-45.123'N, 078°-12.456'W",
    "N 33-45.123 W 078-12.456",
    "33°45′07.38″ N 078°12′27.36″ W",
    "33º 45' 07.38\" / -78º 12' 27.36\"",
    "33:45:07.38 -78:12:27.36",
    "3345.123,N,07812.456,W",
    "33.75205 Norte 78.2076 Oeste",
    "Latitud 33.75205 N Longitud 78.2076 O",
    "33.75205 N (WGS84) 78.2076 W",
    '"33.75205, -78.2076"',
    "EPSG:4326 33.75205, -78.2076",
    "SRID=4326;POINT(-78.2076 33.75205)",
    "EPSG:32617 N 3738167.977 E 758658.400",
]


@pytest.mark.parametrize("text", SAME_PLACE)
def test_the_same_place_however_it_is_typed(text):
    written = read_position(text)
    assert (written.lat_deg, written.lon_deg) == pytest.approx((LAT, LON), abs=1e-8)


def test_a_minus_before_zero_degrees_survives():
    written = read_position("-0 30.0, -0 15.0")
    assert (written.lat_deg, written.lon_deg) == (-0.5, -0.25)


def test_a_leading_point_is_no_litter():
    written = read_position(".5 N .25 W")
    assert (written.lat_deg, written.lon_deg) == (0.5, -0.25)


def test_east_longitudes_beyond_180_come_out_west():
    assert read_position("33.75205N 281.7924E").lon_deg == pytest.approx(LON, abs=1e-12)


# What is asked, and the readings offered, the likely one first.
ASKED = {
    "33.75205, 78.2076": ["33.75205 N 78.2076 W", "33.75205 N 78.2076 E", "33.75205 S 78.2076 W", "33.75205 S 78.2076 E"],
    "33.75205N 78.2076": ["33.75205 N 78.2076 W", "33.75205 N 78.2076 E"],
    "33.75205 - 78.2076": ["33.75205 N 78.2076 W", "33.75205 N 78.2076 E", "33.75205 S 78.2076 W", "33.75205 S 78.2076 E"],
    "-33.75 - 151.2": ["33.75 S 151.2 W", "33.75 S 151.2 E"],
    "33.75205S-151.2E": ["33.75205 S 151.2 W", "33.75205 S 151.2 E"],
    "+33-78.2/": ["33 N 78.2 W", "33 N 78.2 E"],
    "-33-45-78-12": ["33 45 S 78 12 W", "33 45 S 78 12 E"],
    "33 45 78 12 W": ["33 45 N 78 12 W", "33 45 S 78 12 W"],
    "33d45m07.38s 78d12m27.36s W": ["33 45 07.38 N 78 12 27.36 W", "33 45 07.38 S 78 12 27.36 W"],
    "33°45.123' N 78°12.456' O": ["33 45.123 N 78 12.456 W", "33 45.123 N 78 12.456 E"],
    "3345123N 07812456W": ["33 45.123 N 078 12.456 W", "33 45 12.3 N 078 12 45.6 W"],
    "POINT (33.75205 -78.2076)": ["33.75205 N 78.2076 W", "78.2076 S 33.75205 E"],
    "17S 758658.4 3738167.977 WGS84": ["EPSG:32617 758658.4 3738167.977", "EPSG:32717 758658.4 3738167.977"],
    "SPCS 3200 NAD83(2011) E 640000 N 20000": ["EPSG:6542 640000 20000", "EPSG:6543 640000 20000"],
    "SPCS 3200 NAD83(2011) E 2240919.694 N 1707.706": ["EPSG:6543 2240919.694 1707.706"],
}  # fmt: skip


@pytest.mark.parametrize("text", ASKED)
def test_two_readings_are_asked_about(text):
    with pytest.raises(AmbiguousPositionError) as caught:
        read_position(text)
    assert list(caught.value.readings) == ASKED[text]
    for reading in caught.value.readings:
        read_position(reading)


def test_a_utm_zone_without_datum_offers_each_datum_in_use():
    with pytest.raises(AmbiguousPositionError) as caught:
        read_position("17N 758658.4 3738167.977")
    assert [reading.split()[0] for reading in caught.value.readings] == [
        "EPSG:32617",
        "EPSG:26917",
        "EPSG:26717",
    ]
    # The reason for asking: the same digits on NAD 27 lie about 200 m from those on WGS 84.
    wgs84, _, nad27 = (read_position(reading) for reading in caught.value.readings)
    assert abs(nad27.lat_deg - wgs84.lat_deg) * 111_000 == pytest.approx(194, abs=10)
    assert (wgs84.frame, nad27.frame) == ("EPSG:4326", "EPSG:4267")


# Text, and a word of its fault that must be told.
REFUSED = {
    "33²45 N 78 W": "U\\+00B2",
    "33½ N 78 W": "U\\+00BD",
    "--33.75, -78.2": "sign",
    "33.75205, -78.2076, -18.3": "3 coordinates",
    "1 2 3 4 5 6 7": "told apart",
    "118.25, 33.05": "swapped",
    "758658.4 3738167.977": "EPSG:32617",
    "33.75205 N 78.2076 W Tokyo": "Tokyo",
    "33.75205 N 78.2076 W NAD99": "NAD99",
    "33.75205 N 78.2076 W NAD83 NAD27": "two things",
    "33.75205 -78.2076 EPSG:9999": "EPSG:9999",
    "33.5 45.1 N 78 12 W": "coordinates",
    "33° 45° N 78 12 W": "coordinates",
    "33 045.5 N 78 12 W": "045.5",
    "Lat 33.7 W, Lon 78.2 N": "contradict",
    "33.7 N N 78.2 W": "belongs to no number",
    "N 33.7 W": "number",
    "' 33.7 N 78.2 W": "mark",
    "33'45 N 78'12 W": "order",
    "3.38E+01 N 78 W": "spreadsheet",
    "33.7l2 N 78.2 W": "digit 1",
    "EPSG:32617 3738167.977 758658.400": "easting comes first",
    "EPSG:32617 33.75205 -78.2076": "degrees",
    "33.75205 -78.2076 epoch 2010-06-15": "epoch",
    "EPSG:32617 nowhere": "easting",
    "SRID=32617;POINT(758658 3738167)": "over 90",
    "33.75 N 181 W": "over 180",
    "33.75 N 361 E": "over 180",
    "17SQT": "MGRS",
    "17SZZ5865838167": "Military",
    "17IQT5865838167": "Military",
    "SPCS 3200 US survey feet E 1 N 2": "datum",
    "SPCS NAD83 E 1 N 2": "zone",
    "SPCS 9999 NAD83 metres E 1 N 2": "no state plane grid",
    "{}": "GeoJSON",
    '{"type":"Point","coordinates":[-78.2,3.3e1]}': "plain numbers",
    '{"type":"Point","coordinates":["-78.2","33.7"]}': "plain numbers",
    '{"type":"Point","coordinates":[NaN,33.7]}': "JSON",
    "[" * 200: "brackets",
    "{" * 200: "JSON",
    "33:45 N": "longitude is missing",
    "-33:78": "longitude is missing",
    "x" * (LONGEST_TEXT + 1): "characters",
}


@pytest.mark.parametrize("text", REFUSED)
def test_the_fault_is_told(text):
    with pytest.raises(PositionTextError, match=f"(?s).*{REFUSED[text]}") as caught:
        read_position(text)
    assert not isinstance(caught.value, AmbiguousPositionError)


@pytest.mark.parametrize(
    ("text", "frame", "epoch"),
    [
        ("33.75205N 78.2076W", None, None),
        ("33.75205N 78.2076W (NAD83)", "EPSG:4269", None),
        ("33.75205N 78.2076W NAD 27", "EPSG:4267", None),
        ("33.75205, -78.2076 NAD83(2011) epoch 2010.0", "EPSG:6318", 2010.0),
        ("ITRF2020 epoch 2026.45: 33.75205, -78.2076", "EPSG:9990", 2026.45),
        ("33.75205, -78.2076 WGS 84 (G2296)", "EPSG:10606", None),
        ("+33.75205-078.20760-018.3CRSWGS_84/", "EPSG:4326", None),
        ("17SQT5865838167", "EPSG:4326", None),
        ("$GPGLL,3345.1230,N,07812.4560,W,154500,A*37", None, None),
        ("POINT (-78.2076 33.75205)", None, None),
    ],
)
def test_the_frame_is_what_the_text_says_and_no_more(text, frame, epoch):
    written = read_position(text)
    assert (written.frame, written.epoch) == (frame, epoch)


def test_an_unstated_datum_brings_its_doubt():
    written = read_position("33.75205N 78.2076W (datum not stated)")
    assert (written.datum_unknown, written.extra_r95_m, written.frame) == (True, 35.0, None)
    assert "datum" in written.warnings[0]


@pytest.mark.parametrize(
    ("text", "lat_unit", "lon_unit"),
    [
        ("33.75205 -78.2076", 1e-5, 1e-4),
        ("33 45.123N 078 12.456W", 1e-3 / 60, 1e-3 / 60),
        ("33 45 07.38 N 78 12 27.36 W", 1e-2 / 3600, 1e-2 / 3600),
        ("3345N 07812W", 1 / 60, 1 / 60),
        ("+3345.123-07812.456/", 1e-3 / 60, 1e-3 / 60),
        ("33.7520500000000001N 78.2076000000000002W", 1e-16, 1e-16),
    ],
)
def test_resolution_is_one_unit_of_the_last_digit(text, lat_unit, lon_unit):
    written = read_position(text)
    assert (written.resolution_lat_deg, written.resolution_lon_deg) == pytest.approx((lat_unit, lon_unit))


def test_a_grid_square_is_as_doubtful_as_it_is_wide():
    square = read_position("17SQT58653816")
    assert square.extra_r95_m == pytest.approx(10 * 2**0.5)
    assert square.resolution_lat_deg * 111_320 == pytest.approx(10)


def test_grid_coordinates_keep_their_digits_and_their_grid():
    written = read_position("EPSG:32617 758658.400 3738167.977")
    assert (written.easting, written.northing, written.grid) == (758658.4, 3738167.977, "EPSG:32617")
    assert (written.notation, written.frame, written.angles) == ("utm", "EPSG:4326", None)
    assert written.resolution_lat_deg * 111_320 == pytest.approx(0.001)


def test_one_foot_is_not_the_other_on_a_state_plane_grid():
    # 1.37 m at an easting of 2.24 million feet: two parts in a million.
    us = read_position("EPSG:6570 2240919.694 1707.706")  # South Carolina, international feet
    metres = read_position(f"EPSG:6569 {2240919.694 * 0.3048:.6f} {1707.706 * 0.3048:.6f}")
    assert (us.lat_deg, us.lon_deg) == pytest.approx((metres.lat_deg, metres.lon_deg), abs=1e-9)


def test_minutes_behind_the_point_are_warned_of_only_where_they_are_possible():
    assert read_position("33.45123, -78.12456").warnings == (MINUTES_AS_DECIMALS,)
    assert read_position("33.75205, -78.12456").warnings == ()
    assert read_position("33 45.123 N 78 12.456 W").warnings == ()


def test_polar_positions_can_be_typed_by_who_means_them():
    assert read_position("78.2076 N 33.75205 W").lat_deg == 78.2076
    assert read_position("Latitude 78.2076, Longitude -33.75205").lat_deg == 78.2076


degrees_lat = st.integers(0, 65)
degrees_lon = st.integers(0, 179)
hemispheres = st.tuples(st.sampled_from("NS"), st.sampled_from("EW"))


@st.composite
def typed_positions(draw):
    """A position in one notation, with the function that writes it back in the same digits."""
    north, east = draw(hemispheres)
    decimals = draw(st.integers(1, 6))
    form = draw(st.sampled_from(["dd", "ddm", "dms"]))
    last = st.integers(0, (10 if form == "dd" else 60) * 10**decimals - 1)
    fields = []
    for width, degrees in ((2, draw(degrees_lat)), (3, draw(degrees_lon))):
        units = draw(last)
        whole, fraction = divmod(units, 10**decimals)
        if form == "dd":
            fields.append(f"{degrees}.{fraction:0{decimals}d}")
        elif form == "ddm":
            fields.append(f"{degrees:0{width}d} {whole:02d}.{fraction:0{decimals}d}")
        else:
            fields.append(
                f"{degrees:0{width}d} {draw(st.integers(0, 59)):02d} {whole:02d}.{fraction:0{decimals}d}"
            )
    return form, decimals, f"{fields[0]} {north} {fields[1]} {east}"


WRITERS = {"dd": write_dd, "ddm": write_ddm, "dms": write_dms}


@given(typed_positions())
def test_typed_text_to_degrees_to_text_keeps_the_digits(typed):
    form, decimals, text = typed
    written = read_position(text)
    again = WRITERS[form](written.lat_deg, written.lon_deg, decimals=decimals, style="plain")
    if 0 in (written.lat_deg, written.lon_deg):  # a zero has no hemisphere: its letter may change
        again, text = re.sub("[NSEW]", "", again), re.sub("[NSEW]", "", text)
    assert again == text


@given(typed_positions(), st.sampled_from(["marks", "iso", "geo", "signed"]))
def test_what_is_written_reads_back_within_half_its_last_digit(typed, style):
    form, decimals, text = typed
    there = read_position(text)
    if style == "iso":
        printed = write_iso6709(there.lat_deg, there.lon_deg, decimals=decimals, form=form)
    elif style == "geo":
        printed, form = write_geo_uri(there.lat_deg, there.lon_deg, 5.0, decimals=decimals), "dd"
    elif style == "signed":
        printed, form = write_dd(there.lat_deg, there.lon_deg, decimals=decimals, style="signed"), "dd"
    else:
        printed = WRITERS[form](there.lat_deg, there.lon_deg, decimals=decimals)
    try:
        back = read_position(printed)
    except AmbiguousPositionError:
        # Two positive numbers show no sign, and zero with zero is always asked about.
        rounded_away = max(abs(there.lat_deg), abs(there.lon_deg)) < 10.0**-decimals
        assert rounded_away or (style == "signed" and "-" not in printed)
        return
    half = 0.5 * 10.0**-decimals / {"dd": 1, "ddm": 60, "dms": 3600}[form] * 1.000001 + 1e-12
    assert abs(back.lat_deg - there.lat_deg) <= half
    assert abs(back.lon_deg - there.lon_deg) <= half


POSITION_PIECES = st.lists(
    st.sampled_from(
        ["33", "45.123", "78", "078", ".5", "N", "S", "W", "E", "O", "°", "'", '"', "''", "-", "–", "+", ",", ";", "/", " ",
         ":", "(", ")", "d", "m", "s", "lat", "Lon:", "NAD83", "(2011)", "EPSG:32617", "EPSG:6318", "epoch 2010", "17S",
         "QT", "SPCS", "3200", "feet", "UTM", "geo:", "$GPGLL,", "POINT(", "[", "]", "{", "@", "758658.4", "3738167",
         "nan", "e5", "\t", "\n", "²", "CRS"]
    ),
    max_size=14,
)  # fmt: skip


@given(st.one_of(st.text(max_size=320), POSITION_PIECES.map("".join), POSITION_PIECES.map(" ".join)))
@example("٣٣ N ٧٨ W")
@example("\x00")
@example("🌊")
@example("EPSG:32617 999999999 999999999")
@example("EPSG:4978 1 2")
@example("60X 500000 99999999")
@example("-")
@example(".")
@example("+" * 300)
@settings(max_examples=400, deadline=None)
def test_no_text_raises_anything_else(text):
    try:
        written = read_position(text)
    except PositionTextError as error:
        fault = error
    else:
        assert abs(written.lat_deg) <= 90
        assert abs(written.lon_deg) <= 180
        assert any(character.isdigit() for character in text)
        return
    assert fault.what
    assert fault.remedy


@given(POSITION_PIECES.map("".join))
@settings(max_examples=200, deadline=None)
def test_readings_that_can_be_typed_are_read_without_another_question(text):
    for reading in _readings(text):
        assert not _readings(reading), reading


def _readings(text: str) -> tuple[str, ...]:
    """Give the readings that can be typed if the text is asked about."""
    try:
        read_position(text)
    except AmbiguousPositionError as error:
        return tuple(reading for reading in error.readings if not reading.endswith("."))
    except PositionTextError:
        return ()
    return ()


@pytest.mark.parametrize(
    "piece", ["1", " ", "1 ", "1.", "-1", "1,", "a", "SPCS ", "N", "17S ", "E1 ", "'", "((", "=a;", "1EPSG"]
)
def test_long_repetitions_cost_no_backtracking(piece):
    text = (piece * LONGEST_TEXT)[:LONGEST_TEXT]
    start = time.perf_counter()
    for _ in range(3):
        with pytest.raises(PositionTextError):
            read_position(text)
    assert time.perf_counter() - start < 2.0  # a catastrophe takes years; this only rules that out
