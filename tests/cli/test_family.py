"""Families as typed: nothing of them is in any other file, and nothing anywhere once they are erased."""

import io
import json
import os
import shutil
import stat
import subprocess
import zipfile
from collections.abc import Iterator
from pathlib import Path

import click
import pytest

from registry.cli.main import COMMANDS, leadline
from registry.storage.byte_search import search_files
from tests.cli.reef import GOOD, GOOD_DEPTH, WHEN, Reef

SECRETS = (
    "Idalia Quill-Sørensen",
    "great-niece",
    "idalia@quill.example",
    "+1 910 555 0123",
    "12 Dune Lane, Marram",
    "calls after six =HYPERLINK",
    "CREM-48213-Q",
    "CREM-48231-Q",
)
NAME, RELATION, EMAIL, PHONE, ADDRESS, NOTE, NUMBER, MISREAD = SECRETS
ADD = (
    *("family", "add", "MC-0001", "--name", NAME, "--relation", RELATION, "--email", EMAIL),
    *("--phone", PHONE, "--address", ADDRESS, "--note", NOTE),
)
HAND_OVER = (
    *("custody", "MC-0001", "--step", "received", "--when", "2026-03-01T09:30-05:00"),
    *("--from", "Skua Crematory", "--from-tag", "MC-0001", "--from-id", NUMBER),
    *("--to", "Marram yard", "--to-tag", "MC-0001"),
)
#: Every command that writes a file, with what it needs to find something to write.
WRITERS = (
    ("certificate", "MC-0001", "--out", "{0}", "--despite", "the chain began late"),
    ("certificates", "duplicate", "MC-0001", "--out", "{0}"),
    ("certificates", "publish", "{0}/status"),
    ("plaque", "MC-0001", "--size", "150x100mm", "--out", "{0}/plaque"),
    (
        "visit",
        "MC-0001",
        "--from",
        "Gull Inlet, 34 01.0 N 077 02.0 W",
        "--on",
        "2026-12-14",
        "--out",
        "{0}/visit",
    ),
    ("map", "--out", "{0}/reef.html"),
    ("map", "--site", "--out", "{0}/site"),
    ("chartoffice", "--permit", "HB-0417", "--out", "{0}/chart-office"),
    ("accuracy", "check.csv", "--out", "{0}/accuracy.svg"),
    *(
        ("export", "--format", kind, "--out", f"{{0}}/reef.{kind}")
        for kind in ("gpx", "kml", "geojson", "csv", "gpkg", "pdf")
    ),
    ("export", "--format", "shp", "--out", "{0}/reef.zip"),
    ("audit", "--out", "{0}/audit"),
    ("asbuilt", "--permit", "HB-0417", "--out", "{0}/as-built"),
    ("sample", "--permit", "HB-0417", "--seed", "7", "--size", "1", "--out", "{0}/sample"),
    ("duties", "draft", "burial-MC-0001", "--out", "{0}/papers"),
    ("journal", "key", "--out", "{0}/public_key.pem"),
    ("backup", "{0}/backup.gpkg"),
    ("bundle", "export", "{0}/reef.bundle"),
)


def packed(path: Path) -> list[tuple[str, bytes]]:
    """Give a file, and what lies in it where it is an archive or a PDF."""
    data = path.read_bytes()
    if path.suffix == ".pdf" and shutil.which("pdftotext"):
        text = subprocess.run(["pdftotext", path, "-"], capture_output=True, check=True).stdout
        return [(str(path), data), (f"{path} as text", text)]
    if not zipfile.is_zipfile(io.BytesIO(data)):
        return [(str(path), data)]
    with zipfile.ZipFile(io.BytesIO(data)) as archive:
        return [(str(path), data), *((f"{path}:{name}", archive.read(name)) for name in archive.namelist())]


def holding(folder: Path, *, but: tuple[Path, ...] = ()) -> dict[str, list[str]]:
    """Look for every text in every file below a folder; the registry is closed."""
    found: dict[str, list[str]] = {}
    for path in sorted(folder.rglob("*")):
        if not path.is_file() or path in but:
            continue
        (searched,) = search_files([path], SECRETS)
        inside = [text for name, data in packed(path) for text in SECRETS if text.encode() in data]
        if searched.found or inside:
            found[str(path)] = [*searched.found, *inside]
    return found


