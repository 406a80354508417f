import csv
import io
import json
import re
import sys
from datetime import UTC, datetime
from pathlib import Path

import geopandas
import pytest

from registry.cli import progress
from registry.cli.main import run
from registry.storage.geopackage import create_registry
from tests.audited import PRIVATE_NAME, faulty_placements, strict_permit
from tests.builders import (
    ACTOR,
    a_memorial,
    a_module,
    a_permit,
    a_placement,
    a_programme,
    a_stocked_registry,
    many_placements,
    module_added,
    permit_added,
    placement_logged,
)
from tests.fakes import FixedClock

NAMES = ["report.html", "report.pdf", "findings.csv", "findings.gpkg", "evidence"]
#: Two days: the modules of the first conform, those of the second do not all.
FIRST, SECOND = datetime(2026, 6, 1, 18, 0, tzinfo=UTC), datetime(2026, 6, 4, 18, 0, tzinfo=UTC)


def build(path: Path, *days):
    """Make a registry whose placements were logged on several days."""
    clock = FixedClock(datetime(2026, 5, 30, 12, 0, tzinfo=UTC))
    with create_registry(path, a_programme(), actor=ACTOR, clock=clock) as register:
        stocked = [draft for draft in a_stocked_registry(60) if draft.kind != "permit.added"]
        named = a_module(tag="MR-0061", memorial=a_memorial(name=PRIVATE_NAME, consent_listed=False))
        register.append([permit_added(strict_permit()), *stocked, module_added(named)])
        for instant, placements in days:
            clock.instant = instant
            register.append([placement_logged(each) for each in placements])
    return path


