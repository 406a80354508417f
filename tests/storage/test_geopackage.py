"""
The file that is the registry: valid by the OGC rules, whole after anything that can happen to it, shared by many.

Sources: OGC 12-128r17 (GeoPackage 1.3.0); the validator and the readers of GDAL, run in processes of their own.
"""

import contextlib
import os
import random
import signal
import sqlite3
import struct
import subprocess
import sys
import textwrap
import threading
import time
from collections.abc import Iterator
from pathlib import Path

import pytest
import shapely

from registry.errors import (
    BusyError,
    ConflictError,
    FrameError,
    LeadlineError,
    NewerRegistryError,
    RegistryError,
    UnavailableError,
    UnwritableError,
)
from registry.storage.geopackage import backup, create_registry, open_register, snapshot
from registry.storage.geopackage_blob import blob_bounds, point_blob, shape_blob, shape_from_blob
from registry.storage.journal_proof import verify_journal
from registry.storage.network_share import network_share
from registry.storage.register import GeoPackageRegister
from registry.storage.replay import verify_tables
from registry.storage.sqlite_errors import told_plainly
from tests.builders import (
    ACTOR,
    a_memorial,
    a_module,
    a_permit,
    a_placement,
    a_programme,
    a_resurvey,
    a_stocked_registry,
    a_target,
    amended,
    baseline_added,
    many_placements,
    module_added,
    permit_added,
    permit_amended,
    placement_corrected,
    placement_logged,
    placement_resurveyed,
    target_added,
)
from tests.fakes import FixedClock
from tests.gdal_validator import assert_valid, need

ROOT = Path(__file__).parents[2]


def open_again(path: Path, **options) -> GeoPackageRegister:
    return open_register(path, clock=FixedClock(), **options)


@pytest.fixture
def path(tmp_path: Path) -> Path:
    path = tmp_path / "reef.gpkg"
    with create_registry(path, a_programme(), actor=ACTOR, clock=FixedClock()) as register:
        register.append(a_stocked_registry())
        register.append([placement_logged(one) for one in many_placements(5)])
    return path


@pytest.fixture
def register(path: Path) -> Iterator[GeoPackageRegister]:
    with open_again(path) as register:
        yield register


def in_another_process(code: str, *arguments: object) -> subprocess.Popen:
    lines = "from tests.storage.test_geopackage import *\n" + textwrap.dedent(code)
    return subprocess.Popen(
        [sys.executable, "-c", lines, *map(str, arguments)],
        cwd=ROOT,
        env=os.environ | {"PYTHONPATH": str(ROOT)},
        stdout=subprocess.PIPE,
        text=True,
    )


# What the file is


def test_the_header_is_that_of_a_geopackage(path):
    """Requirements 1 and 2: "SQLite format 3", application id "GPKG" at byte 68, version 10300 at byte 60."""
    data = path.read_bytes()
    assert data[:16] == b"SQLite format 3\0"
    assert data[68:72] == b"GPKG"
    assert struct.unpack(">I", data[60:64]) == (10300,)


def test_nothing_is_left_beside_the_file(path):
    assert [one.name for one in path.parent.iterdir()] == ["reef.gpkg"]


def test_the_contents_are_those_of_a_geopackage(register):
    connection = register.connection
    systems = dict(connection.execute("SELECT srs_id, organization FROM gpkg_spatial_ref_sys"))
    assert systems == {4326: "EPSG", 6318: "EPSG", -1: "NONE", 0: "NONE"}
    contents = dict(connection.execute("SELECT table_name, data_type FROM gpkg_contents"))
    layers = {
        *("permit_areas", "keep_outs", "baselines", "targets"),
        *("placements", "observations", "resurveys"),
    }
    assert {name for name, kind in contents.items() if kind == "features"} == layers
    assert {name for name, kind in contents.items() if kind == "attributes"} == {
        *("modules", "module_types", "permits", "conditions", "certificates", "journal", "intake_rows"),
        *("certificate_duplicates", "signing_keys"),
        *("declarations", "hand_overs", "erasures"),
        *("devices", "contests", "machine", "received"),
    }
    assert connection.execute("PRAGMA foreign_key_check").fetchall() == []
    assert connection.execute("PRAGMA journal_mode").fetchone() == ("wal",)
    assert connection.execute("PRAGMA synchronous").fetchone() == (2,)
    for layer in layers:
        triggers = {
            row[0].removeprefix(f"rtree_{layer}_geom_")
            for row in connection.execute(
                "SELECT name FROM sqlite_master WHERE type = 'trigger' AND tbl_name = ?", (layer,)
            )
        }
        assert triggers == {"insert", "update1", "update2", "update3", "update4", "delete"}


