"""What happens to the process: signals, pipes, full and read-only disks, odd environments, two writers at once."""

import contextlib
import os
import signal
import sqlite3
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from registry.storage.geopackage import open_register
from registry.storage.journal_proof import verify_journal
from registry.storage.replay import verify_tables
from tests.cli.reef import GOOD, GOOD_DEPTH, WHEN, a_log, log_line
from tests.fakes import FixedClock

CHECK = ("check", "--type", "hump-90", *GOOD, *GOOD_DEPTH)
PLACE = ("place", "MC-0001", *GOOD, *GOOD_DEPTH, *WHEN)
#: Rows of a log that is stopped midway, some transactions long.
MANY, BATCH = 400, 20


def is_sound(registry: Path) -> int:
    """Insist that journal and tables prove themselves; give the number of placements that stand."""
    with open_register(registry, clock=FixedClock()) as register:
        assert list(verify_journal(register)) == []
        assert list(verify_tables(register)) == []
        return len(register.placements())


def placements_so_far(registry: Path) -> int:
    connection = sqlite3.connect(f"file:{registry}?mode=ro", uri=True, timeout=30)
    try:
        return int(connection.execute("SELECT count(*) FROM placements").fetchone()[0])
    finally:
        connection.close()


@pytest.mark.parametrize("word", [signal.SIGINT, signal.SIGKILL, signal.SIGTERM], ids=lambda word: word.name)
def test_what_stood_when_intake_was_stopped_stands_and_the_rest_goes_in_again(reef, word):
    reef.write("log.csv", a_log(MANY, log_line(MANY, position="nowhere")))
    process = reef.process("intake", "log.csv", "--permit", "HB-0417", batch=BATCH)
    until(lambda: placements_so_far(reef.registry) > 0 or process.poll() is not None)
    process.send_signal(word)
    _, err = process.communicate(timeout=60)
    assert process.returncode != 0
    assert "Traceback" not in err
    if word is signal.SIGINT:
        assert (process.returncode, err.strip()) == (130, "Stopped. What was acknowledged stands.")
    stood = is_sound(reef.registry)
    assert 0 < stood < MANY
    again = reef("intake", "log.csv", "--permit", "HB-0417", "--json").json
    assert (len(again["repeated"]), len(again["taken"]), len(again["rejected"])) == (stood, MANY - stood, 1)
    assert is_sound(reef.registry) == MANY


def until(done: Callable[[], bool], longest_s: float = 60.0) -> None:
    end = time.monotonic() + longest_s
    while not done():
        assert time.monotonic() < end
        time.sleep(0.02)


def test_two_writers_at_once_both_succeed(reef):
    reef.write("a.csv", a_log(200))
    reef.write("b.csv", "\n".join([a_log(0).strip(), *(log_line(n) for n in range(300, 500)), ""]))
    both = [reef.process("intake", name, "--permit", "HB-0417") for name in ("a.csv", "b.csv")]
    singles = [reef.process(*PLACE[:1], f"PL-{n}", "--type", "hump-60", *PLACE[2:]) for n in range(3)]
    for process in (*both, *singles):
        _, err = process.communicate(timeout=120)
        assert process.returncode in (0, 1), err
        assert err == ""
    assert is_sound(reef.registry) == 403
    for tags in (reef.tags(),):
        assert len(tags) == len(set(tags)) == 403


def test_a_reader_that_goes_away_is_neither_a_fault_nor_a_verdict(reef):
    reef.write("modules.csv", "tag,type\n" + "".join(f"N{n},hump-60\n" for n in range(2_000)))
    reef.good("module", "import", "modules.csv")
    with reef.process("journal", "show") as process:
        assert process.stdout is not None
        assert process.stderr is not None
        process.stdout.read(10)
        process.stdout.close()
        assert (process.wait(timeout=60), process.stderr.read()) == (141, "")


