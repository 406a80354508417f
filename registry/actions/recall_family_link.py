"""Say whose family comes, by the secret in the address of its private page."""

from hmac import compare_digest

from registry.ports import Accounts, Clock
from registry.records.secret_digest import digest_of_secret

__all__ = ["recall_family_link"]


def recall_family_link(accounts: Accounts, clock: Clock, secret: str) -> str | None:
    """Give the tag of the family's module; None where there is no such link, or it is not valid any more."""
    digest = digest_of_secret(secret)
    link = accounts.family_link(digest)
    if link is None or not compare_digest(link.digest, digest) or not link.valid(clock.now()):
        return None
    return link.tag
