"""
What someone does who has the file, a database editor and the way in which digests are made.

Every attack names the entry, but for the two that no look at the file alone can find: those are found by a
digest that left the machine.
"""

import hashlib
import json
import sqlite3
from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from pyproj import CRS

from registry.errors import RequestError
from registry.records.entry import GENESIS, Draft, Entry, seal
from registry.storage.geopackage import create_registry, open_register
from registry.storage.geopackage_blob import add_spatial_functions
from registry.storage.journal_doubts import clock_doubts, dated_later, guard_doubts
from registry.storage.journal_head import find_head, like_heads, read_digest
from registry.storage.journal_proof import verify_journal
from registry.storage.register import GeoPackageRegister
from registry.storage.replay import prove, rebuild_tables, registry_as_of, verify_tables
from tests.builders import (
    ACTOR,
    a_placement,
    a_programme,
    a_stocked_registry,
    certificate_issued,
    many_placements,
    placement_logged,
)
from tests.fakes import FixedClock

GUARDS = ("journal_keeps_every_entry", "journal_changes_no_entry", "journal_replaces_no_entry")
NOW = datetime(2026, 6, 2, tzinfo=UTC)


@pytest.fixture
def path(tmp_path: Path) -> Path:
    """A registry of fourteen entries; the twelfth issues a certificate."""
    path = tmp_path / "reef.gpkg"
    with create_registry(path, a_programme(), actor=ACTOR, clock=FixedClock(step_s=60.0)) as register:
        register.append(a_stocked_registry())
        for one in many_placements(4):
            register.append([placement_logged(one)])
        register.append([certificate_issued(statement={"journal": register.head()})])
        register.append([placement_logged(a_placement(tag="MR-0005"))])
        register.append([placement_logged(a_placement(tag="MR-0006"))])
    return path


def open_again(path: Path, **clock: datetime) -> GeoPackageRegister:
    return open_register(path, clock=FixedClock(clock.get("at", NOW)))


def tamper(path: Path, change: Callable[[sqlite3.Connection], object], *, guards: bool = True) -> None:
    """Take the guards off, change the file, and put the guards back as a careful forger does."""
    connection = sqlite3.connect(path)
    add_spatial_functions(connection)
    kept = [
        connection.execute("SELECT sql FROM sqlite_master WHERE name = ?", (name,)).fetchone()[0]
        for name in GUARDS
    ]
    for name in GUARDS:
        connection.execute(f"DROP TRIGGER {name}")
    change(connection)
    for sql in kept if guards else ():
        connection.execute(sql)
    connection.commit()
    connection.close()


def entries(connection: sqlite3.Connection) -> list[Entry]:
    rows = connection.execute(
        "SELECT origin, sequence, time, actor, kind, body, previous, digest FROM journal ORDER BY position"
    )
    names = ("origin", "sequence", "time", "actor", "kind", "body", "previous", "digest")
    made = [dict(zip(names, row, strict=True)) for row in rows]
    return [Entry(**one | {"time": datetime.fromisoformat(one["time"])}) for one in made]


def write_anew(connection: sqlite3.Connection, forged: list[Entry]) -> None:
    """Seal every entry again, one after the other, as Leadline itself would have."""
    connection.execute("DELETE FROM journal")
    connection.execute("DELETE FROM sqlite_sequence WHERE name = 'journal'")
    previous = GENESIS
    for position, entry in enumerate(forged, start=1):
        draft = Draft(kind=entry.kind, actor=entry.actor, body=entry.content())
        new = seal(draft, origin=entry.origin, sequence=entry.sequence, time=entry.time, previous=previous)
        previous = new.digest
        connection.execute(
            "INSERT INTO journal VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)",
            (
                position, new.origin, new.sequence,
                new.time.isoformat(timespec="milliseconds").replace("+00:00", "Z"),
                new.actor, new.kind, new.body, new.previous, new.digest,
            ),
        )  # fmt: skip


