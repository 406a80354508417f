"""Each command does what the contract says, to a person and to a script."""

import json
import shutil
import subprocess
import zipfile

import pytest

from tests.cli.reef import GOOD, GOOD_DEPTH, WHEN, Reef

PLACE = ("place", "MC-0001", *GOOD, *GOOD_DEPTH, *WHEN)
POSITION = {"lat", "lon", "frame", "epoch", "r95_m"}
FINDING = {"placement", "rule", "verdict", "measured", "limit", "u95", "unit", "cite", "message"}
CABLE = {
    "type": "FeatureCollection",
    "features": [
        {
            "type": "Feature",
            "properties": {"name": "Skua Cable"},
            "geometry": {"type": "LineString", "coordinates": [[-77.0, 33.9], [-77.0, 34.1]]},
        }
    ],
}


def test_new_makes_a_registry_and_a_key(reef):
    made = reef.good(
        "--registry",
        "new.gpkg",
        "new",
        "--programme",
        "X",
        "--frame",
        "EPSG:6318",
        "--zone",
        "Europe/Oslo",
        "--json",
    ).json
    assert (made["registry"], made["zone"], made["frame"]) == ("new.gpkg", "Europe/Oslo", "EPSG:6318")
    assert (reef.folder / "keys" / f"{made['key']}.pem").exists()
    assert reef.good("--registry", "new.gpkg", "module", "types", "--json").json["types"]


@pytest.mark.parametrize(
    "slip",
    [
        ("--frame", "EPSG:4326"),
        ("--frame", "EPSG:3857"),
        ("--frame", "nowhere"),
        ("--zone", "EST5"),
        ("--zone", "Mars/Olympus"),
        ("--zone", "../../etc/passwd"),
        ("--programme", "  "),
        ("--registry", "no/such/folder/x.gpkg"),
    ],
    ids=" ".join,
)
def test_a_slip_in_new_leaves_neither_registry_nor_key(reef, slip):
    before = sorted(path.name for path in reef.folder.rglob("*"))
    line = ("new", "--programme", "X", "--frame", "EPSG:6318", "--registry", "new.gpkg", *slip)
    answer = reef(*line)
    answer.is_told(code=answer.code)
    assert sorted(path.name for path in reef.folder.rglob("*")) == before


def test_permits_are_listed_and_shown(reef):
    assert "HB-0417" in reef.good("permit", "list").out
    (listed,) = reef.good("permit", "list", "--json").json["permits"]
    assert listed == reef.good("permit", "show", "HB-0417", "--json").json
    shown = reef.good("permit", "show", "HB-0417").out
    assert "Special condition 4" in shown
    reef("permit", "add", "hb-0417.toml").is_told("HB-0417", code=2)


@pytest.mark.parametrize(
    "content", [b"", b"[permit", b"PK\x03\x04", b"\xff\xfe", b"[permit]\nnumber = 1\n", b"a = nan\n"]
)
def test_a_file_that_is_no_permit_is_told(reef, content):
    answer = reef("permit", "add", reef.write("odd.toml", content))
    answer.is_told(code=answer.code)
    assert answer.code in (2, 4)


def test_a_slip_in_a_command_names_the_nearest(reef):
    answer = reef("chek")
    assert answer.code == 2
    assert "leadline check" in answer.err


def test_a_keep_out_is_recorded_and_then_in_the_way(reef):
    reef.write("cable.geojson", json.dumps(CABLE))
    line = ("keepout", "add", "cable.geojson", "--kind", "cable", "--setback", "200 ft")
    (made,) = reef.good(*line, "--json").json["keep_outs"]
    assert made["name"] == "Skua Cable"
    answer = reef("check", "--type", "hump-60", *GOOD, *GOOD_DEPTH, "--json")
    (finding,) = [f for f in answer.json["findings"] if f["rule"] == "keep-out"]
    assert (answer.code, finding["verdict"]) == (1, "nonconforming")
    assert finding["limit"] == pytest.approx(60.96)


@pytest.mark.parametrize(
    "content", [b"", b"{}", b"not json", b'{"type": "FeatureCollection", "features": []}']
)
def test_a_file_that_holds_no_keep_out_is_told(reef, content):
    reef.write("odd.geojson", content)
    answer = reef("keepout", "add", "odd.geojson", "--kind", "cable", "--setback", "1 m")
    answer.is_told("odd.geojson", code=answer.code)
    assert answer.code in (2, 4)


