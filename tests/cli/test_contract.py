"""The contract that all commands share: help, options that stand anywhere, exit codes, JSON, errors."""

import json
import os
import subprocess

import click
import pytest

from registry.cli.main import COMMANDS, leadline, run
from tests.cli.reef import GOOD, GOOD_DEPTH, WHEN, Reef

CHECK = ("check", "--type", "hump-90", *GOOD, *GOOD_DEPTH)
PLACE = ("place", "MC-0001", *GOOD, *GOOD_DEPTH, *WHEN)


def every_command() -> list[tuple[str, ...]]:
    """Walk the live tree of commands."""
    paths: list[tuple[str, ...]] = []
    for name in COMMANDS:
        command = leadline.get_command(click.Context(leadline), name)
        if isinstance(command, click.Group):
            paths += [(name, sub) for sub in command.commands]
        paths.append((name,))
    return paths


def options_of(path: tuple[str, ...]) -> set[str]:
    command: click.Command = leadline
    for name in path:
        assert isinstance(command, click.Group)
        found = command.get_command(click.Context(command), name)
        assert found is not None
        command = found
    return {option for parameter in command.params for option in parameter.opts}


def test_the_commands_of_the_contract_are_there():
    assert set(every_command()) >= {
        ("new",),
        ("permit", "add"),
        ("permit", "list"),
        ("permit", "show"),
        ("keepout", "add"),
        ("module", "add"),
        ("module", "amend"),
        ("module", "import"),
        ("module", "types"),
        ("check",),
        ("place",),
        ("correct",),
        ("withdraw",),
        ("intake",),
        ("audit",),
        ("certificate",),
        ("certificates", "list"),
        ("certificates", "withdraw"),
        ("certificates", "duplicate"),
        ("certificates", "publish"),
        ("authenticate",),
        ("map",),
        ("export",),
        ("journal", "verify"),
        ("journal", "show"),
        ("journal", "rebuild"),
        ("journal", "rotate-key"),
        ("backup",),
    }


@pytest.mark.parametrize("path", [(), *every_command()], ids=" ".join)
def test_every_command_has_help_with_an_example(path, capsys):
    assert run([*path, "--help"]) == 0
    said = capsys.readouterr()
    assert said.err == ""
    assert f"leadline {' '.join(path)}".strip() in said.out.split("Example:")[1]


@pytest.mark.parametrize(
    "path",
    [
        p
        for p in every_command()
        if len(p) == 2
        or p[0]
        not in (
            *("permit", "keepout", "baseline", "target", "module", "family", "user", "token", "boat"),
            *("journal", "bundle", "completion", "tide", "survey"),
        )
    ],
    ids=" ".join,
)
def test_every_command_that_does_something_answers_in_json_and_takes_a_registry(path):
    assert {"--json", "--registry"} <= options_of(path)


def test_the_command_alone_shows_its_help(reef):
    answer = reef()
    assert "Usage: leadline" in answer.out + answer.err
    assert "Traceback" not in answer.err
    assert len(answer.err.splitlines()) <= 2 or not answer.err.startswith("Error")


@pytest.mark.parametrize("before", [True, False], ids=["before", "after"])
def test_the_registry_is_named_before_or_after_the_command(reef, before):
    reef.registry.rename(reef.folder / "other.gpkg")
    named = ("--registry", "other.gpkg")
    line = ("module", "types", "--json")
    assert reef.good(*((*named, *line) if before else (*line, *named))).json["types"]


def test_the_registry_named_by_the_environment_is_taken_unless_another_is_typed(reef, monkeypatch):
    reef.registry.rename(reef.folder / "other.gpkg")
    monkeypatch.setenv("LEADLINE_REGISTRY", "other.gpkg")
    reef.good("permit", "list")
    reef("--registry", "third.gpkg", "permit", "list").is_told("third.gpkg", code=4)


def test_a_registry_named_by_an_empty_text_is_not_the_one_in_this_folder(reef):
    reef("--registry", "", "permit", "list").is_told("empty", code=2)
    reef("permit", "list", "--registry", " ").is_told("empty", code=2)