def moved(entry: Entry) -> Entry:
    """Let a placement lie a ten-thousandth of a degree further east."""
    body = entry.content()
    body["home"]["position"]["lon_deg"] += 0.0001
    body["observed"]["lon_deg"] += 0.0001
    return replace(entry, body=json.dumps(body))


def forge(path: Path, change: Callable[[list[Entry]], None]) -> None:
    """Change entries, write the whole journal anew and let the tables follow: the perfect forgery."""

    def anew(connection: sqlite3.Connection) -> None:
        forged = entries(connection)
        change(forged)
        write_anew(connection, forged)

    tamper(path, anew)
    with open_again(path) as register:
        if not verify_journal(register):
            rebuild_tables(register)


def head_of(path: Path) -> str:
    with open_again(path) as register:
        return register.head()


def problems(path: Path) -> list[tuple[str, int]]:
    with open_again(path) as register:
        return [(one.kind, one.position) for one in prove(register)]


# One entry


def test_a_body_changed_with_its_digest_is_named_by_the_next(path):
    def change(connection):
        entry = moved(entries(connection)[8])
        digest = replace(entry, body=json.dumps(entry.content(), sort_keys=True)).expected_digest()
        connection.execute(
            "UPDATE journal SET body = ?, digest = ? WHERE position = 9",
            (json.dumps(entry.content(), sort_keys=True), digest),
        )

    tamper(path, change)
    with open_again(path) as register:
        (problem,) = verify_journal(register)
    assert (problem.kind, problem.position) == ("changed", 9)
    assert problem.sentence.endswith(
        "-9 was replaced: " + problem.reference[:8] + "-10 builds on one with another digest."
    )


@pytest.mark.parametrize("position", [4, 9, 11, 13])
def test_one_removed_from_the_middle_is_missed(path, position):
    tamper(path, lambda c: c.execute("DELETE FROM journal WHERE position = ?", (position,)))
    assert problems(path) == [("removed", position + 1)]


@pytest.mark.parametrize("position", [4, 9, 11, 13])
def test_one_removed_and_the_rest_moved_up_is_missed(path, position):
    def change(connection):
        connection.execute("DELETE FROM journal WHERE position = ?", (position,))
        connection.execute("UPDATE journal SET position = position - 1 WHERE position > ?", (position,))
        connection.execute("UPDATE sqlite_sequence SET seq = 13 WHERE name = 'journal'")

    tamper(path, change)
    assert problems(path) == [("removed", position)]


@pytest.mark.parametrize(("one", "other"), [(9, 10), (13, 14)])
def test_two_swapped_are_named(path, one, other):
    def change(connection):
        for old, new in ((one, -1), (other, one), (-1, other)):
            connection.execute("UPDATE journal SET position = ? WHERE position = ?", (new, old))

    tamper(path, change)
    found = problems(path)
    assert {kind for kind, _ in found} == {"reordered"}
    assert {position for _, position in found} & {one, other}


def test_one_forged_between_two_is_named(path):
    """With a sequence of its own and a digest that is right: but nothing builds on it."""

    def change(connection):
        before = entries(connection)[8]
        draft = Draft(kind="placement.logged", actor=ACTOR, body=before.content())
        new = seal(draft, origin="feedf00d", sequence=1, time=before.time, previous=before.digest)
        connection.execute("UPDATE journal SET position = -position WHERE position > 9")
        connection.execute("UPDATE journal SET position = 1 - position WHERE position < 0")
        time = new.time.isoformat(timespec="milliseconds").replace("+00:00", "Z")
        connection.execute(
            "INSERT INTO journal VALUES (10, 'feedf00d', 1, ?, ?, ?, ?, ?, ?)",
            (time, new.actor, new.kind, new.body, new.previous, new.digest),
        )

    tamper(path, change)
    with open_again(path) as register:
        (problem,) = verify_journal(register)
    assert (problem.kind, problem.reference) == ("inserted", "feedf00d-1")


