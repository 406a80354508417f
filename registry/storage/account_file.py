"""
Where accounts, sessions, tokens and links of families are kept: one SQLite file beside the registry.

It is readable by its owner alone, and no backup, export or bundle holds any of it. Secrets stand in it as
digests alone, so that whoever reads it comes in by none of them.
"""

import hashlib
import hmac
import os
import secrets
import sqlite3
import threading
from collections.abc import Iterator, Sequence
from contextlib import closing, contextmanager, suppress
from datetime import datetime
from functools import lru_cache
from pathlib import Path
from typing import Any, TypeVar

from registry.errors import (
    LeadlineError,
    NewerRegistryError,
    RegistryError,
    UnreadableFileError,
    UnwritableError,
)
from registry.ports import Passwords
from registry.records.access_token import Token
from registry.records.access_trail import Deed, Outcome, SignIn
from registry.records.account import Account, BoatPin, Session, name_key
from registry.records.entry import instant_text
from registry.records.family_link import FamilyLink
from registry.storage.account_rows import (
    ACCOUNTS,
    BOAT_PIN,
    DEEDS,
    FAMILY_LINKS,
    SESSIONS,
    SIGN_INS,
    TOKENS,
    Kept,
)
from registry.storage.account_schema import (
    ACCOUNTS_APPLICATION_ID,
    ACCOUNTS_FORMAT,
    account_file_of,
    create_account_tables,
)
from registry.storage.files import sync_folder
from registry.storage.network_share import network_share
from registry.storage.own_rights import mended_rights
from registry.storage.passwords import Argon2Passwords
from registry.storage.sqlite_errors import told_plainly

__all__ = ["AccountFile", "open_accounts"]

T = TypeVar("T")

_RIGHTS = 0o600
#: How long one writer waits for another. Units: s.
_WAIT_S = 10.0
_SECRET_BYTES = 32
_PASSWORDS = Argon2Passwords()


def open_accounts(registry_path: Path, *, make: bool = False) -> "AccountFile":
    """
    Open the accounts of a registry.

    Where there are none yet nobody can come in, and nothing can be kept.

    Parameters
    ----------
    registry_path : pathlib.Path
        The registry beside which they lie.
    make : bool
        Whether to make the file where there is none.

    Raises
    ------
    RegistryError
        If there is no such registry.
    UnreadableFileError
        If the file is damaged, is something else, or belongs to another registry.
    NewerRegistryError
        If a later version of Leadline wrote it.
    UnwritableError
        If it cannot be made.
    """
    registry = Path(registry_path).resolve()
    try:
        found = registry.stat()
        origin = _origin_of(registry, (found.st_dev, found.st_ino, found.st_ctime_ns))
    except OSError as error:
        what = f"There is no registry at {registry_path} ({error.strerror})."
        raise RegistryError(
            what, remedy="Give the path of a registry, or make one with `leadline new`."
        ) from error
    path = account_file_of(registry)
    if make and not path.exists():
        _make(path, origin)
    return AccountFile(path, origin=origin)


@lru_cache(maxsize=8)
def _origin_of(registry: Path, _state: tuple[int, int, int]) -> str:
    """Give the origin of a registry; it is read again only when something happened to the file."""
    from registry.storage.clock import SystemClock
    from registry.storage.geopackage import open_register

    with open_register(registry, clock=SystemClock(), writable=False) as register:
        return register.origin