def test_without_a_name_the_registry_is_the_one_in_this_folder(reef, monkeypatch):
    reef.good("permit", "list")
    elsewhere = reef.folder / "elsewhere"
    elsewhere.mkdir()
    monkeypatch.chdir(elsewhere)
    reef("permit", "list").is_told("leadline.gpkg", "leadline new", code=4)


def test_exit_0_is_done_and_conforming(reef):
    assert reef(*CHECK).code == 0
    assert reef(*PLACE).code == 0


def test_exit_1_is_nonconforming_or_rejected(reef):
    outside = ("--at", "34 05.0000 N 077 00.0000 W")
    assert reef(*CHECK, *outside).code == 1
    assert reef(*PLACE, *outside).code == 1
    assert reef("intake", reef.write("log.csv", "tag,position,when\nX-1,nowhere,never\n")).code == 1


def test_exit_3_is_nothing_worse_than_inconclusive(reef):
    assert reef("check", "--type", "hump-90", *GOOD).code == 3
    assert reef(*PLACE, "--r95", "1200 m").code == 3


@pytest.mark.parametrize(
    "line",
    [
        ("nothing-of-the-kind",),
        ("check",),
        ("check", "--nothing"),
        ("check", "--permit", "NO-1", "--type", "hump-90", "--at", "34 N 77 W"),
        ("check", "--permit", "HB-0417", "--type", "no-type", "--at", "34 00.1 N 77 00.0 W", "--r95", "2 m"),
        (*CHECK, "--frame", "EPSG:99999"),
        (*CHECK, "--frame", "<script>alert(1)</script>"),
        (*CHECK, "--receiver", "sbas"),
        (*CHECK, "--depth", "70"),
        ("permit", "show", "NO-1"),
        ("certificate", "NO-1", "--out", "papers"),
        ("correct", "0-0", "--tag", "MC-0001", "--reason", "slip", *GOOD, *WHEN),
        ("export", "--format", "dwg", "--out", "x"),
        ("journal", "show", "--last", "0"),
        ("new", "--programme", "Again", "--frame", "EPSG:6318"),
    ],
    ids=lambda line: " ".join(line)[:50],
)
def test_exit_2_is_a_wrong_request_and_one_json_document_says_so(reef, line):
    reef(*line).is_told(code=2)
    answer = reef(*line, "--json").is_told(code=2)
    assert answer.json["error"]
    assert answer.json["readings"] == []
    assert answer.json["error"] in answer.err


@pytest.mark.parametrize("text", ["34 00.1 N 77 00.0", "34 00.1, 77 00.0", "N 34.0 77.0"])
def test_a_text_that_could_mean_several_things_names_its_readings(reef, text):
    line = ("check", "--permit", "HB-0417", "--type", "hump-90", "--at", text, "--r95", "2 m")
    answer = reef(*line, "--json").is_told(code=2)
    assert set(answer.json) >= {"error", "readings"}
    assert len(answer.json["readings"]) > 1
    for reading in answer.json["readings"]:
        assert reading in answer.err
        again = reef("check", "--permit", "HB-0417", "--type", "hump-90", "--at", reading, "--r95", "2 m")
        assert again.code in (0, 1, 3), again.err


@pytest.mark.parametrize(
    "damage",
    ["missing", "empty", "text", "folder", "truncated", "other database", "newer"],
)
@pytest.mark.parametrize(
    "line",
    [("permit", "list"), PLACE, ("journal", "verify"), ("export", "--format", "gpx", "--out", "x.gpx")],
    ids=lambda line: line[0],
)
def test_exit_4_is_a_registry_that_is_no_registry_and_it_stays_as_it_is(reef, damage, line):
    ruined(reef, damage)
    before = reef.registry.read_bytes() if reef.registry.is_file() else None
    reef(*line).is_told("leadline.gpkg", code=4)
    answer = reef(*line, "--json")
    assert (answer.code, set(answer.json) >= {"error", "remedy"}) == (4, True)
    assert (reef.registry.read_bytes() if reef.registry.is_file() else None) == before