def test_what_was_appended_but_cannot_follow_is_named(path):
    def change(connection):
        last = entries(connection)[-1]
        body = {"placement_id": "0badcafe-99", "tag": "X", "permit": "P", "reason": "never was"}
        draft = Draft(kind="placement.withdrawn", actor=ACTOR, body=body)
        new = seal(draft, origin=last.origin, sequence=15, time=last.time, previous=last.digest)
        time = new.time.isoformat(timespec="milliseconds").replace("+00:00", "Z")
        connection.execute(
            "INSERT INTO journal (origin, sequence, time, actor, kind, body, previous, digest)"
            " VALUES (?, 15, ?, ?, ?, ?, ?, ?)",
            (new.origin, time, new.actor, new.kind, new.body, new.previous, new.digest),
        )

    tamper(path, change)
    with open_again(path) as register:
        (problem,) = prove(register)
    assert (problem.kind, problem.position) == ("inserted", 15)
    assert "no placement 0badcafe-99" in problem.sentence


# Two devices in one journal


def two_devices(connection: sqlite3.Connection) -> None:
    """Let the entries from the ninth on come from two devices by turns, sealed as they should be."""
    forged = entries(connection)
    boat = 0
    own = 8
    for i in range(8, len(forged)):
        if i % 2:
            boat += 1
            forged[i] = replace(forged[i], origin="b0a7b0a7", sequence=boat)
        else:
            own += 1
            forged[i] = replace(forged[i], sequence=own)
        if forged[i].kind == "certificate.issued":
            forged[i] = replace(forged[i], body=json.dumps(certificate_issued().body))
    write_anew(connection, forged)


def test_a_journal_of_two_devices_is_as_it_was_written(path):
    tamper(path, two_devices)
    with open_again(path) as register:
        assert verify_journal(register) == ()


@pytest.mark.parametrize(("gone", "name"), [(10, "b0a7b0a7-1"), (11, "{}-10"), (12, "b0a7b0a7-2"), (13, "")])
def test_what_one_of_two_devices_lost_is_named(path, gone, name):
    tamper(path, two_devices)
    tamper(path, lambda c: c.execute("DELETE FROM journal WHERE position = ?", (gone,)))
    with open_again(path) as register:
        (problem,) = verify_journal(register)
        origin = register.origin
    assert (problem.kind, problem.position) == ("removed", gone + 1)
    assert name.format(origin) in problem.sentence


def test_without_a_gap_in_count_or_place_nothing_is_claimed_that_cannot_be_known(path):
    def change(connection):
        connection.execute("DELETE FROM journal WHERE position = 13")
        connection.execute("UPDATE journal SET position = 13 WHERE position = 14")
        connection.execute("UPDATE sqlite_sequence SET seq = 13 WHERE name = 'journal'")

    tamper(path, two_devices)
    tamper(path, change)
    with open_again(path) as register:
        (problem,) = verify_journal(register)
    assert "b0a7b0a7-2 was replaced, or what another device wrote after it was removed" in problem.sentence


# The end


def test_the_last_entries_removed_are_missed(path):
    tamper(path, lambda c: c.execute("DELETE FROM journal WHERE position > 12"))
    with open_again(path) as register:
        (problem,) = verify_journal(register)
    assert problem.sentence.endswith("removed from the end of the journal: 2 of them.")


@pytest.mark.parametrize("counter", ["DELETE FROM sqlite_sequence WHERE name = 'journal'",
                                     "UPDATE sqlite_sequence SET seq = 3 WHERE name = 'journal'"])  # fmt: skip
def test_a_counter_set_back_too_far_is_told(path, counter):
    tamper(path, lambda c: c.execute(counter))
    with open_again(path) as register:
        (problem,) = verify_journal(register)
    assert "counter of the journal was set back" in problem.sentence


