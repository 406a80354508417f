"""An audit by workers: every byte that one process writes, on a local cluster of two and on a scheduler's."""

import json
import os
import shutil
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from registry.cli import audit_cluster
from registry.storage.geopackage import open_register
from tests.builders import module_added
from tests.cli.reef import GOOD, GOOD_DEPTH, WHEN, Answer
from tests.fakes import FixedClock
from tests.parted_archive import BETWEEN, ENTERED, build

pytest.importorskip("distributed", reason="the extra bulk is not installed")

ROOT = Path(__file__).resolve().parents[2]
#: A command at a standing clock, so that two audits may say the same.
AT_NOON = """
import sys
from datetime import UTC, datetime
if __name__ == "__main__":
    from registry.cli import audit
    audit.now = lambda: datetime(2026, 12, 1, 12, 0, tzinfo=UTC)
    from registry.__main__ import main
    main()
"""
#: Two workers and their scheduler, as somebody keeps them running.
RUNNING = """
import sys, time
if __name__ == "__main__":
    from distributed import LocalCluster
    cluster = LocalCluster(n_workers=2, threads_per_worker=1, dashboard_address=":0", local_directory=sys.argv[1])
    print(cluster.scheduler_address, flush=True)
    sys.stdin.read()
    cluster.close()
"""
STOPPED = "Stopped. What was acknowledged stands."


@pytest.fixture(scope="module")
def archive(tmp_path_factory):
    return build(tmp_path_factory.mktemp("archive") / "leadline.gpkg")


@pytest.fixture
def sea(archive, tmp_path):
    """A folder with a copy of the archive, nothing else in it."""
    folder = tmp_path / "sea"
    folder.mkdir()
    shutil.copy(archive, folder / "leadline.gpkg")
    (tmp_path / "at_noon.py").write_text(AT_NOON)
    (tmp_path / "scratch").mkdir()
    return folder


def surroundings(folder: Path) -> dict[str, str]:
    kept = {name: value for name, value in os.environ.items() if not name.startswith("LEADLINE_")}
    return {**kept, "TMPDIR": str(folder.parent / "scratch"), "PYTHONPATH": str(ROOT)}


def start(folder: Path, *typed: object) -> "subprocess.Popen[str]":
    return subprocess.Popen(
        [sys.executable, folder.parent / "at_noon.py", *map(str, typed)],
        cwd=folder,
        env=surroundings(folder),
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        start_new_session=True,
    )


def audit(folder: Path, *typed: object) -> Answer:
    process = start(folder, "audit", *typed)
    out, err = process.communicate(timeout=300)
    return Answer(process.returncode, out, err)


def contents(folder: Path) -> dict[str, bytes]:
    return {str(p.relative_to(folder)): p.read_bytes() for p in sorted(folder.rglob("*")) if p.is_file()}


def nothing_is_left(folder: Path, process: "subprocess.Popen[str]") -> None:
    """No file in the folder or among the temporary ones, and no process of the group."""
    assert list((folder.parent / "scratch").iterdir()) == []
    assert {path.name for path in folder.iterdir()} <= {
        *("leadline.gpkg", "leadline.gpkg-wal", "leadline.gpkg-shm", "audit")
    }
    end = time.monotonic() + 20
    while group_of(process.pid):
        assert time.monotonic() < end, group_of(process.pid)
        time.sleep(0.1)


def group_of(leader: int) -> list[tuple[int, str]]:
    """Give the processes of a group that are not done, with how each was started."""
    found = []
    for entry in Path("/proc").glob("[0-9]*"):
        try:
            state, _, group = (entry / "stat").read_text().rpartition(")")[2].split()[:3]
            if int(group) == leader and state != "Z":
                found.append((int(entry.name), (entry / "cmdline").read_text().replace("\0", " ")))
        except OSError:
            continue
    return found


def wait_for(process: "subprocess.Popen[str]", count: int, word: str) -> None:
    """Wait until so many processes of a kind were started."""
    end = time.monotonic() + 120
    while len([line for _, line in group_of(process.pid) if word in line]) < count:
        assert process.poll() is None
        assert time.monotonic() < end
        time.sleep(0.01)


