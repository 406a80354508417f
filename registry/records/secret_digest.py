"""The one form in which a secret is kept: nobody can come in with what stands in the file."""

import hashlib

__all__ = ["digest_of_secret"]


def digest_of_secret(secret: str) -> str:
    """
    Give the SHA-256 digest of a secret, in hexadecimal.

    For secrets of 256 random bits alone, which nobody finds by trying: passwords and PINs go through Argon2.

    Examples
    --------
    >>> digest_of_secret("abc")[:16]  # FIPS 180-4, first worked example
    'ba7816bf8f01cfea'
    """
    return hashlib.sha256(secret.encode("utf-8", "surrogatepass")).hexdigest()