def ruined(reef: Reef, damage: str) -> None:
    import sqlite3

    path = reef.registry
    content = path.read_bytes()
    path.unlink()
    if damage == "folder":
        path.mkdir()
    elif damage == "other database":
        with sqlite3.connect(path) as connection:
            connection.execute("CREATE TABLE journal (x)")
        connection.close()
    elif damage == "newer":
        path.write_bytes(content)
        connection = sqlite3.connect(path)
        connection.executescript(
            "DROP TRIGGER IF EXISTS journal_is_append_only_update; PRAGMA writable_schema = ON;"
            "DELETE FROM sqlite_master WHERE type = 'trigger' AND tbl_name = 'journal';"
        )
        connection.close()
        connection = sqlite3.connect(path)
        connection.execute("UPDATE journal SET body = json_set(body, '$.format', 99) WHERE position = 1")
        connection.commit()
        connection.close()
    elif damage != "missing":
        path.write_bytes(
            {"empty": b"", "text": b"tag,position\n" * 99, "truncated": content[: len(content) // 2]}[damage]
        )


def test_errors_do_nothing_to_the_terminal_and_stay_short(reef):
    for text in ("34\n00.1 \x1b[31mN", "\u202e34 N", "x" * 100_000, "1" * 100_000, "\0", "\x07" * 50):
        answer = reef("check", "--permit", "HB-0417", "--type", text, "--at", "34 N 77 W").is_told(code=2)
        assert len(answer.err) < 3_000
        assert not set(answer.err) & {"\x1b", "\u202e", "\0", "\x07"}
        reef("check", "--permit", "HB-0417", "--type", "hump-90", "--at", text).is_told(code=2)


def test_bytes_that_are_no_text_are_told(reef):
    odd = os.fsdecode(b"caf\xe9")
    reef(*PLACE, "--note", odd).is_told("UTF-8", code=2)
    reef("module", "add", odd, "--type", "hump-60").is_told("nobody can see", code=2)
    assert reef.tags() == []


@pytest.mark.parametrize(
    "number", ["nan", "NaN m", "inf", "-inf m", "1e999 m", "nan ft", "∞ m", "--1 m", "٣ m"]
)
@pytest.mark.parametrize("option", ["--r95", "--depth", "--depth-u95", "--tide"])
def test_no_length_is_endless_or_no_number(reef, option, number):
    reef(*CHECK, option, number).is_told(code=2)


@pytest.mark.parametrize("year", ["nan", "inf", "-inf", "1e400", "", "two thousand"])
def test_no_epoch_is_endless_or_no_number(reef, year):
    reef(*CHECK, "--epoch", year).is_told("--epoch", code=2)
    reef(*PLACE, "--epoch", year).is_told("--epoch", code=2)
    reef("keepout", "add", "x.geojson", "--kind", "cable", "--setback", "1 m", "--epoch", year).is_told(
        "--epoch", code=2
    )


@pytest.mark.parametrize("mass", ["nan", "nan kg", "inf kg", "0 kg", "-1 kg", "600", "1e9 kg"])
def test_no_mass_is_endless_or_without_its_unit(reef, mass):
    reef("module", "add", "MC-2", "--type", "hump-60", "--mass", mass).is_told(code=2)


@pytest.mark.parametrize("setback", ["nan m", "inf m", "-5 m", "200"])
def test_no_setback_is_endless_or_without_its_unit(reef, setback):
    reef.write("cable.geojson", CABLE)
    reef("keepout", "add", "cable.geojson", "--kind", "cable", "--setback", setback).is_told(code=2)


CABLE = json.dumps(
    {
        "type": "FeatureCollection",
        "features": [
            {
                "type": "Feature",
                "properties": {"name": "Skua"},
                "geometry": {"type": "LineString", "coordinates": [[-76.98, 33.95], [-76.98, 34.05]]},
            }
        ],
    }
)


@pytest.mark.parametrize(
    "line",
    [
        ("map", "--out", "leadline.gpkg"),
        ("map", "--out", "../{here}/leadline.gpkg-wal"),
        ("journal", "key", "--out", "leadline.gpkg"),
        ("export", "--format", "gpx", "--out", "leadline.gpkg"),
        ("export", "--format", "gpkg", "--out", "leadline"),
        ("backup", "leadline.gpkg"),
        ("intake", "log.csv", "--permit", "HB-0417", "--rejects", "leadline.gpkg"),
        ("intake", "log.csv", "--permit", "HB-0417", "--rejects", "log.csv"),
        ("map", "--out", "last-year.gpkg"),
        ("export", "--format", "gpx", "--out", "last-year.gpkg"),
        ("certificate", "MC-0001", "--out", "leadline.gpkg"),
        ("certificates", "publish", "leadline.gpkg"),
    ],
    ids=" ".join,
)
def test_no_output_is_written_over_a_registry_or_its_own_input(reef, line):
    reef.good("backup", "last-year.gpkg")
    reef.good(*PLACE)
    reef.write("log.csv", "tag,position,when\nX-1,nowhere,never\n")
    kept = files_of(reef)
    answer = reef(*(word.format(here=reef.folder.name) for word in line))
    answer.is_told(code=answer.code)
    assert answer.code in (2, 4)
    assert files_of(reef) == kept


@pytest.mark.parametrize(
    "line",
    [
        ("map", "--out", "{}"),
        ("journal", "key", "--out", "{}"),
        ("export", "--format", "gpx", "--out", "{}"),
        ("export", "--format", "gpkg", "--out", "{}"),
        ("backup", "{}"),
        ("intake", "{}"),
        ("module", "import", "{}"),
        ("module", "types", "--add", "{}"),
        ("permit", "add", "{}"),
        ("keepout", "add", "{}", "--kind", "cable", "--setback", "1 m"),
        ("authenticate", "{}"),
        ("--registry", "{}", "permit", "list"),
        ("--registry", "{}", "new", "--programme", "X", "--frame", "EPSG:6318"),
    ],
    ids=" ".join,
)
@pytest.mark.parametrize("folder", [".", "/", "..", "keys"])
def test_a_folder_is_no_file(reef, line, folder):
    answer = reef(*(word.format(folder) for word in line))
    answer.is_told(code=answer.code)
    assert answer.code in (2, 4)


def files_of(reef: Reef) -> dict[str, bytes]:
    """Read what lies there; what SQLite keeps beside an open file comes and goes."""
    return {
        path.name: path.read_bytes()
        for path in reef.folder.iterdir()
        if path.is_file() and not path.name.endswith(("-shm", "-wal"))
    }


def test_an_unforeseen_fault_is_told_in_two_lines(reef, monkeypatch):
    def broken(*_, **__):
        raise ZeroDivisionError("a fault\nof our own")

    monkeypatch.setattr("registry.storage.geopackage.open_register", broken)
    answer = reef("permit", "list", "--json")
    assert (answer.code, len(answer.err.splitlines())) == (4, 2)
    assert "ZeroDivisionError: a fault of our own" in answer.json["error"]
    monkeypatch.setenv("LEADLINE_TRACEBACK", "1")
    with pytest.raises(ZeroDivisionError):
        reef("permit", "list")


def test_a_machine_at_its_limit_is_told(reef, monkeypatch):
    def exhausted(*_, **__):
        raise MemoryError

    monkeypatch.setattr("registry.storage.geopackage.open_register", exhausted)
    reef("permit", "list").is_told("memory", code=4)


@pytest.mark.parametrize("shell", ["bash", "zsh", "fish"])
def test_completion_gives_a_script_that_its_shell_can_read(reef, shell, tmp_path):
    script = reef.good("completion", shell).out
    assert "_LEADLINE_COMPLETE" in script
    import shutil

    if shutil.which(shell):
        done = subprocess.run([shell, "-n"], input=script, text=True, capture_output=True, check=False)
        assert (done.returncode, done.stderr) == (0, "")


def test_completion_of_another_shell_is_refused(reef):
    reef("completion", "tcsh").is_told("tcsh", code=2)


def test_a_shell_is_given_the_names_of_commands(reef):
    words = {"_LEADLINE_COMPLETE": "bash_complete", "COMP_WORDS": "leadline per", "COMP_CWORD": "1"}
    answer = reef.apart(env=words)
    assert (answer.code, answer.err) == (0, "")
    assert answer.out.split(",")[1].strip() == "permit"
