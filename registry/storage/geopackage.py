"""
The file that is the registry: making it, opening it, copying it.

The live file is opened by the standard library's sqlite3 alone. A process that holds a connection to it must
not open
it by any other means, not even to read: closing that other handle would drop the locks of the connection
(POSIX).
"""

import os
import secrets
import shutil
import sqlite3
import tempfile
from contextlib import suppress
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING

from registry.errors import (
    BusyError,
    ConflictError,
    NewerRegistryError,
    RegistryError,
    UnavailableError,
    UnwritableError,
)
from registry.records.entry import GENESIS, Draft, seal
from registry.records.programme import Programme
from registry.storage.files import sync_folder
from registry.storage.geopackage_blob import add_spatial_functions
from registry.storage.geopackage_schema import APPLICATION_ID, FORMAT, create_tables
from registry.storage.machine import mark_as_copy
from registry.storage.network_share import network_share
from registry.storage.register import GeoPackageRegister, insert_entry
from registry.storage.sqlite_errors import disk_is_full, error_code, told_plainly

if TYPE_CHECKING:
    from registry.ports import Clock

__all__ = [
    "backup",
    "connect_to_memory",
    "connect_to_scratch",
    "create_registry",
    "open_register",
    "snapshot",
]

#: How long one writer waits for another. Units: s.
WAIT_S = 30.0


def create_registry(
    path: str | os.PathLike[str], programme: Programme, *, actor: str, clock: "Clock"
) -> GeoPackageRegister:
    """
    Make a registry and open it.

    Its journal begins with the programme and with the origin of this file: eight random hexadecimal digits,
    which
    every reference of an entry written here starts with.

    Parameters
    ----------
    path : path
        The file, which must not exist.
    programme : Programme
        Whose registry it is.
    actor : str
        Who makes it.
    clock : Clock
        Tells the time of every entry.

    Raises
    ------
    ConflictError
        If the file exists, or accounts or contacts of families of another registry lie beside it.
    UnwritableError
        If the folder is absent, read-only, full or on a network share.
    FrameError
        If the home frame is not a geographic one.
    """
    from registry.storage.account_schema import account_file_of
    from registry.storage.family_file import family_file_of

    target = Path(path)
    place = str(target)
    if target.exists():
        raise ConflictError(
            f"{target} exists already.", remedy="Choose another name; nothing was overwritten."
        )
    beside = {
        family_file_of(target): "contacts of families",
        account_file_of(target): "accounts",
    }
    for other, held in beside.items():
        if other.exists():
            what = f"{other} holds {held} of another registry that bore this name."
            remedy = "Put it beside its own registry, or delete it, and choose again."
            raise ConflictError(what, remedy=remedy)
    _refuse_network_share(target)
    # Made beside and then linked: a registry half made never bears the name.
    draft_file = target.with_name(f".{target.name}.{secrets.token_hex(4)}.new")
    memory = connect_to_memory()
    try:
        with told_plainly(place):
            _begin(memory, programme, actor=actor, clock=clock)
        _write_out(memory, draft_file, place=place)
        with told_plainly(place):
            connection = _connect(draft_file, mode="rw", wait_s=WAIT_S)
            try:
                mode = connection.execute("PRAGMA journal_mode = WAL").fetchone()[0]
            finally:
                connection.close()
        if mode != "wal":
            what = f"{place} cannot be made there: the disk under it does not share memory."
            raise UnwritableError(what, remedy="Keep the registry on a disk of this machine.")
        _name_for_good(draft_file, target)
    finally:
        memory.close()
        _discard(draft_file)
    return open_register(target, clock=clock)


def _begin(connection: sqlite3.Connection, programme: Programme, *, actor: str, clock: "Clock") -> None:
    """Make the tables and write the first entry."""
    now = clock.now()
    create_tables(connection, frame=programme.frame, now=now)
    origin = secrets.token_hex(4)
    body = asdict(programme) | {"origin": origin, "format": FORMAT}
    draft = Draft(kind="registry.created", actor=actor, body=body)
    insert_entry(connection, seal(draft, origin=origin, sequence=1, time=now, previous=GENESIS))


