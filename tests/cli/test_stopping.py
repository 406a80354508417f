"""Ctrl-C at any moment: a real SIGINT to a real process; one line, exit code 130, nothing half-written."""

import os
import shutil
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from registry.storage.geopackage import open_register
from registry.storage.replay import prove
from tests.cli.reef import GOOD, GOOD_DEPTH, WHEN, Reef, a_log
from tests.fakes import FixedClock

PLACE = ("place", "MC-0001", *GOOD, *GOOD_DEPTH, *WHEN)
STOPPED = "Stopped. What was acknowledged stands."
#: Presses Ctrl-C when a function is called for the n-th time, before it does anything or after it has done all.
PRESS = """
import importlib, os, signal, sys
module, _, path = sys.argv[1].partition(":")
nth, when = int(sys.argv[2]), sys.argv[3]
*owners, name = path.split(".")
holder = importlib.import_module(module)
for owner in owners:
    holder = getattr(holder, owner)
real, calls = getattr(holder, name), 0
def pressed(*given, **named):
    global calls
    calls += 1
    at = calls == nth
    if at and when == "before":
        os.kill(os.getpid(), signal.SIGINT)
    answer = real(*given, **named)
    if at and when == "after":
        os.kill(os.getpid(), signal.SIGINT)
    return answer
setattr(holder, name, pressed)
sys.argv[1:4] = []
from registry.__main__ import main
main()
"""


def press(reef: Reef, moment: str, *line: object) -> tuple[int, str, str]:
    """Run a command and press Ctrl-C at "module:function nth before|after"."""
    done = subprocess.run(
        [sys.executable, "-c", PRESS, *moment.split(), *map(str, line)],
        cwd=reef.folder,
        env={**os.environ, **reef.environment, "TMPDIR": str(scratch(reef))},
        capture_output=True,
        text=True,
        timeout=120,
        check=False,
    )
    return done.returncode, done.stdout, done.stderr


def scratch(reef: Reef) -> Path:
    """Where temporary files would lie."""
    folder = reef.folder.parent / f"{reef.folder.name}-tmp"
    folder.mkdir(exist_ok=True)
    return folder


def left(reef: Reef) -> dict[str, bytes]:
    """Everything that lies in the folder, but for the registry's own files."""
    return {
        str(path.relative_to(reef.folder)): path.read_bytes()
        for path in sorted(reef.folder.rglob("*"))
        if path.is_file() and not path.name.startswith("leadline.gpkg")
    }


def is_stopped(answer: tuple[int, str, str]) -> None:
    code, out, err = answer
    assert (code, err.strip(), out) == (130, STOPPED, "")


#: While what is proved, in a function that SQLite calls back, while judging, summing up and writing each file.
AUDITING = (
    "registry.storage.journal_proof:_is_sound 3 before",
    "registry.storage.projected_tables:blob_bounds 1 before",
    "registry.storage.geopackage_blob:blob_bounds 2 before",
    "registry.storage.replay:_difference 2 before",
    "registry.actions.audit_registry:audit_registry 1 before",
    "registry.actions.summarise_audit:summarise_audit 1 after",
    "registry.storage.new_folder:new_folder 1 after",
    "registry.documents.audit_report:write_audit_report 1 after",
    "registry.documents.audit_paper:render_audit_paper 1 after",
    "registry.storage.findings_layers:write_findings_layers 1 before",
    "registry.storage.findings_layers:_written 1 after",
    "registry.storage.findings_layers:write_findings_layers 1 after",
    "registry.desk.audit_folder:_write_evidence 1 after",
)


@pytest.mark.parametrize(("moment", "older"), [(moment, n % 2) for n, moment in enumerate(AUDITING)])
def test_an_audit_that_is_stopped_leaves_no_folder_or_the_older_one(reef, moment, older):
    reef.good(*PLACE)
    if older:
        reef.good("audit", "--out", "audit")
    before = left(reef)
    is_stopped(press(reef, moment, "audit", "--out", "audit"))
    assert left(reef) == before
    assert list(scratch(reef).iterdir()) == []


