"""The paper says what the list says, in whatever shape the areas have."""

import io
import shutil
import subprocess
from dataclasses import replace
from pathlib import Path

import pikepdf
import pytest

from registry.documents.as_built import render_as_built
from registry.errors import UnprintableTextError
from tests.as_built import (
    CIRCLE,
    HEAD,
    HOLED,
    PRIVATE,
    SQUARE,
    a_list,
    a_reef,
    listed,
    reporting,
    three_placements,
    two_part_permit,
)
from tests.builders import a_permit, a_placement

FONTS = Path(__file__).parents[2] / "geodata" / "fonts"
needs_poppler = pytest.mark.skipif(shutil.which("pdftotext") is None, reason="poppler-utils is not installed")


def text_of(built):
    pdf = render_as_built(built, FONTS)
    done = subprocess.run(["pdftotext", "-layout", "-", "-"], input=pdf, capture_output=True, check=True)
    return " ".join(done.stdout.decode().split())


@needs_poppler
def test_the_page_tells_form_use_clearance_corners_and_modules():
    told = text_of(a_list())
    for words in (
        "As-built list, permit HB-0417",
        "For Harbour Bay Coastal Office and for the chart office",
        "NAD83(2011) (EPSG:6318, epoch 2010), degrees and decimal minutes",
        "3 modules 3 modules kept Special condition 6",
        "4200 kg 5 t (5000 kg) kept",
        "17.82 ± 0.41 m below MLLW, over MR-0002",
        "50 ft (Special condition 2)",
        "34 00.600 N 077 00.600 W 34 00.600 N 077 00.600 W",
        "CATOBS categoryOfObstruction 5 fish haven",
        "MR-0003 dome-120 34 00.0000 N 076 59.9760 W 1.5 21.50 ± 0.40",
        "Not for navigation",
        "for the chart office to decide",
        "claims no legal authority",
        "Digest of the journal's head",
    ):
        assert words.replace("'", "’") in told.replace("'", "’"), words


@needs_poppler
def test_no_name_of_anybody_is_on_it():
    told = text_of(a_list())
    assert not any(name in told for name in PRIVATE)


@needs_poppler
@pytest.mark.parametrize(
    ("permit", "words"),
    [
        (HEAD + CIRCLE, "radius 500 ft around the centre"),
        (HEAD + HOLED, "Hole 1, 3"),
        (two_part_permit(), "Part 2, hole 1, 4"),
        (HEAD + SQUARE + reporting(frame="EPSG:6347"), "Northing (metre)"),
        (HEAD + SQUARE + reporting(length_unit="ft", mass_unit="t"), "feet (0.3048 m)"),
        (HEAD + SQUARE + CIRCLE, "Area circle"),
    ],
)
def test_every_shape_and_form_can_be_printed(permit, words):
    assert words in text_of(a_list(permit=permit))


@needs_poppler
def test_what_is_not_known_is_said():
    told = text_of(a_list(a_placement(tag="NOBODY", charted_depth_m=None, depth_u95_m=None)))
    for words in (
        "not known: no depth or height for 1 of 1 module",
        "1 module of unknown mass",
        "not certain",
    ):
        assert words in told
    assert "nan" not in told.lower().split()
    empty = text_of(listed(a_reef()))
    assert "No module is recorded under the permit." in empty
    assert "none lies in it" in empty


@needs_poppler
def test_a_module_outside_and_one_exceeded_limit_are_marked():
    many = [*three_placements(), a_placement(tag="MR-0004", lat_deg=34.2)]
    told = text_of(a_list(*many))
    assert "outside; nearest gannet-patch" in told
    assert "exceeded" in told


def test_the_file_is_archivable_accessible_and_the_same_again():
    built = a_list()
    pdf = render_as_built(built, FONTS)
    assert pdf == render_as_built(built, FONTS)
    with pikepdf.open(io.BytesIO(pdf)) as opened:
        with opened.open_metadata() as data:
            assert data["pdfaid:part"] == "2"
            assert data["pdfuaid:part"] == "1"
        assert opened.docinfo["/Title"] == "As-built list, permit HB-0417"


def test_a_long_list_names_the_spreadsheet_for_the_rest():
    built = a_list()
    long = replace(built, modules=built.modules * 400)
    pdf = render_as_built(long, FONTS)
    with pikepdf.open(io.BytesIO(pdf)) as opened:
        assert 20 < len(opened.pages) < 60
    if shutil.which("pdftotext"):
        assert "200 further modules stand in modules.csv" in text_of(long)


def test_letters_that_no_font_has_are_refused_with_the_remedy():
    with pytest.raises(UnprintableTextError, match="HB-0417"):
        render_as_built(a_list(permit=a_permit(authority="港湾局")), FONTS)