def open_register(
    path: str | os.PathLike[str], *, clock: "Clock", writable: bool = True, wait_s: float = WAIT_S
) -> GeoPackageRegister:
    """
    Open a registry.

    Parameters
    ----------
    path : path
        The file.
    clock : Clock
        Tells the time of every entry.
    writable : bool
        False to promise that nothing will be written.
    wait_s : float
        How long to wait for another writer. Units: s.

    Raises
    ------
    RegistryError
        If it is absent, cut short, damaged or not a registry.
    NewerRegistryError
        If a later version of Leadline wrote it.
    """
    target = Path(path)
    _look_from_outside(target)
    place = str(target)
    # SQLite keeps its other files beside the real one.
    target = target.resolve()
    why_not = _why_not_written(target, writable=writable)
    with told_plainly(place):
        connection, mendable = _connect_to_existing(target, writable=not why_not, wait_s=wait_s)
    try:
        with told_plainly(place):
            _look_inside(connection, place)
            _measure(connection, target)
        return GeoPackageRegister(
            connection,
            place=place,
            clock=clock,
            writable=mendable and not why_not,
            why_not=why_not or "lies where nothing can be written",
        )
    except BaseException:
        connection.close()
        raise


def _why_not_written(target: Path, *, writable: bool) -> str:
    """Tell why a registry is opened for reading only, empty where it is not."""
    if not writable:
        return "is open for reading only"
    share = network_share(target.parent)
    return f"lies on a network share ({share}), where two writers cannot be kept apart" if share else ""


def _look_from_outside(target: Path) -> None:
    """Tell what can be told without opening the file."""
    new = "Give the path of a registry, or make one with `leadline new`."
    try:
        if target.is_dir():
            raise RegistryError(f"{target} is a folder, not a registry.", remedy=new)
        size = target.stat().st_size
    except FileNotFoundError as error:
        raise RegistryError(f"There is no registry at {target}.", remedy=new) from error
    except OSError as error:
        what = f"{target} cannot be reached ({error.strerror})."
        raise RegistryError(what, remedy="Check the path and the rights of this account.") from error
    if size == 0:
        what = f"{target} is empty: it holds no registry."
        raise RegistryError(
            what, remedy="Put the latest backup in its place, or make a new registry elsewhere."
        )


def _look_inside(connection: sqlite3.Connection, place: str) -> None:
    application_id = connection.execute("PRAGMA application_id").fetchone()[0]
    names = {row[0] for row in connection.execute("SELECT name FROM sqlite_master WHERE type = 'table'")}
    new = "Give the path of a registry, or make one with `leadline new`."
    if application_id != APPLICATION_ID:
        raise RegistryError(f"{place} is an SQLite file, but not a registry.", remedy=new)
    if "journal" not in names or "gpkg_contents" not in names:
        raise RegistryError(f"{place} is a GeoPackage without a journal, not a registry.", remedy=new)
    row = connection.execute(
        "SELECT json_extract(body, '$.format') FROM journal"
        " WHERE kind = 'registry.created' ORDER BY position LIMIT 1"
    ).fetchone()
    if row and isinstance(row[0], int) and row[0] > FORMAT:
        what = (
            f"{place} was written by a later version of Leadline (format {row[0]}; this one knows {FORMAT})."
        )
        raise NewerRegistryError(what, remedy="Install that version; nothing was changed.")


def _measure(connection: sqlite3.Connection, target: Path) -> None:
    """Tell a file whose last page was cut: SQLite itself would take the missing bytes for zeros."""
    pages = connection.execute("PRAGMA page_count").fetchone()[0]
    page_size = connection.execute("PRAGMA page_size").fetchone()[0]
    if not _size(_wal_of(target)) and target.stat().st_size < pages * page_size:
        what = f"{target} is cut short: {target.stat().st_size} bytes of {pages * page_size} are there."
        raise RegistryError(what, remedy="Put the latest backup in its place; nothing was changed.")


def _wal_of(target: Path) -> Path:
    return target.with_name(target.name + "-wal")


def _size(file: Path) -> int:
    """Give the size of a file that another process may take away at any moment."""
    try:
        return file.stat().st_size
    except OSError:
        return 0


def _connect(
    path: Path, *, mode: str, wait_s: float, immutable: bool = False, alone: bool = False
) -> sqlite3.Connection:
    uri = f"{path.absolute().as_uri()}?mode={mode}" + ("&immutable=1" if immutable else "")
    connection = sqlite3.connect(uri, uri=True, timeout=wait_s, isolation_level=None)
    try:
        if alone:
            # Before the file is touched: SQLite then keeps in its own memory what it shares otherwise.
            connection.execute("PRAGMA locking_mode = EXCLUSIVE")
        _prepare(connection)
        # The first look at the file itself: what is wrong with it shows here.
        connection.execute("SELECT count(*) FROM sqlite_master").fetchone()
    except sqlite3.Error:
        connection.close()
        raise
    return connection


