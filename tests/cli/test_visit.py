"""A visit sheet as it is asked for, its waypoints, and the programme's word to visitors."""

from pathlib import Path

import gpxpy
import pytest
import xmlschema

from tests.cli.reef import GOOD, GOOD_DEPTH, WHEN, Reef
from tests.tide_builders import STATION_FILE

SCHEMA = Path(__file__).parents[1] / "published" / "schemas" / "gpx-1.1.xsd"
FROM = ("--from", "Harbour Inlet, 33 53.1000 N 077 10.5000 W WGS 84")


@pytest.fixture
def placed(reef: Reef) -> Reef:
    reef.good("place", "MC-0001", *GOOD, *GOOD_DEPTH, *WHEN)
    return reef


def test_a_sheet_and_waypoints_and_nothing_recorded(placed):
    station = placed.write("pier.toml", STATION_FILE)
    before = placed.good("journal", "show", "--json").json
    asked = ("visit", "MC-0001", *FROM, "--on", "2026-07-14", "--tide-station", station, "--out", "v")
    made = placed.good(*asked, "--json").json
    assert placed.good("journal", "show", "--json").json == before
    where = placed.good("where", "MC-0001", "--on", "2026-07-14", "--json").json
    assert made["position"] == where["position"]
    assert made["texts"] == {name: where["texts"][name] for name in ("ddm", "dd", "dms", "geo")}
    assert made["name"] == "Ada Quill"
    assert made["private"] is None
    assert {turn["kind"] for turn in made["water"]} == {"high", "low"}
    assert made["water"][0]["depth"]["value_m"] == pytest.approx(70 * 0.3048 + made["water"][0]["tide_m"])
    pdf, gpx = (placed.folder / name for name in made["files"])
    assert pdf.read_bytes().startswith(b"%PDF")
    xmlschema.XMLSchema(str(SCHEMA)).validate(gpx.read_text(encoding="utf-8"))
    module, start = gpxpy.parse(gpx.read_text(encoding="utf-8")).waypoints
    assert module.latitude == pytest.approx(made["position"]["lat"], abs=5e-7)
    assert module.longitude == pytest.approx(made["position"]["lon"], abs=5e-7)
    assert (module.name, start.name) == ("MC-0001: Ada Quill", "Harbour Inlet")
    said = placed.good(*asked).out
    assert "true" in said
    assert "over the module" in said
    assert "Not for navigation" in said


def test_what_cannot_be_read_is_told_and_nothing_is_written(placed):
    asked = ("visit", "MC-0001", "--on", "2026-07-14", "--out", "v")
    placed(*asked, "--from", "33 53.1000 N 077 10.5000 W").is_told("Harbour Inlet, 33", code=2)
    placed(*asked, "--from", "Harbour Inlet").is_told("Harbour Inlet, 33", code=2)
    placed(*asked, "--from", "Harbour Inlet, 33 53.1 077 10.5").is_told("It could mean", code=2)
    placed(*asked, "--from", "Harbour Inlet, 33 63.1 N 077 10.5 W").is_told("63.1", code=2)
    placed(*asked, *FROM, "--tide-station", "none.toml").is_told("none.toml", code=4)
    placed("visit", "MC-0001", *FROM, "--on", "14 July", "--out", "v").is_told("14 July", code=2)
    placed("visit", "MC-0002", *FROM, "--on", "2026-07-14", "--out", "v").is_told("MC-0002", code=2)
    assert not (placed.folder / "v").exists()


def test_the_programmes_word_is_kept_listed_printed_and_survives_a_rebuild(placed):
    assert "Nothing is told to visitors yet" in placed.good("visitors").out
    placed("visitors", "tell").is_told("Nothing is told", code=2)
    placed.good(
        "visitors", "tell", "--rules", "No anchors.", "--young-reef", "Wait two summers.", "--actor", "Ada"
    )
    placed.good("visitors", "tell", "--permit", "HB-0417", "--rules", "Ask <b>first</b>.", "--json")
    listed = placed.good("visitors", "--json").json["visitors"]
    assert [(words["permit"], words["rules"]) for words in listed] == [
        ("", "No anchors."),
        ("HB-0417", "Ask <b>first</b>."),
    ]
    assert listed[0]["told"].startswith("Ada, ")
    made = placed.good("visit", "MC-0001", *FROM, "--on", "2026-07-14", "--out", "v", "--json").json
    assert made["programme_words"] == {"young_reef": None, "rules": "Ask <b>first</b>."}
    placed.good("journal", "rebuild")
    assert placed.good("visitors", "--json").json["visitors"] == listed
    placed.is_sound()
    # What is told to visitors is no duty.
    assert "declared" in placed("duties", "--json").json
    assert placed("duties", "--json").json["declared"] == []


def test_a_name_without_consent_is_for_the_family_alone(reef):
    reef.good("module", "add", "MC-0002", "--type", "hump-90", "--memorial", "Edda Wren")
    reef.good("place", "MC-0002", *GOOD, *GOOD_DEPTH, *WHEN)
    asked = ("visit", "MC-0002", *FROM, "--on", "2026-07-14", "--json", "--out")
    assert reef.good(*asked, "public").json["name"] is None
    family = reef.good(*asked, "family", "--for-family").json
    assert (family["name"], family["private"]) == ("Edda Wren", "for the family")
    public = b"".join(path.read_bytes() for path in (reef.folder / "public").iterdir())
    assert b"Edda" not in public


def test_where_exact_positions_are_not_published_the_sheet_is_private_and_shows_no_other_module(placed):
    placed.good("module", "add", "MC-0002", "--type", "hump-90")
    elsewhere = [*GOOD[:3], "34 00.1100 N 077 00.0000 W", *GOOD[4:]]
    placed.good("place", "MC-0002", *elsewhere, *GOOD_DEPTH, "--when", "2026-06-15T10:32-04:00")
    asked = ("visit", "MC-0001", *FROM, "--on", "2026-07-14", "--json", "--out")
    public = placed.good(*asked, "public").json
    assert public["private"] is None
    placed.good("publication", "declare", "--sites-only")
    private = placed.good(*asked, "private").json
    assert "does not publish exact positions" in private["private"]
    assert any("Other modules are not drawn" in note for note in private["notes"])
