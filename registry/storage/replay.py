"""The journal played again: to rebuild the tables, to prove them, to see the registry as it stood."""

import json
import sqlite3
from collections.abc import Callable, Iterator, Mapping, Sequence
from datetime import datetime
from itertools import islice
from typing import Any

from registry.errors import LeadlineError, NotFoundError, RegistryError, RejectedError, UnavailableError
from registry.records.branches import Branches, joined, open_ends
from registry.records.entry import Entry, instant_text
from registry.storage.clock import StandingClock
from registry.storage.geopackage import connect_to_scratch
from registry.storage.geopackage_schema import DERIVED, LAYERS, create_tables, remake_derived
from registry.storage.journal_doubts import restore_guards
from registry.storage.journal_links import has_several_devices, known_here, links
from registry.storage.journal_proof import Problem, verify_journal
from registry.storage.machine import ENDS, note
from registry.storage.metadata_proof import CHECKED, metadata_problem
from registry.storage.projection import Projection
from registry.storage.register import GeoPackageRegister
from registry.storage.sqlite_errors import told_plainly

__all__ = ["fill_tables", "insist_on_proof", "prove", "rebuild_tables", "registry_as_of", "verify_tables"]

Progress = Callable[[int], None]
#: Rows that are compared at a time.
_PAGE = 1_000
_FIELDS = "origin, sequence, time, actor, kind, body, previous, digest"


def _unwatched(_count: int) -> None:
    """Tell nobody."""


def prove(register: GeoPackageRegister, *, progress: Progress = _unwatched) -> tuple[Problem, ...]:
    """
    Recompute the journal and, where it is as it was written, compare every table with what it says.

    Parameters
    ----------
    register : GeoPackageRegister
        The registry, which may be in use.
    progress : callable
        Told how many more entries are done; every entry is done twice, as a link and as what follows from it.

    Returns
    -------
    tuple of Problem
        Empty for a registry that proves itself.
    """
    with register.reading():
        return verify_journal(register, progress=progress) or verify_tables(register, progress=progress)


def insist_on_proof(register: GeoPackageRegister, *, progress: Progress = _unwatched) -> None:
    """
    Refuse to build on a registry that does not prove itself.

    Parameters
    ----------
    register : GeoPackageRegister
        The registry, which may be in use.
    progress : callable
        Told how far it is, as by :func:`prove`.

    Raises
    ------
    RejectedError
        If the journal or a table is not as it was written; the first problem is named.
    """
    problems = prove(register, progress=progress)
    if problems:
        what = f"The registry is not as it was written. {problems[0].sentence}"
        remedy = "Run: leadline journal verify. Put the latest backup that proves itself in its place."
        raise RejectedError(what, remedy=remedy)