def test_geometry_is_longitude_first_in_the_home_frame(register):
    (blob,) = register.connection.execute("SELECT geom FROM placements ORDER BY fid LIMIT 1").fetchone()
    point = shape_from_blob(blob)
    first = many_placements(1)[0].home.position
    assert point.coords[0] == (first.lon_deg, first.lat_deg)
    assert struct.unpack_from("<i", blob, 4) == (6318,)


def test_blobs_tell_their_bounds():
    assert blob_bounds(point_blob(-77.0, 34.0, 6318)) == (-77.0, 34.0, -77.0, 34.0)
    square = shapely.box(-77.1, 33.9, -77.0, 34.0)
    assert blob_bounds(shape_blob(square, 6318)) == square.bounds
    assert shape_from_blob(shape_blob(square, 6318)) == square
    assert blob_bounds(shape_blob(shapely.Polygon(), 6318)) is None
    # As another program may write them: big-endian, or without the envelope.
    assert (
        blob_bounds(b"GP\0\0" + struct.pack(">i", 6318) + shapely.to_wkb(square, byte_order=0))
        == square.bounds
    )
    assert blob_bounds(b"GP\0\1" + struct.pack("<i", 6318) + shapely.to_wkb(shapely.Point())) is None


def test_extents_follow_what_stands(register):
    def extent(layer):
        return register.connection.execute(
            "SELECT min_x, min_y, max_x, max_y FROM gpkg_contents WHERE table_name = ?", (layer,)
        ).fetchone()

    assert extent("permit_areas") == (-77.01, 33.99, -76.99, 34.01)
    assert extent("targets") == (None,) * 4
    (far,) = register.append([placement_logged(a_placement(lon_deg=-70.0, lat_deg=30.0))])
    assert extent("placements")[1:3] == (30.0, -70.0)
    register.append([placement_corrected(a_placement(), supersedes=far.reference)])
    table = register.placements()
    standing = (table.lon_deg.min(), table.lat_deg.min(), table.lon_deg.max(), table.lat_deg.max())
    assert extent("placements") == standing
    assert extent("observations")[1:3] == (30.0, -70.0)


def test_a_name_is_on_the_layer_only_with_consent(register):
    register.append(
        [
            module_added(a_module(tag="MR-0004", memorial=a_memorial())),
            module_added(
                a_module(tag="MR-0005", memorial=a_memorial(name="Not Shown", consent_listed=False))
            ),
        ]
    )
    listed = dict(register.connection.execute("SELECT tag, listed_name FROM placements"))
    assert listed["MR-0004"] == a_memorial().name
    assert listed["MR-0005"] is None


def test_a_frame_that_cannot_be_home_is_refused(tmp_path):
    for frame in ("EPSG:32618", "EPSG:4979", "EPSG:1", "NAD83", "EPSG:5703"):
        with pytest.raises(FrameError):
            create_registry(tmp_path / "x.gpkg", a_programme(frame=frame), actor=ACTOR, clock=FixedClock())
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("frame", ["EPSG:4326", "EPSG:7844", "EPSG:10414"])
def test_other_home_frames(tmp_path, frame):
    with create_registry(
        tmp_path / "x.gpkg", a_programme(frame=frame), actor=ACTOR, clock=FixedClock()
    ) as register:
        register.append(a_stocked_registry())
        assert verify_tables(register) == ()


def test_nothing_is_overwritten(path):
    before = path.read_bytes()
    with pytest.raises(ConflictError, match="exists already"):
        create_registry(path, a_programme(), actor=ACTOR, clock=FixedClock())
    with open_again(path) as register:
        for copy in (backup, snapshot):
            with pytest.raises(ConflictError, match="exists already"):
                copy(register, path)
    assert path.read_bytes() == before


