"""What an error of SQLite means for the person at the keyboard: none of them leaves this floor as it is."""

import shutil
import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from registry.errors import (
    BusyError,
    ConflictError,
    LeadlineError,
    RegistryError,
    UnwritableError,
)

__all__ = ["disk_is_full", "error_code", "told_plainly"]

_WRITE_FAILURES = {
    sqlite3.SQLITE_IOERR_WRITE,
    sqlite3.SQLITE_IOERR_FSYNC,
    sqlite3.SQLITE_IOERR_DIR_FSYNC,
    sqlite3.SQLITE_IOERR_TRUNCATE,
    sqlite3.SQLITE_IOERR_SHMSIZE,
}
#: SQLite's shared memory for one registry takes half of this: with less, nothing can go on. Units: bytes.
_LEAST_FREE = 65_536
Meaning = tuple[type[LeadlineError], str, str]

_BUSY: Meaning = (
    BusyError,
    "{place} is being written by another program and did not come free.",
    "Wait until the other window or command has finished and try again; nothing was written.",
)
_FULL: Meaning = (
    UnwritableError,
    "The disk that holds {place} is full.",
    "Free some space and try again; nothing of this step was written and nothing older is lost.",
)
_READ_ONLY: Meaning = (
    UnwritableError,
    "{place} cannot be written here ({error}).",
    "Give this account the right to write to the file and its folder, or copy it to another folder.",
)
_DAMAGED: Meaning = (
    RegistryError,
    "{place} is damaged or cut short ({error}).",
    "Leave it as it is, put the latest backup in its place and tell whoever keeps the registry.",
)
_OTHER_TABLES: Meaning = (
    RegistryError,
    "{place} has other tables than this version keeps ({error}): an earlier version made them.",
    "Make them anew from its journal: leadline backup FILE, then leadline journal rebuild.",
)
_MISUSED: Meaning = (
    RegistryError,
    "{place} was used after it was closed, or by a second thread ({error}).",
    "Open it again; every thread opens its own.",
)
#: By the primary result code: the class, what is said, and the remedy.
_MEANINGS: dict[int, Meaning] = {
    sqlite3.SQLITE_BUSY: _BUSY,
    sqlite3.SQLITE_LOCKED: _BUSY,
    sqlite3.SQLITE_READONLY: _READ_ONLY,
    sqlite3.SQLITE_PERM: _READ_ONLY,
    sqlite3.SQLITE_FULL: _FULL,
    sqlite3.SQLITE_PROTOCOL: (
        RegistryError,
        "{place} cannot be locked; a folder shared over a network does not keep locks.",
        "Keep the registry on a disk of this machine and share copies made by `leadline backup`.",
    ),
    sqlite3.SQLITE_CONSTRAINT: (
        ConflictError,
        "{place} refuses the entry: {error}.",
        "Look at what is registered already.",
    ),
    sqlite3.SQLITE_CANTOPEN: (
        RegistryError,
        "{place} cannot be opened ({error}).",
        "Check the path and whether this account may read the file and its folder.",
    ),
    sqlite3.SQLITE_NOTADB: (
        RegistryError,
        "{place} is not a registry: it is not an SQLite file.",
        "Give the path of a registry, or make one with `leadline new`.",
    ),
}


def error_code(error: sqlite3.Error) -> int:
    """Give the extended result code of SQLite, 0 where the error came from the Python module itself."""
    return int(getattr(error, "sqlite_errorcode", 0) or 0)


def disk_is_full(error: sqlite3.Error, path: Path) -> bool:
    """
    Tell whether an error means that the disk is full, which SQLite may tell as a mere I/O error.

    Parameters
    ----------
    error : sqlite3.Error
        What SQLite raised.
    path : Path
        A file, there or not, on the disk in question.
    """
    code = error_code(error) & 0xFF
    if code == sqlite3.SQLITE_FULL:
        return True
    if code not in (sqlite3.SQLITE_IOERR, sqlite3.SQLITE_CANTOPEN):
        return False
    try:
        return shutil.disk_usage(path.absolute().parent).free < _LEAST_FREE
    except (OSError, ValueError):
        return False


@contextmanager
def told_plainly(place: str) -> Iterator[None]:
    """
    Turn every error of SQLite that is raised inside into one of Leadline's own.

    Parameters
    ----------
    place : str
        The registry as the person named it.

    Raises
    ------
    BusyError, UnwritableError, ConflictError, RegistryError
        By the result code of SQLite.
    """
    try:
        yield
    except sqlite3.Error as error:
        raise _translated(error, place) from error


def _translated(error: sqlite3.Error, place: str) -> LeadlineError:
    code = error_code(error)
    if isinstance(error, sqlite3.ProgrammingError):
        meaning = _MISUSED
    elif disk_is_full(error, Path(place)):
        meaning = _FULL
    elif str(error).startswith(("no such column", "no such table", "table ")):
        meaning = _OTHER_TABLES
    elif code in _WRITE_FAILURES:
        meaning = _READ_ONLY
    else:
        meaning = _MEANINGS.get(code & 0xFF, _DAMAGED)
    kind, what, remedy = meaning
    return kind(what.format(place=place, error=error), remedy=remedy)
