"""Let somebody sign in."""

from collections.abc import Iterable
from dataclasses import replace

from registry.errors import ConflictError
from registry.ports import Accounts, Clock
from registry.records.access_trail import Deed
from registry.records.account import Account, read_roles
from registry.records.new_password import checked_password

__all__ = ["add_account"]


def add_account(
    accounts: Accounts, clock: Clock, *, name: str, roles: Iterable[str], password: str, actor: str
) -> Account:
    """
    Add an account.

    Parameters
    ----------
    accounts : Accounts
        Where it is kept.
    clock : Clock
        Tells the time.
    name : str
        As the journal will name this person.
    roles : iterable of str
        "office", "dive team", "officer".
    password : str
        The first password.
    actor : str
        Who adds it.

    Raises
    ------
    ConflictError
        If there is an account of that name, however it is capitalised.
    InvalidRecordError, UnprintableTextError
        If the name, a role or the password will not do.
    """
    held = read_roles(roles)
    now = clock.now()
    made = Account(name=name, roles=held, made_at=now, made_by=actor)
    hashed = accounts.passwords.hash(checked_password(password, name=name))
    made = replace(made, password_hash=hashed, password_set_at=now)
    with accounts.writing():
        if (other := accounts.account(name)) is not None:
            what = f"There is an account {other.name} already."
            raise ConflictError(what, remedy="Choose a name by which the two can be told apart.")
        accounts.keep_account(made)
        about = f"{name} ({', '.join(sorted(held))})"
        accounts.note_deed(Deed(time=now, actor=actor, what="account added", about=about))
    return made
