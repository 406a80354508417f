"""What was recorded wrongly is mended by typing: placements withdrawn, modules amended, lists read again."""

import pytest

from tests.cli.reef import GOOD, GOOD_DEPTH, WHEN

PLACE = ("place", "MC-0001", *GOOD, *GOOD_DEPTH, *WHEN)


def test_a_placement_logged_twice_is_withdrawn_and_the_certificate_is_possible_again(reef):
    first = reef.good(*PLACE, "--json").json["placement"]
    again = reef(*PLACE, "--json")
    assert (again.code, again.json["verdict"]) == (1, "nonconforming")
    reef("certificate", "MC-0001", "--out", "papers").is_told("MC-0001", code=2)
    told = reef.good("withdraw", again.json["placement"], "--reason", "Enter pressed twice", "--json").json
    assert told["placement"] == again.json["placement"]
    assert (told["tag"], told["permit"], told["standing"]) == ("MC-0001", "HB-0417", [first])
    reef.is_sound()
    reef.good("audit")
    reef.good("certificate", "MC-0001", "--out", "papers")
    reef.good("journal", "rebuild")
    reef.is_sound()
    once_more = ("withdraw", again.json["placement"], "--reason", "again")
    reef(*once_more).is_told("withdrawn before", "leadline place", code=2)
    reef("withdraw", "00000000-9", "--reason", "x").is_told("00000000-9", code=2)
    reef("withdraw", first, "--reason", " ").is_told("reason", code=2)
    reef("withdraw", "MC-0001", "--reason", "x").is_told("is a tag", first, code=2)
    said = reef.good("withdraw", first, "--reason", "nothing lies there").out
    assert "No placement of MC-0001 stands now." in said
    assert "Certificate" in said


@pytest.mark.parametrize("change", ["--no-consent-listed", "--no-memorial"])
def test_a_name_without_consent_leaves_map_and_exports(reef, change):
    reef.good(*PLACE)
    reef.good("export", "--format", "gpx", "--out", "a.gpx")
    assert "Ada Quill" in (reef.folder / "a.gpx").read_text(encoding="utf-8")
    said = reef.good("module", "amend", "MC-0001", change, "--reason", "letter of the family").out
    assert "name shown in public: yes -> no" in said
    for form in ("gpx", "kml", "geojson", "csv"):
        reef.good("export", "--format", form, "--out", f"b.{form}")
        assert "Ada Quill" not in (reef.folder / f"b.{form}").read_text(encoding="utf-8")
    reef.good("map", "--out", "b.html")
    assert "Ada Quill" not in (reef.folder / "b.html").read_text(encoding="utf-8")
    reef.good("export", "--format", "gpkg", "--out", "b")
    assert b"Ada Quill" not in (reef.folder / "b.gpkg").read_bytes()
    reef.is_sound()


def test_a_language_is_recorded_with_the_name_and_one_without_papers_is_told(reef):
    told = reef.good("module", "amend", "MC-0001", "--language", "vi", "--reason", "the family asks").out
    assert "language: not said -> vi" in told
    added = ("module", "add", "MC-0077", "--type", "hump-60", "--memorial", "Ib Tarn", "--language", "ko")
    (warning,) = reef.good(*added, "--json").json["warnings"]
    assert "not in ko; its certificate will be in English" in warning
    reef("module", "add", "MC-0078", "--type", "hump-60", "--language", "vi").is_told("--memorial", code=2)
    wrong = (
        "module",
        "add",
        "MC-0079",
        "--type",
        "hump-60",
        "--memorial",
        "Ib Tarn",
        "--language",
        "Spanish",
    )
    reef(*wrong).is_told("'Spanish' is not a language tag", code=2)
    reef.is_sound()


def test_a_module_is_amended_and_a_script_is_told_both(reef):
    told = reef.good(
        "module", "amend", "MC-0001", "--memorial", "Ada Quille", "--mass", "612 kg", "--type", "hump-60",
        "--cast", "2026-03-02", "--reason", "casting sheet", "--json",
    ).json  # fmt: skip
    assert told["before"]["memorial"]["name"] == "Ada Quill"
    assert told["module"] == {
        "tag": "MC-0001",
        "type_id": "hump-60",
        "cast_on": "2026-03-02",
        "mass_kg": 612.0,
        "memorial": {"name": "Ada Quille", "consent_listed": True, "language": None},
    }
    reef("module", "amend", "MC-0001", "--mass", "612 kg", "--reason", "x").is_told("already", code=2)
    reef("module", "amend", "MC-0001", "--mass", "612", "--reason", "x").is_told("612", code=2)
    reef("module", "amend", "MC-0001", "--mass", "1 kg").is_told("--reason", code=2)
    reef("module", "amend", "MC-9", "--mass", "1 kg", "--reason", "x").is_told("MC-9", code=2)


def test_the_same_list_of_modules_may_be_read_again(reef):
    table = reef.write("modules.csv", "tag,type,memorial,consent\nMC-2,hump-60,Ib Tarn,yes\nMC-3,hump-60,,\n")
    assert reef.good("module", "import", table, "--json").json["repeated"] == []
    again = reef.good("module", "import", table)
    assert "Recorded 0 modules" in again.out
    assert "2 rows stood already and were left alone." in again.out
    assert not (reef.folder / "modules.csv.rejected.csv").exists()
    more = "tag,type,memorial,consent\nMC-2,hump-60,Ib Tarne,yes\nMC-3,hump-60,,\nMC-4,hump-60,,\n"
    mixed = reef("module", "import", reef.write("modules.csv", more), "--json")
    assert (mixed.code, mixed.json["taken"], mixed.json["repeated"]) == (1, 1, [3])
    (rejected,) = mixed.json["rejected"]
    assert rejected["row"] == 2
    assert "another memorial, consent or language" in rejected["reason"]
    assert "leadline module amend" in rejected["reason"]
    reef.good("module", "amend", "MC-2", "--memorial", "Ib Tarne", "--reason", "misspelt")
    assert reef.good("module", "import", "modules.csv", "--json").json["repeated"] == [2, 3, 4]
    assert "nothing was written" in reef.good("module", "add", "MC-3", "--type", "hump-60").out
