"""Say who is behind a session, by the secret that the browser brought."""

from dataclasses import dataclass, replace
from datetime import timedelta
from hmac import compare_digest

from registry.ports import Accounts, Clock
from registry.records.account import Account, Role, Session
from registry.records.secret_digest import digest_of_secret

__all__ = ["Recalled", "crew_account", "recall_session"]

#: A use is written down no more often than this: reading a page must not write each time.
_SEEN_AGAIN = timedelta(minutes=1)


@dataclass(frozen=True, slots=True, kw_only=True)
class Recalled:
    """A session that lives, and whose it is."""

    session: Session
    account: Account


def recall_session(accounts: Accounts, clock: Clock, secret: str) -> Recalled | None:
    """
    Recall a session, and count this as a use of it.

    Parameters
    ----------
    accounts : Accounts
        Where it is kept.
    clock : Clock
        Tells the time.
    secret : str
        What the browser kept.

    Returns
    -------
    Recalled or None
        None where there is no such session, it was unused too long, it came to its end, or its account was
        disabled.
    """
    digest = digest_of_secret(secret)
    session = accounts.session(digest)
    if session is None or not compare_digest(session.digest, digest):
        return None
    now = clock.now()
    account = crew_account(session) if session.boat else accounts.account(session.account)
    if account is None or account.disabled or not session.alive(now, account.roles):
        accounts.end_sessions([digest])
        return None
    if now - session.last_seen >= _SEEN_AGAIN:
        session = replace(session, last_seen=now)
        with accounts.writing():
            # Ended meanwhile, it must not come back.
            if accounts.session(digest) is not None:
                accounts.keep_session(session)
    return Recalled(session=session, account=account)


def crew_account(session: Session) -> Account:
    """Give the account that a crew member has who came by PIN: made up, and kept nowhere."""
    return Account(name=session.account, roles=frozenset({Role.DIVE_TEAM}), made_at=session.opened_at)
