"""Change what somebody may do, or whether they may come in at all."""

from collections.abc import Iterable
from dataclasses import replace

from registry.actions.find_account import find_account
from registry.errors import ConflictError
from registry.ports import Accounts, Clock
from registry.records.access_trail import Deed
from registry.records.account import Account, Role, name_key, read_roles

__all__ = ["amend_account"]


def amend_account(
    accounts: Accounts,
    clock: Clock,
    *,
    name: str,
    actor: str,
    roles: Iterable[str] | None = None,
    disabled: bool | None = None,
) -> Account:
    """
    Amend an account; its sessions end where it is disabled, and have the new roles from now on.

    Parameters
    ----------
    accounts : Accounts
        Where it is kept.
    clock : Clock
        Tells the time.
    name : str
        Of the account.
    actor : str
        Who does this.
    roles : iterable of str, optional
        All that it shall have; by default as they were.
    disabled : bool, optional
        Whether it cannot sign in; by default as it was.

    Raises
    ------
    NotFoundError
        If there is no such account.
    InvalidRecordError
        If something is no role, or none is given.
    ConflictError
        If nobody could come in as office any more: who then would let anybody in?
    """
    held = None if roles is None else read_roles(roles)
    now = clock.now()
    with accounts.writing():
        before = find_account(accounts, name)
        after = replace(
            before,
            roles=before.roles if held is None else held,
            disabled=before.disabled if disabled is None else disabled,
        )
        if _runs_office(before) and not _runs_office(after):
            _insist_on_another(accounts, before)
        if after != before:
            accounts.keep_account(after)
        if after.roles != before.roles:
            about = f"{after.name} ({', '.join(sorted(after.roles))})"
            accounts.note_deed(Deed(time=now, actor=actor, what="roles changed", about=about))
        if after.disabled != before.disabled:
            what = "account disabled" if after.disabled else "account enabled"
            accounts.note_deed(Deed(time=now, actor=actor, what=what, about=after.name))
        if after.disabled:
            own = [
                session.digest
                for session in accounts.sessions()
                if not session.boat and name_key(session.account) == name_key(after.name)
            ]
            accounts.end_sessions(own)
    return after


def _runs_office(account: Account) -> bool:
    return Role.OFFICE in account.roles and not account.disabled


def _insist_on_another(accounts: Accounts, account: Account) -> None:
    others = (each for each in accounts.accounts() if name_key(each.name) != name_key(account.name))
    if not any(map(_runs_office, others)):
        what = f"{account.name} is the last who can come in as office; nothing was changed."
        raise ConflictError(what, remedy="Let somebody else come in as office first.")