def test_the_end_removed_with_its_counter_shows_in_the_tables_and_by_an_old_paper(path):
    paper = head_of(path)

    def change(connection):
        connection.execute("DELETE FROM journal WHERE position > 12")
        connection.execute("UPDATE sqlite_sequence SET seq = 12 WHERE name = 'journal'")

    tamper(path, change)
    with open_again(path) as register:
        assert verify_journal(register) == ()
        told = [one.sentence for one in verify_tables(register)]
        assert any("Table placements" in one and "row 13 on: it should not be there" in one for one in told)
        rebuild_tables(register)
        # Now nothing in the file speaks of it: only the paper does.
        assert prove(register) == ()
        assert find_head(register, paper) is None


# The whole journal written anew


def test_a_journal_written_anew_is_betrayed_by_a_certificate_in_it(path):
    forge(path, lambda forged: forged.__setitem__(8, moved(forged[8])))
    with open_again(path) as register:
        (problem,) = verify_journal(register)
    assert (problem.kind, problem.position) == ("changed", 12)
    assert "certificate" in problem.sentence


def test_what_was_written_anew_after_every_certificate_is_betrayed_by_an_old_paper(path):
    before, paper = head_of(path), head_of(path)
    with open_again(path) as register:
        older = [entry.digest for entry in register.journal()][11]
    forge(path, lambda forged: forged.__setitem__(12, moved(forged[12])))
    with open_again(path) as register:
        assert prove(register) == ()
        assert register.head() != before
        assert find_head(register, paper) is None
        head = find_head(register, older)
    assert head is not None
    assert (head.position, dict(head.since)) == (12, {"placement.logged": 2})


# The tables


@pytest.mark.parametrize(
    ("sql", "told"),
    [
        ("UPDATE placements SET lon_deg = -76.5 WHERE fid = 9",
         "Table placements is not what the journal says, from row 9 (entry {}-9) on: lon_deg is -76.5, by the"),
        ("UPDATE placements SET charted_depth_m = NULL WHERE fid = 10", "(entry {}-10) on: charted_depth_m is empty"),
        ("UPDATE placements SET numbers = x'01' WHERE fid = 9", "(entry {}-9) on: numbers is another value"),
        ("DELETE FROM placements WHERE fid = 9", "row 9 (entry {}-9) on: it is missing"),
        ("DELETE FROM placements WHERE fid = 14", "row 14 (entry {}-14) on: it is missing"),
        ("INSERT INTO placements (fid, placement_id, tag, permit, placed_at, lon_deg, lat_deg, r95_m, warnings, numbers)"
         " VALUES (99, 'x', 'X', 'P', '', 0, 0, 1, '', x'01')", "from row 99 on: it should not be there"),
        ("UPDATE modules SET memorial = 'Ann Other' WHERE fid = 2", "memorial is Ann Other, by the journal"),
        ("UPDATE conditions SET limits = '{{}}' WHERE fid = 1", "Table conditions"),
        ("UPDATE keep_outs SET setback_m = 0", "setback_m is 0.0, by the journal"),
        ("UPDATE observations SET geom = NULL WHERE fid = 9", "(entry {}-9) on: geom is empty, by the journal another shape"),
        ("DELETE FROM rtree_placements_geom WHERE id = 9", "row 9 of placements is not found by it"),
        ("UPDATE rtree_placements_geom SET minx = 1, maxx = 1 WHERE id = 9", "row 9 of placements is not found"),
        ("INSERT INTO rtree_observations_geom VALUES (99, 1, 1, 1, 1)", "row 99 should not be there"),
        ("UPDATE permits SET valid_to = '2099-01-01'", "valid_to is 2099-01-01, by the journal"),
    ],
)  # fmt: skip
def test_a_table_changed_behind_the_journal_names_row_entry_and_value(path, sql, told):
    tamper(path, lambda connection: connection.execute(sql.format()))
    with open_again(path) as register:
        assert verify_journal(register) == ()
        found = " ".join(one.sentence for one in verify_tables(register))
        origin = register.origin
    assert told.format(origin) in found