def test_two_workers_write_the_bytes_that_one_process_writes(sea):
    plain = audit(sea, "--out", "audit")
    assert (plain.code, plain.err) == (1, "")
    (sea / "audit").rename(sea.parent / "one")
    shared = audit(sea, "--out", "audit", "--workers", "2")
    assert (shared.code, shared.out, shared.err) == (plain.code, plain.out, plain.err)
    one, two = contents(sea.parent / "one"), contents(sea / "audit")
    assert {"report.html", "report.pdf", "findings.csv", "findings.gpkg", "evidence/INDEX.csv"} <= set(one)
    assert [name for name in one if one[name] != two.get(name)] == []
    assert set(two) == set(one)
    assert list((sea.parent / "scratch").iterdir()) == []


@pytest.fixture(scope="module")
def scheduler(tmp_path_factory):
    """The address of two workers that somebody else keeps running."""
    folder = tmp_path_factory.mktemp("scheduler")
    (folder / "running.py").write_text(RUNNING)
    with subprocess.Popen(
        [sys.executable, folder / "running.py", folder],
        env={**os.environ, "PYTHONPATH": str(ROOT)},
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
    ) as process:
        assert process.stdin is not None
        assert process.stdout is not None
        yield process.stdout.readline().strip()
        process.stdin.close()


@pytest.mark.parametrize(
    "typed",
    [
        (),
        ("--json",),
        ("--json", "--on", BETWEEN),
        ("--json", "--as-of", "2026-12-01"),
        ("--permit", "X-D"),
        ("--json", "--permit", "X-C"),
    ],
    ids=" ".join,
)
def test_the_workers_of_a_scheduler_say_what_one_process_says(sea, scheduler, typed):
    plain, shared = audit(sea, *typed), audit(sea, *typed, "--scheduler", scheduler)
    assert (shared.code, shared.out, shared.err) == (plain.code, plain.out, plain.err)
    assert plain.code == 1
    assert list((sea.parent / "scratch").iterdir()) == []


def test_files_that_hold_what_is_flagged_only_are_the_same_too(sea, scheduler):
    """Of very many findings only what is flagged is worded: here of more than a hundred."""
    script = sea.parent / "at_noon.py"
    few = "    import registry.records.audit_summary as s; s.MOST_FINDINGS = 100\n"
    few += "    import registry.cli.audit_cluster as c; c.MOST_FINDINGS = 100\n"
    script.write_text(
        AT_NOON.replace("    from registry.cli import audit\n", few + "    from registry.cli import audit\n")
    )
    answers = []
    for more in ((), ("--scheduler", scheduler)):
        answers.append(audit(sea, "--out", "audit", *more))
        (sea / "audit").rename(sea.parent / f"audit{len(answers)}")
    one, two = (contents(sea.parent / f"audit{n}") for n in (1, 2))
    assert answers[0].out == answers[1].out
    assert [name for name in one if one[name] != two.get(name)] == []
    assert b"conforming" not in one["findings.csv"].replace(b"nonconforming", b"")


#: A worker dies in the middle of a part: the first, or every one that takes it up.
DYING = """
import os, signal
from pathlib import Path
from registry.cli import audit_worker
real = audit_worker.judge
def judge(placements, part, asked, real=real, mark=Path({mark!r}), always={always}):
    if "X-A" in part.permits and (always or not mark.exists()):
        mark.touch()
        os.kill(os.getpid(), signal.SIGKILL)
    return real(placements, part, asked)
audit_worker.judge = judge
"""


@pytest.mark.parametrize("always", [False, True])
def test_a_worker_that_dies_is_replaced_and_its_part_judged_again(sea, always):
    plain = audit(sea, "--json")
    mark = sea.parent / "died"
    (sea.parent / "at_noon.py").write_text(DYING.format(mark=str(mark), always=always) + AT_NOON)
    process = start(sea, "audit", "--json", "--workers", "2")
    out, err = process.communicate(timeout=240)
    assert mark.exists()
    if always:
        Answer(process.returncode, out, err).is_told("died more than once", "fewer --workers", code=4)
    else:
        assert (process.returncode, out, err) == (1, plain.out, "")
    nothing_is_left(sea, process)


