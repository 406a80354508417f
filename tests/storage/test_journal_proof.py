"""A journal that was tampered with names the entry; tables that were tampered with name the table."""

import sqlite3
from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import pytest

from registry.errors import ConflictError, NotFoundError, RegistryError, RejectedError, UnwritableError
from registry.records.entry import Draft, seal
from registry.storage.geopackage import create_registry, open_register
from registry.storage.geopackage_blob import add_spatial_functions
from registry.storage.geopackage_schema import DERIVED, LAYERS
from registry.storage.journal_proof import verify_journal
from registry.storage.register import GeoPackageRegister
from registry.storage.replay import rebuild_tables, registry_as_of, verify_tables
from tests.builders import (
    ACTOR,
    a_hand_over,
    a_memorial,
    a_module,
    a_permit,
    a_placement,
    a_programme,
    a_resurvey,
    a_stocked_registry,
    a_target,
    a_whole_chain,
    amended,
    an_area,
    baseline_added,
    certificate_issued,
    custody_handed,
    custody_withdrawn,
    many_placements,
    module_added,
    module_amended,
    permit_added,
    permit_amended,
    placement_corrected,
    placement_logged,
    placement_resurveyed,
    placement_withdrawn,
    target_added,
)
from tests.fakes import FixedClock


@pytest.fixture
def path(tmp_path: Path) -> Path:
    """A registry of fifteen entries with a correction, a certificate and a module written down late."""
    clock = FixedClock(step_s=60.0)
    path = tmp_path / "reef.gpkg"
    with create_registry(path, a_programme(), actor=ACTOR, clock=clock) as register:
        register.append(a_stocked_registry())
        logged = [register.append([placement_logged(one)])[0] for one in many_placements(4)]
        register.append([placement_corrected(a_placement(lon_deg=-77.0095), supersedes=logged[0].reference)])
        register.append([module_added(a_module(tag="MR-0004", memorial=a_memorial()))])
        source = {"file": "log.csv", "row": 9, "key": "k9"}
        register.append([placement_logged(a_placement(tag="MR-0002", source=source))])
        register.append([certificate_issued()])
    return path


def open_again(path: Path) -> GeoPackageRegister:
    return open_register(path, clock=FixedClock())


def tamper(path: Path, change: Callable[[sqlite3.Connection], object]) -> None:
    """Do what someone with the file and without scruples can do."""
    connection = sqlite3.connect(path)
    add_spatial_functions(connection)
    connection.executescript(
        "DROP TRIGGER journal_keeps_every_entry; DROP TRIGGER journal_changes_no_entry;"
        "DROP TRIGGER journal_replaces_no_entry;"
    )
    change(connection)
    connection.commit()
    connection.close()


def found(path: Path) -> list[tuple[str, int]]:
    """The kind of each problem and the sequence of the entry that it names."""
    with open_again(path) as register:
        return [(one.kind, int(one.reference.rpartition("-")[2])) for one in verify_journal(register)]


def test_an_honest_journal_proves_itself(path):
    assert found(path) == []
    with open_again(path) as register:
        assert verify_tables(register) == ()


@pytest.mark.parametrize(
    "statement",
    [
        "UPDATE journal SET actor = 'x'",
        "DELETE FROM journal",
        "INSERT OR REPLACE INTO journal SELECT * FROM journal WHERE position = 3",
        "INSERT OR REPLACE INTO journal SELECT 99, 'x', 1, time, actor, kind, body, previous, digest FROM journal",
        "REPLACE INTO journal SELECT 99, origin, 3, time, actor, kind, body, previous, 'd' FROM journal",
    ],
)
def test_the_journal_takes_no_change(path, statement):
    connection = sqlite3.connect(path)
    with pytest.raises(sqlite3.IntegrityError, match="cannot be"):
        connection.execute(statement)
    connection.close()