@pytest.mark.parametrize("name", ["reef #1 100%?.gpkg", "récif.gpkg", "reef.sqlite", "-rf"])
def test_any_file_name_will_do(tmp_path, monkeypatch, name):
    monkeypatch.chdir(tmp_path)
    with create_registry(name, a_programme(), actor=ACTOR, clock=FixedClock()) as register:
        register.append(a_stocked_registry())
        backup(register, f"copy of {name}")
    with open_again(Path(name)) as register:
        assert len(register.modules()) == 3
    assert sorted(one.name for one in tmp_path.iterdir()) == sorted([name, f"copy of {name}"])


def test_opening_imports_nothing_heavy(path):
    code = """
        import subprocess, sys
        code = '''import sys
        from registry.storage.clock import SystemClock
        from registry.storage.geopackage import open_register
        open_register(sys.argv[1], clock=SystemClock()).head()
        print([name for name in ("shapely", "pyproj", "pandas", "geopandas", "fiona", "numpy") if name in sys.modules])'''
        print(subprocess.run([sys.executable, "-c", code.replace("        ", ""), sys.argv[1]], stdout=-1, text=True).stdout)
    """
    out, _ = in_another_process(code, path).communicate(timeout=60)
    assert out.strip() == "[]"


def test_a_link_to_a_registry_is_the_registry(register, path, tmp_path):
    link = tmp_path / "elsewhere" / "link.gpkg"
    link.parent.mkdir()
    link.symlink_to(path)
    register.append([placement_logged()])
    with open_again(link) as other:
        other.append([placement_logged()])
        assert len(register.placements()) == 7


# Many at once


def test_writers_in_several_processes_all_succeed(path):
    code = """
        with open_again(Path(sys.argv[1])) as register:
            for _ in range(15):
                register.append([placement_logged()])
    """
    writers = [in_another_process(code, path) for _ in range(4)]
    assert [writer.wait(timeout=120) for writer in writers] == [0, 0, 0, 0]
    for writer in writers:
        writer.communicate()
    with open_again(path) as register:
        assert len(register.placements()) == 65
        assert verify_journal(register) == ()
        assert verify_tables(register) == ()


def test_a_reader_never_waits_for_a_writer(path):
    code = """
        with open_again(Path(sys.argv[1])) as register, register.writing():
            register.append([placement_logged()])
            print("held", flush=True)
            time.sleep(30)
    """
    writer = in_another_process(code, path)
    try:
        assert writer.stdout
        assert writer.stdout.readline() == "held\n"
        with open_again(path, wait_s=0.05) as reader:
            assert len(reader.placements()) == 5
            assert len(reader.placements_near(lon_deg=-77.0, lat_deg=34.0, reach_m=5000)) == 5
            with pytest.raises(BusyError, match="another program") as refusal:
                reader.append([placement_logged()])
            assert "try again" in refusal.value.remedy
    finally:
        writer.kill()
        writer.communicate()
    with open_again(path) as register:
        assert len(register.placements()) == 5
        register.append([placement_logged()])


def test_what_was_acknowledged_survives_a_kill(path):
    """Killed without warning at random moments; seeded, so that a failure can be looked at again."""
    code = """
        with open_again(Path(sys.argv[1])) as register:
            while True:
                for entry in register.append([placement_logged(), placement_logged()]):
                    print(entry.digest, flush=True)
    """
    moments = random.Random(20260601)
    for _ in range(5):
        writer = in_another_process(code, path)
        assert writer.stdout
        acknowledged = [writer.stdout.readline().strip()]
        time.sleep(moments.uniform(0.0, 0.15))
        writer.send_signal(signal.SIGKILL)
        rest, _ = writer.communicate()
        # The last line may have been cut by the kill.
        acknowledged += [line for line in rest.split("\n")[:-1] if line]
        with open_again(path) as register:
            digests = {entry.digest for entry in register.journal()}
            assert set(acknowledged) <= digests
            assert verify_journal(register) == ()
            assert verify_tables(register) == ()
            assert register.connection.execute("PRAGMA integrity_check").fetchone() == ("ok",)
            assert len(register.placements()) % 2 == 1