def test_workers_that_do_not_start_are_told(sea):
    dies = "import os, sys\nif __name__ == '__mp_main__':\n    os._exit(3)\n"
    (sea.parent / "at_noon.py").write_text(dies + AT_NOON)
    process = start(sea, "audit", "--workers", "2")
    out, err = process.communicate(timeout=240)
    Answer(process.returncode, out, err).is_told("could not be started", code=4)
    nothing_is_left(sea, process)


@pytest.mark.parametrize("after_s", [0.0, 0.4, 1.5, 3.0])
def test_ctrl_c_ends_every_process_and_leaves_nothing(sea, after_s):
    """A terminal sends it to the whole group: it is told once."""
    process = start(sea, "audit", "--out", "audit", "--workers", "2")
    wait_for(process, 1, "resource_tracker")
    time.sleep(after_s)
    if process.poll() is None:
        os.killpg(process.pid, signal.SIGINT)
    out, err = process.communicate(timeout=120)
    if process.returncode != 1:
        assert (process.returncode, err.strip(), out) == (130, STOPPED, "")
        assert not (sea / "audit").exists()
    nothing_is_left(sea, process)


def test_a_head_that_is_killed_takes_its_workers_with_it(sea):
    process = start(sea, "audit", "--workers", "2")
    wait_for(process, 2, "spawn_main")
    process.kill()
    process.communicate(timeout=60)
    end = time.monotonic() + 60
    while group_of(process.pid):
        assert time.monotonic() < end, group_of(process.pid)
        time.sleep(0.1)


def test_a_registry_that_goes_on_meanwhile_is_told(sea, monkeypatch):
    from registry.cli.audit_worker import look

    with open_register(sea / "leadline.gpkg", clock=FixedClock(ENTERED)) as register:
        head = register.head()
        assert look(str(sea / "leadline.gpkg"), head)[1] == ""
        register.append([module_added(_another())])
    assert "another journal head" in look(str(sea / "leadline.gpkg"), head)[1]
    assert "There is no registry" in look(str(sea / "elsewhere.gpkg"), head)[1]


def _another():
    from tests.builders import a_module

    return a_module(tag="X-later")


def test_workers_that_do_not_see_the_registry_are_named(sea, scheduler, monkeypatch):
    (sea.parent / "at_noon.py").write_text(
        AT_NOON.replace(
            "    main()",
            "    import registry.cli.audit_cluster as c\n    from pathlib import Path\n"
            "    real = c.audit_on_workers\n"
            "    c.audit_on_workers = lambda r, file, **k: real(r, Path('/nowhere/leadline.gpkg'), **k)\n    main()",
        )
    )
    answer = audit(sea, "--scheduler", scheduler)
    answer.is_told("tcp://127.0.0.1", "There is no registry at /nowhere", "under this very path", code=4)


@pytest.mark.parametrize(
    "address",
    ["tcp://127.0.0.1:9", "nonsense", "not an address", "gopher://x", "tls://127.0.0.1:9", "ucx://h:1"],
)
def test_a_scheduler_that_is_not_there_is_told(reef, monkeypatch, address):
    monkeypatch.setattr(audit_cluster, "REACH_S", 1)
    answer = reef("audit", "--scheduler", address)
    answer.is_told(f"no dask scheduler at {address}", "tcp://HOST:PORT", "--workers", code=4)


@pytest.mark.parametrize("address", ["nonsense", "tls://127.0.0.1:9"])
def test_nothing_half_made_is_told_of_once_the_command_has_ended(reef, address):
    reef.apart("audit", "--scheduler", address).is_told(f"no dask scheduler at {address}", code=4)


def test_workers_and_a_scheduler_exclude_one_another(reef):
    reef("audit", "--workers", 2, "--scheduler", "tcp://h:1").is_told("--workers 2", "one of the two", code=2)
    assert reef("audit", "--workers", 0).code == 2


def test_without_what_it_needs_it_says_how_to_install_it(reef, monkeypatch):
    reef.good("place", "MC-0001", *GOOD, *GOOD_DEPTH, *WHEN)
    monkeypatch.setattr("importlib.util.find_spec", lambda _name: None)
    reef("audit", "--workers", 2).is_told('pip install "leadline[bulk]"', code=2)
    assert json.loads(reef.good("audit", "--json").out)["verdict"] == "conforming"
