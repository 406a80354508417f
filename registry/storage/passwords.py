"""Argon2id for passwords and PINs: slow on purpose, and each hash says how it was made."""

import secrets
import threading
import unicodedata
from functools import cached_property

from argon2 import PasswordHasher
from argon2.exceptions import InvalidHashError, VerificationError

__all__ = ["Argon2Passwords"]

#: One hash takes 64 MiB: many at once, as under attack, would take all the memory of a small machine.
_AT_ONCE = threading.BoundedSemaphore(2)


class Argon2Passwords:
    """
    The port ``Passwords``; the parameters are those of RFC 9106, section 4, second choice (64 MiB, 3 passes).

    Parameters
    ----------
    hasher : argon2.PasswordHasher, optional
        With other parameters.
    """

    def __init__(self, hasher: PasswordHasher | None = None) -> None:
        self._hasher = hasher or PasswordHasher()

    @cached_property
    def nobody(self) -> str:
        """A hash that no password has, made with the parameters in use."""
        return self.hash(secrets.token_urlsafe(32))

    def hash(self, password: str) -> str:
        """Give the hash of a password, in PHC form."""
        with _AT_ONCE:
            return self._hasher.hash(_plain(password))

    def verify(self, kept: str, password: str) -> bool:
        """Tell whether a password is the one of a hash; a hash that cannot be read is nobody's."""
        try:
            with _AT_ONCE:
                return self._hasher.verify(kept, _plain(password))
        except (VerificationError, InvalidHashError):
            return False

    def needs_rehash(self, kept: str) -> bool:
        """Tell whether a hash was made with other parameters."""
        try:
            return self._hasher.check_needs_rehash(kept)
        except InvalidHashError:
            return True


def _plain(password: str) -> bytes:
    """Give the bytes that are hashed: the same however a keyboard composes its accents."""
    return unicodedata.normalize("NFKC", password).encode("utf-8", "surrogatepass")
