"""Artwork is true to scale, legible, within its edges and made of paths alone; what does not fit is refused."""

import io
import json
import re
import shutil
import subprocess
from dataclasses import replace
from datetime import date
from pathlib import Path
from xml.etree import ElementTree as ET

import numpy as np
import pikepdf
import pytest
import zxingcpp
from PIL import Image
from shapely.geometry import Polygon

from registry.documents.drawn_line import DrawnLine
from registry.documents.outlined_letters import OutlinedLetters
from registry.documents.plaque import LEAST_CAPITAL_MM, LEAST_CODE_MM, draw_plaque, plaque_pdf
from registry.documents.stroked_letters import StrokedLetters
from registry.errors import InvalidRecordError, UnprintableTextError, UnreadableFileError
from registry.records.plaque import Plaque, PlateSize

FONTS = Path(__file__).parents[2] / "geodata" / "fonts"
OUTLINED, STROKED = OutlinedLetters(FONTS), StrokedLetters(FONTS)
SVG = "{http://www.w3.org/2000/svg}"
needs_poppler = pytest.mark.skipif(shutil.which("pdftoppm") is None, reason="poppler-utils is not installed")

PLAQUE = Plaque(
    tag="MC-0007",
    heading="In memory of",
    name="Eleanor Ashdown",
    dates="1941 – 2024",
    words=("The sea keeps what it is given",),
    latitude="34°01.2420′ N",
    longitude="077°20.1490′ W",
    frame_words="WGS 84, epoch 2026.9, within 3.2 m",
    placed_words="MC-0007, placed 9 March 2025",
    code="",
    on=date(2026, 11, 27),
)
CODE = "geo:34.020700,-77.335984;u=3.2"
PLATE = PlateSize(width_mm=150.0, height_mm=100.0)
NAMES = ["Nguyễn Thị Sóng Biển", "Θάλεια Ακρογιάλη", "Марина Причалова", "Zoë Łukasz Æøß"]


def points(line: DrawnLine) -> np.ndarray:
    """Give the corners and control points of a line, in capital heights."""
    return np.array(
        [pair for _, values in line.steps for pair in zip(values[::2], values[1::2], strict=True)]
    )


def raster(pdf: bytes, dpi: int, folder: Path) -> Image.Image:
    (folder / "plaque.pdf").write_bytes(pdf)
    subprocess.run(
        ["pdftoppm", "-r", str(dpi), "-gray", "-png", folder / "plaque.pdf", folder / "plaque"], check=True
    )
    return Image.open(folder / "plaque-1.png").convert("L")


# True to scale, and paths alone.


@pytest.mark.parametrize("lettering", [OUTLINED, STROKED])
def test_a_unit_of_the_svg_is_a_millimetre_and_the_page_of_the_pdf_is_the_plate(lettering):
    art = draw_plaque(replace(PLAQUE, code=CODE), PLATE, lettering)
    root = ET.fromstring(art.svg)
    assert (root.get("width"), root.get("height"), root.get("viewBox")) == ("150mm", "100mm", "0 0 150 100")
    assert {element.tag for element in root.iter()} == {
        SVG + name for name in ("svg", "title", "desc", "g", "path")
    }
    with pikepdf.open(io.BytesIO(plaque_pdf(art, "A plaque"))) as pdf:
        (page,) = pdf.pages
        # A unit of a page is 1/72 of an inch of 25.4 mm (ISO 32000-1, 8.3.2.3; clause from memory).
        assert [float(side) for side in page.mediabox] == pytest.approx(
            [0, 0, 150 / 25.4 * 72, 100 / 25.4 * 72], abs=0.001
        )
        assert not any(str(each.get("/Type")) == "/Font" for each in pdf.objects if hasattr(each, "get"))


@needs_poppler
def test_a_capital_on_the_page_is_as_tall_as_is_said(tmp_path):
    art = draw_plaque(replace(PLAQUE, name="H", words=(), dates=""), PLATE, OUTLINED)
    (line,) = (line for line in art.lines if line.text == "H")
    image = np.asarray(raster(plaque_pdf(art, "H"), 600, tmp_path)) < 128
    around = slice(
        round((line.baseline_mm - 1.1 * line.capital_mm) / 25.4 * 600),
        round((line.baseline_mm + 0.1 * line.capital_mm) / 25.4 * 600),
    )
    rows = np.flatnonzero(image[around].any(axis=1))
    assert (rows[-1] - rows[0] + 1) / 600 * 25.4 == pytest.approx(line.capital_mm, rel=0.02)


