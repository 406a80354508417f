import io
import re
import subprocess
from dataclasses import replace
from pathlib import Path

import pikepdf
import pytest

from registry.documents.audit_paper import render_audit_paper
from registry.documents.audit_report import write_audit_report
from registry.measure.decision import Verdict
from registry.records.permit import Condition
from registry.storage.shipped import shipped_path
from tests.audited import PRIVATE_NAME, audit_summary, audited_registry, strict_permit
from tests.builders import (
    ACTOR,
    a_module,
    a_placement,
    a_programme,
    a_quantity,
    an_area,
    module_added,
    placement_logged,
)
from tests.fakes import FixedClock, MemoryRegister

FONTS = shipped_path("fonts")
HOSTILE = '<script>#import "x"</script> $x$ *b* \u202eabc 中 @ref \\ `raw` =HYPERLINK(1)'


@pytest.fixture(scope="module")
def paper():
    return render_audit_paper(audit_summary(), FONTS)


def text_of(pdf: bytes, folder: Path) -> str:
    file = folder / "paper.pdf"
    file.write_bytes(pdf)
    try:
        told = subprocess.run(["pdftotext", "-layout", str(file), "-"], capture_output=True, check=True)
    except FileNotFoundError:
        pytest.skip("pdftotext is not on this machine")
    return told.stdout.decode()


def test_it_is_tagged_and_made_to_last(paper):
    with pikepdf.open(io.BytesIO(paper)) as pdf:
        # ISO 19005-2 (PDF/A-2a) and ISO 14289-1 (PDF/UA-1) are declared in the metadata, the tags in the catalogue.
        metadata = pdf.open_metadata()
        assert (metadata["pdfaid:part"], metadata["pdfaid:conformance"]) == ("2", "A")
        assert metadata["pdfuaid:part"] == "1"
        assert pdf.Root.MarkInfo.Marked
        assert "/StructTreeRoot" in pdf.Root
        assert str(pdf.Root.Lang).startswith("en")
        assert "audit" in metadata["dc:title"]
        # Nothing that runs, and nothing that is fetched.
        assert "/JavaScript" not in pdf.Root.get("/Names", {})
        assert "/OpenAction" not in pdf.Root


def test_every_drawing_is_told_to_whoever_cannot_see_it(paper):
    with pikepdf.open(io.BytesIO(paper)) as pdf:
        told = [
            str(each.Alt) for each in pdf.objects if isinstance(each, pikepdf.Dictionary) and "/Alt" in each
        ]
    assert any(each.startswith("Plan of gannet-patch") for each in told)
    assert any(each.startswith("Clearance, Special condition 2") for each in told)


def test_it_says_what_the_page_says(paper, tmp_path):
    summary = audit_summary()
    told = " ".join(text_of(paper, tmp_path).split())
    page = write_audit_report(summary)
    for words in (
        "8 placements: 3 conforming, 3 nonconforming, 2 inconclusive.",
        "two digits swapped on the slate",
        "An aid, not a ruling.",
        "184.8 ± 1.5 m outside the edge of gannet-patch",
        "Spacing, Special condition 4",
    ):
        assert words in told, words
        assert words in page, words
    assert summary.journal_head in told.replace("\u200b", "")
    assert set(re.findall(r"MR-\d{4}", told)) == set(re.findall(r"MR-\d{4}", page))


def test_the_same_audit_gives_the_same_bytes(paper):
    assert render_audit_paper(audit_summary(), FONTS) == paper


def test_nobody_of_a_family_is_named(paper, tmp_path):
    assert PRIVATE_NAME not in text_of(paper, tmp_path)


def test_whatever_was_typed_is_printed_as_it_is(tmp_path):
    tag = "#b *c* <i> _d_"
    permit = strict_permit(
        authority=HOSTILE,
        holder=HOSTILE,
        chart_datum=HOSTILE,
        areas=(an_area(area_id=HOSTILE, written=HOSTILE),),
        conditions=(
            Condition(rule="clearance", cite=HOSTILE, limits={"least": a_quantity(15.0, written=HOSTILE)}),
        ),
    )
    register = audited_registry(
        module_added(a_module(tag=tag)),
        placement_logged(a_placement(tag=tag, lat_deg=34.2, position_text=HOSTILE, basis=(HOSTILE,))),
        permit=permit,
    )
    told = text_of(render_audit_paper(audit_summary(register), FONTS), tmp_path)
    flat = re.sub(r"[\s\u200b]", "", told)
    for words in ('#import"x"', "$x$", "*b*", "[U+202E]", "[U+4E2D]", "`raw`", "=HYPERLINK"):
        assert words in flat, words


@pytest.mark.parametrize(
    "changes", [{}, {"problems": ("Entry 0badcafe-3 was changed.",)}], ids=["sound", "altered"]
)
def test_a_registry_without_permits_gives_a_paper(changes, tmp_path):
    empty = audit_summary(MemoryRegister(a_programme(), actor=ACTOR, clock=FixedClock()))
    told = text_of(render_audit_paper(replace(empty, **changes), FONTS), tmp_path)
    assert "No permit is recorded" in told
    assert ("nothing below is proved" in told) == bool(changes)


def test_thousands_of_permits_are_a_line_each(tmp_path):
    summary = audit_summary()
    flagged, quiet = summary.permits
    many = tuple(
        replace(quiet, permit=replace(quiet.permit, number=f"Q-{number:04d}")) for number in range(2000)
    )
    told = text_of(render_audit_paper(replace(summary, permits=(*many, flagged)), FONTS), tmp_path)
    assert "Q-0000" in told
    assert "Q-1999" in told
    # Only the one with something flagged is told in full.
    assert re.findall(r"^\s*\f?Permit (HB\S+|Q\S+)$", told, re.MULTILINE) == ["HB-0417"]
    assert summary.verdict is Verdict.NONCONFORMING
