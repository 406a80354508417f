"""Say what a program may do, by the secret that it brought."""

from hmac import compare_digest

from registry.ports import Accounts, Clock
from registry.records.access_token import Token
from registry.records.secret_digest import digest_of_secret

__all__ = ["recall_token"]


def recall_token(accounts: Accounts, clock: Clock, secret: str) -> Token | None:
    """Give the token of a secret; None where there is none, it was revoked, or it came to its end."""
    digest = digest_of_secret(secret)
    token = accounts.token(digest)
    if token is None or not compare_digest(token.digest, digest) or not token.valid(clock.now()):
        return None
    return token