@pytest.mark.parametrize(
    ("column", "value"),
    [
        ("body", "replace(body, '20.36', '20.37')"),
        ("body", "'not JSON'"),
        ("body", "CAST(body AS BLOB)"),
        ("actor", "actor || ' '"),
        ("kind", "'placement.loggee'"),
        ("time", "'2026-06-01T17:05:00.001Z'"),
        ("time", "'yesterday'"),
        ("digest", "'g' || substr(digest, 2)"),
        ("previous", "'g' || substr(previous, 2)"),
        ("sequence", "sequence + 100"),
        ("sequence", "'x'"),
    ],
)
@pytest.mark.parametrize("sequence", [9, 15])
def test_one_byte_changed_names_the_entry(path, column, value, sequence):
    def change(connection):
        if column == "body" and "20.36" in value and sequence == 15:
            connection.execute("UPDATE journal SET body = replace(body, '34.0', '34.1') WHERE position = 15")
            return
        connection.execute(f"UPDATE journal SET {column} = {value} WHERE position = ?", (sequence,))

    tamper(path, change)
    with open_again(path) as register:
        problems = verify_journal(register)
    assert [(one.kind, one.position) for one in problems] == [("changed", sequence)]
    assert problems[0].reference in problems[0].sentence


def test_an_entry_changed_and_sealed_again_is_named(path):
    def change(connection):
        origin, previous = connection.execute(
            "SELECT origin, previous FROM journal WHERE position = 9"
        ).fetchone()
        draft = Draft(kind="intake.read", actor=ACTOR, body={"forged": True})
        entry = seal(draft, origin=origin, sequence=9, time=FixedClock().now(), previous=previous)
        connection.execute(
            "UPDATE journal SET kind = ?, body = ?, digest = ?, time = ? WHERE position = 9",
            (entry.kind, entry.body, entry.digest, "2026-06-01T17:00:00.000Z"),
        )

    tamper(path, change)
    assert found(path) == [("changed", 9)]


@pytest.mark.parametrize("gone", [(9,), (9, 10), (15,), (14, 15), (2,)])
def test_an_entry_removed_is_missed(path, gone):
    tamper(
        path,
        lambda connection: connection.execute(
            f"DELETE FROM journal WHERE position IN ({str(gone)[1:-1].rstrip(',')})"
        ),
    )
    expected = gone[-1] + 1 if gone[-1] < 15 else gone[0] - 1
    assert found(path) == [("removed", expected)]


def test_the_beginning_removed_is_no_registry(path):
    tamper(path, lambda connection: connection.execute("DELETE FROM journal WHERE position = 1"))
    with pytest.raises(RegistryError, match="no beginning"):
        open_again(path)


@pytest.mark.parametrize(("one", "other"), [(9, 10), (8, 12)])
def test_entries_put_in_another_order_are_named(path, one, other):
    def change(connection):
        connection.execute("UPDATE journal SET position = -1 WHERE position = ?", (one,))
        connection.execute("UPDATE journal SET position = ? WHERE position = ?", (one, other))
        connection.execute("UPDATE journal SET position = ? WHERE position = -1", (other,))

    tamper(path, change)
    problems = found(path)
    assert {kind for kind, _ in problems} == {"reordered"}
    assert {sequence for _, sequence in problems} & {one, other}


@pytest.mark.parametrize("position", [9, 15])
def test_an_entry_inserted_is_named(path, position):
    def change(connection):
        connection.execute("UPDATE journal SET position = -position WHERE position >= ?", (position,))
        connection.execute("UPDATE journal SET position = 1 - position WHERE position < 0")
        origin, before = connection.execute(
            "SELECT origin, digest FROM journal WHERE position = ?", (position - 1,)
        ).fetchone()
        draft = Draft(kind="intake.read", actor=ACTOR, body={})
        entry = seal(draft, origin=origin, sequence=77, time=FixedClock().now(), previous=before)
        connection.execute(
            "INSERT INTO journal VALUES (?, ?, 77, '2026-06-01T17:00:00.000Z', ?, ?, ?, ?, ?)",
            (position, origin, ACTOR, entry.kind, entry.body, entry.previous, entry.digest),
        )

    tamper(path, change)
    assert found(path) == [("inserted", 77)]