def written_by_all(reef: Reef, folder: str) -> None:
    """Run every command that writes."""
    (reef.folder / folder).mkdir()
    reef.write(
        "check.csv",
        "tag,position,frame,when,r95\nMC-0001,34 00.1000 N 077 00.0001 W,EPSG:6318,2026-06-20,0.5 m\n",
    )
    reef.good("duties", "declare", "--burial-report", "yes", "--cite", "40 CFR 229.1(d)")
    for line in WRITERS:
        answer = reef(*(word.format(folder) for word in line))
        assert answer.code in (0, 1, 3), (line, answer)
        assert "Error" not in answer.err, (line, answer)
    reef(*("intake", reef.write("log.csv", "tag,position,when\nX-1,nowhere,never\n")))


@pytest.fixture
def placed(reef: Reef) -> Reef:
    reef.good("place", "MC-0001", *GOOD, *GOOD_DEPTH, *WHEN)
    reef.good(*ADD)
    assert reef(*HAND_OVER, "--to-id", MISREAD).code == 1
    return reef


def test_nothing_of_a_family_is_in_any_file_but_its_own(placed, tmp_path):
    own = tmp_path / "leadline.gpkg.families"
    written_by_all(placed, "all")
    assert len(list(tmp_path.rglob("*"))) > 25
    assert holding(tmp_path, but=(own,)) == {}
    assert set(holding(own.parent)) == {str(own)}
    show = placed("journal", "show", "--json").out
    assert not [text for text in SECRETS if text in show]


#: What writes a file and reads nothing of the registry, or writes what is held for the family itself.
OTHER_WRITERS = {("tide",), ("convert",), ("family", "export"), ("family", "erase")}


def test_every_command_that_writes_a_file_is_searched():
    def writers(command: click.Command | None, path: tuple[str, ...]) -> Iterator[tuple[str, ...]]:
        assert command is not None
        for name, below in command.commands.items() if isinstance(command, click.Group) else ():
            yield from writers(below, (*path, name))
        if {"--out", "--plot", "--receipt"} & {word for option in command.params for word in option.opts}:
            yield path

    context = click.Context(leadline)
    found = {path for name in COMMANDS for path in writers(leadline.get_command(context, name), (name,))}
    searched = {line[:length] for line in WRITERS for length in (1, 2)}
    assert found - searched - OTHER_WRITERS == set()


def test_a_family_is_erased_from_every_byte(placed, tmp_path):
    written_by_all(placed, "before")
    placed("family", "erase", "MC-0001").is_told("nothing was erased", "--yes", code=2)
    assert placed.good("family", "show", "MC-0001", "--json").json["families"][0]["contacts"]
    answer = placed.good(
        "family", "erase", "MC-0001", "--yes", "--search", ".", "--receipt", "receipt.txt", "--actor", "Ada"
    )
    assert holding(tmp_path) == {}
    assert not (tmp_path / "leadline.gpkg.families").exists()
    receipt = (tmp_path / "receipt.txt").read_text(encoding="utf-8")
    assert not [text for text in SECRETS if text in receipt + answer.out]
    for said in (
        "1 contact (name, relation, email, phone, address, note)",
        "2 numbers",
        "by Ada",
        "nothing of it",
    ):
        assert said in receipt
    # Everything that is written afterwards is free of it too, and the registry proves itself.
    written_by_all(placed, "after")
    placed.good("journal", "rebuild")
    placed.is_sound()
    assert holding(tmp_path) == {}
    (entry,) = [
        entry
        for entry in placed.good("journal", "show", "--json").json["entries"]
        if entry["kind"] == "family.erased"
    ]
    assert entry["body"] == {
        "tag": "MC-0001",
        "contacts": 1,
        "fields": ["name", "relation", "email", "phone", "address", "note"],
        "identifications": 2,
        "secret": True,
        "rest_held": False,
    }


def test_what_still_stands_somewhere_is_told_with_where(placed, tmp_path):
    placed.good("family", "export", "MC-0001", "--out", "for-them")
    placed.good(
        "module", "amend", "MC-0001", "--mass", "900 kg", "--reason", f"weighed while {NAME} was there"
    )
    answer = placed("family", "erase", "MC-0001", "--yes", "--search", "for-them", "--json")
    assert (answer.code, answer.err) == (1, "")
    told = answer.json
    assert {Path(each["file"]).name for each in told["still_there"]} >= {
        "leadline.gpkg",
        "family-MC-0001.txt",
    }
    (entries,) = told["in_journal"].values()
    assert "module.amended" in entries[0]
    assert not [text for text in SECRETS if text in answer.out]


def test_an_old_copy_that_is_put_back_is_told_and_erased_again(placed, tmp_path):
    own = tmp_path / "leadline.gpkg.families"
    old = own.read_bytes()
    placed.good("family", "erase", "MC-0001", "--yes")
    own.write_bytes(old)
    own.chmod(0o600)
    answer = placed("family", "show", "MC-0001")
    assert answer.code == 1
    assert "brought it back" in answer.out
    placed.good("family", "erase", "MC-0001", "--yes")
    assert holding(tmp_path) == {}