def test_another_thread_is_told_plainly(register):
    said: list[BaseException] = []

    def read() -> None:
        try:
            register.head()
        except LeadlineError as error:
            said.append(error)

    thread = threading.Thread(target=read)
    thread.start()
    thread.join()
    assert isinstance(said[0], UnavailableError)
    register.close()
    with pytest.raises(UnavailableError, match="closed"):
        register.head()


# GDAL, in processes of its own


@pytest.mark.gdal
def test_the_validator_finds_nothing_while_the_registry_is_in_use(register, path):
    logged = register.append([placement_logged(one) for one in many_placements(50)])
    register.append([placement_resurveyed(a_resurvey(placement_id=logged[0].reference))])
    register.append([permit_amended(amended()), permit_amended(amended(holder="Tern Trust"))])
    register.append([baseline_added(), target_added()])
    moved = a_target(target_id="target-0002", lat_deg=34.001)
    register.append([target_added(moved, supersedes="target-0001")])
    with register.writing():
        register.append([placement_logged()])
        assert_valid(path)


@pytest.mark.gdal
def test_gdal_reads_the_registry_while_it_is_in_use(register, path):
    need("ogrinfo", "--version")
    register.append([placement_logged()])
    result = subprocess.run(
        ["ogrinfo", "-ro", "-al", "-so", str(path)], capture_output=True, text=True, check=False, timeout=60
    )
    assert (result.returncode, result.stderr) == (0, "")
    assert "NAD83(2011)" in result.stdout
    assert "Feature Count: 6" in result.stdout
    near = ["-spat", "-77.0001", "33.9999", "-76.9999", "34.0001", "placements"]
    result = subprocess.run(
        ["ogrinfo", "-ro", "-q", str(path), *near], capture_output=True, text=True, check=False, timeout=60
    )
    assert result.stdout.count("OGRFeature") == 1


@pytest.mark.gdal
def test_a_snapshot_is_read_by_gdal_in_this_process(register, tmp_path):
    pyogrio = pytest.importorskip("pyogrio")
    copy = snapshot(register, tmp_path / "copy.gpkg")
    frame = pyogrio.read_dataframe(copy, layer="placements")
    assert list(frame.tag) == list(register.placements().tag)
    assert frame.crs.to_epsg() == 6318


# Copies


def test_a_backup_is_whole_and_goes_on_as_a_registry(register, path, tmp_path):
    register.append([placement_logged()])
    copy = backup(register, tmp_path / "backup.gpkg")
    assert sorted(one.name for one in tmp_path.iterdir() if "backup" in one.name) == ["backup.gpkg"]
    with open_again(copy) as other:
        assert other.head() == register.head()
        assert list(other.journal()) == list(register.journal())
        assert verify_journal(other) == verify_tables(other) == ()
        other.append([placement_logged()])
        assert other.connection.execute("PRAGMA journal_mode").fetchone() == ("wal",)


def test_a_stick_without_links_takes_a_backup_too(register, tmp_path, monkeypatch):
    def refuse(*_):
        raise PermissionError(1, "Operation not permitted")

    monkeypatch.setattr("os.link", refuse)
    with open_again(backup(register, tmp_path / "backup.gpkg")) as other:
        assert other.head() == register.head()
    assert not list(tmp_path.glob(".*"))


def test_a_backup_is_made_while_another_writes(register, path, tmp_path):
    with open_again(path) as writer, writer.writing():
        writer.append([placement_logged()])
        copy = backup(register, tmp_path / "backup.gpkg")
    with open_again(copy, writable=False) as other:
        assert len(other.placements()) == 5


def test_a_backup_that_fails_its_proof_is_thrown_away(register, tmp_path, monkeypatch):
    monkeypatch.setattr("registry.storage.geopackage._last_digest", lambda _: "0" * 64)
    with pytest.raises(RegistryError, match="does not hold"):
        backup(register, tmp_path / "backup.gpkg")
    assert not list(tmp_path.glob("*backup*"))


@pytest.mark.parametrize("make", [backup, snapshot])
def test_a_copy_into_no_folder(register, tmp_path, make):
    with pytest.raises(UnwritableError, match="no folder"):
        make(register, tmp_path / "none" / "copy.gpkg")


