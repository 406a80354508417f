"""Give an account another password."""

from dataclasses import replace

from registry.actions.find_account import find_account
from registry.actions.sign_in import proved_account
from registry.ports import Accounts, Clock
from registry.records.access_trail import Deed, Outcome
from registry.records.account import Account, name_key
from registry.records.new_password import checked_password
from registry.records.secret_digest import digest_of_secret

__all__ = ["change_own_password", "change_password"]


def change_password(
    accounts: Accounts, clock: Clock, *, name: str, password: str, actor: str, keep: str | None = None
) -> Account:
    """
    Give an account another password; its other sessions end.

    Whoever changes their own proves the old one first: :func:`change_own_password`.

    Parameters
    ----------
    accounts : Accounts
        Where it is kept.
    clock : Clock
        Tells the time.
    name : str
        Of the account.
    password : str
        The new one.
    actor : str
        Who does this.
    keep : str, optional
        The secret of a session of this account that goes on.

    Raises
    ------
    NotFoundError
        If there is no such account.
    InvalidRecordError
        If the password will not do.
    """
    found = find_account(accounts, name)
    hashed = accounts.passwords.hash(checked_password(password, name=found.name))
    kept = None if keep is None else digest_of_secret(keep)
    now = clock.now()
    with accounts.writing():
        after = replace(find_account(accounts, name), password_hash=hashed, password_set_at=now)
        accounts.keep_account(after)
        own = [each for each in accounts.sessions() if name_key(each.account) == name_key(after.name)]
        accounts.end_sessions([each.digest for each in own if not each.boat and each.digest != kept])
        accounts.note_deed(Deed(time=now, actor=actor, what="password changed", about=after.name))
    return after


def change_own_password(
    accounts: Accounts,
    clock: Clock,
    *,
    name: str,
    old: str,
    new: str,
    address: str,
    keep: str | None = None,
) -> Account:
    """
    Change one's own password; wrong tries count as attempts to come in.

    Parameters
    ----------
    accounts : Accounts
        Where the account is kept.
    clock : Clock
        Tells the time.
    name : str
        Of the account.
    old, new : str
        The password so far, and the one from now on.
    address : str
        The IP address of the caller.
    keep : str, optional
        The secret of the session that goes on.

    Raises
    ------
    AccessDeniedError, TooManyAttemptsError
        If the old one is not right.
    InvalidRecordError
        If the new one will not do.
    """
    account, number = proved_account(accounts, clock, name=name, password=old, address=address)
    accounts.settle_sign_in(number, Outcome.OPENED)
    return change_password(accounts, clock, name=account.name, password=new, actor=account.name, keep=keep)
