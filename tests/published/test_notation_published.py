"""
Coordinate text against written positions and published strings.

Sources
-------
coordinate_strings.csv
    Forms that people write, collected as common practice (no source). The expected values are exact fractions of
    the written numbers, worked out without any parser; UTM and state plane by PROJ; MGRS by NGA GEOTRANS, which
    gives the south-west corner of a square. Verdicts: ok; flag (taken with a warning); ambiguous (asked, the
    likely value shown); reject.
USACE
    US Army Corps of Engineers public notices SAJ-2018-00382 and SAJ-2021-01854.
ISO 6709
    Annex H, strings read second-hand. The Everest string is the digits of degrees, minutes and seconds written
    as decimals: a vector for a parser, not geography.
RFC 5870
    geo URI, examples of sections 6.1 and 6.4 (section numbers from memory).
RFC 7946
    GeoJSON, longitude first.
NMEA 0183
    Widely published sample sentences, checksums recomputed.
"""

import csv
from pathlib import Path

import pytest

from registry.errors import AmbiguousPositionError, PositionTextError
from registry.formats.geo_uri import write_geo_uri
from registry.formats.iso6709 import write_iso6709
from registry.formats.nmea_sentence import nmea_checksum
from registry.formats.printed_position import write_dd, write_ddm
from registry.formats.written_position import read_position

TABLE = Path(__file__).with_name("coordinate_strings.csv")
with TABLE.open(encoding="utf-8", newline="") as lines:
    ROWS = list(csv.DictReader(lines))
#: Units: degrees.
TOLERANCE_DEG = 1e-9
GRID_TOLERANCE_DEG = 1e-8


def _rows(*verdicts: str) -> list:
    chosen = [row for row in ROWS if row["verdict"] in verdicts]
    return [
        pytest.param(row, id=f"{row['verdict']}: {row['text'] or 'empty'} ({row['note']})") for row in chosen
    ]


def test_table_is_whole():
    counts = {
        verdict: sum(row["verdict"] == verdict for row in ROWS) for verdict in ("ok", "flag", "ambiguous")
    }
    assert (len(ROWS), counts) == (107, {"ok": 62, "flag": 3, "ambiguous": 11})


@pytest.mark.parametrize("row", _rows("ok", "flag"))
def test_plain_text_gives_its_exact_value(row):
    written = read_position(row["text"])
    tolerance = TOLERANCE_DEG if written.angles else GRID_TOLERANCE_DEG
    assert written.lat_deg == pytest.approx(float(row["lat"]), abs=tolerance)
    assert written.lon_deg == pytest.approx(float(row["lon"]), abs=tolerance)
    assert written.text == row["text"]
    assert bool(written.warnings) == (row["verdict"] == "flag")
    assert all(warning.endswith(".") for warning in written.warnings)


@pytest.mark.parametrize("row", _rows("ambiguous"))
def test_ambiguous_text_is_asked_about_with_readings_that_can_be_typed(row):
    with pytest.raises(AmbiguousPositionError) as caught:
        read_position(row["text"])
    assert caught.value.remedy
    typed = [reading for reading in caught.value.readings if not reading.endswith((".", "up"))]
    values = [(read_position(reading).lat_deg, read_position(reading).lon_deg) for reading in typed]
    likely = (float(row["lat"]), float(row["lon"]))
    assert any(value == pytest.approx(likely, abs=TOLERANCE_DEG) for value in values)
    assert len(set(values)) == len(values)


@pytest.mark.parametrize("row", _rows("reject"))
def test_faulty_text_is_refused_and_never_merely_ambiguous(row):
    with pytest.raises(PositionTextError) as caught:
        read_position(row["text"])
    assert not isinstance(caught.value, AmbiguousPositionError)
    assert caught.value.what.endswith(".")
    assert caught.value.remedy.endswith(".")


def test_every_fault_has_words_of_its_own():
    told = []
    for row in ROWS:
        if row["verdict"] == "reject":
            with pytest.raises(PositionTextError) as caught:
                read_position(row["text"])
            told.append(caught.value.what.removeprefix(f"“{row['text'].strip()}”"))
    assert len(set(told)) > 0.85 * len(told)


# Notice, the text as printed there, and its value by its own minutes. Units: degrees.
NOTICES = [
    (
        "SAJ-2018-00382 NW",
        "25 40.790° / -80 06.792°",
        25 + 40.790 / 60,
        -(80 + 6.792 / 60),
        25.67983,
        -80.11320,
    ),
    (
        "SAJ-2018-00382 SE",
        "25 40.740° / -80 06.737°",
        25 + 40.740 / 60,
        -(80 + 6.737 / 60),
        25.67900,
        -80.11228,
    ),
    (
        "SAJ-2018-00382 C",
        "25 40.765° / -80 06.765°",
        25 + 40.765 / 60,
        -(80 + 6.765 / 60),
        25.67942,
        -80.11275,
    ),
    (
        "SAJ-2021-01854 NW",
        "30°22.4881' / -86°38.8436'",
        30 + 22.4881 / 60,
        -(86 + 38.8436 / 60),
        30.3748,
        -86.6474,
    ),
    (
        "SAJ-2021-01854 C",
        "30°21.9865' / -86°38.2658'",
        30 + 21.9865 / 60,
        -(86 + 38.2658 / 60),
        30.3664,
        -86.637,
    ),
]


