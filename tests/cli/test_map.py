"""``leadline map``: one file, or a folder that appears whole; names with consent only; refusals in a line."""

import shutil

import pytest

from tests.cli.reef import GOOD, GOOD_DEPTH, WHEN
from tests.cli.test_stopping import is_stopped, left, press, scratch

PLACE = ("place", "MC-0001", *GOOD, *GOOD_DEPTH, *WHEN)


def test_the_site_is_told_and_written(reef):
    reef.good(*PLACE)
    reef.good("visitors", "tell", "--rules", "Moor to the buoys.")
    told = reef.good("map", "--site", "--out", "public", "--json").json
    assert told["modules"] == 1
    assert sorted(told["files"]) == sorted(
        str(path.relative_to(reef.folder / "public")) for path in (reef.folder / "public").rglob("*.*")
    )
    pages = list((reef.folder / "public" / "areas").glob("*.html"))
    assert len(pages) == told["areas"]
    assert all("Moor to the buoys." in page.read_text(encoding="utf-8") for page in pages)
    assert "Wrote public" in reef.good("map", "--site", "--out", "public").out


def test_a_name_without_consent_is_in_no_byte_of_the_site(reef):
    reef.good("module", "add", "MC-0077", "--type", "hump-60", "--memorial", "Perdita Unlisted")
    reef.good("place", "MC-0077", *GOOD, *GOOD_DEPTH, *WHEN, "--crew", "Ada Secretary", "--note", "the widow")
    reef.good("map", "--site", "--out", "public")
    whole = b"".join(path.read_bytes() for path in (reef.folder / "public").rglob("*.*"))
    assert b"MC-0077" in whole
    for word in (b"Perdita", b"Unlisted", b"Secretary", b"widow"):
        assert word not in whole


def test_a_folder_keeps_what_is_not_of_the_site(reef):
    reef.good(*PLACE)
    reef.good("map", "--site", "--out", "public")
    reef.write("public/CNAME", "reef.example")
    reef.write("public/areas/gone.html", "an area that is no more")
    reef.good("map", "--site", "--out", "public")
    assert (reef.folder / "public" / "CNAME").exists()
    assert not (reef.folder / "public" / "areas" / "gone.html").exists()


def test_a_folder_of_somebody_s_own_is_never_replaced(reef):
    reef.good(*PLACE)
    (reef.folder / "papers" / "areas").mkdir(parents=True)
    reef.write("papers/areas/corners.txt", "not ours")
    reef("map", "--site", "--out", "papers").is_told("papers holds areas", code=4)
    assert left(reef)["papers/areas/corners.txt"] == b"not ours"


@pytest.mark.parametrize("map_before", [False, True])
def test_the_page_of_a_published_list_is_never_replaced(reef, map_before):
    reef.good(*PLACE)
    reef.good("certificates", "publish", "list")
    if map_before:
        reef.good("map", "--site", "--out", "public")
        shutil.copytree(reef.folder / "list", reef.folder / "public", dirs_exist_ok=True)
    out = "public" if map_before else "list"
    kept = left(reef)
    reef("map", "--site", "--out", out).is_told("published list of certificates", "of its own", code=4)
    assert left(reef) == kept


@pytest.mark.parametrize(
    ("line", "words"),
    [
        (("--out", "reef.html", "--language", "tlh"), "language 'tlh'"),
        (("--site", "--out", "notes.txt"), "a file bears its name"),
    ],
)
def test_what_cannot_be_written_is_told(reef, line, words):
    reef.good(*PLACE)
    reef.write("notes.txt", "Seen by nobody.")
    answer = reef("map", *line)
    assert answer.code in (2, 4)
    assert words in answer.err
    assert not (reef.folder / "public").exists()


@pytest.mark.parametrize("older", [False, True])
@pytest.mark.parametrize(
    "moment",
    [
        "registry.documents.offline_site:render_site 1 after",
        "registry.storage.new_folder:new_folder 1 after",
        "registry.storage.files:write_file 1 before",
        "registry.storage.files:write_file 3 after",
        "pathlib:Path.mkdir 2 after",
    ],
)
def test_a_site_that_is_stopped_is_the_older_one_or_none(reef, moment, older):
    reef.good(*PLACE)
    if older:
        reef.good("map", "--site", "--out", "public")
    before = left(reef)
    is_stopped(press(reef, moment, "map", "--site", "--out", "public"))
    assert left(reef) == before
    assert list(scratch(reef).iterdir()) == []