class AccountFile:
    """
    The port ``Accounts`` over one SQLite file; any thread may use it.

    Each read opens the file and closes it again, so that nothing stays open between two requests. Every
    method raises UnreadableFileError, UnwritableError or BusyError where the file does not do as it should.

    Parameters
    ----------
    path : pathlib.Path
        The file, which need not exist.
    origin : str
        Of the registry: a file that belongs to another one is refused.
    passwords : Passwords, optional
        How passwords are hashed.
    """

    def __init__(self, path: Path, *, origin: str, passwords: Passwords = _PASSWORDS) -> None:
        self.path = path
        self.passwords = passwords
        self._origin = origin
        self._held = threading.local()
        #: What was mended, one sentence each.
        self.notes: tuple[str, ...] = ()
        if self.path.exists():
            with closing(self._connected()):
                pass

    @contextmanager
    def writing(self) -> Iterator[None]:
        """Hold the file for reading and writing as one transaction; all of it stands or none."""
        if getattr(self._held, "connection", None) is not None:
            yield
            return
        if not self.path.exists():
            what = f"There are no accounts yet: {self.path} does not exist."
            raise UnreadableFileError(
                what, remedy="Make the first one: leadline user add NAME --role office."
            )
        with closing(self._connected()) as connection:
            self._execute(connection, "BEGIN IMMEDIATE")
            self._held.connection = connection
            try:
                yield
            except BaseException:
                with suppress(sqlite3.Error):
                    connection.execute("ROLLBACK")
                raise
            else:
                self._execute(connection, "COMMIT")
            finally:
                self._held.connection = None

    def fresh_secret(self) -> str:
        """Give 256 random bits as 43 characters that fit into an address."""
        return secrets.token_urlsafe(_SECRET_BYTES)

    def pseudonym(self, text: str) -> str:
        """Give what stands for a text: eight digits by HMAC-SHA256 with a secret of this file."""
        ((key,),) = self._rows("SELECT value FROM about WHERE key = 'key'") or [("",)]
        return hmac.new(
            bytes.fromhex(key), text.encode("utf-8", "surrogatepass"), hashlib.sha256
        ).hexdigest()[:8]

    def account(self, name: str) -> Account | None:
        """Give the account of a name, if there is one."""
        return self._one(ACCOUNTS, "name_key", name_key(name))

    def accounts(self) -> tuple[Account, ...]:
        """Give every account, in order of name."""
        return self._all(ACCOUNTS, "ORDER BY name_key")

    def keep_account(self, account: Account) -> None:
        """Keep an account, in the place of the one of that name."""
        self._keep(ACCOUNTS, account)

    def boat_pin(self) -> BoatPin | None:
        """Give the PIN of the boat, if there is one."""
        return self._one(BOAT_PIN, "one", 1)

    def keep_boat_pin(self, pin: BoatPin | None) -> None:
        """Keep the PIN of the boat in the place of the last one, or none any more."""
        if pin is None:
            self._write("DELETE FROM boat_pin")
        else:
            self._keep(BOAT_PIN, pin)

    def session(self, digest: str) -> Session | None:
        """Give the session of a digest, alive or not."""
        return self._one(SESSIONS, "digest", digest)

    def sessions(self) -> tuple[Session, ...]:
        """Give every session that is kept, oldest first."""
        return self._all(SESSIONS, "ORDER BY opened_at, digest")

    def keep_session(self, session: Session) -> None:
        """Keep a session, in the place of the one of that digest."""
        self._keep(SESSIONS, session)

    def end_sessions(self, digests: Sequence[str]) -> None:
        """Forget sessions."""
        if digests and self.path.exists():
            with self.writing():
                for digest in digests:
                    self._write("DELETE FROM sessions WHERE digest = ?", digest)

    def tokens(self) -> tuple[Token, ...]:
        """Give every token, oldest first."""
        return self._all(TOKENS, "ORDER BY made_at, token_id")

    def token(self, digest: str) -> Token | None:
        """Give the token of a digest, valid or not."""
        return self._one(TOKENS, "digest", digest)

    def keep_token(self, token: Token) -> None:
        """Keep a token, in the place of the one of that identifier."""
        self._keep(TOKENS, token)

    def family_links(self, tag: str | None = None) -> tuple[FamilyLink, ...]:
        """Give every link, or those of one family, oldest first."""
        if tag is None:
            return self._all(FAMILY_LINKS, "ORDER BY made_at, digest")
        return self._all(FAMILY_LINKS, "WHERE tag = ? ORDER BY made_at, digest", tag)

    def family_link(self, digest: str) -> FamilyLink | None:
        """Give the link of a digest, valid or not."""
        return self._one(FAMILY_LINKS, "digest", digest)

    def keep_family_link(self, link: FamilyLink) -> None:
        """Keep a link, in the place of the one of that digest."""
        self._keep(FAMILY_LINKS, link)

    def remove_family_links(self, tag: str) -> int:
        """Remove every link of a family, revoked or not, and tell how many there were."""
        count = len(self.family_links(tag))
        if count:
            self._write("DELETE FROM family_links WHERE tag = ?", tag)
        return count

    def sign_ins(self, *, since: datetime | None = None, name: str | None = None) -> tuple[SignIn, ...]:
        """Give the attempts to come in, oldest first; only those of a name, or since an instant, if asked."""
        first = "" if since is None else instant_text(since)
        if name is None:
            return self._all(SIGN_INS, "WHERE time >= ? ORDER BY time, number", first)
        return self._all(SIGN_INS, "WHERE name = ? AND time >= ? ORDER BY time, number", name, first)

    def note_sign_in(self, attempt: SignIn) -> int:
        """Note an attempt, and give its number."""
        return self._keep(SIGN_INS, attempt)

    def settle_sign_in(self, number: int, outcome: Outcome) -> None:
        """Say what came of an attempt."""
        self._write("UPDATE sign_ins SET outcome = ? WHERE number = ?", outcome, number)

    def forget_sign_ins(self, before: datetime) -> None:
        """Forget attempts of long ago."""
        self._write("DELETE FROM sign_ins WHERE time < ?", instant_text(before))

    def deeds(self) -> tuple[Deed, ...]:
        """Give what was done to accounts, tokens and links, oldest first."""
        return self._all(DEEDS, "ORDER BY number")

    def note_deed(self, deed: Deed) -> None:
        """Note what was done; it stays."""
        self._keep(DEEDS, deed)

    def _one(self, kept: Kept[T], column: str, value: Any) -> T | None:
        return next(iter(self._all(kept, f"WHERE {column} = ?", value)), None)

    def _all(self, kept: Kept[T], chosen: str, *values: Any) -> tuple[T, ...]:
        rows = self._rows(f"{kept.select} {chosen}", *values)
        try:
            return tuple(kept.record(*row) for row in rows)
        except (ValueError, TypeError, AttributeError, LeadlineError) as error:
            # The error itself may quote what must not be shown.
            raise _damaged(self.path, type(error).__name__) from error

    def _keep(self, kept: Kept[T], record: T) -> int:
        return self._write(kept.insert, *kept.row(record))

    def _rows(self, sql: str, *values: Any) -> list[tuple[Any, ...]]:
        held = getattr(self._held, "connection", None)
        if held is not None:
            return self._execute(held, sql, *values).fetchall()
        if not self.path.exists():
            return []
        with closing(self._connected()) as connection:
            return self._execute(connection, sql, *values).fetchall()

    def _write(self, sql: str, *values: Any) -> int:
        with self.writing():
            return self._execute(self._held.connection, sql, *values).lastrowid or 0

    def _execute(self, connection: sqlite3.Connection, sql: str, *values: Any) -> sqlite3.Cursor:
        with _told(self.path):
            return connection.execute(sql, values)

    def _connected(self) -> sqlite3.Connection:
        """Open the file, and make sure that it is what its name says."""
        try:
            self.notes += mended_rights(self.path, _RIGHTS)
        except OSError as error:
            what = f"{self.path}, which holds the accounts, cannot be reached: {error.strerror}."
            raise UnreadableFileError(what, remedy="Make the file your own, with rights 0600.") from error
        with _told(self.path):
            connection = _connection_to(self.path)
        try:
            with _told(self.path):
                self._check(connection)
        except BaseException:
            connection.close()
            raise
        return connection

    def _check(self, connection: sqlite3.Connection) -> None:
        application = connection.execute("PRAGMA application_id").fetchone()[0]
        form = connection.execute("PRAGMA user_version").fetchone()[0]
        if application != ACCOUNTS_APPLICATION_ID:
            raise _damaged(self.path, "it is something else")
        # SQLite itself would take missing bytes of the last page for zeros.
        pages = connection.execute("PRAGMA page_count").fetchone()[0]
        page_size = connection.execute("PRAGMA page_size").fetchone()[0]
        if self.path.stat().st_size < pages * page_size:
            raise _damaged(self.path, "it is cut short")
        if form > ACCOUNTS_FORMAT:
            what = f"{self.path} was written by a later version of Leadline."
            raise NewerRegistryError(what, remedy="Install that version; nothing was changed.")
        row = connection.execute("SELECT value FROM about WHERE key = 'registry'").fetchone()
        if row is None or row[0] != self._origin:
            other = row[0] if row else "unknown"
            what = f"{self.path} belongs to another registry ({other}, this one is {self._origin})."
            raise UnreadableFileError(what, remedy="Put it beside its own registry, or move it away.")


