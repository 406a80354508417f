"""The draft on paper: every field and blank, the stamp of a private paper, and the same bytes for the same draft."""

import io
import re
import shutil
import subprocess
from dataclasses import replace
from datetime import date
from pathlib import Path

import pikepdf
import pytest

from registry.documents.duty_draft import render_duty_draft
from registry.errors import UnprintableTextError
from registry.records.duty import Duty, DutyKind, DutyState
from registry.records.duty_draft import DraftSection, DraftTable, DutyDraft, blank, filled

FONTS = Path(__file__).parents[2] / "geodata" / "fonts"
needs_poppler = pytest.mark.skipif(shutil.which("pdftotext") is None, reason="poppler-utils is not installed")

DRAFT = DutyDraft(
    duty=Duty(
        duty_id="burial-MC-0001",
        kind=DutyKind.BURIAL,
        permit="HB-0417",
        what="Burial-at-sea report",
        due_on=date(2026, 7, 14),
        state=DutyState.OPEN,
        cite="40 CFR 229.1(d)",
    ),
    title="Burial-at-sea report, module MC-0001",
    addressee="Harbour Bay Coastal Office",
    programme="Marram Coast Memorial Reefs",
    made_on=date(2026, 6, 20),
    zone="America/New_York",
    journal_head="a3" * 32,
    sections=(
        DraftSection(
            title="The deceased",
            fields=(
                filled("Name of deceased", "Zoë Ferncastle #strong[x] $y$ 3 < 4"),
                blank("Date of birth", "Leadline does not hold it"),
            ),
        ),
    ),
    tables=(
        DraftTable(title="Modules", columns=("tag", "depth (ft)"), rows=(("MC-0001", "66.8"),), note="Form."),
    ),
    bases=("state permit: HB-0417",),
    decides=("The office decides.",),
    cautions=("Check every line.",),
    private=True,
)


def words_of(pdf: bytes) -> str:
    done = subprocess.run(["pdftotext", "-layout", "-", "-"], input=pdf, capture_output=True, check=True)
    return re.sub(r"\s+", " ", done.stdout.decode())


@needs_poppler
def test_the_page_says_what_the_draft_holds_and_marks_what_it_does_not():
    said = words_of(render_duty_draft(DRAFT, FONTS))
    for expected in (
        "Burial-at-sea report, module MC-0001",
        "To Harbour Bay Coastal Office, due on 2026-07-14",
        "DRAFT · PRIVATE PAPER",
        "1 field to be filled in.",
        "Date of birth to be filled in by the programme (Leadline does not hold it)",
        "state permit: HB-0417",
        "The office decides.",
        "Check every line.",
        "66.8",
        "journal a3a3a3a3a3a3a3a3",
        "Page 1 of 1",
    ):
        assert expected in said, (expected, said)


@needs_poppler
def test_what_a_person_typed_is_text_and_never_markup():
    assert "Zoë Ferncastle #strong[x] $y$ 3 < 4" in words_of(render_duty_draft(DRAFT, FONTS))


@needs_poppler
def test_a_paper_that_names_nobody_bears_no_stamp_of_privacy_and_says_where_no_basis_is_recorded():
    said = words_of(render_duty_draft(replace(DRAFT, private=False, bases=(), addressee=""), FONTS))
    assert "PRIVATE" not in said
    assert "No paper is recorded" in said
    assert "To the office that asks for it, to be filled in by the programme" in said


def test_the_same_draft_makes_the_same_bytes_and_an_accessible_archival_file():
    pdf = render_duty_draft(DRAFT, FONTS)
    assert pdf == render_duty_draft(DRAFT, FONTS)
    with pikepdf.open(io.BytesIO(pdf)) as opened:
        metadata = opened.open_metadata()
        assert metadata["pdfaid:part"] == "2"
        assert metadata["pdfuaid:part"] == "1"
        assert opened.Root.MarkInfo.Marked
        assert str(opened.docinfo["/Title"]) == DRAFT.title


def test_a_wide_table_lies_on_its_side_behind_the_page_that_is_signed():
    wide = DraftTable(title="Modules", columns=tuple("abcdefgh"), rows=(tuple("12345678"),))
    with pikepdf.open(io.BytesIO(render_duty_draft(replace(DRAFT, tables=(wide,)), FONTS))) as opened:
        sizes = [(float(page.mediabox[2]), float(page.mediabox[3])) for page in opened.pages]
    assert [width > height for width, height in sizes] == [False, True]


@needs_poppler
def test_the_head_of_a_long_table_stands_on_every_page():
    rows = tuple((f"MC-{k:04d}", "66.8") for k in range(200))
    table = DraftTable(title="Modules", columns=("tag", "depth (ft)"), rows=rows)
    said = words_of(render_duty_draft(replace(DRAFT, tables=(table,)), FONTS))
    pages = int(re.findall(r"Page 1 of (\d+)", said)[0])
    assert pages > 2
    assert said.count("depth (ft)") >= pages - 1
    assert all(f"MC-{k:04d}" in said for k in range(200))


def test_letters_that_no_shipped_font_has_are_refused_with_the_remedy():
    sections = (DraftSection(title="Vessel", fields=(filled("Vessel", "海鳥"),)),)
    with pytest.raises(UnprintableTextError, match="cannot be printed"):
        render_duty_draft(replace(DRAFT, sections=sections), FONTS)
