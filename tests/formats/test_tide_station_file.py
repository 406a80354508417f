"""Station files: what is read, and what is refused rather than guessed."""

import pytest

from registry.errors import InvalidRecordError, LeadlineError, QuantityError
from registry.formats.tide_station_file import read_tide_station
from tests.tide_builders import STATION_FILE, a_station


def test_a_station_is_read_whole():
    assert read_tide_station(STATION_FILE) == a_station()
    assert read_tide_station(b"\xef\xbb\xbf" + STATION_FILE.encode()) == a_station()


def test_feet_become_metres_everywhere():
    station = read_tide_station(
        STATION_FILE.replace('"m"', '"ft"') + '[weather]\nu95 = 1.0\nsource = "a year"\n'
    )
    assert station.constants[0].amplitude_m == pytest.approx(0.61 * 0.3048)
    assert station.z0_m("MLLW") == pytest.approx(0.72 * 0.3048)
    assert (station.weather_u95_m, station.weather_source) == (0.3048, "a year")


def test_other_spellings_of_a_constituent():
    text = (
        STATION_FILE
        + '"rho1" = { amplitude = 0.01, phase_deg = 1 }\nLAMBDA2 = { amplitude = 0.01, phase_deg = 1 }\n'
    )
    assert [constant.name for constant in read_tide_station(text).constants[-2:]] == ["RHO", "LAM2"]


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ('"schureman"', '"foreman"', "only 'schureman' is understood"),
        ('"greenwich"', '"local"', "Greenwich phases first"),
        ('nodal = "schureman"', "", "has no nodal"),
        ('length_unit = "m"', "", "has no length_unit"),
        ('length_unit = "m"', "length_unit = 1", "in quotes"),
        ("MSL = 1.02", "", "how high MSL lies"),
        ("MLLW = 0.30", "", "how high MLLW lies"),
        ("MSL = 1.02", 'MSL = "1.02"', "plain number"),
        ("M2 =", "M22 =", "no constituent known"),
        ("phase_deg = 9.0", "phase = 9.0", "unknown key 'phase'"),
        ("{ amplitude = 0.61, phase_deg = 9.0 }", "[0.61, 9.0]", "amplitude = ..."),
        ("amplitude = 0.61", "amplitude = true", "plain number"),
        ("amplitude = 0.61", "amplitude = 61", "check the unit"),
        ("[datums]", "[datum]", "unknown key 'datum'"),
        ("[station]", "[[station]]", r"no \[station\] table"),
        ("K1 =", "m2 =", "M2 twice"),
        ("K1 =", "M2 =", "not TOML"),
        ("[datums]", "[datums", "not TOML"),
        ('source = "invented"', 'source = ""', "in quotes"),
    ],
)
def test_what_is_missing_unknown_or_by_another_convention_is_refused(old, new, words):
    assert old in STATION_FILE
    with pytest.raises(InvalidRecordError, match=words):
        read_tide_station(STATION_FILE.replace(old, new))


def test_an_ambiguous_unit_is_refused():
    with pytest.raises(QuantityError, match="ambiguous"):
        read_tide_station(STATION_FILE.replace('"m"', '"M"'))


@pytest.mark.parametrize("content", [b"\xff\xfe\x00", b"", "a = " + "[" * 3000, "\x00"])
def test_no_content_makes_it_fall_over(content):
    with pytest.raises(LeadlineError):
        read_tide_station(content)