@pytest.mark.parametrize("lettering", [OUTLINED, STROKED])
def test_the_same_plaque_gives_the_same_bytes(lettering):
    one, two = (draw_plaque(PLAQUE, PLATE, lettering) for _ in range(2))
    assert one.svg == two.svg
    assert plaque_pdf(one, "A plaque") == plaque_pdf(two, "A plaque")


@pytest.mark.parametrize("lettering", [OUTLINED, STROKED])
@pytest.mark.parametrize("side", [(150, 100), (100, 150), (300, 60), (90, 90)])
def test_no_capital_is_too_small_and_no_ink_leaves_the_plate_or_meets_other_ink(lettering, side):
    plate = PlateSize(width_mm=float(side[0]), height_mm=float(side[1]))
    art = draw_plaque(PLAQUE, plate, lettering)
    assert min(line.capital_mm for line in art.lines) >= LEAST_CAPITAL_MM
    below = 0.0
    for line in art.lines:
        xy = points(line.drawn) * line.capital_mm
        assert line.x_mm + xy[:, 0].min() >= 4.5
        assert line.x_mm + xy[:, 0].max() <= plate.width_mm - 4.5
        assert line.baseline_mm - xy[:, 1].max() > below
        below = line.baseline_mm - xy[:, 1].min()
    assert below <= plate.height_mm - 4.5
    assert max(art.lines, key=lambda line: line.capital_mm).text in PLAQUE.name


def test_every_word_is_on_the_plaque_and_the_svg_says_them_for_who_cannot_see():
    art = draw_plaque(PLAQUE, PlateSize(width_mm=90, height_mm=120), OUTLINED)
    said = " ".join(line.text for line in art.lines)
    texts = [PLAQUE.name, PLAQUE.dates, *PLAQUE.words, PLAQUE.latitude, PLAQUE.longitude, PLAQUE.frame_words]
    assert [text for text in texts if text not in said] == []
    described = ET.fromstring(art.svg).findtext(f"{SVG}desc") or ""
    assert PLAQUE.latitude in described


# What does not fit.


@pytest.mark.parametrize(
    ("plate", "words"), [(PlateSize(width_mm=44, height_mm=150), "narrow"), (PlateSize(width_mm=200, height_mm=38), "low")]
)  # fmt: skip
def test_a_text_that_does_not_fit_is_refused_with_what_is_lacking(plate, words):
    plaque = replace(PLAQUE, name="Wilhelmina Konstantinopolitana")
    with pytest.raises(UnprintableTextError, match=rf"([0-9.]+) mm too {words}") as told:
        draw_plaque(plaque, plate, OUTLINED)
    assert "3 mm, the smallest that stay legible" in told.value.what
    (found,) = re.findall(r"([0-9.]+) mm too", told.value.what)
    lacking = float(found)

    def larger(more: float) -> PlateSize:
        """Give a larger plate, still small enough to have the narrowest edges."""
        if words == "narrow":
            return PlateSize(width_mm=plate.width_mm + more, height_mm=plate.height_mm)
        return PlateSize(width_mm=plate.width_mm, height_mm=plate.height_mm + more)

    assert 1.0 < lacking < 20.0
    draw_plaque(plaque, larger(lacking), OUTLINED)
    with pytest.raises(UnprintableTextError, match="too"):
        draw_plaque(plaque, larger(lacking - 0.2), OUTLINED)


def test_a_code_that_no_telephone_could_read_is_refused():
    with pytest.raises(UnprintableTextError, match=r"squares of 0.8 mm.* mm too small"):
        draw_plaque(replace(PLAQUE, code=CODE), PlateSize(width_mm=50, height_mm=100), OUTLINED)


@needs_poppler
@pytest.mark.parametrize("lettering", [OUTLINED, STROKED])
def test_the_code_on_the_page_is_read_and_its_squares_are_as_large_as_is_said(lettering, tmp_path):
    art = draw_plaque(replace(PLAQUE, code=CODE), PLATE, lettering)
    assert art.code_mm is not None
    assert art.code_mm >= LEAST_CODE_MM
    (found,) = zxingcpp.read_barcodes(raster(plaque_pdf(art, "A plaque"), 150, tmp_path))
    assert found.text == CODE


# Letters.