@pytest.mark.parametrize(
    ("sql", "told"),
    [
        ("DELETE FROM gpkg_geometry_columns", "gpkg_geometry_columns"),
        ("UPDATE gpkg_geometry_columns SET srs_id = 4326 WHERE table_name = 'placements'",
         "in the row for placements.geom: srs_id is 4326 instead of 6318."),
        ("UPDATE gpkg_contents SET srs_id = 4326 WHERE table_name = 'placements'",
         "in the row for placements: srs_id is 4326 instead of 6318."),
        ("UPDATE gpkg_contents SET data_type = 'attributes' WHERE table_name = 'placements'", "data_type is attributes"),
        ("DELETE FROM gpkg_contents WHERE table_name = 'journal'", "in the row for journal: it is missing."),
        ("UPDATE gpkg_spatial_ref_sys SET definition = (SELECT definition FROM gpkg_spatial_ref_sys"
         " WHERE srs_id = 4326) WHERE srs_id = 6318", "in the row for 6318: definition is another."),
        ("UPDATE gpkg_spatial_ref_sys SET definition = x'00' WHERE srs_id = 6318", "definition is another."),
        ("UPDATE gpkg_spatial_ref_sys SET organization_coordsys_id = 4267 WHERE srs_id = 6318", "is 4267 instead of 6318"),
        ("DELETE FROM gpkg_spatial_ref_sys WHERE srs_id = 6318", "in the row for 6318: it is missing."),
    ],
)  # fmt: skip
def test_what_tells_a_desktop_gis_where_the_layers_lie_is_held_and_made_anew(path, sql, told):
    tamper(path, lambda connection: connection.execute(sql))
    with open_again(path) as register:
        assert verify_journal(register) == ()
        (problem,) = verify_tables(register)
        assert told in problem.sentence
        rebuild_tables(register)
        assert verify_tables(register) == ()


def test_what_a_desktop_gis_adds_and_another_proj_writes_is_nobodys_fraud(path):
    def change(connection: sqlite3.Connection) -> None:
        connection.execute(
            "INSERT INTO gpkg_spatial_ref_sys VALUES ('ours', 32617, 'EPSG', 32617, 'undefined', NULL)"
        )
        connection.execute("UPDATE gpkg_contents SET description = 'seen', min_x = -78, last_change = '2030'")
        connection.execute(
            "UPDATE gpkg_spatial_ref_sys SET definition = ? WHERE srs_id = 6318",
            (CRS.from_epsg(6318).to_wkt("WKT2_2019"),),
        )

    tamper(path, change)
    assert problems(path) == []


def test_a_shape_that_is_none_names_its_table_and_row(path):
    def change(connection: sqlite3.Connection) -> None:
        for (name,) in connection.execute("SELECT name FROM sqlite_master WHERE name LIKE 'rtree_placements_%'"
                                          " AND type = 'trigger'").fetchall():  # fmt: skip
            connection.execute(f'DROP TRIGGER "{name}"')
        connection.execute("UPDATE placements SET geom = x'00' WHERE fid = 9")

    tamper(path, change)
    with open_again(path) as register:
        (problem,) = verify_tables(register)
        origin = register.origin
    assert problem.reference == "placements"
    assert f"from row 9 (entry {origin}-9) on: geom is another shape" in problem.sentence


@pytest.mark.parametrize("sequence", ["'nine'", "9.5", "x'09'", "0"])
def test_an_entry_without_a_number_is_named_by_its_place(path, sequence):
    tamper(path, lambda connection: connection.execute(f"UPDATE journal SET sequence = {sequence} WHERE position = 9"))  # fmt: skip
    with open_again(path) as register:
        found = verify_journal(register)
    assert "Entry number 9 in the file was changed: its digest is not that of what it says." in [
        one.sentence for one in found
    ]
    assert not any("-0" in one.sentence for one in found)


def test_a_column_that_a_desktop_gis_added_is_nobodys_fraud(path):
    tamper(path, lambda connection: connection.execute("ALTER TABLE placements ADD COLUMN note TEXT"))
    assert problems(path) == []