@pytest.fixture
def folder(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    monkeypatch.delenv("LEADLINE_REGISTRY", raising=False)
    return tmp_path


@pytest.fixture
def faulty(folder):
    placements = [each for each in faulty_placements() if each.tag != "MR-0004"]
    sound = [each for each in placements if each.tag < "MR-0005"]
    build(
        folder / "leadline.gpkg", (FIRST, sound), (SECOND, [each for each in placements if each not in sound])
    )
    return folder


def answer(capsys, *typed):
    """Run a command; give its exit code and the JSON document it printed, and nothing else."""
    code = run(("audit", "--json", *typed))
    return code, json.loads(capsys.readouterr().out)


def test_it_shows_counts_then_what_is_nonconforming(faulty, capsys):
    assert run(("audit",)) == 1
    out = capsys.readouterr().out
    assert "Permit HB-0417 of Harbour Bay Coastal Office" in out
    assert "7 placements: 4 conforming, 3 nonconforming, 0 inconclusive" in out
    row = next(line for line in out.splitlines() if line.split()[:1] == ["clearance"])
    assert re.search(r"Special condition 2 +6 +1 +0 +0  −1\.84 ± 0\.41 m \(MR-0007\)$", row)
    assert out.index("clearance") < out.index("Nonconforming:") < out.index("MR-0007  x clearance")
    assert "13.40 ± 0.41 m of water over the top at MLLW" in out
    assert "the permit itself" in out
    assert PRIVATE_NAME not in out


@pytest.mark.parametrize(
    ("placements", "code", "verdict"),
    [
        (many_placements(3), 0, "conforming"),
        (many_placements(3, charted_depth_m=16.6), 3, "inconclusive"),
        (many_placements(3, charted_depth_m=10.0), 1, "nonconforming"),
        ([], 0, "not applicable"),
    ],
)
def test_the_exit_code_is_that_of_the_verdict(folder, capsys, placements, code, verdict):
    build(folder / "leadline.gpkg", (FIRST, placements))
    assert run(("audit",)) == code
    assert f"{verdict}: {len(placements)} placements" in capsys.readouterr().out
    found, told = answer(capsys)
    assert (found, told["verdict"]) == (code, verdict)


def test_json_has_the_form_of_the_contract(faulty, capsys):
    code, told = answer(capsys, "--permit", "HB-0417")
    assert code == 1
    assert told["as_of"] is None
    assert re.fullmatch("[0-9a-f]{64}", told["journal_head"])
    (permit,) = told["permits"]
    assert permit["number"] == "HB-0417"
    assert permit["counts"] == {
        "placements": 7,
        "conforming": 4,
        "nonconforming": 3,
        "inconclusive": 0,
        "not applicable": 0,
    }
    assert len(told["findings"]) == 7 * len(permit["conditions"])
    (found,) = (f for f in told["findings"] if (f["placement"], f["rule"]) == ("MR-0007", "clearance"))
    assert list(found) == [
        "placement",
        "rule",
        "verdict",
        "measured",
        "limit",
        "u95",
        "unit",
        "cite",
        "message",
    ]
    assert found["measured"] == pytest.approx(13.4)
    least = next(c["least_margin"] for c in permit["conditions"] if c["rule"] == "clearance")
    assert least["placement"] == "MR-0007"
    assert least["value"] == pytest.approx(-1.84)


@pytest.mark.parametrize(
    ("date", "placements", "verdict"),
    [
        ("2026-05-31", 0, "not applicable"),
        ("2026-06-01", 4, "conforming"),
        ("2026-06-03", 4, "conforming"),
        ("2026-06-04", 7, "nonconforming"),
        # The same instant as 18:00Z, when the second day was logged, and a moment before it.
        ("2026-06-04T14:00", 7, "nonconforming"),
        ("2026-06-04T17:59:59Z", 4, "conforming"),
    ],
)
def test_the_registry_as_it_stood(folder, capsys, date, placements, verdict):
    sound = [each for each in faulty_placements() if each.tag < "MR-0004"]
    shallow = [
        a_placement(tag=f"MR-00{n}", lat_deg=33.9 + n / 1000, charted_depth_m=10.0) for n in (11, 12, 13)
    ]
    fourth = [a_placement(tag="MR-0010")]
    build(folder / "leadline.gpkg", (FIRST, [*sound, *fourth]), (SECOND, shallow))
    _, told = answer(capsys, "--as-of", date)
    assert sum(permit["counts"]["placements"] for permit in told["permits"]) == placements
    assert told["verdict"] == verdict
    assert told["as_of"].endswith("Z")


def test_a_day_ends_in_the_zone_of_the_programme(folder, capsys):
    # 22:30 on 1 June in New York is 02:30 UTC on 2 June: it belongs to the first.
    build(folder / "leadline.gpkg", (datetime(2026, 6, 2, 2, 30, tzinfo=UTC), many_placements(1)))
    _, told = answer(capsys, "--as-of", "2026-06-01")
    assert told["permits"][0]["counts"]["placements"] == 1
    assert told["as_of"] == "2026-06-02T03:59:59.999Z"


@pytest.mark.parametrize(
    ("typed", "told"),
    [
        (("--as-of", "06/07/26"), "may be 2026-06-07 or 2026-07-06"),
        (("--as-of", "yesterday"), "not written as year-month-day"),
        (("--as-of", "2020-01-01"), "had not begun"),
        (("--permit", "HB-0418"), "HB-0418"),
    ],
)
def test_a_wrong_request_is_told_in_a_line_or_two(faulty, capsys, typed, told):
    assert run(("audit", *typed)) == 2
    said = capsys.readouterr()
    assert told in said.err
    assert len(said.err.splitlines()) <= 2
    assert said.out == ""


def test_out_writes_files_that_agree(faulty, capsys):
    code, told = answer(capsys, "--out", "audits/june")
    assert code == 1
    written = faulty / "audits" / "june"
    assert sorted(each.name for each in written.iterdir()) == sorted(NAMES)
    rows = list(
        csv.DictReader(io.StringIO((written / "findings.csv").read_text(encoding="utf-8-sig"), newline=""))
    )
    assert [(r["placement"], r["rule"], r["verdict"]) for r in rows] == [
        (f["placement"], f["rule"], f["verdict"]) for f in told["findings"]
    ]
    placements = geopandas.read_file(written / "findings.gpkg", layer="placements")
    assert sorted(placements["verdict"]).count("nonconforming") == 3
    report = (written / "report.html").read_text(encoding="utf-8")
    assert told["journal_head"] in report
    assert "7 placements: 4 conforming, 3 nonconforming, 0 inconclusive." in report


def test_out_names_what_was_written_and_leaves_the_registry_as_it_was(faulty, capsys):
    before = (faulty / "leadline.gpkg").read_bytes()
    assert run(("audit", "--out", "audit")) == 1
    out = capsys.readouterr().out
    assert [line.split("/")[-1] for line in out.splitlines() if line.startswith("Wrote")] == NAMES
    assert (faulty / "leadline.gpkg").read_bytes() == before


def test_only_twenty_are_shown_and_the_rest_is_named(folder, capsys):
    build(folder / "leadline.gpkg", (FIRST, many_placements(25, charted_depth_m=14.0)))
    assert run(("audit",)) == 1
    out = capsys.readouterr().out
    assert len(re.findall(r"^  MR-\d+  x", out, re.MULTILINE)) == 20
    assert "... and 30 more; give --out DIR for findings.csv with all of them" in out
    assert run(("audit", "--out", "o")) == 1
    assert "... and 30 more; see o/findings.csv" in capsys.readouterr().out


def test_a_registry_without_permits_says_what_to_do(folder, capsys):
    create_registry(folder / "leadline.gpkg", a_programme(), actor=ACTOR, clock=FixedClock()).close()
    assert run(("audit",)) == 0
    assert "leadline permit add" in capsys.readouterr().out


def test_the_registry_is_never_written_over(faulty, capsys, monkeypatch):
    (faulty / "leadline.gpkg").rename(faulty / "findings.gpkg")
    monkeypatch.setenv("LEADLINE_REGISTRY", str(faulty / "findings.gpkg"))
    before = (faulty / "findings.gpkg").read_bytes()
    assert run(("audit", "--out", ".")) == 2
    assert "the registry itself" in capsys.readouterr().err
    assert (faulty / "findings.gpkg").read_bytes() == before
    assert not (faulty / "findings.csv").exists()


@pytest.mark.parametrize("name", ["report.pdf", "findings.csv", "evidence"])
def test_what_no_audit_wrote_is_not_written_over(faulty, capsys, name):
    (faulty / "desk").mkdir()
    (faulty / "desk" / name).write_text("the officer's own")
    assert run(("audit", "--out", "desk")) == 2
    said = capsys.readouterr().err
    assert f"desk/{name} was not written by an audit" in said
    assert "Remedy: Give another folder with --out" in said
    assert len(said.splitlines()) == 2
    assert {path.name: path.read_text() for path in (faulty / "desk").iterdir()} == {
        name: "the officer's own"
    }


def test_an_older_audit_is_replaced_and_what_else_lies_there_stays(faulty, capsys):
    (faulty / "desk").mkdir()
    (faulty / "desk" / "letter.txt").write_text("the officer's own")
    assert [run(("audit", "--out", "desk")) for _ in range(2)] == [1, 1]
    assert sorted(each.name for each in (faulty / "desk").iterdir()) == sorted([*NAMES, "letter.txt"])
    # Among the evidence nothing of anybody else is taken away.
    (faulty / "desk" / "evidence" / "note.txt").write_text("the officer's own")
    assert run(("audit", "--out", "desk")) == 2
    assert "evidence/note.txt" in capsys.readouterr().err


def test_a_file_in_the_place_of_the_folder_is_told(faulty, capsys):
    (faulty / "audit").write_text("a file")
    assert run(("audit", "--out", "audit")) == 4
    said = capsys.readouterr().err
    assert "cannot be made" in said
    assert len(said.splitlines()) <= 2


def test_a_full_disk_is_told_and_leaves_no_part(faulty, capsys, monkeypatch):
    def full(*_, **__):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("registry.storage.files.os.fsync", full)
    assert run(("audit", "--out", "audit")) == 4
    said = capsys.readouterr().err
    assert "No space left on device" in said
    assert {each.name.removesuffix("-wal").removesuffix("-shm") for each in faulty.iterdir()} == {
        "leadline.gpkg"
    }


def test_there_is_no_progress_where_nobody_watches(faulty, capsys):
    run(("audit",))
    assert capsys.readouterr().err == ""


def test_on_a_terminal_a_long_audit_shows_that_it_works(faulty, capsys, monkeypatch):
    monkeypatch.setattr(sys.stderr, "isatty", lambda: True, raising=False)
    monkeypatch.setattr(progress, "PATIENCE_S", 0.0)
    assert run(("audit", "--json")) == 1
    assert json.loads(capsys.readouterr().out)["verdict"] == "nonconforming"


def test_a_registry_that_is_absent(folder, capsys):
    assert run(("audit",)) == 4
    assert "Remedy" in capsys.readouterr().err


def test_many_permits_are_told_in_a_line_each_the_worst_first(folder, capsys):
    clock = FixedClock(FIRST)
    numbers = [f"TN-{number:04d}" for number in range(30)]
    with create_registry(folder / "leadline.gpkg", a_programme(), actor=ACTOR, clock=clock) as register:
        stocked = [draft for draft in a_stocked_registry(60) if draft.kind != "permit.added"]
        register.append([*(permit_added(a_permit(number=number)) for number in numbers), *stocked])
        register.append(
            [placement_logged(a_placement(tag=tag, permit="TN-0007")) for tag in ("MR-0001", "MR-0002")]
        )
    code = run(("audit",))
    told = capsys.readouterr().out
    lines = told.splitlines()
    assert code == 1
    assert lines[0].split() == ["permit", "placements", "conforming", "nonconforming", "inconclusive"]
    assert lines[1].split() == ["TN-0007", "2", "0", "2", "0"]
    assert lines[2:4] == [
        "29 more conform in everything.",
        "Give --permit N for one of them, or --out DIR for all.",
    ]
    assert "2 placements under 30 permits" in told