def test_one_contact_goes_and_the_others_stay(placed):
    placed.good("family", "add", "MC-0001", "--name", "Tomas Quill")
    answer = placed.good("family", "erase", "MC-0001", "--contact", "1", "--yes")
    assert "Held still" in answer.out
    (family,) = placed.good("family", "show", "--json").json["families"]
    assert [contact["name"] for contact in family["contacts"]] == ["Tomas Quill"]
    assert family["identifications"] == [NUMBER, MISREAD]


def test_a_backup_holds_no_contacts_and_says_so(placed, tmp_path):
    answer = placed.good("backup", "backup.gpkg")
    assert "contacts of families" in answer.out
    copy = ("--registry", "backup.gpkg")
    assert placed.good("family", "show", "--json", *copy).json["families"] == []
    chain = placed("custody", "MC-0001", "--json", *copy).json
    assert chain["hand_overs"][0]["from"]["identification"] is None
    assert any(fault["kind"] == "mismatch" for fault in chain["faults"])


def test_a_contact_is_asked_for_where_none_is_named(reef, monkeypatch, tmp_path):
    monkeypatch.setattr("sys.stdin", io.StringIO(f"{NAME}\n{RELATION}\n\n{PHONE}\n\n\n"))
    answer = reef("family", "add", "MC-0001")
    assert answer.code == 0
    (family,) = reef.good("family", "show", "MC-0001", "--json").json["families"]
    (contact,) = family["contacts"]
    assert {name: text for name, text in contact.items() if name != "recorded_at"} == {
        "name": NAME,
        "relation": RELATION,
        "phone": PHONE,
    }
    if os.name == "posix":
        assert stat.S_IMODE((tmp_path / "leadline.gpkg.families").stat().st_mode) == 0o600


def test_all_that_is_held_is_written_for_the_family_alone(placed, tmp_path):
    placed.good("certificate", "MC-0001", "--out", "certificates", "--despite", "the chain began late")
    answer = placed.good("family", "export", "MC-0001", "--out", "for-them")
    assert "Private" in answer.out
    text, data = (tmp_path / "for-them" / f"family-MC-0001.{kind}" for kind in ("txt", "json"))
    held = json.loads(data.read_text(encoding="utf-8"))["held"]
    assert set(held) == {"contacts", "identification", "modules", "custody", "placements", "certificates"}
    for said in (*SECRETS, "34 00.100", "Ada Quill"):
        assert said in text.read_text(encoding="utf-8")
    assert "Skua Crematory" in text.read_text(encoding="utf-8")
    if os.name == "posix":
        assert {stat.S_IMODE(path.stat().st_mode) for path in (text, data)} == {0o600}


def test_mistakes_are_told(reef):
    reef("family", "add", "MC-0009", "--name", NAME).is_told("MC-0009", code=2)
    reef("family", "add", "MC-0001", "--name", NAME, "--email", "nobody").is_told("e-mail", code=2)
    reef("family", "show", "MC-0001").is_told("Nothing is held", code=2)
    reef("family", "erase", "MC-0001", "--yes").is_told("Nothing is held", code=2)
    reef("family", "export", "MC-0009", "--out", "x").is_told("MC-0009", code=2)
    reef.write("leadline.gpkg.families", b"\x00" * 99)
    reef(*ADD).is_told("leadline.gpkg.families", "damaged", code=4)
    for line in (("family", "show"), ("custody", "MC-0001")):
        reef(*line).is_told("damaged", code=4)


def test_no_output_is_written_over_the_file_of_families(placed):
    placed("export", "--format", "csv", "--out", "leadline.gpkg.families").is_told("registry itself", code=2)


def test_contacts_written_at_the_same_time_are_all_kept(reef):
    names = [f"Relative {number}" for number in range(5)]
    added = [reef.process("family", "add", "MC-0001", "--name", name) for name in names]
    for process in added:
        out, err = process.communicate(timeout=120)
        assert process.returncode == 0, (out, err)
    (family,) = reef.good("family", "show", "--json").json["families"]
    assert sorted(contact["name"] for contact in family["contacts"]) == names


def test_a_new_registry_never_finds_the_families_of_another(placed):
    placed.registry.unlink()
    new = ("new", "--programme", "Tern Reefs", "--frame", "EPSG:6318")
    placed(*new).is_told("leadline.gpkg.families", "another registry", code=2)
    (placed.folder / "leadline.gpkg.families").rename(placed.folder / "aside")
    placed.good(*new)