def test_a_journal_that_does_not_prove_itself_rebuilds_nothing(path):
    tamper(path, lambda connection: connection.execute("UPDATE journal SET actor = 'x' WHERE position = 9"))
    with open_again(path) as register, pytest.raises(RejectedError, match="-9 was changed"):
        rebuild_tables(register)


# The tables


def dump(path: Path) -> dict[str, list[tuple]]:
    connection = sqlite3.connect(f"{path.as_uri()}?mode=ro", uri=True)
    names = [
        *DERIVED,
        *(f"rtree_{layer.name}_geom" for layer in LAYERS),
    ]
    tables = {name: connection.execute(f"SELECT * FROM {name} ORDER BY 1").fetchall() for name in names}
    tables["contents"] = connection.execute("SELECT * FROM gpkg_contents ORDER BY 1").fetchall()
    tables["sequences"] = connection.execute("SELECT * FROM sqlite_sequence ORDER BY 1").fetchall()
    connection.close()
    return tables


@pytest.mark.parametrize(
    "damage",
    [
        "",
        "DELETE FROM placements",
        "DELETE FROM resurveys",
        "UPDATE placements SET lon_deg = lon_deg + 1, geom = NULL",
        "UPDATE modules SET memorial = 'someone else'; DELETE FROM certificates; DELETE FROM intake_rows",
        "INSERT INTO intake_rows VALUES (77, 'k', 'p', 1)",
        "UPDATE permits SET in_force_until = NULL; DELETE FROM targets",
        "UPDATE conditions SET limits = '{}'; DELETE FROM permit_areas WHERE area_id = 'tern-patch'",
        "DELETE FROM baselines; UPDATE declarations SET declared = '{}'",
        "UPDATE hand_overs SET superseded_by = NULL; DELETE FROM erasures",
    ],
)
def test_the_tables_come_back_identical(path, damage):
    with open_again(path) as register:
        seen = a_resurvey(
            tag="MR-0002", placement_id=register.placement_ids("MR-0002")[0], source={"key": "again"}
        )
        (first,) = register.append([placement_resurveyed(seen)])
        register.append([placement_resurveyed(seen, supersedes=first.reference)])
        again, _ = register.append([placement_logged(a_placement(tag="MR-0003", lon_deg=-77.3))] * 2)
        register.append([placement_withdrawn(again.reference, tag="MR-0003")])
        register.append([module_amended(a_module(tag="MR-0004", memorial=None, mass_kg=1390.0))])
        late = amended(in_force_from=date(2027, 1, 1), areas=(an_area(area_id="tern-patch"),))
        # Late first, then one before it, and that one again.
        register.append([permit_amended(each) for each in (late, amended(), amended(holder="Tern Trust"))])
        register.append([baseline_added(), target_added()])
        moved = a_target(target_id="target-0002", lat_deg=34.001)
        register.append([target_added(moved, supersedes="target-0001")])
        register.append([Draft(kind="duty.done", actor=ACTOR, body={"duty_id": "notice-1"})])
        received, cast = register.append([custody_handed(each) for each in a_whole_chain()[:2]])
        register.append([custody_handed(a_hand_over(corrects=received.reference, reason="the clock"))])
        register.append([custody_withdrawn(cast.reference)])
        register.append([Draft(kind="family.erased", actor=ACTOR, body={"tag": "MR-0001"})])
    before = dump(path)
    tamper(path, lambda connection: connection.executescript(damage))
    with open_again(path) as register:
        assert bool(verify_tables(register)) == bool(damage)
        rebuild_tables(register)
        assert verify_tables(register) == ()
    after = dump(path)
    for name in before:
        if name != "contents":
            assert after[name] == before[name], name
    # Everything but the time of the last change, which the rebuilding sets to that of the last entry.
    assert [row[:4] + row[5:] for row in after["contents"]] == [
        row[:4] + row[5:] for row in before["contents"]
    ]


