import csv
import hashlib
import io
import json
import subprocess
from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest

from registry.actions.audit_registry import audit_registry
from registry.actions.summarise_audit import summarise_audit
from registry.desk.audit_folder import NAMES, write_audit_folder
from registry.errors import UnwritableError
from registry.storage.geopackage import create_registry, open_register
from tests.audited import AUDITED_AT, PRIVATE_NAME, faulty_placements, strict_permit
from tests.builders import (
    ACTOR,
    a_memorial,
    a_module,
    a_placement,
    a_programme,
    a_stocked_registry,
    module_added,
    permit_added,
    placement_corrected,
    placement_logged,
)
from tests.fakes import FixedClock

FIRST = datetime(2026, 6, 1, 18, 0, tzinfo=UTC)
HOSTILE = "<script>alert(1)</script>=HYPERLINK"


@pytest.fixture
def register(tmp_path):
    """Give a registry on disk that was written on two days: all logged on the first, one corrected on the second."""
    clock = FixedClock(FIRST)
    with create_registry(tmp_path / "leadline.gpkg", a_programme(), actor=ACTOR, clock=clock) as made:
        stocked = [draft for draft in a_stocked_registry(7) if draft.kind != "permit.added"]
        named = a_memorial(name=PRIVATE_NAME, consent_listed=False)
        made.append([permit_added(strict_permit()), *stocked])
        made.append([module_added(a_module(tag="MR-0008", memorial=named))])
        entries = made.append([placement_logged(each) for each in faulty_placements()])
        clock.instant = FIRST + timedelta(days=1)
        (outside,) = (
            entry.reference
            for entry, each in zip(entries, faulty_placements(), strict=True)
            if each.tag == "MR-0005"
        )
        made.append(
            [
                placement_corrected(
                    a_placement(tag="MR-0005", lat_deg=33.999), supersedes=outside, reason=HOSTILE
                )
            ]
        )
    with open_register(tmp_path / "leadline.gpkg", clock=FixedClock(), writable=False) as opened:
        yield opened


def written(register, out, *, since=None, said=None):
    with register.reading():
        summary = summarise_audit(register, audit_registry(register), audited_at=AUDITED_AT)
        say = said.append if said is not None else lambda _words: None
        return write_audit_folder(summary, out, register=register, since=since, say=say)


def index_of(folder):
    text = (folder / "evidence" / "INDEX.csv").read_text(encoding="utf-8-sig")
    return list(csv.DictReader(io.StringIO(text, newline="")))


def test_everything_that_is_promised_is_there(register, tmp_path):
    said: list[str] = []
    paths = written(register, tmp_path / "audit", said=said)
    assert [path.name for path in paths] == list(NAMES)
    assert sorted(path.name for path in (tmp_path / "audit").iterdir()) == sorted(NAMES)
    assert (tmp_path / "audit" / "report.pdf").read_bytes().startswith(b"%PDF")
    assert said[-1] == "Writing the evidence"
    assert sorted(path.name for path in tmp_path.iterdir() if path.name.startswith(".")) == []


def test_each_placement_has_its_evidence_with_the_entry_that_proves_it(register, tmp_path):
    written(register, tmp_path / "audit")
    rows = index_of(tmp_path / "audit")
    entries = {entry.reference: entry for entry in register.journal()}
    assert {row["placement_id"] for row in rows} == set(register.placements().placement_id)
    files = [path for path in (tmp_path / "audit" / "evidence").rglob("*") if path.is_file()]
    assert len(files) == len(rows) + 2
    for row in rows:
        content = (tmp_path / "audit" / "evidence" / row["path"]).read_bytes()
        assert row["sha256"] == hashlib.sha256(content).hexdigest()
        assert int(row["bytes"]) == len(content)
        told = json.loads(content)
        assert (
            row["entry_sha256"] == entries[row["placement_id"]].expected_digest() == told["entry"]["sha256"]
        )
        assert told["as_written"]["position"] == "34 00.000 N 077 00.000 W"


def test_the_index_can_be_checked_with_the_ordinary_tool(register, tmp_path):
    written(register, tmp_path / "audit")
    folder = tmp_path / "audit" / "evidence"
    sums = "".join(f"{row['sha256']}  {row['path']}\n" for row in index_of(tmp_path / "audit"))
    checked = subprocess.run(
        ["sha256sum", "--check", "--quiet"],
        input=sums,
        text=True,
        cwd=folder,
        check=False,
        capture_output=True,
    )
    assert (checked.returncode, checked.stderr) == (0, "")