def test_the_help_may_be_cut_off(reef):
    reading, writing = os.pipe()
    os.close(reading)
    answer = reef.apart("--help", stdout=writing)
    os.close(writing)
    assert (answer.code, answer.err) == (141, "")


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="there is no /dev/full here")
@pytest.mark.parametrize(
    "asked", [("module", "types"), ("module", "types", "--json"), ("audit", "--json"), ("duties", "--json")]
)
def test_an_answer_that_cannot_be_written_is_told(reef, asked):
    with open("/dev/full", "w") as full:  # noqa: PTH123
        reef.apart(*asked, stdout=full).is_told("space", code=4)


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="there is no /dev/full here")
def test_an_error_that_cannot_be_written_as_json_is_told_in_words(reef):
    with open("/dev/full", "w") as full:  # noqa: PTH123
        reef.apart("audit", "--permit", "HB-9", "--json", stdout=full).is_told("HB-9", code=2)
        reef.apart("audit", "--nonsense", "--json", stdout=full).is_told("--nonsense", code=2)


@contextlib.contextmanager
def a_small_disk(at: Path, size: str) -> Iterator[None]:
    """Mount a disk of so many bytes, where this account may."""
    at.mkdir()
    done = subprocess.run(
        ["mount", "-t", "tmpfs", "-o", f"size={size}", "tmpfs", str(at)], capture_output=True, check=False
    )
    if done.returncode:
        pytest.skip("this account may not mount")
    try:
        yield
    finally:
        subprocess.run(["umount", "-l", str(at)], check=True)


def fill(disk: Path) -> None:
    with contextlib.suppress(OSError), (disk / "filler").open("wb") as file:
        while True:
            file.write(b"\0" * 4096)
            file.flush()


def test_intake_on_a_full_disk_loses_nothing_and_goes_on_when_there_is_room(reef):
    disk = reef.folder / "disk"
    with a_small_disk(disk, "900k"):
        registry = disk / "leadline.gpkg"
        registry.write_bytes(reef.registry.read_bytes())
        log = reef.write("log.csv", a_log(400))
        answer = reef.apart("--registry", registry, "intake", log, "--permit", "HB-0417", batch=BATCH)
        answer.is_told("full", code=4)
        stood = is_sound(registry)
        assert stood < 400
        elsewhere = reef.folder / "more-room.gpkg"
        reef.good("--registry", registry, "backup", elsewhere)
    again = reef("--registry", elsewhere, "intake", log, "--permit", "HB-0417", "--json").json
    assert len(again["taken"]) == 400 - stood
    assert is_sound(elsewhere) == 400


@pytest.mark.parametrize(
    "line",
    [
        ("export", "--format", "gpx", "--out", "disk/x.gpx"),
        ("export", "--format", "gpkg", "--out", "disk/x.gpkg"),
        ("export", "--format", "shp", "--out", "disk/x.zip"),
        ("map", "--out", "disk/x.html"),
        ("certificate", "MC-0001", "--out", "disk/papers"),
        ("certificate", "MC-0001", "--out", "disk"),
        ("certificate", "--all", "--out", "disk"),
        ("certificates", "publish", "disk/site"),
        ("audit", "--out", "disk/audit"),
        ("backup", "disk/x.gpkg"),
        ("journal", "key", "--out", "disk/x.pem"),
        ("--registry", "disk/new.gpkg", "new", "--programme", "X", "--frame", "EPSG:6318"),
    ],
    ids=" ".join,
)
@pytest.mark.parametrize("trouble", ["full", "read-only"])
def test_a_paper_that_cannot_be_written_is_told_and_leaves_nothing_half_done(reef, line, trouble):
    reef.good(*PLACE)
    with a_small_disk(reef.folder / "disk", "64k"):
        fill(reef.folder / "disk")
        if trouble == "read-only":
            subprocess.run(["mount", "-o", "remount,ro", str(reef.folder / "disk")], check=True)
        reef(*line).is_told("disk", code=4)
        left = [p.name for p in (reef.folder / "disk").rglob("*") if p.is_file()]
        assert left == ["filler"]
    assert is_sound(reef.registry) == 1
    if line[0] == "certificate":
        assert reef("certificate", "MC-0001", "--out", "papers", "--json").json["version"] == 1


def test_a_registry_in_a_read_only_folder_is_read_and_not_written(reef):
    reef.good(*PLACE)
    disk = reef.folder / "disk"
    with a_small_disk(disk, "8m"):
        (disk / "leadline.gpkg").write_bytes(reef.registry.read_bytes())
        subprocess.run(["mount", "-o", "remount,ro", str(disk)], check=True)
        named = ("--registry", "disk/leadline.gpkg")
        reef.good(*named, "permit", "list")
        reef.good(*named, "map", "--out", "reef.html")
        reef.good(*named, "export", "--format", "gpkg", "--out", "reef")
        reef.good(*named, "journal", "verify")
        assert reef(*named, "audit").code == 0
        reef(*named, *PLACE).is_told("disk/leadline.gpkg", code=4)
        reef(*named, "certificate", "MC-0001", "--out", "papers").is_told("disk/leadline.gpkg", code=4)


