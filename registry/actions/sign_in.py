"""Come in: by name and password, or on the boat by PIN."""

from dataclasses import dataclass, field, replace
from datetime import datetime

from registry.actions.recall_session import crew_account
from registry.actions.sign_in_limits import KEPT, begin_attempt
from registry.errors import AccessDeniedError, InvalidRecordError
from registry.ports import Accounts, Clock
from registry.records.access_trail import Outcome, Way
from registry.records.account import Account, Role, Session, lifetime_of, name_key
from registry.records.network_address import is_local
from registry.records.secret_digest import digest_of_secret

__all__ = ["Opened", "proved_account", "sign_in", "sign_in_by_pin"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Opened:
    """A session that was opened."""

    #: For the browser to keep; it stands nowhere else.
    secret: str = field(repr=False)
    session: Session
    account: Account


def sign_in(accounts: Accounts, clock: Clock, *, name: str, password: str, address: str) -> Opened:
    """
    Open a session for an account.

    Parameters
    ----------
    accounts : Accounts
        Where it is kept.
    clock : Clock
        Tells the time.
    name : str
        As typed; capitals do not matter.
    password : str
        As typed.
    address : str
        The IP address of the caller.

    Raises
    ------
    AccessDeniedError
        If there is no such account, the password is another, or the account is disabled: the words, and the
        work done, are the same.
    TooManyAttemptsError
        After too many wrong ones.
    """
    account, number = proved_account(accounts, clock, name=name, password=password, address=address)
    return _opened(accounts, clock, account, number, boat=False)


def proved_account(
    accounts: Accounts, clock: Clock, *, name: str, password: str, address: str
) -> tuple[Account, int]:
    """
    Give the account that a name and a password prove, and the number of the attempt, which is to be settled.

    Raises
    ------
    AccessDeniedError, TooManyAttemptsError
        As for :func:`sign_in`.
    """
    found = accounts.account(name)
    told = accounts.pseudonym(name_key(name)) if found is None else found.name
    number = begin_attempt(
        accounts, name=told, account=found, address=address, way=Way.PASSWORD, now=clock.now()
    )
    # Without an account the same work is done, so that the time tells nothing; asked for each time, since
    # it is made the first time.
    nobody = accounts.passwords.nobody
    right = accounts.passwords.verify(found.password_hash if found else nobody, password)
    if found is None or not right or found.disabled:
        disabled = found is not None and found.disabled
        # Written down in any case: that, too, takes time.
        accounts.settle_sign_in(number, Outcome.DISABLED if disabled else Outcome.WRONG)
        what = "The name or the password is not right."
        raise AccessDeniedError(what, remedy="Type both again, or ask the office for a new password.")
    if accounts.passwords.needs_rehash(found.password_hash):
        found = _rehashed(accounts, found, password)
    return found, number


def sign_in_by_pin(accounts: Accounts, clock: Clock, *, name: str, pin: str, address: str) -> Opened:
    """
    Open a session for a crew member on the boat's own network.

    Parameters
    ----------
    accounts : Accounts
        Where the PIN is kept.
    clock : Clock
        Tells the time.
    name : str
        The crew member's own, as the journal will name whoever acts.
    pin : str
        As typed; blanks between digits do not matter.
    address : str
        The IP address of the caller.

    Raises
    ------
    AccessDeniedError
        If the caller is not on this network, the PIN is another or none is set, or the name is that of an
        account, which is to be signed in to by its password.
    TooManyAttemptsError
        After too many wrong ones.
    InvalidRecordError, UnprintableTextError
        If the name will not do.
    """
    now = clock.now()
    account = Account(name=name, roles=frozenset({Role.DIVE_TEAM}), made_at=now)
    if not any(letter.isalpha() for letter in name):
        raise InvalidRecordError(f"{name!r} is no name.", remedy="Give your own name, then the PIN.")
    if not is_local(address):
        what = "The PIN is only for the boat's own network."
        raise AccessDeniedError(what, remedy="Sign in by name and password.")
    number = begin_attempt(accounts, name=account.name, account=None, address=address, way=Way.PIN, now=now)
    kept = accounts.boat_pin()
    if not accounts.passwords.verify(
        kept.pin_hash if kept else accounts.passwords.nobody, "".join(pin.split())
    ):
        what = "The PIN is not right."
        raise AccessDeniedError(what, remedy="Type it again, or ask the office, which sets it.")
    if (other := accounts.account(name)) is not None:
        accounts.settle_sign_in(number, Outcome.NAME_TAKEN)
        what = f"{other.name} has an account."
        raise AccessDeniedError(what, remedy="Sign in by its password, or say who you are in another way.")
    return _opened(accounts, clock, account, number, boat=True)


def _opened(accounts: Accounts, clock: Clock, account: Account, number: int, *, boat: bool) -> Opened:
    now = clock.now()
    secret = accounts.fresh_secret()
    session = Session(
        digest=digest_of_secret(secret),
        account=account.name,
        opened_at=now,
        last_seen=now,
        expires_at=now + lifetime_of(account.roles).absolute,
        csrf=accounts.fresh_secret(),
        boat=boat,
    )
    with accounts.writing():
        if not boat and accounts.account(account.name) != account:
            # Disabled, or given another password, while this one was looked at.
            what = f"The account {account.name} was changed just now."
            raise AccessDeniedError(what, remedy="Sign in again.")
        accounts.settle_sign_in(number, Outcome.OPENED)
        accounts.keep_session(session)
        _clear_away(accounts, now)
    return Opened(secret=secret, session=session, account=crew_account(session) if boat else account)


def _clear_away(accounts: Accounts, now: datetime) -> None:
    """Forget sessions that came to their end, and attempts of long ago."""
    accounts.end_sessions([session.digest for session in accounts.sessions() if session.expires_at <= now])
    accounts.forget_sign_ins(now - KEPT)


def _rehashed(accounts: Accounts, account: Account, password: str) -> Account:
    after = replace(account, password_hash=accounts.passwords.hash(password))
    with accounts.writing():
        if accounts.account(account.name) != account:
            return account
        accounts.keep_account(after)
    return after
