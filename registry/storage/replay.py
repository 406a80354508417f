"""The journal played again: to rebuild the tables, to prove them, to see the registry as it stood."""

import sqlite3
from collections.abc import Iterator
from datetime import datetime
from itertools import islice

from registry.errors import NotFoundError, RejectedError
from registry.records.entry import Entry, instant_text
from registry.storage.clock import StandingClock
from registry.storage.geopackage import connect_to_memory
from registry.storage.geopackage_schema import DERIVED, create_tables
from registry.storage.journal_proof import Problem, verify_journal
from registry.storage.projection import Projection
from registry.storage.register import GeoPackageRegister, insert_entry
from registry.storage.sqlite_errors import told_plainly

__all__ = ["insist_on_proof", "prove", "rebuild_tables", "registry_as_of", "verify_tables"]


def prove(register: GeoPackageRegister) -> tuple[Problem, ...]:
    """
    Recompute the journal and, where it is as it was written, compare every table with what it says.

    Returns
    -------
    tuple of Problem
        Empty for a registry that proves itself.
    """
    with register.reading():
        return verify_journal(register) or verify_tables(register)


def insist_on_proof(register: GeoPackageRegister) -> None:
    """
    Refuse to build on a registry that does not prove itself.

    Raises
    ------
    RejectedError
        If the journal or a table is not as it was written; the first problem is named.
    """
    problems = prove(register)
    if problems:
        what = f"The registry is not as it was written. {problems[0].sentence}"
        remedy = "Run: leadline journal verify. Put the latest backup that proves itself in its place."
        raise RejectedError(what, remedy=remedy)


def rebuild_tables(register: GeoPackageRegister) -> None:
    """
    Empty every table that follows from the journal and fill it again, in one transaction.

    Raises
    ------
    RejectedError
        If the journal does not prove itself; then nothing is changed.
    UnwritableError, BusyError
        If the registry cannot be written.
    """
    with register.writing():
        problems = verify_journal(register)
        if problems:
            first = problems[0].sentence
            what = f"The tables were not rebuilt, since the journal is not as it was written. {first}"
            raise RejectedError(what, remedy="Put the latest backup that proves itself in its place.")
        with told_plainly(register.place):
            connection = register.connection
            for table in reversed(DERIVED):
                connection.execute(f"DELETE FROM {table}")
                connection.execute("DELETE FROM sqlite_sequence WHERE name = ?", (table,))
            connection.execute(
                "UPDATE gpkg_contents SET min_x = NULL, min_y = NULL, max_x = NULL, max_y = NULL"
            )
            _project(connection, register.programme().frame, register.journal())


def registry_as_of(register: GeoPackageRegister, instant: datetime) -> GeoPackageRegister:
    """
    Give the registry as it stood at an instant, in memory, for reading.

    Parameters
    ----------
    register : GeoPackageRegister
        The registry.
    instant : datetime
        With its zone. Everything up to the last entry written by then is played; the clock of the
        registry given stands at this instant, so its permits are in the version in force then.

    Raises
    ------
    NotFoundError
        If the registry had not begun.
    """
    text = instant_text(instant)
    with register.reading():
        with told_plainly(register.place):
            # Positions count from 1 without a gap.
            count = register.connection.execute(
                "SELECT max(position) FROM journal WHERE time <= ?", (text,)
            ).fetchone()[0]
        if not count:
            first = next(register.journal())
            what = f"At {text} the registry had not begun."
            raise NotFoundError(what, remedy=f"Give an instant from {instant_text(first.time)} on.")
        memory = _played(register, islice(register.journal(), count))
    place = f"{register.place} as of {text}"
    return GeoPackageRegister(memory, place=place, clock=StandingClock(instant), writable=False)


def verify_tables(register: GeoPackageRegister) -> tuple[Problem, ...]:
    """
    Play the journal into memory and compare every table that follows from it, row by row.

    Returns
    -------
    tuple of Problem
        One for each table that differs, naming its first row that does.
    """
    with register.reading():
        memory = _played(register, register.journal())
        try:
            with told_plainly(register.place):
                found = [_difference(table, register.connection, memory) for table in DERIVED]
        finally:
            memory.close()
    return tuple(problem for problem in found if problem)


def _difference(table: str, kept: sqlite3.Connection, played: sqlite3.Connection) -> Problem | None:
    sql = f"SELECT * FROM {table} ORDER BY fid"
    ours, theirs = kept.execute(sql), played.execute(sql)
    while True:
        ours_row, theirs_row = ours.fetchone(), theirs.fetchone()
        if ours_row != theirs_row:
            row = min(row[0] for row in (ours_row, theirs_row) if row)
            what = f"Table {table} is not what the journal says, from row {row} on."
            return Problem(position=0, reference=table, kind="changed", sentence=what)
        if ours_row is None:
            return None


def _played(register: GeoPackageRegister, entries: Iterator[Entry]) -> sqlite3.Connection:
    """Play entries into a new registry in memory."""
    memory = connect_to_memory()
    with told_plainly(register.place):
        first = next(register.journal())
        create_tables(memory, frame=register.programme().frame, now=first.time)
        memory.execute("BEGIN")
        _project(memory, register.programme().frame, entries, into_journal=True)
        memory.execute("COMMIT")
    return memory


def _project(
    connection: sqlite3.Connection, frame: str, entries: Iterator[Entry], *, into_journal: bool = False
) -> None:
    """Write what follows from entries, as it was written when each was appended."""
    projection = Projection(connection, frame=frame)
    time = None
    for position, entry in enumerate(entries, start=1):
        projection.add(insert_entry(connection, entry) if into_journal else position, entry)
        time = instant_text(entry.time)
    if time:
        projection.finish(time)
