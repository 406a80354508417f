"""``leadline asbuilt``."""

import csv
import shutil

import pytest

from tests.cli.reef import GOOD, GOOD_DEPTH, PERMIT, WHEN, Reef, a_log

FILES = ["areas.csv", "as-built.pdf", "chart.csv", "corners.csv", "modules.csv", "use.csv"]


@pytest.fixture
def site(reef: Reef) -> Reef:
    (reef.folder / "day.csv").write_text(a_log(8))
    assert reef("intake", "day.csv", "--permit", "HB-0417").code in (0, 3)
    return reef


def read(reef: Reef, name: str) -> list[dict[str, str]]:
    with (reef.folder / "out" / name).open(encoding="utf-8-sig", newline="") as stream:
        return list(csv.DictReader(stream))


def test_the_list_its_files_and_nothing_in_the_journal(site):
    before = site.good("journal", "show", "--json").json
    answer = site.good("asbuilt", "--permit", "HB-0417", "--out", "out")
    for words in (
        "8 modules",
        "NAD83(2011)",
        "no limit stated",
        "least clearance",
        "Wrote out/as-built.pdf",
        "Not for navigation",
    ):
        assert words in answer.out
    assert sorted(path.name for path in (site.folder / "out").iterdir()) == FILES
    assert (site.folder / "out" / "as-built.pdf").read_bytes().startswith(b"%PDF-")
    assert [row["tag"] for row in read(site, "modules.csv")] == [f"LN-{k:05d}" for k in range(8)]
    assert read(site, "corners.csv")[0]["as_written"] == "34 00.600 N 077 00.600 W"
    assert {row["s57"]: row["value"] for row in read(site, "chart.csv")}["CATOBS"] == "5"
    assert site.good("journal", "show", "--json").json == before


def test_one_json_document(site):
    said = site.good("asbuilt", "--permit", "HB-0417", "--out", "out", "--json").json
    assert len(said["modules"]) == 8
    assert said["used"][0] == {
        "what": "modules", "areas": [], "used": 8.0, "authorised": None, "unit": "modules", "unknown": 0,
        "verdict": "not applicable", "cite": None,
    }  # fmt: skip
    (area,) = said["areas"]
    assert area["least_clearance"]["value_m"] == pytest.approx(70 * 0.3048 - 0.6)
    assert said["modules"][0]["position"]["frame"] == said["frame"] == "EPSG:6318"
    assert len(said["files"]) == 6


def test_the_form_that_the_permit_asks_for(reef):
    other = PERMIT.replace("HB-0417", "HB-0600") + (
        '\n[reporting]\nframe = "EPSG:4326"\nnotation = "dms"\nlength_unit = "ft"\nmass_unit = "short tons"\n'
    )
    reef.good("permit", "add", reef.write("hb-0600.toml", other))
    (reef.folder / "day.csv").write_text(a_log(2))
    assert reef("intake", "day.csv", "--permit", "HB-0600").code in (0, 3)
    answer = reef.good("asbuilt", "--permit", "HB-0600", "--out", "out")
    assert "WGS 84" in answer.out
    assert "EPSG:10334" in answer.out
    first = read(reef, "modules.csv")[0]
    assert first["frame"] == "EPSG:4326"
    assert {"depth_ft", "mass_short_tons", "latitude"} <= set(first)
    assert first["latitude"].endswith(" N")
    assert len(first["latitude"].split()) == 4


def test_the_list_can_be_made_again_as_the_registry_stood(site):
    before = site.good("asbuilt", "--permit", "HB-0417", "--out", "out", "--json").json
    then = site.good("journal", "show", "--json").json["entries"][-1]["time"]
    site("place", "MC-0001", *GOOD, *GOOD_DEPTH, *WHEN)
    assert len(site.good("asbuilt", "--permit", "HB-0417", "--out", "out", "--json").json["modules"]) == 9
    answer = site.good("asbuilt", "--permit", "HB-0417", "--as-of", then, "--out", "out", "--json").json
    assert (answer["modules"], answer["journal_head"]) == (before["modules"], before["journal_head"])
    assert answer["as_of"].startswith(then[:19])
    site("asbuilt", "--permit", "HB-0417", "--as-of", "2020-01-01", "--out", "x").is_told(
        "had not begun", code=2
    )


def test_a_permit_without_modules_is_listed_all_the_same(reef):
    answer = reef.good("asbuilt", "--permit", "HB-0417", "--out", "out")
    assert "0 modules" in answer.out
    assert read(reef, "modules.csv") == []
    assert read(reef, "areas.csv")[0]["modules"] == "0"


def test_no_memorial_name_enters_any_file(site):
    site("place", "MC-0001", "--permit", "HB-0417", "--at", "34 00.1000 N 077 00.0000 W", "--frame", "EPSG:6318",
         "--r95", "2 m", "--when", "2026-06-14T10:32-04:00", "--crew", "Ada Secret")  # fmt: skip
    answer = site("asbuilt", "--permit", "HB-0417", "--out", "out", "--json")
    assert "Quill" not in answer.out
    for name in FILES:
        content = (site.folder / "out" / name).read_bytes()
        assert b"Quill" not in content
        assert b"Ada Secret" not in content
    assert "MC-0001" in {row["tag"] for row in read(site, "modules.csv")}


def test_what_cannot_be_listed_is_told(site):
    site("asbuilt", "--permit", "HB-9", "--out", "out").is_told("HB-0417", code=2)
    assert not (site.folder / "out").exists()
    site("asbuilt", "--permit", "HB-0417").is_told("--out", code=2)
    (site.folder / "into").mkdir()
    shutil.copy(site.registry, site.folder / "into" / "modules.csv")
    site("asbuilt", "--permit", "HB-0417", "--out", "into").is_told("is a registry", code=2)
    assert not (site.folder / "into" / "as-built.pdf").exists()