def test_the_file_alone_has_every_acknowledged_entry(register, path, tmp_path):
    """Someone copies the one file they know, while the program runs or after its power went."""
    register.append([placement_logged()])
    assert path.with_name("reef.gpkg-wal").exists()
    copy = tmp_path / "stick.gpkg"
    subprocess.run(["cp", str(path), str(copy)], check=True)
    with open_again(copy) as other:
        assert other.head() == register.head()
        assert verify_tables(other) == ()


# Damage


def test_what_is_no_registry_is_told(tmp_path):
    empty, text, plain, package = (tmp_path / name for name in ("empty", "text", "plain", "package"))
    empty.touch()
    text.write_text("tag,lat,lon\n" * 500)
    for target, application_id in ((plain, 0), (package, 0x47504B47)):
        connection = sqlite3.connect(target)
        connection.executescript(f"PRAGMA application_id = {application_id}; CREATE TABLE t (a);")
        connection.close()
    for target, words in {
        tmp_path / "absent.gpkg": "no registry at",
        tmp_path: "is a folder",
        text / "below": "reached|no registry",
        empty: "is empty",
        text: "not an SQLite file",
        plain: "but not a registry",
        package: "without a journal",
    }.items():
        with pytest.raises(RegistryError, match=words) as refusal:
            open_again(target)
        assert refusal.value.remedy
        assert refusal.value.exit_code == 4
    assert not (tmp_path / "absent.gpkg").exists()


def _change_first_body(path: Path, old: str, new: str) -> None:
    connection = sqlite3.connect(path)
    connection.executescript(
        "DROP TRIGGER journal_changes_no_entry;"
        f"UPDATE journal SET body = replace(body, '{old}', '{new}') WHERE position = 1"
    )
    connection.close()


def test_a_later_format_is_told(path):
    _change_first_body(path, '"format":1', '"format":2')
    with pytest.raises(NewerRegistryError, match="later version"):
        open_again(path)


@pytest.mark.parametrize("new", ['"formal":1', '"format":"x"', ","])
def test_a_beginning_that_cannot_be_read_is_told(path, new):
    _change_first_body(path, '"format":1' if new != "," else '"origin"', new)
    with contextlib.suppress(RegistryError), open_again(path) as register:
        assert verify_journal(register)


class FoundError(Exception):
    """The proof of the journal or of the tables found something."""


def use(path: Path) -> None:
    """Do everything that reads."""
    with open_again(path) as register:
        register.programme()
        register.permits()
        register.keep_outs()
        register.modules()
        register.placements()
        register.placements_near(lon_deg=-77.0, lat_deg=34.0, reach_m=9000)
        list(register.journal())
        if verify_journal(register) or verify_tables(register):
            raise FoundError
        register.append([placement_logged()])


def test_a_file_cut_short_at_any_length_is_told(path):
    whole = path.read_bytes()
    moments = random.Random(1)
    lengths = [1, 15, 16, 50, 99, 100, 511, 512, 4095, 4096, 4097, 8192, len(whole) - 4096, len(whole) - 1]
    lengths += [moments.randrange(len(whole)) for _ in range(25)]
    for length in lengths:
        cut = path.with_name(f"cut-{length}.gpkg")
        cut.write_bytes(whole[:length])
        with pytest.raises(RegistryError) as refusal:
            use(cut)
        assert refusal.value.remedy, length