def test_the_tables_of_an_earlier_version_are_told_from_damage_and_made_anew(path):
    """As it was before permits had versions and there were baselines."""
    with open_again(path) as register:
        register.append([permit_amended(amended()), baseline_added(), target_added()])
    before = dump(path)
    tamper(
        path,
        lambda connection: connection.executescript(
            "DROP TABLE baselines; DROP TABLE rtree_baselines_geom; DROP TABLE declarations;"
            "DELETE FROM gpkg_extensions WHERE table_name = 'baselines';"
            "DELETE FROM gpkg_geometry_columns WHERE table_name = 'baselines';"
            "DELETE FROM gpkg_contents WHERE table_name IN ('baselines', 'declarations');"
            "DROP INDEX placements_by_permit; ALTER TABLE placements DROP COLUMN numbers;"
            "ALTER TABLE targets DROP COLUMN reason; DROP TABLE conditions; DROP TABLE permits;"
            "CREATE TABLE permits (fid INTEGER PRIMARY KEY, number TEXT NOT NULL UNIQUE, entry INTEGER);"
            "CREATE TABLE conditions (fid INTEGER PRIMARY KEY, permit TEXT REFERENCES permits (number));"
            "INSERT INTO permits VALUES (1, 'HB-0417', 2); INSERT INTO conditions VALUES (1, 'HB-0417')"
        ),
    )
    with open_again(path) as register:
        for ask in (
            register.permits,
            register.baselines,
            lambda: register.permit("HB-0417"),
            register.placements,
        ):
            with pytest.raises(RegistryError, match="an earlier version made them") as refusal:
                ask()
            assert "leadline journal rebuild" in refusal.value.remedy
        rebuild_tables(register)
        assert register.permits() == (a_permit(),)
        assert verify_tables(register) == ()
    after = dump(path)
    assert {name for name in before if after[name] != before[name]} <= {"contents"}


def test_a_failed_rebuild_leaves_the_tables(path, monkeypatch):
    before = dump(path)

    def fail(*_, **__):
        raise RuntimeError("the battery")

    monkeypatch.setattr("registry.storage.replay._project", fail)
    with open_again(path) as register, pytest.raises(RuntimeError, match="battery"):
        rebuild_tables(register)
    assert dump(path) == before


def test_tables_tell_why_a_placement_was_withdrawn_and_show_no_name_without_consent(path):
    with open_again(path) as register:
        (first, again) = register.append([placement_logged(), placement_logged()])
        (fixed,) = register.append([placement_corrected(a_placement(), supersedes=again.reference)])
        (gone,) = register.append([placement_withdrawn(fixed.reference, reason="logged twice")])
        rows = register.connection.execute(
            "SELECT placement_id, superseded_by, reason FROM observations WHERE fid > 15 ORDER BY fid"
        ).fetchall()
        assert rows == [
            (first.reference, None, None),
            (again.reference, fixed.reference, None),
            (fixed.reference, gone.reference, "mistyped; withdrawn: logged twice"),
        ]
        with pytest.raises(ConflictError, match="was withdrawn before, by"):
            register.append([placement_withdrawn(fixed.reference)])
        with pytest.raises(ConflictError, match=f"Withdraw {fixed.reference} instead"):
            register.append([placement_withdrawn(again.reference)])
        listed = "SELECT listed_name FROM placements WHERE tag = 'MR-0004'"
        assert register.connection.execute(listed).fetchall() == [(a_memorial().name,)]
        private = replace(a_memorial(), consent_listed=False)
        register.append([module_amended(a_module(tag="MR-0004", memorial=private))])
        assert register.connection.execute(listed).fetchall() == [(None,)]
        assert register.module("MR-0004").memorial == private


# The past