def test_modules_are_added_one_by_one_and_from_a_spreadsheet(reef):
    added = reef.good(
        "module", "add", "MC-2", "--type", "hump-60", "--cast", "2026-03-02", "--mass", "300 kg", "--json"
    )
    assert (added.json["tag"], added.json["mass_kg"]) == ("MC-2", 300.0)
    reef("module", "add", "MC-2", "--type", "hump-60").is_told("MC-2", code=2)
    table = "tag,type,memorial,consent,Contact\nMC-3,hump-60,Ada,yes,x\nMC-2,hump-60,,,\nMC-4,none,,,\n"
    answer = reef("module", "import", reef.write("modules.csv", table), "--json")
    assert (answer.code, answer.json["taken"], answer.json["columns_left_out"]) == (1, 1, ["Contact"])
    assert [row["row"] for row in answer.json["rejected"]] == [3, 4]
    assert (reef.folder / "modules.csv.rejected.csv").exists()


def test_types_of_the_programme_are_added(reef):
    row = "dome-1,0.45,0.6,0.03,280,160,0.36,0.64,ours\n"
    header = "type_id,base_radius_m,height_m,height_u95_m,mass_kg,submerged_mass_kg,side_area_m2,plan_area_m2,note\n"
    reef.good("module", "types", "--add", reef.write("types.csv", header + row))
    assert "dome-1" in reef.good("module", "types").out
    reef("module", "types", "--add", "types.csv").is_told("dome-1", code=2)
    reef("module", "types", "--add", reef.write("odd.csv", header + row.replace("0.6", "nan"))).is_told(
        "nan", code=2
    )


def test_check_writes_nothing_and_gives_what_the_contract_says(reef):
    before = reef.good("journal", "verify", "--json").json["head"]
    told = reef.good("check", "--type", "hump-90", *GOOD, *GOOD_DEPTH, "--json").json
    assert set(told) >= {"verdict", "position", "home", "findings", "neighbours", "warnings"}
    assert set(told["position"]) == POSITION
    assert set(told["home"]) >= POSITION
    assert all(set(finding) == FINDING for finding in told["findings"])
    assert all(finding["placement"] is None for finding in told["findings"])
    assert reef.good("journal", "verify", "--json").json["head"] == before


def test_a_placement_is_recorded_and_corrected_and_both_stand_in_the_journal(reef):
    wrong = reef(*PLACE, "--at", "34 05.0000 N 077 00.0000 W", "--json")
    assert (wrong.code, wrong.json["verdict"]) == (1, "nonconforming")
    assert {f["placement"] for f in wrong.json["findings"]} == {"MC-0001"}
    right = reef.good(
        "correct", wrong.json["placement"], "--tag", "MC-0001", "--reason", "typed 05 for 00",
        *GOOD, *GOOD_DEPTH, *WHEN, "--json",
    )  # fmt: skip
    assert right.json["verdict"] == "conforming"
    entries = reef.good("journal", "show", "--json").json["entries"]
    corrected = entries[-1]["body"]
    assert (corrected["supersedes"], corrected["reason"]) == (wrong.json["placement"], "typed 05 for 00")
    assert wrong.json["placement"] in {entry["reference"] for entry in entries}
    again = ("correct", wrong.json["placement"], "--tag", "MC-0001", *GOOD, *WHEN, "--reason")
    reef(*again, "  ").is_told("reason", code=2)
    reef(*again, "once more").is_told(code=2)