@pytest.mark.skipif(os.name != "posix", reason="rights are told by mode bits only on POSIX systems")
def test_what_this_account_may_not_read_or_write_is_told(reef):
    who = {"user": 65534, "group": 65534, "extra_groups": ()} if os.geteuid() == 0 else {}
    if who and not all(
        p.stat().st_mode & 0o001 for at in (reef.folder, Path(sys.executable).resolve()) for p in at.parents
    ):
        pytest.skip("root is refused nothing, and another account cannot reach the folder of the tests")
    reef.write("secret.csv", a_log(1)).chmod(0)
    reef.registry.chmod(0)
    reef.apart("permit", "list", **who).is_told("leadline.gpkg", code=4)
    reef.registry.chmod(0o644)
    reef.folder.chmod(0o555)
    reef.apart("intake", "secret.csv", "--permit", "HB-0417", **who).is_told("secret.csv", code=4)
    reef.apart("map", "--out", "reef.html", **who).is_told("reef.html", code=4)
    reef.folder.chmod(0o755)


ENVIRONMENTS = {
    "the locale C": ({"LC_ALL": "C", "LANG": "C"}, ()),
    "no locale": ({"PYTHONUTF8": "0"}, ("LANG", "LC_ALL", "LC_CTYPE")),
    "an encoding of old": ({"PYTHONIOENCODING": "ascii:strict"}, ()),
    "no home": ({}, ("HOME", "USER", "LOGNAME", "USERNAME", "XDG_CONFIG_HOME")),
    "the geodata of another installation": (
        {"PROJ_DATA": "/usr/share/proj", "PROJ_LIB": "/usr/share/proj", "GDAL_DATA": "/usr/share/proj"},
        (),
    ),
}


@pytest.mark.parametrize("where", ENVIRONMENTS)
def test_the_command_works_in_any_environment(reef, where):
    extra, without = ENVIRONMENTS[where]
    options = {"env": extra, "without": without}
    reef.write(
        "areas.geojson",
        '{"type": "FeatureCollection", "features": [{"type": "Feature", "properties": {"name": "Ådne"},'
        ' "geometry": {"type": "LineString", "coordinates": [[-76.98, 33.95], [-76.98, 34.05]]}}]}',
    )
    for line in (
        (
            "module",
            "add",
            "Zoë-1",
            "--type",
            "hump-60",
            "--memorial",
            "Zoë Ångström ἀρχή",
            "--consent-listed",
        ),
        ("keepout", "add", "areas.geojson", "--kind", "cable", "--setback", "200 ft"),
        ("place", "Zoë-1", "--type", "hump-60", "--note", "ἀρχή", *GOOD, *GOOD_DEPTH, *WHEN),
        ("export", "--format", "gpkg", "--out", "Zoë"),
    ):
        answer = reef.apart(*line, **options)
        assert (answer.code, answer.err) == (0, ""), answer
    assert (reef.folder / "Zoë.gpkg").exists()
    assert reef.tags() == ["Zoë-1"]


def test_a_key_goes_under_the_home_folder_and_none_is_made_without_one(reef):
    line = ("--registry", "new.gpkg", "new", "--programme", "X", "--frame", "EPSG:6318")
    home = reef.folder / "home"
    home.mkdir()
    answer = reef.apart(*line, env={"HOME": str(home)}, without=("LEADLINE_KEYS", "XDG_CONFIG_HOME"))
    assert (answer.code, answer.err) == (0, "")
    assert len(list((home / ".config/leadline/keys").glob("*.pem"))) == 1


def test_python_m_registry_is_the_command():
    done = subprocess.run(
        [sys.executable, "-m", "registry", "--version"], capture_output=True, text=True, check=True
    )
    assert done.stdout.startswith("leadline, version ")


def test_the_answer_of_a_process_is_that_of_the_function(reef):
    here, there = reef(*CHECK, "--json"), reef.apart(*CHECK, "--json")
    assert (here.code, here.err) == (there.code, there.err) == (0, "")
    assert here.json == there.json
