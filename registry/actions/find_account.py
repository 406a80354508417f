"""Find an account by its name."""

from registry.errors import NotFoundError
from registry.ports import Accounts
from registry.records.account import Account

__all__ = ["find_account"]


def find_account(accounts: Accounts, name: str) -> Account:
    """
    Give the account of a name.

    Raises
    ------
    NotFoundError
        If there is none; it names those there are.
    """
    found = accounts.account(name)
    if found is None:
        names = ", ".join(account.name for account in accounts.accounts())
        there = f"There are: {names}." if names else "Make one: leadline user add NAME --role office."
        raise NotFoundError(f"There is no account {name!r}.", remedy=there)
    return found