def _connection_to(path: Path) -> sqlite3.Connection:
    uri = f"{path.absolute().as_uri()}?mode=rw"
    connection = sqlite3.connect(uri, uri=True, timeout=_WAIT_S, isolation_level=None)
    try:
        connection.execute("PRAGMA synchronous = FULL")
        # What is forgotten is written over.
        connection.execute("PRAGMA secure_delete = ON")
    except sqlite3.Error:
        connection.close()
        raise
    return connection


@contextmanager
def _told(path: Path) -> Iterator[None]:
    """Tell of SQLite's errors; the remedy for a damaged registry is none for this file."""
    try:
        with told_plainly(str(path)):
            yield
    except RegistryError as error:
        if isinstance(error, NewerRegistryError):
            raise
        raise _damaged(path, error.what) from error


def _damaged(path: Path, how: str) -> UnreadableFileError:
    what = f"{path}, which holds the accounts, is damaged ({how.rstrip('.')})."
    remedy = "Put a good copy of it in its place, or move it away and add the accounts anew."
    return UnreadableFileError(what, remedy=remedy)


def _make(path: Path, origin: str) -> None:
    """Make the file beside its place and give it its name in one step; one that was made meanwhile stands."""
    share = network_share(path.parent)
    if share:
        what = f"{path} would lie on a network share ({share}), where two writers cannot be kept apart."
        raise UnwritableError(what, remedy="Keep the registry on a disk of this machine.")
    draft = path.with_name(f".{path.name}.{secrets.token_hex(4)}.new")
    try:
        try:
            os.close(os.open(draft, os.O_WRONLY | os.O_CREAT | os.O_EXCL, _RIGHTS))
            with _told(path), closing(_connection_to(draft)) as connection:
                create_account_tables(connection, origin=origin, key=secrets.token_hex(_SECRET_BYTES))
            try:
                os.link(draft, path)
            except FileExistsError:
                return
            except OSError:
                # A disk without links; a rename would overwrite, so look first.
                if path.exists():
                    return
                draft.rename(path)
            sync_folder(path)
        finally:
            for ending in ("", "-journal"):
                draft.with_name(f"{draft.name}{ending}").unlink(missing_ok=True)
    except OSError as error:
        what = f"{path} cannot be written ({error.strerror or error})."
        raise UnwritableError(what, remedy="Free some space, or mend the rights of its folder.") from error