@pytest.mark.parametrize(
    ("text", "lat", "lon", "printed_lat", "printed_lon"),
    [n[1:] for n in NOTICES],
    ids=[n[0] for n in NOTICES],
)
def test_public_notices_sign_the_whole_angle(text, lat, lon, printed_lat, printed_lon):
    written = read_position(text)
    assert (written.lat_deg, written.lon_deg) == pytest.approx((lat, lon), abs=TOLERANCE_DEG)
    # The decimal column of the same notice is rounded to four or five places, once to three.
    assert written.lat_deg == pytest.approx(printed_lat, abs=1e-4)
    assert written.lon_deg == pytest.approx(printed_lon, abs=1e-3)
    assert bool(written.warnings) == ("° /" in text)


ISO_STRINGS = {
    "+00-025/": (0.0, -25.0),
    "+46+002/": (46.0, 2.0),
    "+48.52+002.20/": (48.52, 2.20),
    "+48.8577+002.295/": (48.8577, 2.295),
    "+27.5916+086.5640+8850CRSWGS_84/": (27.5916, 86.5640),
    "+00-160/": (0.0, -160.0),
    "+38-097/": (38.0, -97.0),
    "+40.75-074.00/": (40.75, -74.0),
    "+40.6894-074.0447/": (40.6894, -74.0447),
    "+4012.22-07500.25": (40 + 12.22 / 60, -(75 + 0.25 / 60)),
    "+40.20361-075.00417/": (40.20361, -75.00417),
    "+401213.1-0750015.1/": (40 + 12 / 60 + 13.1 / 3600, -(75 + 15.1 / 3600)),
}


@pytest.mark.parametrize("text", ISO_STRINGS)
def test_iso_6709_annex_h(text):
    written = read_position(text)
    assert (written.lat_deg, written.lon_deg) == pytest.approx(ISO_STRINGS[text], abs=TOLERANCE_DEG)
    assert written.frame == ("EPSG:4326" if "CRS" in text else None)


@pytest.mark.parametrize("text", ["+90+000/", "-90+000+2800CRSWGS_84/"])
def test_iso_6709_poles_are_asked_about(text):
    with pytest.raises(AmbiguousPositionError):
        read_position(text)


def test_iso_6709_is_written_as_the_standard_has_it():
    assert write_iso6709(40.6894, -74.0447, decimals=4) == "+40.6894-074.0447/"
    assert write_iso6709(40.2036388889, -75.0041944444, decimals=1, form="dms") == "+401213.1-0750015.1/"


def test_rfc_5870():
    first, second = (
        read_position("geo:66,30;u=6.500;FOo=this%2dthat"),
        read_position("geo:66.0,30;u=6.5;foo=x"),
    )
    assert (first.lat_deg, first.lon_deg, first.stated_r95_m) == (66.0, 30.0, 6.5)
    assert (second.lat_deg, second.lon_deg, second.stated_r95_m) == (66.0, 30.0, 6.5)
    vienna = read_position("geo:48.198634,16.371648;crs=wgs84;u=40")
    assert (vienna.lat_deg, vienna.lon_deg, vienna.frame) == (48.198634, 16.371648, "EPSG:4326")
    assert read_position("geo:90,-22.43;crs=WGS84").lon_deg == read_position("geo:90,46").lon_deg
    assert write_geo_uri(48.198634, 16.371648, 40, decimals=6) == "geo:48.198634,16.371648;u=40"


@pytest.mark.parametrize(
    "text",
    [
        "geo:22.300;-118.44",  # the RFC's own misprint
        "geo:+33.7,-78.2",
        "geo:3.3e1,-78.2",
        "geo:33.7, -78.2",
        "geo:33.7,-78.2;crs=EPSG:32618",
        "geo:33.7,-78.2;u=5;crs=wgs84",
        "geo:33.7,281.8",
    ],
)
def test_rfc_5870_refuses_what_its_grammar_does_not_hold(text):
    with pytest.raises(PositionTextError):
        read_position(text)