def test_the_registry_as_it_stood(path):
    with open_again(path) as register:
        entries = list(register.journal())
        for count in (7, 8, 11, 12, 13, 15):
            upto = entries[:count]
            with registry_as_of(register, upto[-1].time) as past:
                if upto[-1].time == entries[min(count, 14)].time and count < 15:
                    continue
                assert list(past.journal()) == upto
                assert past.head() == upto[-1].digest
                assert past.programme() == register.programme()
        with registry_as_of(register, entries[10].time) as past:
            assert len(past.placements()) == 4
            assert past.placement_ids("MR-0001") == (entries[7].reference,)
            with pytest.raises(UnwritableError, match="reading only"):
                past.append([permit_added()])
        with registry_as_of(register, entries[-1].time + timedelta(days=9000)) as past:
            assert past.placements().tag.tolist() == register.placements().tag.tolist()
        with pytest.raises(NotFoundError, match="not begun"):
            registry_as_of(register, entries[0].time - timedelta(seconds=1))


def test_a_permit_amended_later_is_as_it_was_known_and_as_it_was_in_force(path):
    """Known and in force are two things: the past registry has the entries, and the day, of its instant."""
    with open_again(path) as register:
        before = list(register.journal())[-1].time
    clock = FixedClock(datetime(2026, 6, 20, 16, 0, tzinfo=UTC))
    with open_register(path, clock=clock) as register:
        # Written on 2026-06-20 of an amendment in force since 2026-06-02, and of one to come.
        coming = amended(in_force_from=date(2026, 7, 1), amendment="Amendment 2")
        register.append([permit_amended(amended()), permit_amended(coming)])
        assert register.permit("HB-0417") == amended()
        with registry_as_of(register, before + timedelta(days=9)) as past:
            assert past.today() == date(2026, 6, 10)
            assert past.permit("HB-0417") == a_permit()
            assert past.permit_versions("HB-0417") == (a_permit(),)
        with registry_as_of(register, datetime(2026, 6, 30, 12, 0, tzinfo=UTC)) as later:
            assert later.permit("HB-0417") == amended()
            assert later.permits() == (amended(),)
        with registry_as_of(register, datetime(2026, 7, 1, 12, 0, tzinfo=UTC)) as later:
            assert later.permit("HB-0417") == coming
            assert later.permit_versions("HB-0417") == (a_permit(), amended(), coming)


def test_tables_tell_a_gis_which_version_is_in_force(path):
    with open_again(path) as register:
        late = amended(in_force_from=date(2027, 1, 1), areas=(an_area(area_id="tern-patch"),))
        register.append([permit_amended(late), permit_amended(amended(holder="Tern Trust"))])
        rows = register.connection.execute
        assert rows(
            "SELECT number, in_force_from, in_force_until, holder, amendment FROM permits ORDER BY in_force_from"
        ).fetchall() == [
            ("HB-0417", "2024-05-01", "2026-06-01", "", ""),
            ("HB-0417", "2026-06-02", "2026-12-31", "Tern Trust", "Amendment 1"),
            ("HB-0417", "2027-01-01", None, "", "Amendment 1"),
        ]
        assert rows(
            "SELECT area_id, in_force_from, in_force_until FROM permit_areas ORDER BY 2"
        ).fetchall() == [
            ("gannet-patch", "2024-05-01", "2026-06-01"),
            ("gannet-patch", "2026-06-02", "2026-12-31"),
            ("tern-patch", "2027-01-01", None),
        ]
        limits = rows(
            "SELECT json_extract(limits, '$.least.value'), in_force_until FROM conditions"
        ).fetchall()
        assert sorted(limits, key=str) == [(6.0, "2026-06-01"), (8.0, "2026-12-31"), (8.0, None)]
        assert rows("PRAGMA foreign_key_check").fetchall() == []


def test_the_state_that_is_read_does_not_move(path):
    with open_again(path) as reader, open_again(path) as writer:
        with reader.reading():
            before = len(reader.placements())
            writer.append([placement_logged()])
            assert len(reader.placements()) == before
        assert len(reader.placements()) == before + 1