def rebuild_tables(register: GeoPackageRegister) -> None:
    """
    Make every table that follows from the journal anew and fill it, in one transaction; guard the journal.

    This also brings the tables of a registry to the form of this version, where an earlier one made them.

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
            fill_tables(register)
            restore_guards(connection)


def fill_tables(register: GeoPackageRegister) -> None:
    """Make every table that follows from the journal anew and fill it, in the transaction of the caller."""
    frame, connection = register.programme().frame, register.connection
    remake_derived(connection, frame=frame, now=next(register.journal()).time)
    _project(connection, frame, register.journal(), several=has_several_devices(connection))


def registry_as_of(
    register: GeoPackageRegister,
    instant: datetime,
    *,
    day: datetime | None = None,
    progress: Progress = _unwatched,
) -> GeoPackageRegister:
    """
    Give the registry as it was known at an instant, apart from the file, for reading.

    Parameters
    ----------
    register : GeoPackageRegister
        The registry.
    instant : datetime
        With its zone. Everything up to the last entry written by then is played; where bundles of other
        machines were taken in, what this file held then (``storage.journal_links.known_here``).
    day : datetime, optional
        What the clock of the registry given says, so that its permits are in the version in force then; by
        default the same instant.
    progress : callable
        Told how many more entries are played.

    Raises
    ------
    NotFoundError
        If the registry had not begun.
    """
    text = instant_text(instant)
    with register.reading():
        with told_plainly(register.place):
            known = known_here(register.connection, text)
            # Positions count from 1 without a gap.
            count = register.connection.execute(
                "SELECT max(position) FROM journal WHERE time <= ?", (text,)
            ).fetchone()[0]
        if not count or known == {}:
            first = next(register.journal())
            what = f"At {text} the registry had not begun."
            raise NotFoundError(what, remedy=f"Give an instant from {instant_text(first.time)} on.")
        scratch = _played(register, count, known=known, with_journal=True, progress=progress)
    place = f"{register.place} as of {text}"
    return GeoPackageRegister(scratch, place=place, clock=StandingClock(day or instant), writable=False)


def verify_tables(register: GeoPackageRegister, *, progress: Progress = _unwatched) -> tuple[Problem, ...]:
    """
    Play the journal apart and compare every table and spatial index that follows from it, row by row.

    Compared as well is what tells a desktop GIS of the layers and their frame.

    Parameters
    ----------
    register : GeoPackageRegister
        The registry, whose journal is as it was written.
    progress : callable
        Told how many more entries are played.

    Returns
    -------
    tuple of Problem
        One for each table that differs, naming its first row that does and the entry behind it; or the entry
        that cannot follow from those before it.
    """
    with register.reading():
        try:
            played = _played(register, register.journal_length(), with_journal=False, progress=progress)
        except _UnplayableError as error:
            return (error.problem,)
        try:
            with told_plainly(register.place):
                kept = register.connection
                found = {table: _difference(table, kept, played) for table in DERIVED}
                for layer in LAYERS:
                    # A shape that is none has no place in an index; its table was named already.
                    if found[layer.name] is None:
                        found[_index(layer.name)] = _index_problem(layer.name, kept)
                found |= {table: metadata_problem(table, kept, played) for table in CHECKED}
        finally:
            played.close()
    return tuple(problem for problem in found.values() if problem)


class _UnplayableError(RegistryError):
    """An entry that cannot follow from those before it."""

    def __init__(self, entry: Entry, position: int, error: LeadlineError) -> None:
        what = f"Entry {entry.reference} cannot follow from those before it: {error.what}"
        super().__init__(what, remedy="Put the latest backup that proves itself in its place.")
        self.problem = Problem(position=position, reference=entry.reference, kind="inserted", sentence=what)


def _index(layer: str) -> str:
    """Name the spatial index of a layer."""
    return f"rtree_{layer}_geom"


def _difference(table: str, kept: sqlite3.Connection, played: sqlite3.Connection) -> Problem | None:
    names = [row[1] for row in played.execute(f"PRAGMA table_info({table})")]
    # Columns that a desktop GIS added are not Leadline's.
    missing = set(names) - {row[1] for row in kept.execute(f"PRAGMA table_info({table})")}
    if missing:
        what = f"Table {table} is not what the journal says: it lacks {', '.join(sorted(missing))}."
        return Problem(position=0, reference=table, kind="changed", sentence=what)
    sql = f"SELECT {', '.join(names)} FROM {table} ORDER BY {names[0]}"
    ours, theirs = kept.execute(sql), played.execute(sql)
    while True:
        ours_rows, theirs_rows = ours.fetchmany(_PAGE), theirs.fetchmany(_PAGE)
        if ours_rows != theirs_rows:
            return _first_difference(table, names, ours_rows, theirs_rows, kept)
        if not ours_rows:
            return None


def _index_problem(layer: str, kept: sqlite3.Connection) -> Problem | None:
    """Tell whether the spatial index of a layer, itself as it should be, hides one of its rows."""
    index = _index(layer)
    hidden = kept.execute(
        f"SELECT t.fid FROM {layer} t LEFT JOIN {index} r ON r.id = t.fid"
        " WHERE t.geom NOT NULL AND NOT ST_IsEmpty(t.geom) AND NOT ifnull("
        "r.minx <= ST_MinX(t.geom) AND r.maxx >= ST_MaxX(t.geom)"
        " AND r.miny <= ST_MinY(t.geom) AND r.maxy >= ST_MaxY(t.geom), 0) LIMIT 1"
    ).fetchone()
    if hidden:
        what = f"Table {index} is not what the journal says: row {hidden[0]} of {layer} is not found by it."
        return Problem(position=0, reference=index, kind="changed", sentence=what)
    extra = kept.execute(
        f"SELECT id FROM {index} WHERE id NOT IN (SELECT fid FROM {layer}) LIMIT 1"
    ).fetchone()
    if extra:
        what = f"Table {index} is not what the journal says: row {extra[0]} should not be there."
        return Problem(position=0, reference=index, kind="changed", sentence=what)
    return None


def _first_difference(
    table: str,
    names: Sequence[str],
    ours: Sequence[Sequence[Any]],
    theirs: Sequence[Sequence[Any]],
    kept: sqlite3.Connection,
) -> Problem:
    """Name the first row that differs, the entry behind it, and how."""
    ends = ((None,) * len(names),)
    at = next(i for i in range(_PAGE + 1) if (*ours, *ends)[i : i + 1] != (*theirs, *ends)[i : i + 1])
    our_row = ours[at] if at < len(ours) else None
    their_row = theirs[at] if at < len(theirs) else None
    if our_row and their_row and our_row[0] != their_row[0]:
        our_row, their_row = (our_row, None) if our_row[0] < their_row[0] else (None, their_row)
    row = dict(zip(names, our_row or their_row or (), strict=True))
    told = "it should not be there"
    if our_row is None:
        told = "it is missing"
    elif their_row is not None:
        told = ", ".join(
            f"{name} is {_shown(name, mine)}, by the journal {_shown(name, true)}"
            for name, mine, true in zip(names, our_row, their_row, strict=True)
            if mine != true
        )
    behind = kept.execute(
        "SELECT origin || '-' || sequence FROM journal WHERE position = ?",
        (row["entry"] if "entry" in row else row[names[0]],),
    ).fetchone()
    entry = f" (entry {behind[0]})" if behind and (their_row or "entry" in row) else ""
    what = f"Table {table} is not what the journal says, from row {row[names[0]]}{entry} on: {told}."
    return Problem(position=0, reference=table, kind="changed", sentence=what)


def _shown(name: str, value: Any) -> str:
    if isinstance(value, bytes):
        return "another shape" if name == "geom" else "another value"
    text = "empty" if value is None else str(value)
    return text if len(text) <= 60 else f"{text[:60]}…"


def _played(
    register: GeoPackageRegister,
    count: int,
    *,
    known: Mapping[str, int] | None = None,
    with_journal: bool,
    progress: Progress,
) -> sqlite3.Connection:
    """
    Play the first entries into a registry apart, or those known; without its journal nothing is read from it.

    Nothing that is played builds on what is left out, so that the order of the rest is the same without it.
    """
    scratch = connect_to_scratch()
    try:
        with told_plainly(register.place):
            first = next(register.journal())
            frame = register.programme().frame
            create_tables(scratch, frame=frame, now=first.time)
            # What guards a file that people use only slows a copy that nobody else sees.
            named = "SELECT name FROM sqlite_master WHERE type = 'trigger'"
            for (name,) in scratch.execute(named).fetchall():
                scratch.execute(f'DROP TRIGGER "{name}"')
            scratch.execute("BEGIN")
            if with_journal:
                scratch.executemany(
                    f"INSERT INTO journal ({_FIELDS}) VALUES (?, ?, ?, ?, ?, ?, ?, ?)",
                    register.connection.execute(
                        f"SELECT {_FIELDS} FROM journal j"
                        " WHERE CASE WHEN ?2 IS NULL THEN position <= ?1 ELSE EXISTS"
                        " (SELECT 1 FROM json_each(?2) WHERE key = j.origin AND j.sequence <= value)"
                        " END ORDER BY position",
                        (count, None if known is None else json.dumps(known)),
                    ),
                )
            entries = islice(register.journal(), count) if known is None else _known(register, known)
            several = has_several_devices(register.connection)
            _project(scratch, frame, entries, several=several, progress=progress)
            if with_journal and several:
                ends = joined(open_ends(link for link, _ in links(scratch)))
                note(scratch, ENDS, ends if "," in ends else None)
            # To be compared, a table needs no index; to be asked, it does.
            for layer in LAYERS if with_journal else ():
                scratch.execute(
                    f"INSERT INTO {_index(layer.name)} SELECT fid, ST_MinX(geom), ST_MaxX(geom),"
                    f" ST_MinY(geom), ST_MaxY(geom) FROM {layer.name}"
                    " WHERE geom NOT NULL AND NOT ST_IsEmpty(geom) ORDER BY fid"
                )
            scratch.execute("COMMIT")
    except BaseException:
        scratch.close()
        raise
    return scratch


def _known(register: GeoPackageRegister, known: Mapping[str, int]) -> Iterator[Entry]:
    return (entry for entry in register.journal() if entry.sequence <= known.get(entry.origin, 0))


def _project(
    connection: sqlite3.Connection,
    frame: str,
    entries: Iterator[Entry],
    *,
    several: bool,
    progress: Progress = _unwatched,
) -> None:
    """Write what follows from entries, as it was written when each was appended."""
    projection = Projection(connection, frame=frame, branches=Branches() if several else None)
    entry, position = None, 0
    for position, entry in enumerate(entries, start=1):
        try:
            projection.add(position, entry)
        except UnavailableError:
            raise
        except LeadlineError as error:
            raise _UnplayableError(entry, position, error) from error
        if position % _PAGE == 0:
            progress(_PAGE)
    progress(position % _PAGE)
    if entry:
        projection.finish(instant_text(entry.time))
