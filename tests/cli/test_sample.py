"""``leadline sample``, and the way back through ``leadline accuracy``."""

import csv

import pytest

from tests.cli.reef import Reef, a_log


@pytest.fixture
def site(reef: Reef) -> Reef:
    (reef.folder / "day.csv").write_text(a_log(60))
    assert reef("intake", "day.csv", "--permit", "HB-0417").code in (0, 3)
    return reef


DRAW = ("sample", "--permit", "HB-0417", "--size", "20", "--seed", "4711")


def test_the_list_the_files_and_nothing_in_the_journal(site):
    before = site.good("journal", "show", "--json").json
    answer = site.good(*DRAW, "--out", "again")
    assert answer.out.startswith("20 of the 60 modules under permit HB-0417")
    for words in ("Seed: 4711", "Journal head: ", "local pivotal method", "Wrote again/sample.gpx", "LN-000"):
        assert words in answer.out
    assert sorted(path.name for path in (site.folder / "again").iterdir()) == [
        "sample.csv", "sample.gpx", "sample.txt",
    ]  # fmt: skip
    assert site.good("journal", "show", "--json").json == before


def test_it_can_be_drawn_again_after_more_has_happened(site):
    first = site.good(*DRAW, "--json").json
    (site.folder / "more.csv").write_text(a_log(90).replace("2026-06-14", "2026-06-15").replace("LN-", "LM-"))
    site("intake", "more.csv", "--permit", "HB-0417")
    assert site.good(*DRAW, "--json").json["population"] == 150
    again = site.good(*DRAW, "--as-of", first["as_of"], "--json").json
    assert [m["tag"] for m in again["modules"]] == [m["tag"] for m in first["modules"]]
    assert again["journal_head"] == first["journal_head"]
    assert first["again"].endswith(f"--as-of {first['as_of']}")


def fill(site: Reef, *, only: int = 20, wild: str = "") -> None:
    """Write what an officer would have found: every module where it is, give or take decimetres."""
    path = site.folder / "again" / "sample.csv"
    with path.open(encoding="utf-8-sig", newline="") as stream:
        rows = list(csv.DictReader(stream))
    for number, row in enumerate(rows[:only]):
        index = int(row["tag"].removeprefix("LN-"))
        north, east = (number * 5 % 7 - 3) * 2e-6, (number * 3 % 7 - 3) * 3e-6
        north += 0.0002 if row["tag"] == wild else 0.0
        row["position"] = f"{33.9920 + north:.7f} N {77.0080 - index * 0.00016 - east:.7f} W"
        row["frame"], row["when"], row["receiver"] = "EPSG:6318", "2027-10-02", "rtk"
    with path.open("w", encoding="utf-8", newline="") as stream:
        writer = csv.DictWriter(stream, rows[0].keys())
        writer.writeheader()
        writer.writerows(rows)


def test_the_filled_table_goes_back_through_accuracy(site):
    tags = {module["tag"] for module in site.good(*DRAW, "--out", "again", "--json").json["modules"]}
    fill(site)
    answer = site.good("accuracy", "again/sample.csv", "--json")
    assert {point["tag"] for point in answer.json["points"]} == tags
    assert answer.json["accuracy"]["points"] == 20
    assert answer.json["rejected"] == []
    assert max(point["distance_m"] for point in answer.json["points"]) < 1.2


def test_a_module_that_is_not_where_it_should_be_is_found(site):
    wild = site.good(*DRAW, "--out", "again", "--json").json["modules"][3]["tag"]
    fill(site, wild=wild)
    answer = site("accuracy", "again/sample.csv", "--json")
    assert answer.code == 3
    assert [point["tag"] for point in answer.json["points"] if point["outlier"]] == [wild]


def test_rows_left_blank_are_named_and_the_others_used(site):
    site.good(*DRAW, "--out", "again")
    fill(site, only=12)
    answer = site("accuracy", "again/sample.csv", "--json")
    assert answer.code == 1
    assert answer.json["accuracy"]["points"] == 12
    assert len(answer.json["rejected"]) == 8
    assert "has no position" in answer.json["rejected"][0]["reason"]


@pytest.mark.parametrize(
    ("arguments", "words", "code"),
    [
        (("sample", "--permit", "HB-0417"), "--seed", 2),
        (("sample", "--seed", "1"), "--permit", 2),
        ((*DRAW[:3], "--seed", "1", "--size", "0"), "A sample of 0 is none", 2),
        ((*DRAW[:3], "--seed", " "), "is no seed", 2),
        (("sample", "--permit", "HB-9", "--seed", "1"), "HB-0417", 2),
        ((*DRAW, "--as-of", "2020-01-01"), "had not begun", 2),
    ],
)
def test_what_cannot_be_drawn_is_told(site, arguments, words, code):
    answer = site(*arguments)
    assert answer.code == code
    assert words in answer.err
    assert len(answer.err.splitlines()) <= 2


def test_nothing_is_written_over_a_registry(site):
    site.write("again", b"not a folder")
    assert site(*DRAW, "--out", "again").code == 4
    (site.folder / "into").mkdir()
    (site.folder / "into" / "sample.csv").write_bytes(site.registry.read_bytes())
    site(*DRAW, "--out", "into").is_told("is a registry", code=2)
    assert not (site.folder / "into" / "sample.gpx").exists()


def test_a_table_that_was_filled_in_is_not_written_over(site):
    site.good(*DRAW, "--out", "again")
    # Nobody has written in it yet: it may be drawn again.
    site.good(*DRAW[:-1], "4712", "--out", "again")
    fill(site, only=1)
    kept = {path: path.read_bytes() for path in (site.folder / "again").iterdir()}
    site(*DRAW, "--out", "again").is_told("again/sample.csv", "filled in", "--out", code=2)
    assert {path: path.read_bytes() for path in (site.folder / "again").iterdir()} == kept


@pytest.mark.parametrize("content", [b"tag,note\nMC-1,mine\n", b"\xff\x00\x01"])
def test_another_file_of_that_name_is_not_written_over(site, content):
    (site.folder / "again").mkdir()
    (site.folder / "again" / "sample.csv").write_bytes(content)
    site(*DRAW, "--out", "again").is_told("again/sample.csv", code=2)
    assert [path.read_bytes() for path in (site.folder / "again").iterdir()] == [content]


def test_a_permit_without_modules_is_told(reef):
    reef(*DRAW).is_told("No module lies under permit HB-0417", code=2)