NMEA = [
    ("$GPGGA,123519,4807.038,N,01131.000,E,1,08,0.9,545.4,M,46.9,M,,*47", 48.1173, 11.5166666667),
    ("$GPRMC,123519,A,4807.038,N,01131.000,E,022.4,084.4,230394,003.1,W*6A", 48.1173, 11.5166666667),
    (
        "$GPRMC,225446,A,4916.45,N,12311.12,W,000.5,054.7,191194,020.3,E*68",
        49 + 16.45 / 60,
        -(123 + 11.12 / 60),
    ),
    ("$GPGGA,040030,3240.0939,N,11739.9385,W,2,9,0.4,24,M,,M,,*53", 32 + 40.0939 / 60, -(117 + 39.9385 / 60)),
    (
        "$GNGGA,203415.000,6325.6138,N,01021.4290,E,1,8,2.42,72.5,M,41.5,M,,*7C",
        63 + 25.6138 / 60,
        10 + 21.429 / 60,
    ),
]


@pytest.mark.parametrize(("sentence", "lat", "lon"), NMEA, ids=[n[0][:30] for n in NMEA])
def test_published_sentences(sentence, lat, lon):
    written = read_position(sentence)
    assert (written.lat_deg, written.lon_deg) == pytest.approx((lat, lon), abs=TOLERANCE_DEG)
    assert written.frame is None


@pytest.mark.parametrize(
    "sentence",
    [
        "$GPGGA,123519,4807.038,N,01131.000,E,1,08,0.9,545.4,M,46.9,M,,*42",  # widely copied, wrong
        "$GPGGA,121505,4807.038,N,01131.324,E,1,08,0.9,133.4,M,46.9,M, , *42",  # a vendor's page, wrong
        "$GPGGA,123519,4807.038,N,01131.000,E,1,08,0.9,545.4,M,46.9,M,,",
        "$GPHDT,123.456,T*32",
    ],
)
def test_damaged_and_other_sentences_are_refused(sentence):
    with pytest.raises(PositionTextError):
        read_position(sentence)


@pytest.mark.parametrize(
    "body",
    [
        "GPGGA,123519,4807.038,N,01131.000,E,0,08,0.9,545.4,M,46.9,M,,",
        "GPGGA,123519,4807.038,N,01131.000,E,6,08,0.9,545.4,M,46.9,M,,",
        "GPGGA,123519,4807.038,N,01131.000,E,8,08,0.9,545.4,M,46.9,M,,",
        "GPGGA,123519,,,,,1,08,0.9,545.4,M,46.9,M,,",
        "GPGGA,123519,407.038,N,01131.000,E,1,08,0.9,545.4,M,46.9,M,,",
        "GPGGA,123519,9507.038,N,01131.000,E,1,08,0.9,545.4,M,46.9,M,,",
        "GPGGA,123519,4860.500,N,01131.000,E,1,08,0.9,545.4,M,46.9,M,,",
        "GPRMC,123519,V,4807.038,N,01131.000,E,022.4,084.4,230394,003.1,W",
        "GPRMC,123519,A,4807.038,N,01131.000,E,022.4,084.4,230394,003.1,W,N",
        "GPGLL,3345.1230,N,07812.4560,W,154500,A,E",
        "GNGNS,123519,4807.038,N,01131.000,E,NN,08,0.9,545.4,46.9,,",
    ],
)
def test_a_true_checksum_does_not_make_a_fix(body):
    with pytest.raises(PositionTextError):
        read_position(f"${body}*{nmea_checksum(body)}")


def test_rfc_7946_has_longitude_first():
    feature = (
        '{"type": "Feature", "properties": {}, "geometry": {"type": "Point", "coordinates": [177.0, -20.0]}}'
    )
    written = read_position(feature)
    assert (written.lat_deg, written.lon_deg, written.frame) == (-20.0, 177.0, "EPSG:4326")


def test_published_utm_and_state_plane_by_an_ngs_solution():
    # OPUS report, NAD 83(2011): 47 11 24.99997 N 119 17 13.97839 W; UTM 11 and SPC 4602 in metres, to 1 mm.
    lat, lon = 47 + 11 / 60 + 24.99997 / 3600, -(119 + 17 / 60 + 13.97839 / 3600)
    for text in (
        "EPSG:6340 326734.825 5228847.071",
        "UTM 11T NAD83(2011) E 326734.825 N 5228847.071",
        "SPCS 4602, NAD83(2011), metres: N 207112.470 E 591905.162",
    ):
        written = read_position(text)
        assert (written.lat_deg, written.lon_deg) == pytest.approx((lat, lon), abs=2e-8)
        assert written.frame == "EPSG:6318"


def test_printed_forms_are_those_of_the_base_point():
    # 33.75205 N 78.2076 W = 33 45.123 N 78 12.456 W exactly.
    assert write_ddm(33.75205, -78.2076, decimals=3, style="plain") == "33 45.123 N 078 12.456 W"
    assert write_dd(33.75205, -78.2076, decimals=5) == "33.75205° N 78.20760° W"
