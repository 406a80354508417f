"""
As which device a file writes, and at which ends its journal stands: what the file keeps of itself alone.

An origin belongs to one file. A copy made by ``leadline backup`` is marked; the first entry that is written
to it takes a fresh origin, so that a copy on another machine, and a backup put in the place of a lost
registry, never count on where the original does as well.
"""

import secrets
import sqlite3

from registry.storage.geopackage_schema import create_local

__all__ = [
    "ENDS",
    "has_received",
    "is_copy",
    "mark_as_copy",
    "note",
    "notes",
    "settle_origin",
    "take_fresh_origin",
    "writes_as",
]

_COPIED = "copied"
_WRITES_AS = "writes as"
#: The ends of the journal as the next entry cites them, where there are several.
ENDS = "ends"


def notes(connection: sqlite3.Connection) -> dict[str, str]:
    """Give what the file keeps of itself; nothing where an earlier version made it."""
    try:
        return dict(connection.execute("SELECT name, value FROM machine").fetchall())
    except sqlite3.OperationalError as error:
        if "no such table" in str(error):
            return {}
        raise


def has_received(connection: sqlite3.Connection) -> bool:
    """Tell whether a bundle of another machine was ever taken in."""
    try:
        return connection.execute("SELECT 1 FROM received LIMIT 1").fetchone() is not None
    except sqlite3.OperationalError as error:
        if "no such table" in str(error):
            return False
        raise


def note(connection: sqlite3.Connection, name: str, value: str | None) -> None:
    """Keep one thing in the place of what bore that name, or nothing; within the caller's transaction."""
    create_local(connection)
    connection.execute("DELETE FROM machine WHERE name = ?", (name,))
    if value is not None:
        connection.execute("INSERT INTO machine (name, value) VALUES (?, ?)", (name, value))


def mark_as_copy(connection: sqlite3.Connection) -> None:
    """Let the next entry that is written to this file take a fresh origin."""
    note(connection, _COPIED, "yes")


def writes_as(kept: dict[str, str], founder: str) -> str:
    """Tell the origin of what is written to this file, as long as it is not marked as a copy."""
    return kept.get(_WRITES_AS, founder)


def is_copy(kept: dict[str, str]) -> bool:
    """Tell whether the file is a copy to which nothing was written yet."""
    return _COPIED in kept


def take_fresh_origin(connection: sqlite3.Connection) -> str:
    """Write under an origin of its own from now on; within the caller's transaction."""
    origin = secrets.token_hex(4)
    note(connection, _WRITES_AS, origin)
    note(connection, _COPIED, None)
    return origin


def settle_origin(connection: sqlite3.Connection, founder: str) -> str:
    """Give the origin of the next entry: a fresh one where this file is a copy."""
    kept = notes(connection)
    return take_fresh_origin(connection) if is_copy(kept) else writes_as(kept, founder)
