"""``leadline chartoffice``: what an office that makes charts asks for, and no more."""

import csv

from tests.cli.reef import GOOD, GOOD_DEPTH, WHEN


def test_corners_and_attributes_are_written(reef):
    reef.good("module", "add", "MC-1", "--type", "hump-60", "--memorial", "Perdita Unlisted")
    reef("place", "MC-1", *GOOD, *GOOD_DEPTH, *WHEN)
    told = reef.good(
        "chartoffice", "--permit", "HB-0417", "--notation", "dms", "--out", "office", "--json"
    ).json
    assert [path.rpartition("/")[2] for path in told["files"]] == [
        "notice.txt",
        "corners.csv",
        "chart.csv",
        "chart-office.pdf",
    ]
    assert (told["frame"], told["notation"], told["areas"][0]["area"]) == ("EPSG:4326", "dms", "gannet-patch")
    with (reef.folder / "office" / "chart.csv").open(encoding="utf-8-sig", newline="") as file:
        values = {row["s57"]: row["value"] for row in csv.DictReader(file)}
    assert (values["CATOBS"], values["WATLEV"], values["VERDAT"], values["NATCON"]) == ("5", "3", "12", "2")
    notice = (reef.folder / "office" / "notice.txt").read_text(encoding="utf-8")
    assert "34°00′36.0" in notice
    for path in (reef.folder / "office").iterdir():
        assert b"Perdita" not in path.read_bytes()


def test_a_mandatory_attribute_that_is_blank_is_told(reef):
    answer = reef.good("chartoffice", "--permit", "HB-0417", "--out", "office")
    assert "? waterLevelEffect is asked for by S-101 and blank: no module lies in the area" in answer.out
    assert "Not for navigation" in answer.out


def test_it_leaves_the_permit_in_its_own_form(reef):
    before = reef.good("permit", "show", "HB-0417", "--json").json
    reef.good("chartoffice", "--permit", "HB-0417", "--frame", "EPSG:6318", "--out", "office")
    assert reef.good("permit", "show", "HB-0417", "--json").json == before


def test_what_cannot_be_is_told(reef):
    reef("chartoffice", "--permit", "HB-0418", "--out", "office").is_told("HB-0418", code=2)
    reef("chartoffice", "--permit", "HB-0417", "--frame", "EPSG:1", "--out", "office").is_told(code=2)
    assert not (reef.folder / "office").exists()
