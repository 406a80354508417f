"""Speeds, bearings and currents: units and references are never guessed."""

import pytest

from registry.errors import QuantityError
from registry.formats.written_motion import read_bearing, read_current, read_speed


@pytest.mark.parametrize(
    ("text", "mps"),
    [
        ("2 m/s", 2.0),
        ("1 kn", 1852 / 3600),
        ("2.5KT", 2.5 * 1852 / 3600),
        ("30 m/min", 0.5),
        ("10 ft/s", 3.048),
    ],
)
def test_speeds(text, mps):
    assert read_speed(text) == pytest.approx(mps)


@pytest.mark.parametrize(
    "text", ["", "2", "2 m", "m/s", "-2 m/s", "2 furlongs/s", "2,5 kn", "1e3 kn", "nan kn", "٣ kn"]
)
def test_no_speeds(text):
    with pytest.raises(QuantityError):
        read_speed(text)


@pytest.mark.parametrize(
    ("text", "degrees", "reference"),
    [
        ("118.5 true", 118.5, "true"),
        ("090T", 90.0, "true"),
        ("127° mag", 127.0, "magnetic"),
        ("30 deg relative", 30.0, "relative"),
        ("127M", 127.0, "magnetic"),
    ],
)
def test_bearings(text, degrees, reference):
    found = read_bearing(text)
    assert (found.degrees, found.reference) == (degrees, reference)


@pytest.mark.parametrize("text", ["", "118.5", "361 true", "-1 true", "true", "118.5 grid", "N 45 E"])
def test_no_bearings(text):
    with pytest.raises(QuantityError):
        read_bearing(text)


def test_currents():
    found = read_current("1 kn toward 120 true")
    assert found.speed_mps == pytest.approx(0.5144, abs=1e-4)
    assert found.toward_deg == 120.0
    for text in ("1 kn", "1 kn from 120", "toward 120", "1 kn toward 400", "1 toward 120"):
        with pytest.raises(QuantityError):
            read_current(text)
