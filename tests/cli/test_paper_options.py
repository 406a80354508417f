"""A paper in the language and on the sheet that a family asks for; what it proves is the same."""

import subprocess
from pathlib import Path

import pytest

from tests.cli.reef import GOOD, GOOD_DEPTH, WHEN, Reef
from tests.documents.test_certificate import needs_poppler

PLACE = ("place", "MC-0001", *GOOD, *GOOD_DEPTH, *WHEN)
PAPER = ("certificate", "MC-0001", "--out", "papers")


@pytest.fixture
def placed(reef: Reef) -> Reef:
    reef.good(*PLACE)
    return reef


def issued(reef: Reef, *options: str) -> Path:
    return Path(reef.folder / reef.good(*PAPER, *options, "--json").json["file"])


def words_of(file: Path) -> str:
    done = subprocess.run(["pdftotext", "-raw", file, "-"], capture_output=True, check=True, text=True)
    return " ".join(done.stdout.split())


def sheet_of(file: Path) -> str:
    done = subprocess.run(["pdfinfo", file], capture_output=True, check=True, text=True)
    return next(line for line in done.stdout.splitlines() if line.startswith("Page size"))


@needs_poppler
@pytest.mark.parametrize(
    ("tag", "words"),
    [
        ("en", "In memory of"),
        ("es", "En memoria de"),
        ("fr", "À la mémoire de"),
        ("de", "Zum Gedenken an"),
        ("vi", "Tưởng nhớ"),
    ],
)
def test_a_paper_in_any_language_is_another_print_of_the_same_certificate(placed, tag, words):
    first = issued(placed)
    other = issued(placed, "--language", tag, "--paper", "letter")
    assert first != other
    assert words in words_of(other)
    assert "(letter)" in sheet_of(other)
    assert "(A4)" in sheet_of(first)
    answers = [placed.good("authenticate", file, "--json").json for file in (first, other)]
    assert answers[0] == answers[1]
    assert len(placed.good("certificates", "list", "--json").json["certificates"]) == 1
    placed.is_sound()


@needs_poppler
def test_the_language_recorded_with_the_name_is_that_of_the_paper(placed):
    english = issued(placed)
    placed.good("module", "amend", "MC-0001", "--language", "vi", "--reason", "the family asks")
    vietnamese = issued(placed)
    assert english == vietnamese
    assert "Tưởng nhớ" in words_of(vietnamese)
    assert "In memory of" in words_of(issued(placed, "--language", "en"))
    copy = placed.good("certificates", "duplicate", "MC-0001", "--out", "papers", "--json").json["file"]
    assert "Bản sao số 1" in words_of(placed.folder / copy)
    french = placed.good(
        "certificates",
        "duplicate",
        "MC-0001",
        "--out",
        "papers",
        "--again",
        "1",
        "--language",
        "fr",
        "--json",
    ).json["file"]
    assert "Duplicata 1" in words_of(placed.folder / french)
    assert placed.good("authenticate", placed.folder / french, "--json").json["status"] == "current"


def test_a_run_in_another_language_goes_on_where_it_stopped(placed):
    run = ("certificate", "--all", "--out", "papers", "--language", "es", "--paper", "letter", "--json")
    (first,) = placed.good(*run).json["certificates"]
    assert first["outcome"] == "issued"
    assert Path(first["file"]).name.endswith("-v1-es-letter.pdf")
    (kept,) = placed.good(*run).json["certificates"]
    assert kept["outcome"] == "kept"
    file = placed.folder / first["file"]
    whole = file.read_bytes()
    file.write_bytes(whole[:-40])
    (again,) = placed.good(*run).json["certificates"]
    assert again["outcome"] == "again"
    assert file.read_bytes() == whole


def test_a_language_that_there_is_not_is_told_before_anything_is_issued(placed):
    placed(*PAPER, "--language", "ko").is_told("no wording in the language ko", "en, de, es, fr, vi", code=2)
    placed(*PAPER, "--language", "Spanish").is_told("'Spanish' is not a language tag", code=2)
    placed(*PAPER, "--paper", "a3").is_told("a3", code=2)
    assert placed.good("certificates", "list", "--json").json["certificates"] == []


def test_a_recorded_language_without_papers_is_told_and_the_paper_is_in_english(placed):
    placed.good("module", "amend", "MC-0001", "--language", "ko", "--reason", "the family asks")
    assert "It is in English: papers are written in en, de, es, fr, vi, not in ko" in placed.good(*PAPER).out
    assert placed.good(*PAPER, "--json").json["language"] == "en-GB"
    assert "not in ko" not in placed.good(*PAPER, "--language", "es-MX").out
