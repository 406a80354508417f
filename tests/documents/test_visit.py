"""The visit sheet: one page, every figure with its doubt, a code that is read, and no word of our own on biology."""

import io
import re
import shutil
import subprocess
from dataclasses import replace
from datetime import date
from pathlib import Path
from xml.etree import ElementTree as ET

import pikepdf
import pytest
import zxingcpp
from PIL import Image

from registry.actions.plan_visit import plan_visit
from registry.documents.reef_plan import draw_neighbours, draw_reef
from registry.documents.visit import render_visit, visit_texts
from registry.errors import UnprintableTextError
from registry.formats.written_position import read_position
from registry.measure.daylight import Daylight, daylight
from registry.measure.movement import Motion
from registry.records.visit import Seen, Water
from tests.builders import ACTOR, a_programme, a_stocked_registry, many_placements, placement_logged
from tests.fakes import FixedClock, MemoryRegister
from tests.tide_builders import a_station

FONTS = Path(__file__).parents[2] / "geodata" / "fonts"
needs_poppler = pytest.mark.skipif(shutil.which("pdftotext") is None, reason="poppler-utils is not installed")
POSITIONS = ("33 59.4601 N 077 00.5401 W", "33.991001 N 77.009001 W", "33 59 27.60 N 077 00 32.40 W")
GEO = "geo:33.991001,-77.009001;u=1.6"


@pytest.fixture(scope="module")
def visit():
    register = MemoryRegister(a_programme(), actor=ACTOR, clock=FixedClock(step_s=1.0))
    register.append(a_stocked_registry())
    register.append([placement_logged(each) for each in many_placements(3)])
    return plan_visit(
        register,
        "MR-0001",
        day=date(2026, 6, 14),
        start_name="Harbour Inlet",
        start=read_position("33 53.1000 N 077 10.5000 W WGS 84"),
        station=a_station(),
        for_family=True,
    )


def drawn(visit) -> bytes:
    return render_visit(visit, POSITIONS, GEO, FONTS)


def words_of(pdf: bytes) -> str:
    done = subprocess.run(["pdftotext", "-layout", "-", "-"], input=pdf, capture_output=True, check=True)
    return re.sub(r"\s+", " ", done.stdout.decode())


@needs_poppler
def test_the_page_says_all_that_a_terminal_is_told(visit, tmp_path):
    visit = replace(visit, young_reef="Wait two summers.", rules="No anchors.")
    pdf = drawn(visit)
    said = words_of(pdf).replace("’", "'")
    texts = visit_texts(visit)
    for words in (
        texts.title,
        texts.subtitle,
        texts.water_note,
        "Wait two summers.",
        "No anchors.",
        *POSITIONS,
    ):
        assert words in said, words
    for time, _, _, depth, over in texts.water:
        assert f"{time} " in said
        assert depth in said
        assert over in said
    assert "Not for navigation" in said
    with pikepdf.open(io.BytesIO(pdf)) as made:
        assert len(made.pages) == 1
    assert drawn(visit) == pdf


@needs_poppler
def test_the_code_opens_the_position(visit, tmp_path):
    (tmp_path / "v.pdf").write_bytes(drawn(visit))
    subprocess.run(["pdftoppm", "-r", "100", "-png", tmp_path / "v.pdf", tmp_path / "v"], check=True)
    (found,) = zxingcpp.read_barcodes(Image.open(tmp_path / "v-1.png"))
    assert found.text == GEO


def test_figures_have_their_doubt_and_no_more_digits_than_that(visit):
    said = dict(visit_texts(visit).way)
    assert said["Charted depth"] == "20.36 ± 0.40 m (66.8 ± 1.4 ft) below MLLW"
    assert said["Over the module"] == "19.16 ± 0.41 m (62.9 ± 1.4 ft) below MLLW"
    # In the plane: 11.76 km north and 15.33 km east.
    assert said["From Harbour Inlet"] == "10.44 nautical miles (19.33 km)"
    assert said["Bearing"].startswith("052° true, 062° magnetic, without deviation (variation 10.")
    assert "Within 1.6 m (95 %), WGS 84 (G2296) at epoch 2026.5" in said["Position"]


def test_a_course_that_is_not_known_well_is_told_as_such(visit):
    course = replace(visit.course, distance_m=400.0, distance_u95_m=210.0, bearing_u95_deg=27.7)
    said = dict(visit_texts(replace(visit, course=course)).way)
    assert said["From Harbour Inlet"] == "0.22 nautical miles (0.40 km)"
    assert "052° ± 28° true" in said["Bearing"]
    near = dict(visit_texts(replace(visit, course=replace(course, bearing_u95_deg=60.0))).way)
    assert near["Bearing"] == "too near to tell a bearing"
    north = replace(visit.course, bearing_deg=359.7, variation_east_deg=None, no_variation="None is at hand.")
    assert dict(visit_texts(replace(visit, course=north)).way)["Bearing"].startswith("000° true. No magnetic")


