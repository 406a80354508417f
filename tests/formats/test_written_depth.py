"""Depths as they came off an instrument."""

import pytest

from registry.errors import LeadlineError, QuantityError
from registry.formats.written_depth import DEPTH_KINDS, read_depth_reading, read_pressure_dbar
from registry.formats.written_quantity import read_length
from registry.records.depth_reading import EchoSounding, GaugeReading, SoundCast, WaterSample

DEPTH = read_length("18.6 m")
ECHO = {
    "sounder_speed": "1500 m/s",
    "transducer": "waterline",
    "set_draft": "2 ft",
    "draft": "0.7 m",
    "water": "22.5, 35.1",
}
CAST = SoundCast(depths_m=(0.0, 20.0), speeds_mps=(1530.0, 1524.0), equation="measured", source="cast.csv")


def test_an_echo_sounding_says_all_that_it_needs():
    found = read_depth_reading("echo", ECHO, depth=DEPTH, u95=read_length("0.2 m"))
    assert isinstance(found, EchoSounding)
    assert isinstance(found.sound, WaterSample)
    assert (found.counts_from, found.set_speed_mps, found.draft_m) == ("waterline", 1500.0, 0.7)
    assert found.set_draft_m == pytest.approx(0.6096)
    assert (found.sound.temperature_c, found.sound.salinity) == (22.5, 35.1)
    assert found.instrument_u95_m == 0.2


def test_a_cast_stands_for_the_water():
    said = {name: text for name, text in ECHO.items() if name != "water"} | {"cast": "cast.csv"}
    found = read_depth_reading("echo", said, depth=DEPTH, cast=CAST)
    assert isinstance(found, EchoSounding)
    assert found.sound is CAST


@pytest.mark.parametrize("missing", ["sounder_speed", "transducer", "set_draft", "draft"])
def test_nothing_of_a_sounder_is_assumed(missing):
    said = {name: text for name, text in ECHO.items() if name != missing}
    with pytest.raises(QuantityError, match=missing.replace("_", " ")):
        read_depth_reading("echo", said, depth=DEPTH)


@pytest.mark.parametrize(
    ("written", "setting"),
    [("en13319", "EN 13319"), ("EN 13319", "EN 13319"), ("MSW", "msw"), ("fsw", "fsw"), ("fresh", "fresh")],
)
def test_a_gauge_says_how_it_is_set(written, setting):
    found = read_depth_reading("gauge", {"gauge_setting": written}, depth=DEPTH)
    assert isinstance(found, GaugeReading)
    assert found.setting == setting


@pytest.mark.parametrize(
    ("kind", "said", "words"),
    [
        ("sonar", {}, "no kind"),
        ("gauge", {}, "needs “gauge setting”"),
        ("gauge", {"gauge_setting": "salt"}, "how much pressure"),
        ("gauge", {"gauge_setting": "msw", "draft": "1 m"}, "says nothing"),
        ("echo", ECHO | {"transducer": "keel"}, "waterline"),
        ("echo", ECHO | {"water": "warm"}, "temperature and salinity"),
        ("echo", {n: t for n, t in ECHO.items() if n != "water"}, "speed of sound"),
        ("echo", ECHO | {"draft": "2"}, "no unit"),
        ("chart", {}, "chart datum"),
        ("chart", {"chart_datum": "MLLW"}, "zone of confidence"),
        ("chart", {"chart_datum": "MLLW", "chart_zone": "U"}, "no zone"),
        ("pressure", {"pressure": "3 bar", "air": "zeroed"}, "stands beside"),
    ],
)
def test_what_would_be_a_guess_is_refused(kind, said, words):
    with pytest.raises(LeadlineError, match=words):
        read_depth_reading(kind, said, depth=DEPTH)


def test_every_kind_but_pressure_needs_a_depth():
    for kind in set(DEPTH_KINDS) - {"pressure"}:
        with pytest.raises(QuantityError, match="missing"):
            read_depth_reading(kind, {}, depth=None)


@pytest.mark.parametrize(
    ("written", "dbar"),
    [
        ("30.2 dbar", 30.2),
        ("1013.25 hPa", 10.1325),  # the standard atmosphere, by definition
        ("101,325 kPa", 10.1325),
        ("14.696 psi", 10.1325),
        ("2 bar", 20.0),
    ],
)
def test_pressures_in_their_units(written, dbar):
    assert read_pressure_dbar(written) == pytest.approx(dbar, rel=2e-5)


@pytest.mark.parametrize("written", ["30", "30 m", "-3 bar", "", "nan bar"])
def test_a_pressure_without_a_unit_is_none(written):
    with pytest.raises(QuantityError, match="no pressure"):
        read_pressure_dbar(written)