@pytest.mark.parametrize(
    ("moment", "foreign"),
    [
        ("pathlib:Path.rename 1 before", False),
        ("pathlib:Path.rename 1 after", False),
        ("pathlib:Path.rename 2 after", False),
        ("shutil:rmtree 1 before", False),
        ("shutil:rmtree 2 before", False),
        ("pathlib:Path.rename 1 after", True),
        ("shutil:rmtree 1 before", True),
    ],
)
def test_the_folder_is_changed_for_the_new_one_as_a_whole(reef, moment, foreign):
    reef.good(*PLACE)
    reef.good("audit", "--out", "audit")
    if foreign:
        reef.write("audit/notes.txt", "seen by the officer")
    before = left(reef)
    reef.good("module", "add", "MC-0009", "--type", "hump-60")
    is_stopped(press(reef, moment, "audit", "--out", "audit"))
    after = left(reef)
    assert set(after) == set(before)
    if foreign:
        assert after["audit/notes.txt"] == b"seen by the officer"
    # Every paper in it is of one and the same audit.
    changed = {name for name in after if after[name] != before[name]}
    head = reef.good("journal", "verify", "--json").json["head"].encode()
    new = {name for name in after if head in after[name]}
    assert not changed or {"audit/report.html", "audit/evidence/README.txt"} <= changed & new


@pytest.mark.parametrize(
    "line",
    [
        ("certificate", "MC-0001", "--out", "papers"),
        ("certificate", "--all", "--out", "papers"),
        ("certificates", "publish", "papers"),
        ("export", "--format", "gpx", "--out", "reef.gpx"),
        ("export", "--format", "shp", "--out", "reef.zip"),
        ("map", "--out", "reef.html"),
        ("backup", "copy.gpkg"),
        ("journal", "key", "--out", "key.pem"),
        ("bundle", "export", "reef.bundle"),
    ],
    ids=" ".join,
)
@pytest.mark.parametrize("moment", ["os:fsync 1 before", "os:fsync 1 after"])
def test_a_paper_that_is_stopped_is_whole_or_absent(reef, line, moment):
    reef.good(*PLACE)
    assert reef(*line).code == 0
    whole = {
        name: content
        for name, content in left(reef).items()
        if name.startswith(("papers", "reef", "copy", "key.pem"))
    }
    for name in whole:
        (reef.folder / name).unlink()
    before = left(reef)
    code, _, err = press(reef, moment, *line)
    if code:
        assert (code, err.strip()) == (130, STOPPED)
    found = left(reef)
    assert set(found) - set(before) <= set(whole)
    assert list(scratch(reef).iterdir()) == []
    with open_register(reef.registry, clock=FixedClock()) as register:
        assert prove(register) == ()
    # What was stopped is done again as if nothing had been.
    shutil.rmtree(reef.folder / "papers", ignore_errors=True)
    for name in set(found) - set(before):
        (reef.folder / name).unlink(missing_ok=True)
    assert reef(*line).code == 0


@pytest.mark.parametrize(
    "moment",
    [
        "registry.storage.register:insert_entry 5 before",
        "registry.storage.projected_tables:blob_bounds 3 before",
        # Within a function that SQLite calls back: it turns the interruption into an error of its own.
        "registry.storage.geopackage_blob:blob_bounds 7 before",
        "registry.actions.log_placement:log_placements 1 after",
    ],
)
def test_intake_that_is_stopped_keeps_whole_steps_only(reef, moment):
    reef.write("log.csv", a_log(40))
    answer = press(reef, moment, "intake", "log.csv", "--permit", "HB-0417")
    assert (answer[0], answer[2].strip()) == (130, STOPPED)
    with open_register(reef.registry, clock=FixedClock()) as register:
        assert prove(register) == ()
        assert len(register.placements()) in (0, 40)
    assert reef("intake", "log.csv", "--permit", "HB-0417").code == 0
    reef.is_sound()