def _prepare(connection: sqlite3.Connection) -> None:
    add_spatial_functions(connection)
    connection.execute("PRAGMA foreign_keys = ON")
    connection.execute("PRAGMA synchronous = FULL")


def _connect_to_existing(target: Path, *, writable: bool, wait_s: float) -> tuple[sqlite3.Connection, bool]:
    """Open the file, also where nothing can be written beside it, and tell whether it was opened as usual."""
    try:
        return _connect(target, mode="rw" if writable else "ro", wait_s=wait_s), True
    except sqlite3.OperationalError as error:
        if disk_is_full(error, target) and _is_file_writable(target):
            # No room for the memory that processes share; nobody else can have the registry open without it.
            # The lock asks for the right to write, also where only reading is meant.
            return _connect(target, mode="rw", wait_s=wait_s, alone=True), True
        if error_code(error) & 0xFF not in (sqlite3.SQLITE_CANTOPEN, sqlite3.SQLITE_READONLY):
            raise
    wal = _wal_of(target)
    if not _size(wal):
        # A read-only folder with nothing left over: nobody is writing, the file is all there is.
        return _connect(target, mode="ro", wait_s=wait_s, immutable=True), False
    return _copy_into_memory(target, wal, wait_s=wait_s), False


def _is_file_writable(target: Path) -> bool:
    """Tell whether this account may write the file and beside it, as locking it alone needs."""
    return os.access(target, os.W_OK) and os.access(target.parent, os.W_OK)


def _copy_into_memory(target: Path, wal: Path, *, wait_s: float) -> sqlite3.Connection:
    """Read a registry that was left in the middle of writing and now lies where nothing can be mended."""
    with tempfile.TemporaryDirectory() as folder:
        copy = Path(folder) / target.name
        shutil.copyfile(target, copy)
        shutil.copyfile(wal, copy.with_name(wal.name))
        source = _connect(copy, mode="rw", wait_s=wait_s)
        try:
            connection = connect_to_memory()
            source.backup(connection)
        finally:
            source.close()
    return connection


def connect_to_memory() -> sqlite3.Connection:
    """Give a database that lives as long as its connection."""
    connection = sqlite3.connect(":memory:", isolation_level=None)
    _prepare(connection)
    return connection


def connect_to_scratch() -> sqlite3.Connection:
    """
    Give a database that lives as long as its connection, in memory up to 256 MiB.

    Beyond that it goes to a temporary file without a name, of which nothing is left however this ends.
    """
    connection = sqlite3.connect("", isolation_level=None)
    _prepare(connection)
    connection.execute("PRAGMA cache_size = -262144")
    connection.execute("PRAGMA foreign_keys = OFF")
    connection.execute("PRAGMA synchronous = OFF")
    connection.execute("PRAGMA journal_mode = OFF")
    return connection


def _refuse_network_share(target: Path) -> None:
    kind = network_share(target.absolute().parent)
    if kind:
        what = f"{target} would lie on a network share ({kind}), where two writers cannot be kept apart."
        raise UnwritableError(
            what, remedy="Keep the registry on a disk of this machine; share copies by backup."
        )


def backup(register: GeoPackageRegister, path: str | os.PathLike[str]) -> Path:
    """
    Copy the registry, prove the copy, then give it its name.

    What is written to the copy later bears an origin of its own (see ``storage.machine``).

    Parameters
    ----------
    register : GeoPackageRegister
        The registry, which may be in use.
    path : path
        The copy, which must not exist.

    Returns
    -------
    Path
        The copy: one file, whole, with every entry that stood when this began.

    Raises
    ------
    ConflictError
        If the copy exists already.
    UnwritableError
        If the disk is full or the folder cannot be written.
    RegistryError
        If the copy does not hold what the registry holds.
    """
    target = Path(path)
    if target.exists():
        raise ConflictError(
            f"{target} exists already.", remedy="Choose another name; nothing was overwritten."
        )
    draft_file = target.with_name(f".{target.name}.{secrets.token_hex(4)}.new")
    with told_plainly(register.place):
        head = _last_digest(register.connection)
    try:
        _write_out(register.connection, draft_file, place=str(target))
        _mark(draft_file, place=str(target))
        _prove(draft_file, target, register, head)
        _name_for_good(draft_file, target)
    finally:
        _discard(draft_file)
    return target