def test_a_file_with_a_page_overwritten_never_leaks_an_error_of_the_database(path):
    whole = path.read_bytes()
    moments = random.Random(2)
    silent = 0
    for number in range(40):
        start = moments.randrange(1, len(whole) // 4096) * 4096
        damaged = path.with_name(f"damaged-{number}.gpkg")
        damaged.write_bytes(whole[:start] + moments.randbytes(4096) + whole[start + 4096 :])
        try:
            use(damaged)
            silent += 1
        except (LeadlineError, FoundError):
            continue
    # Pages that nothing here reads, as those of empty layers, exist; most must be noticed.
    assert silent < 25


def test_a_lost_log_leaves_a_registry_that_proves_itself(path):
    code = """
        register = open_again(Path(sys.argv[1]))
        for _ in range(20):
            register.append([placement_logged()])
        os._exit(9)
    """
    in_another_process(code, path).communicate()
    assert path.with_name("reef.gpkg-wal").exists()
    for ending in ("-wal", "-shm"):
        path.with_name(f"reef.gpkg{ending}").unlink()
    with open_again(path) as register:
        assert len(register.placements()) == 25
        assert verify_journal(register) == verify_tables(register) == ()


# Where nothing can be written


@contextlib.contextmanager
def mounted(*command: str, at: Path) -> Iterator[None]:
    done = subprocess.run(["mount", *command, str(at)], capture_output=True, check=False)
    if done.returncode:
        pytest.skip("this account may not mount")
    try:
        yield
    finally:
        subprocess.run(["umount", "-l", str(at)], check=True)


def _read_only(folder: Path) -> contextlib.AbstractContextManager[None]:
    @contextlib.contextmanager
    def remounted():
        with mounted("--bind", str(folder), at=folder):
            if subprocess.run(["mount", "-o", "remount,ro,bind", str(folder)], check=False).returncode:
                pytest.skip("this account may not mount")
            yield

    return remounted()


@pytest.mark.parametrize("writable", [True, False])
def test_a_read_only_folder_is_read(path, writable):
    with _read_only(path.parent):
        with open_again(path, writable=writable) as register:
            assert len(register.placements()) == 5
            assert register.permit("HB-0417") == a_permit()
            with pytest.raises(UnwritableError) as refusal:
                register.append([placement_logged()])
            assert refusal.value.remedy
        with pytest.raises(UnwritableError):
            create_registry(path.with_name("new.gpkg"), a_programme(), actor=ACTOR, clock=FixedClock())


def test_a_registry_left_in_the_middle_is_read_from_a_read_only_folder(path):
    code = """
        register = open_again(Path(sys.argv[1]))
        register._settle = lambda: None
        register.append([placement_logged()])
        os._exit(9)
    """
    in_another_process(code, path).communicate()
    path.with_name("reef.gpkg-shm").unlink()
    with _read_only(path.parent), open_again(path) as register:
        assert len(register.placements()) == 6
        with pytest.raises(UnwritableError):
            register.append([placement_logged()])


def test_a_read_only_folder_is_read_while_another_writes(path, tmp_path_factory):
    seen = tmp_path_factory.mktemp("seen")
    with open_again(path) as writer:
        writer.append([placement_logged()])
        with mounted("--bind", "-o", "ro", str(path.parent), at=seen):
            subprocess.run(["mount", "-o", "remount,ro,bind", str(seen)], check=False)
            code = """
                with open_again(Path(sys.argv[1])) as register:
                    print(len(register.placements()))
            """
            out, _ = in_another_process(code, seen / "reef.gpkg").communicate(timeout=60)
            assert out == "6\n"


def test_a_register_for_reading_writes_nothing(path):
    with open_again(path, writable=False) as register, pytest.raises(UnwritableError, match="reading only"):
        register.append([permit_added()])


def test_a_full_disk_loses_nothing(tmp_path):
    disk = tmp_path / "disk"
    disk.mkdir()
    with mounted("-t", "tmpfs", "-o", "size=1m", "tmpfs", at=disk):
        path = disk / "reef.gpkg"
        with create_registry(path, a_programme(), actor=ACTOR, clock=FixedClock()) as register:
            register.append(a_stocked_registry())
            kept = [register.head()]
            with pytest.raises(UnwritableError, match="full") as refusal:  # noqa: PT012
                while len(kept) < 500:
                    kept += [entry.digest for entry in register.append([placement_logged()])]
            assert "Free some space" in refusal.value.remedy
            assert len(kept) > 10
            assert register.head() == kept[-1]
            with pytest.raises(UnwritableError):
                backup(register, disk / "backup.gpkg")
            with pytest.raises(UnwritableError):
                create_registry(disk / "new.gpkg", a_programme(), actor=ACTOR, clock=FixedClock())
        assert {one.name for one in disk.iterdir()} <= {"reef.gpkg", "reef.gpkg-wal", "reef.gpkg-shm"}
        with open_again(path) as register:
            assert register.head() == kept[-1]
            assert verify_journal(register) == verify_tables(register) == ()


def test_a_registry_on_a_full_disk_is_read_and_says_why_it_is_not_written(tmp_path):
    """Without room for SQLite's shared memory it tells a mere I/O error, already on reading."""
    disk = tmp_path / "disk"
    disk.mkdir()
    with mounted("-t", "tmpfs", "-o", "size=900k", "tmpfs", at=disk):
        path = disk / "reef.gpkg"
        with create_registry(path, a_programme(), actor=ACTOR, clock=FixedClock()) as register:
            register.append([*a_stocked_registry(), placement_logged()])
            head = register.head()
        with contextlib.suppress(OSError), (disk / "filler").open("wb", buffering=0) as filler:
            while filler.write(bytes(4096)):
                pass
        with open_again(path, writable=False) as reader:
            assert reader.head() == head
            assert len(reader.placements()) == 1
            assert verify_journal(reader) == ()
        with open_again(path) as writer, pytest.raises(UnwritableError, match="is full") as refusal:  # noqa: PT012
            for _ in range(50):
                writer.append([placement_logged()])
        assert "Free some space" in refusal.value.remedy
        (disk / "filler").unlink()
        with open_again(path) as writer:
            writer.append([placement_logged()])
            assert verify_journal(writer) == verify_tables(writer) == ()


def test_an_io_error_with_room_left_is_not_told_as_a_full_disk(tmp_path):
    error = sqlite3.OperationalError("disk I/O error")
    error.sqlite_errorcode = sqlite3.SQLITE_IOERR_WRITE
    with pytest.raises(UnwritableError, match="cannot be written here"), told_plainly(str(tmp_path / "a")):
        raise error


def test_a_full_database_takes_back_what_failed(register):
    head = register.head()
    pages = register.connection.execute("PRAGMA page_count").fetchone()[0]
    register.connection.execute(f"PRAGMA max_page_count = {pages + 5}")
    with pytest.raises(UnwritableError, match="full"):
        register.append([placement_logged() for _ in range(500)])
    assert register.head() == head
    register.connection.execute("PRAGMA max_page_count = 100000")
    register.append([placement_logged()])
    assert len(register.placements()) == 6
    assert verify_journal(register) == verify_tables(register) == ()


def test_nothing_goes_on_after_the_database_took_back_the_whole_step(register):
    """As it may do when the disk is full (sqlite.org, "Response To Errors Within A Transaction")."""
    head = register.head()

    def go_on() -> None:
        register.append([placement_logged()])
        register.connection.execute("ROLLBACK")
        with contextlib.suppress(UnwritableError):
            register.append([placement_logged()])

    with pytest.raises(UnwritableError, match="whole step"), register.writing():
        go_on()
    assert register.head() == head
    register.append([placement_logged()])
    assert len(register.placements()) == 6
    assert verify_journal(register) == verify_tables(register) == ()


@pytest.mark.parametrize(
    ("folder", "kind"),
    [
        ("/mnt/share/reef", "cifs"),
        ("/mnt/share", "cifs"),
        ("/mnt/sharedisk", None),
        ("/mnt/my share/reef", "nfs4"),
        ("/home/ada", None),
    ],
)
def test_a_network_share_is_known(tmp_path, folder, kind):
    mounts = tmp_path / "mounts"
    mounts.write_text(
        "/dev/sda / ext4 rw 0 0\n//box/a /mnt/share cifs rw 0 0\nbox:/b /mnt/my\\040share nfs4 rw 0 0\n"
    )
    assert network_share(Path(folder), mounts) == kind


def test_a_registry_is_not_made_on_a_network_share(tmp_path, monkeypatch):
    monkeypatch.setattr("registry.storage.geopackage.network_share", lambda _: "nfs4")
    with pytest.raises(UnwritableError, match="network share"):
        create_registry(tmp_path / "x.gpkg", a_programme(), actor=ACTOR, clock=FixedClock())


def test_a_registry_on_a_network_share_is_only_read(path, monkeypatch):
    monkeypatch.setattr("registry.storage.geopackage.network_share", lambda _: "cifs")
    with open_again(path) as register:
        assert len(register.placements()) == 5
        with pytest.raises(UnwritableError, match=r"network share \(cifs\)"):
            register.append([placement_logged()])