def test_a_certificate_is_issued_and_proves_itself(reef):
    reef.good(*PLACE)
    made = reef.good("certificate", "MC-0001", "--out", "papers", "--json").json
    paper = reef.folder / made["file"]
    assert reef.good("certificate", "MC-0001", "--out", "papers", "--json").json["again"] is True
    told = reef.good("authenticate", paper, "--json").json
    assert (told["genuine"], told["state"]) == (True, "current")
    reef.good("journal", "key", "--out", "key.pem")
    assert "genuine" in reef.good("--registry", "none.gpkg", "authenticate", paper, "--key", "key.pem").out
    content = bytearray(paper.read_bytes())
    content[len(content) // 2] ^= 1
    reef("authenticate", reef.write("changed.pdf", bytes(content))).is_told(code=1)
    reef("authenticate", reef.write("other.txt", "not a statement")).is_told(code=1)
    reef("--registry", "none.gpkg", "authenticate", paper).is_told("none.gpkg", code=4)
    shutil.rmtree(reef.folder / "keys")
    reef("certificate", "MC-0001", "--out", "papers").is_told("key", code=4)


def test_every_format_is_written(reef):
    reef.good(*PLACE)
    for form, name in (("gpx", "a.gpx"), ("kml", "a.kml"), ("geojson", "a.geojson"), ("csv", "a.csv"),
                       ("gpkg", "a.gpkg"), ("shp", "a.zip")):  # fmt: skip
        told = reef.good(
            "export", "--format", form, "--out", "a" if form in ("gpkg", "shp") else name, "--json"
        ).json
        assert (told["file"], told["modules"]) == (name, 1)
    assert zipfile.is_zipfile(reef.folder / "a.zip")
    assert "Not for navigation" in reef.good("export", "--format", "gpx", "--out", "a.gpx").out
    assert reef.good("map", "--out", "a.html", "--json").json["modules"] == 1


def test_the_journal_is_shown_verified_and_replayed(reef):
    reef.good(*PLACE)
    assert len(reef.good("journal", "show", "--last", "1").out.splitlines()) == 1
    entries = reef.good("journal", "show", "--json").json["entries"]
    head = reef.good("journal", "verify", "--json").json["head"]
    assert entries[-1]["digest"] == head
    assert reef.good("journal", "rebuild", "--json").json["head"] == head
    assert len(reef.tags()) == 1
    assert reef.good("journal", "key").out.startswith("-----BEGIN PUBLIC KEY-----")


def test_a_journal_that_was_changed_is_found(reef):
    import sqlite3

    connection = sqlite3.connect(reef.registry)
    triggers = connection.execute(
        "SELECT name FROM sqlite_master WHERE type = 'trigger' AND tbl_name = 'journal'"
    ).fetchall()
    for (name,) in triggers:
        connection.execute(f"DROP TRIGGER {name}")
    connection.execute("UPDATE journal SET actor = 'somebody else' WHERE position = 2")
    connection.commit()
    connection.close()
    answer = reef("journal", "verify", "--json")
    assert (answer.code, answer.json["sound"]) == (1, False)
    assert answer.json["problems"]
    assert reef("journal", "verify").code == 1


def test_a_backup_is_a_registry_of_its_own(reef):
    reef.good(*PLACE)
    told = reef.good("backup", "copy.gpkg", "--json").json
    assert reef.good("--registry", "copy.gpkg", "journal", "verify", "--json").json["head"] == told["head"]
    reef("backup", "copy.gpkg").is_told("exists", code=2)


def test_who_acts_is_recorded(reef, monkeypatch):
    monkeypatch.setenv("LEADLINE_ACTOR", "Ben of the boat")
    reef.good("module", "add", "A", "--type", "hump-60")
    reef.good("module", "add", "B", "--type", "hump-60", "--actor", "Cy")
    actors = [e["actor"] for e in reef.good("journal", "show", "--json", "--last", "2").json["entries"]]
    assert actors == ["Ben of the boat", "Cy"]


@pytest.mark.skipif(shutil.which("openssl") is None, reason="needs openssl")
def test_the_public_key_is_one_that_others_read(reef: Reef):
    reef.good("journal", "key", "--out", "key.pem")
    done = subprocess.run(
        ["openssl", "pkey", "-pubin", "-in", reef.folder / "key.pem", "-noout", "-text"],
        capture_output=True,
        text=True,
        check=True,
    )
    assert "ED25519" in done.stdout


def test_an_audit_of_a_day_to_come_says_so(reef):
    answer = reef("audit", "--as-of", "2199-01-01")
    assert "2199-01-01 is still to come" in answer.err
    assert "still to come" not in reef("audit").err


def test_a_keep_out_without_a_kind_is_refused(reef):
    answer = reef("keepout", "add", "cable.geojson", "--kind", " ", "--setback", "200 ft")
    assert answer.code == 2
    assert "--kind cable" in answer.err