def snapshot(
    register: GeoPackageRegister, path: str | os.PathLike[str], *, named: Path | None = None
) -> Path:
    """
    Write what the registry holds now to a file that anything may open, as GDAL.

    Raises
    ------
    ConflictError
        If the file exists already.
    UnwritableError
        If the disk is full or the folder cannot be written.
    """
    target = Path(path)
    if target.exists():
        raise ConflictError(
            f"{target} exists already.", remedy="Choose another name; nothing was overwritten."
        )
    _write_out(register.connection, target, place=str(target))
    return target


def _write_out(connection: sqlite3.Connection, target: Path, *, place: str) -> None:
    """Write what a connection sees to a new file, down to the disk; leave nothing where that fails."""
    folder = target.absolute().parent
    if not folder.is_dir():
        what = f"{place} cannot be written: there is no folder {folder}."
        raise UnwritableError(what, remedy="Make the folder first, or choose another.")
    try:
        with told_plainly(place):
            connection.execute("VACUUM INTO ?", (str(target.absolute()),))
        descriptor = os.open(target, os.O_RDWR)
        try:
            os.fsync(descriptor)
        finally:
            os.close(descriptor)
    except (OSError, UnavailableError) as error:
        _discard(target)
        if isinstance(error, UnwritableError | BusyError):
            raise
        reason = error.what if isinstance(error, UnavailableError) else error.strerror
        what = f"{place} cannot be written: {reason}"
        raise UnwritableError(what, remedy="Check the disk and that this account may write there.") from error


def _mark(copy: Path, *, place: str) -> None:
    """Let the copy know that it is one."""
    with told_plainly(place):
        connection = _connect(copy, mode="rw", wait_s=WAIT_S)
        try:
            connection.execute("BEGIN")
            mark_as_copy(connection)
            connection.execute("COMMIT")
        finally:
            connection.close()


def _last_digest(connection: sqlite3.Connection) -> str:
    last = connection.execute("SELECT digest FROM journal ORDER BY position DESC LIMIT 1").fetchone()
    return last[0] if last else ""


def _prove(copy: Path, target: Path, register: GeoPackageRegister, head: str) -> None:
    """Make sure that a copy is sound and ends at the head that was read before it, or at a later entry."""
    with told_plainly(str(target)):
        connection = _connect(copy, mode="ro", wait_s=WAIT_S)
        try:
            sound = connection.execute("PRAGMA integrity_check").fetchone()[0] == "ok"
            last = _last_digest(connection)
            reaches = (
                connection.execute("SELECT count(*) FROM journal WHERE digest = ?", (head,)).fetchone()[0]
                == 1
            )
        finally:
            connection.close()
        known = register.connection.execute(
            "SELECT count(*) FROM journal WHERE digest = ?", (last,)
        ).fetchone()[0]
    if not (sound and reaches and known == 1):
        what = f"The copy at {target} does not hold what {register.place} holds; it was thrown away."
        raise RegistryError(what, remedy="Check the disk, and the registry with `leadline journal verify`.")


def _name_for_good(draft_file: Path, target: Path) -> None:
    """Give a finished file its name in one step, and never that of another."""
    try:
        try:
            os.link(draft_file, target)
        except FileExistsError as error:
            raise ConflictError(f"{target} exists already.", remedy="Choose another name.") from error
        except OSError:
            # A stick formatted for every system has no links; a rename would overwrite, so look first.
            if target.exists():
                raise ConflictError(f"{target} exists already.", remedy="Choose another name.") from None
            draft_file.rename(target)
        sync_folder(target)
    except OSError as error:
        what = f"{target} cannot be written ({error.strerror})."
        raise UnwritableError(what, remedy="Free some space or choose another folder.") from error


def _discard(draft_file: Path) -> None:
    for ending in ("", "-wal", "-shm", "-journal"):
        # Where nothing can be written there is nothing to take away; the reason is told already.
        with suppress(OSError):
            draft_file.with_name(draft_file.name + ending).unlink(missing_ok=True)
