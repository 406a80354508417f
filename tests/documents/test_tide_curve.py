"""The picture of a day."""

import xml.etree.ElementTree as ET
from datetime import date

import pytest

from registry.actions.tide_day import tide_day
from registry.documents.tide_curve import doubt_text, draw_tide_curve, height_text, write_tide_curve
from registry.measure.tide import HarmonicConstant
from tests.tide_builders import a_station

SVG = "{http://www.w3.org/2000/svg}"


def a_day(zone="America/New_York", day=date(2026, 6, 14), **changes):
    return tide_day(a_station(**changes), day, zone=zone)


def test_every_turn_is_named_and_drawn_within_the_picture():
    tide = a_day()
    root = ET.fromstring(draw_tide_curve(tide))
    texts = ["".join(element.itertext()) for element in root.iter(f"{SVG}text")]
    marks = list(root.iter(f"{SVG}circle"))
    assert len(marks) == len(tide.turns) == sum(text.startswith(("High ", "Low ")) for text in texts)
    for mark in marks:
        assert 64 <= float(mark.attrib["cx"]) <= 736
        assert 84 <= float(mark.attrib["cy"]) <= 368
    assert any("MLLW (1983-2001)" in text for text in texts)
    assert any("Not for navigation" in text for text in texts)


def test_a_name_that_is_code_stays_text():
    name = '<script>alert("x")</script>&'
    drawn = draw_tide_curve(a_day(name=name))
    assert "<script" not in drawn
    title = ET.fromstring(drawn).find(f"{SVG}title")
    assert title is not None
    assert title.text == f"{name}: predicted tide of 2026-06-14"


def test_it_needs_nothing_from_outside():
    drawn = draw_tide_curve(a_day())
    assert drawn.count("http") == 1
    assert 'xmlns="http://www.w3.org/2000/svg"' in drawn


@pytest.mark.parametrize(("day", "hours"), [(date(2026, 3, 8), 24), (date(2026, 11, 1), 26)])
def test_the_small_curve_has_a_line_for_each_hour_that_there_was(day, hours):
    lines = write_tide_curve(a_day(day=day))
    assert len(lines) == hours
    assert (lines[0][:5], lines[-1][:5]) == ("00:00", "00:00")


def test_a_flat_day_can_be_drawn():
    still = (HarmonicConstant(name="M2", amplitude_m=0.0, phase_deg=0.0),)
    tide = a_day(constants=still)
    assert len(write_tide_curve(tide)) == 25
    ET.fromstring(draw_tide_curve(tide))


def test_a_rounded_zero_has_no_sign():
    assert height_text(-0.0004, 0.31) == "0.00 m (0.0 ft)"


def test_doubt_is_rounded_up():
    assert doubt_text(a_day(weather_u95_m=0.301)) == "0.31 m (1.0 ft)"