def test_ctrl_c_from_outside_while_the_folder_is_being_written(reef):
    reef.good(*PLACE)
    before = left(reef)
    for _ in range(3):
        process = reef.process("audit", "--out", "audit")
        end = time.monotonic() + 60
        while not list(reef.folder.glob(".audit.*.new")) and process.poll() is None:
            assert time.monotonic() < end
            time.sleep(0.002)
        process.send_signal(signal.SIGINT)
        # And once more, by someone who cannot wait.
        process.send_signal(signal.SIGINT)
        out, err = process.communicate(timeout=60)
        assert (process.returncode, err.strip(), out) == (130, STOPPED, "")
        assert left(reef) == before


def test_a_process_in_the_background_is_not_stopped(reef):
    """A shell starts a background command deaf to Ctrl-C; it stays so."""
    script = "import signal; signal.signal(signal.SIGINT, signal.SIG_IGN)\n" + PRESS
    done = subprocess.run(
        [
            sys.executable,
            "-c",
            script,
            "registry.storage.journal_proof:_is_sound",
            "2",
            "before",
            "journal",
            "verify",
        ],
        cwd=reef.folder,
        env={**os.environ, **reef.environment},
        capture_output=True,
        text=True,
        check=False,
    )
    assert (done.returncode, done.stderr) == (0, "")


@pytest.mark.parametrize(
    "moment",
    [
        "registry.storage.family_file:FamilyFile.keep 1 before",
        "registry.storage.family_file:_blank 1 before",
        "registry.storage.family_file:FamilyFile.keep 1 after",
    ],
)
def test_an_erasure_that_is_stopped_is_whole_with_its_receipt(reef, moment):
    reef.good("family", "add", "MC-0001", "--name", "Idalia Quill")
    is_stopped(press(reef, moment, "family", "erase", "MC-0001", "--yes"))
    assert not (reef.folder / "leadline.gpkg.families").exists()
    kinds = [entry["kind"] for entry in reef.good("journal", "show", "--json").json["entries"]]
    assert kinds.count("family.erased") == 1


@pytest.mark.parametrize("moment", ["pathlib:Path.replace 1 before", "pathlib:Path.replace 1 after"])
def test_a_contact_that_is_stopped_is_kept_or_not_and_no_draft_is_left(reef, moment):
    reef.good("family", "add", "MC-0001", "--name", "Idalia Quill")
    is_stopped(press(reef, moment, "family", "add", "MC-0001", "--name", "Tomas Quill"))
    (family,) = reef.good("family", "show", "--json").json["families"]
    assert family["contacts"][0]["name"] == "Idalia Quill"
    assert not list(reef.folder.glob(".*.new"))


@pytest.mark.parametrize(
    "moment",
    [
        "registry.storage.exchange:insert_entry 1 after",
        "registry.storage.exchange:fill_tables 1 after",
        "registry.storage.exchange:verify_journal 1 after",
    ],
)
def test_a_bundle_that_is_stopped_is_taken_in_whole_or_not_at_all(reef, moment):
    reef.good("backup", "boat.gpkg")
    boat = ("--registry", "boat.gpkg")
    key = reef.good("bundle", "device", "Petrel", "--json", *boat).json["key_id"]
    reef.good(*PLACE, *boat)
    reef.good("bundle", "export", "boat.bundle", *boat)
    reef.good("bundle", "trust", "boat.bundle", f"--key={key}")
    before = reef.good("journal", "verify", "--json").json["head"]
    is_stopped(press(reef, moment, "bundle", "import", "boat.bundle"))
    assert reef.good("journal", "verify", "--json").json["head"] == before
    assert reef.good("bundle", "import", "boat.bundle", "--json").json["new_entries"] > 0
    reef.is_sound()