def test_a_column_taken_away_is_told(path):
    tamper(path, lambda connection: connection.execute("ALTER TABLE placements DROP COLUMN verdict"))
    with open_again(path) as register:
        (problem,) = verify_tables(register)
    assert problem.sentence.endswith("it lacks verdict.")


# Guards and clocks: doubts, no proof


def test_guards_taken_off_are_told_and_put_back(path):
    with open_again(path) as register:
        assert guard_doubts(register) == ()
    tamper(path, lambda _: None, guards=False)
    with open_again(path) as register:
        told = guard_doubts(register)
        assert [name for name in GUARDS if any(name in one for one in told)] == list(GUARDS)
        assert prove(register) == ()
        rebuild_tables(register)
        assert guard_doubts(register) == ()
    with pytest.raises(sqlite3.IntegrityError, match="cannot be removed"):
        sqlite3.connect(path).execute("DELETE FROM journal")


def test_a_guard_that_guards_nothing_is_told(path):
    def change(connection):
        connection.execute("DROP TRIGGER journal_changes_no_entry")
        connection.execute(
            "CREATE TRIGGER journal_changes_no_entry BEFORE UPDATE ON journal WHEN 0 BEGIN SELECT 1; END"
        )

    connection = sqlite3.connect(path)
    change(connection)
    connection.close()
    with open_again(path) as register:
        (told,) = guard_doubts(register)
    assert "is not as it was made" in told


@pytest.mark.parametrize(("back", "told"), [(timedelta(seconds=30), 0), (timedelta(days=30), 1)])
def test_a_clock_that_goes_back_is_told_with_the_entry(path, back, told):
    with open_register(path, clock=FixedClock()) as register:
        last = list(register.journal())[-1]
        register.clock = FixedClock(last.time - back, step_s=60.0)
        (entry,) = register.append([placement_logged(a_placement(tag="MR-0009"))])
        doubts = clock_doubts(register, now=NOW)
        assert prove(register) == ()
        assert dated_later(register, entry.time) == (14 if back.days else 1)
        with registry_as_of(register, entry.time) as past:
            assert past.head() == entry.digest
    assert len(doubts) == told
    if told:
        assert entry.reference in doubts[0]
        assert "30.0 d" in doubts[0]


def test_entries_dated_after_now_are_told(path):
    with open_again(path) as register:
        last = list(register.journal())[-1]
        assert clock_doubts(register, now=last.time) == ()
        (told,) = clock_doubts(register, now=last.time - timedelta(minutes=3))
    assert told.startswith("2 entries are dated after now")


# The digest on a paper


def test_a_digest_is_read_as_it_is_printed():
    digest = hashlib.sha256(b"paper").hexdigest()
    printed = "\u2010".join(digest[i : i + 8].upper() for i in range(0, 64, 8))
    assert read_digest(f" {printed[:30]}\n{printed[30:]} ") == digest
    for wrong in ("", "123", digest + "0", "g" * 64, digest[:15]):
        with pytest.raises(RequestError, match="is not a digest"):
            read_digest(wrong)


def test_the_digest_of_an_old_paper_is_found_by_its_first_digits(path):
    with open_again(path) as register:
        written = list(register.journal())
        head = find_head(register, written[8].digest[:16])
        assert head is not None
        assert (head.position, head.reference, head.digest) == (9, written[8].reference, written[8].digest)
        assert dict(head.since) == {"placement.logged": 4, "certificate.issued": 1}
        last = find_head(register, written[-1].digest)
        assert last is not None
        assert (last.added, last.last_time) == (0, "")


def test_a_digit_misread_is_suspected(path):
    with open_again(path) as register:
        entry = list(register.journal())[8]
        misread = ("0" if entry.digest[0] != "0" else "1") + entry.digest[1:]
        assert find_head(register, misread) is None
        assert like_heads(register, misread) == (entry.reference,)
        assert like_heads(register, hashlib.sha256(b"other").hexdigest()) == ()
