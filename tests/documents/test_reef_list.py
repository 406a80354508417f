"""The list to take aboard: its words, its sheets, and nothing on it that is not published."""

import shutil
import subprocess

import pytest

from registry.documents.reef_list import render_reef_list
from registry.errors import RequestError
from registry.formats.reported_position import write_reported
from registry.measure.datum import resolve
from registry.storage.shipped import shipped_path
from tests.formats.public_sites import (
    EMPTY_SITE,
    EVERY_SITE,
    HOSTILE_SITE,
    ROUNDED_SITE,
    SITES_ONLY,
    module,
    site,
)

FRAME = resolve("WGS 84")


def pdf(given, notation="ddm", **options):
    def write_degrees(lat_deg, lon_deg, r95_m):
        return write_reported(lat_deg, lon_deg, frame=FRAME, notation=notation, r95_m=r95_m)

    return render_reef_list(
        given, shipped_path("fonts"), write_degrees=write_degrees, notation=notation, **options
    )


def told_by(command, content, tmp_path, *options):
    if shutil.which(command) is None:
        pytest.skip(f"{command} is not on this machine")
    path = tmp_path / "list.pdf"
    path.write_bytes(content)
    out = [] if command == "pdfinfo" else ["-"]
    return subprocess.run(
        [command, *options, str(path), *out], capture_output=True, text=True, check=True
    ).stdout


def text(content, tmp_path):
    return " ".join(told_by("pdftotext", content, tmp_path, "-layout").split())


@pytest.mark.parametrize("name", [name for name in EVERY_SITE if name != "empty"])
def test_the_same_site_gives_the_same_bytes(name):
    assert pdf(EVERY_SITE[name]) == pdf(EVERY_SITE[name])


def test_each_module_stands_on_it_with_place_radius_depth_and_day(tmp_path):
    said = text(pdf(site()), tmp_path)
    assert "MC-0001 34 00.7407 N 077 00.7407 W 2.7 18.28 ± 0.41 MLLW 2026-05-14" in said
    assert "MC-0002 Ada Quill 34 00.660 N 077 00.660 W 12 18.28 ± 0.41 MLLW" in said
    for words in ("WGS 84 (G2296)", "epoch 2026.9", "degrees and decimal minutes", "Not for navigation"):
        assert words in said


def test_what_the_plotter_shows_stands_beside_the_tag(tmp_path):
    said = text(pdf(site(), longest_name=6), tmp_path)
    assert "On the plotter" in said
    assert "MC-0001 MC0001 34 00.7407 N" in said


def test_rounded_places_say_so_and_have_fewer_digits(tmp_path):
    said = text(pdf(ROUNDED_SITE), tmp_path)
    assert "rounded to 100 m" in said
    assert "MC-0001 34 00.74 N 077 00.73 W 76 " in said


def test_with_sites_alone_no_tag_stands_on_it(tmp_path):
    said = text(pdf(SITES_ONLY), tmp_path)
    assert "gannet-patch 34 00.60 N 077 00.60 W 1444 2 18.28 to 19.5 MLLW 17.08 ± 0.41" in said
    assert "no position of a single module" in said
    assert "MC-" not in said


def test_hostile_words_are_words(tmp_path):
    said = text(pdf(HOSTILE_SITE), tmp_path)
    assert "=CMD|'/c'!A1" in said
    assert '<b>"Æsa" & ' in said
    assert "[U+0007]" in said


@pytest.mark.parametrize(("paper", "size"), [("a4", "595.276 x 841.89"), ("letter", "612 x 792")])
def test_it_fits_the_sheet_that_was_asked_for(tmp_path, paper, size):
    assert f"{size} pts" in told_by("pdfinfo", pdf(site(), paper=paper), tmp_path)


def test_nothing_and_far_too_much_are_refused():
    with pytest.raises(RequestError, match="nothing to print"):
        pdf(EMPTY_SITE)
    with pytest.raises(RequestError, match="no list for paper"):
        pdf(site(modules=(module(),) * 5_001))