def test_changes_since_a_day_are_told(register, tmp_path):
    written(register, tmp_path / "audit", since=FIRST + timedelta(hours=1))
    page = (tmp_path / "audit" / "report.html").read_text(encoding="utf-8")
    assert "Since 2026-06-01 15:00 America/New_York (2026-06-01 19:00 UTC): 1 corrected." in page
    assert "&lt;script&gt;alert(1)&lt;/script&gt;=HYPERLINK" in page
    assert "<script>" not in page
    (before,) = (
        entry for entry in register.journal() if entry.time == FIRST and entry.sequence == _last(register)
    )
    assert before.digest in page


def _last(register):
    return max(entry.sequence for entry in register.journal() if entry.time == FIRST)


def test_before_the_registry_began_says_so(register, tmp_path):
    written(register, tmp_path / "audit", since=FIRST - timedelta(days=400))
    page = (tmp_path / "audit" / "report.html").read_text(encoding="utf-8")
    assert "Then the registry had not begun." in page


def test_an_officer_reads_how_to_check_it(register, tmp_path):
    written(register, tmp_path / "audit")
    page = " ".join((tmp_path / "audit" / "report.html").read_text(encoding="utf-8").split())
    about = (tmp_path / "audit" / "evidence" / "README.txt").read_text()
    for told in (page, about):
        assert register.head() in told
        assert "leadline journal verify" in told
    assert "Leadline 0." in page
    assert "What to inspect again" in page
    assert "Duties and dates" in page
    assert "To settle it:" in page
    assert "What has changed" not in page


def test_nobody_of_a_family_and_no_crew_is_named(register, tmp_path):
    written(register, tmp_path / "audit")
    for path in (tmp_path / "audit").rglob("*"):
        if path.is_file():
            content = path.read_bytes()
            assert PRIVATE_NAME.encode() not in content, path
            assert b"Ada, Ben" not in content, path


def test_the_same_audit_gives_the_same_bytes(register, tmp_path):
    written(register, tmp_path / "one")
    written(register, tmp_path / "two")
    files = [path.relative_to(tmp_path / "one") for path in (tmp_path / "one").rglob("*") if path.is_file()]
    assert len(files) > 10
    for path in files:
        assert (tmp_path / "one" / path).read_bytes() == (tmp_path / "two" / path).read_bytes(), path


@pytest.mark.parametrize("stop", [KeyboardInterrupt, OSError])
def test_whoever_stops_it_keeps_the_older_audit(register, tmp_path, monkeypatch, stop):
    written(register, tmp_path / "audit")
    before = {path: path.read_bytes() for path in (tmp_path / "audit").rglob("*") if path.is_file()}

    def stopped(*_args, **_more):
        raise stop

    monkeypatch.setattr("registry.actions.gather_evidence.gather_evidence", stopped)
    with pytest.raises((stop, UnwritableError)):
        written(register, tmp_path / "audit")
    assert {path: path.read_bytes() for path in (tmp_path / "audit").rglob("*") if path.is_file()} == before
    assert [path.name for path in tmp_path.iterdir() if path.name.startswith(".audit")] == []


def test_of_a_large_registry_only_the_flagged_have_evidence(register, tmp_path, monkeypatch):
    monkeypatch.setattr("registry.desk.audit_folder.MOST_EVIDENCE", 3)
    monkeypatch.setattr("registry.records.audit_summary.MOST_FINDINGS", 10)
    written(register, tmp_path / "audit")
    assert {row["placement"] for row in index_of(tmp_path / "audit")} == {
        "MR-0004",
        "MR-0006",
        "MR-0007",
        "MR-0008",
    }
    about = (tmp_path / "audit" / "evidence" / "README.txt").read_text()
    assert "This audit is of 8 placements." in about
    assert "the 4 that are nonconforming or inconclusive" in about
    text = (tmp_path / "audit" / "findings.csv").read_text(encoding="utf-8-sig")
    rows = list(csv.DictReader(io.StringIO(text, newline="")))
    assert {row["verdict"] for row in rows} == {"nonconforming", "inconclusive"}
    page = (tmp_path / "audit" / "report.html").read_text(encoding="utf-8")
    assert "The registry is large" in page


def test_a_hostile_name_is_text_and_never_markup(register, tmp_path):
    summary = summarise_audit(register, audit_registry(register), audited_at=AUDITED_AT)
    altered = replace(summary, programme=HOSTILE)
    write_audit_folder(altered, tmp_path / "audit", register=register, since=None, say=lambda _words: None)
    assert "<script>" not in (tmp_path / "audit" / "report.html").read_text(encoding="utf-8")