@pytest.mark.parametrize("text", [*NAMES, "AVATAR To", "فاطمة", "אסתר"])
def test_outlines_are_as_wide_as_the_typesetter_sets_the_same_words(text):
    """Outside reference: the typesetter typst, which shapes by another library (rustybuzz)."""
    import typst

    source = (
        '#set page(width: auto, height: auto, margin: 0pt)\n#set text(font: ("EB Garamond", "Amiri", '
        '"Noto Serif Hebrew"), size: 100pt, weight: 600, number-type: "lining", fallback: false)\n'
        "#sys.inputs.words"
    )
    fonts = typst.Fonts(include_system_fonts=False, include_embedded_fonts=False, font_paths=[str(FONTS)])
    pdf = typst.compile(source.encode(), font_paths=fonts, format="pdf", sys_inputs={"words": text})
    with pikepdf.open(io.BytesIO(pdf)) as made:
        width_pt = float(made.pages[0].mediabox[2])
    capital = {"ف": 0.646, "א": 0.714}.get(text[0], 0.650)
    assert OUTLINED.draw(text).width * capital * 100 == pytest.approx(width_pt, rel=0.004)


def test_contours_do_not_cross_where_a_tool_would_follow_each_of_them():
    rings: list[list[tuple[float, float]]] = []
    for letter, values in OUTLINED.draw("Ặ Hường Đặng Ơ").steps:
        if letter == "M":
            rings.append([])
        if values:
            rings[-1].append((values[-2], values[-1]))
    polygons = [Polygon(ring) for ring in rings if len(ring) > 3]
    assert len(polygons) > 15
    crossing = [
        (i, j)
        for i, one in enumerate(polygons)
        for j, two in enumerate(polygons[:i])
        if one.exterior.crosses(two.exterior) or one.overlaps(two)
    ]
    assert crossing == []


@pytest.mark.parametrize("text", NAMES)
def test_marks_written_apart_or_together_are_the_same_drawing(text):
    import unicodedata

    for lettering in (OUTLINED, STROKED):
        if text.startswith("М") and lettering is STROKED:
            continue
        assert lettering.draw(unicodedata.normalize("NFD", text)) == lettering.draw(text)


def test_every_letter_of_vietnamese_and_greek_is_a_stroke_of_its_own():
    letters = (
        "aăâbcdđeêghiklmnoôơpqrstuưvxy" + "àảãáạằẳẵắặầẩẫấậèẻẽéẹềểễếệìỉĩíịòỏõóọồổỗốộờởỡớợùủũúụừửữứựỳỷỹýỵ"
        "äöüßåæøœçñłőřšžńąęğșț" + "αβγδεζηθικλμνξοπρσςτυφχψωάέήίόύώϊϋΐΰ"
    )
    drawn = {letter: STROKED.draw(letter).steps for letter in letters}
    assert len(set(drawn.values())) == len(letters)
    for letter, steps in drawn.items():
        assert steps, letter
        assert {name for name, _ in steps} <= {"M", "L"}


def test_the_accent_of_a_capital_stands_above_it_and_below_stays_below():
    plain, acute, dot = (STROKED.draw(text) for text in ("A", "Á", "Ạ"))
    assert (plain.top, plain.bottom) == (1.0, 0.0)
    assert acute.top > 1.2
    assert dot.bottom < -0.1
    assert acute.width == dot.width == plain.width


@pytest.mark.parametrize(
    ("lettering", "text", "words"),
    [
        (STROKED, "Марина", "single-stroke letters cannot draw"),
        (STROKED, "فاطمة", "single-stroke letters cannot draw"),
        (OUTLINED, "김영희", "Hangul"),
        (OUTLINED, "दीपा", "Devanagari"),
        (OUTLINED, "אסתר 1941", "from the right"),
        (OUTLINED, "Ester אסתר", "from the right"),
    ],
)
def test_letters_that_cannot_be_drawn_are_told(lettering, text, words):
    with pytest.raises(UnprintableTextError, match=words):
        draw_plaque(replace(PLAQUE, name=text), PLATE, lettering)


def test_a_lost_font_is_told(tmp_path):
    for make in (OutlinedLetters, StrokedLetters):
        with pytest.raises(UnreadableFileError, match="absent or unreadable"):
            make(tmp_path).draw("A")


def test_words_that_look_like_markup_are_words():
    art = draw_plaque(replace(PLAQUE, name="<script>alert(1)</script>"), PLATE, OUTLINED)
    assert "<script" not in art.svg
    assert ET.fromstring(art.svg).findtext(f"{SVG}title") == "Plaque of <script>alert(1)</script>"
    assert json.dumps(art.svg).count("&lt;script") == 2


def test_a_plate_that_nobody_can_hold_is_refused():
    for side in (0.0, 5.0, 1e6, float("nan")):
        with pytest.raises(InvalidRecordError, match="mm is not one"):
            PlateSize(width_mm=side, height_mm=100.0)
