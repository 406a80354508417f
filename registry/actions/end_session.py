"""Sign out."""

from registry.ports import Accounts
from registry.records.secret_digest import digest_of_secret

__all__ = ["end_session"]


def end_session(accounts: Accounts, secret: str) -> None:
    """End the session of a secret; nothing happens where there is none."""
    accounts.end_sessions([digest_of_secret(secret)])