def test_low_water_below_the_datum_is_no_negative_zero(visit):
    expected = replace(visit.expected[0], tide_m=-0.0004, over=Water(value_m=-0.3, u95_m=0.5))
    ((_, _, tide, _, over),) = visit_texts(replace(visit, expected=(expected,))).water
    assert tide.startswith("0.00 ±")
    assert over.startswith("-0.30 ±")


@pytest.mark.parametrize(
    ("light", "words"),
    [
        (daylight(18.9, 69.7, date(2026, 6, 21), "Europe/Oslo"), "The sun is up all day: it does not rise or set."),
        (daylight(18.9, 69.7, date(2026, 12, 21), "Europe/Oslo"), "The sun is down all day"),
        (Daylight(rises_at=None, sets_at=None, sun="rises and sets"), "does not rise on this day"),
    ],
)  # fmt: skip
def test_days_without_sunrise_are_told(visit, light, words):
    assert words in dict(visit_texts(replace(visit, daylight=light)).way)["Sun"]


@pytest.mark.parametrize(
    ("motion", "words"),
    [
        (Motion.NOT_SHOWN, "5 July 2026: found in its place. “two wrasse”"),
        (Motion.INCONCLUSIVE, "whether it moved is not certain. “two wrasse”"),
        (Motion.MOVED, "found moved by 4.0 ± 1.2 m toward 129° true. “two wrasse”"),
    ],
)
def test_what_was_seen_is_told_as_the_survey_wrote_it(visit, motion, words):
    seen = Seen(
        on=date(2026, 7, 5), motion=motion, distance_m=4.02, bearing_deg=129.2, u95_m=1.16, note="two wrasse"
    )
    assert words in visit_texts(replace(visit, seen=(seen,))).seen[0]


@needs_poppler
def test_nothing_is_said_of_life_on_the_reef_that_the_programme_did_not_say(visit):
    said = words_of(drawn(visit)).lower()
    assert "the programme has told nothing of this" in said
    assert not re.search(
        r"\b(fish(es)?|coral|algae|colonis\w+|species|thriv\w+|months?)\b", said.replace("fishing", "")
    )


def test_a_plan_is_to_scale_and_true_north_is_up(visit):
    """The scale bar, in its own metres, measures the distance of the two neighbours: 16.6 m and 33.3 m east."""
    root = ET.fromstring(draw_neighbours(visit))
    tag = "{http://www.w3.org/2000/svg}"
    bar, told = (
        root.findall(f".//{tag}g[@font-size='3']/{tag}rect")[0].get("width", ""),
        root.findall(f".//{tag}g[@font-size='3']/{tag}text")[1].text or "",
    )
    mm_per_m = float(bar) / float(told.split()[0])
    dots = [
        (float(each.get("cx", "")), float(each.get("cy", "")))
        for each in root.iter(f"{tag}circle")
        if each.get("r") == "0.9"
    ]
    metres = sorted(((x - 40) / mm_per_m, (40 - y) / mm_per_m) for x, y in dots)
    assert metres == [pytest.approx((16.6, 0.0), abs=0.4), pytest.approx((33.2, 0.0), abs=0.4)]
    assert {text.text for text in root.iter(f"{tag}text")} >= {"MR-0002", "MR-0003", "N"}


def test_words_that_look_like_markup_are_words(visit):
    plan = replace(
        visit.plan, others=(("<script>", visit.position.lon_deg + 0.0001, visit.position.lat_deg),)
    )
    hostile = replace(visit, plan=plan, reef="<b>&", name='#read("/etc/passwd")')
    for svg in (draw_reef(hostile), draw_neighbours(hostile)):
        assert "<script>" not in svg
        ET.fromstring(svg)
    assert drawn(hostile).startswith(b"%PDF")


def test_a_sheet_that_cannot_be_printed_is_refused(visit):
    with pytest.raises(UnprintableTextError, match="Hangul"):
        drawn(replace(visit, rules="김"))
    with pytest.raises(UnprintableTextError, match="more than one page"):
        drawn(replace(visit, rules="word " * 110, young_reef="word " * 110, notes=("note " * 400,)))


def test_the_longest_words_of_a_programme_and_four_surveys_still_fit(visit):
    seen = Seen(
        on=date(2026, 7, 5),
        motion=Motion.NOT_SHOWN,
        distance_m=4,
        bearing_deg=1,
        u95_m=1,
        note="half in sand",
    )
    full = replace(visit, rules=("word " * 120).strip(), young_reef=("word " * 120).strip(), seen=(seen,) * 4)
    assert drawn(full).startswith(b"%PDF")
