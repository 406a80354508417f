"""
Signed statements: JSON Web Signatures with Ed25519, one line of text each.

A statement has exactly one signed form. Everything that a lenient reader would let pass (padding, blanks,
spare bits in a last character, another order of members) is refused, so that no single character can be
changed.
"""

import base64
import binascii
import json
import re
from collections.abc import Mapping
from typing import Any

from cryptography.exceptions import InvalidSignature
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PublicKey

from registry.errors import RejectedError
from registry.ports import Signer
from registry.records.entry import canonical_json

__all__ = ["key_id_of", "payload_of", "sign", "unwrapped", "verify"]

_PART = re.compile(r"[A-Za-z0-9_-]+", re.ASCII)
#: Byte order mark (also the zero width no-break space), soft hyphen, zero width space, word joiner.
_INVISIBLE = "\ufeff\u00ad\u200b\u2060"
_NOT_SIGNED = "Get the file or the code again from the programme, or scan it anew."


def sign(statement: Mapping[str, Any], signer: Signer) -> str:
    """
    Sign a statement.

    Parameters
    ----------
    statement : mapping
        Plain JSON values, finite numbers only.
    signer : Signer
        Whoever holds the programme's private key.

    Returns
    -------
    str
        A JWS in compact form: header, payload and signature in base64url, parted by dots.

    Raises
    ------
    InvalidRecordError
        If a value has no JSON form.

    Sources
    -------
    RFC 7515 (compact serialization), RFC 8037 (``"alg":"EdDSA"``); ``kid`` is the RFC 7638 thumbprint.
    """
    header = _encode(_header(signer.key_id))
    signed = f"{header}.{_encode(canonical_json(dict(statement)).encode())}"
    return f"{signed}.{_encode(signer.sign(signed.encode()))}"


def verify(text: str, public_keys: Mapping[str, bytes]) -> dict[str, Any]:
    """
    Give back a statement whose signature stands.

    Parameters
    ----------
    text : str
        The JWS, exactly as made.
    public_keys : mapping of str to bytes
        The keys that are trusted, raw (32 bytes), by their thumbprint.

    Raises
    ------
    RejectedError
        If the text is not a signed statement, was signed with a key that is not trusted, or was changed.
    """
    header, payload, signature = _parts(text)
    key_id = key_id_of(text)
    if key_id not in public_keys:
        what = f"The statement was signed with the key {key_id}, which is not known here."
        raise RejectedError(what, remedy="Ask the programme for its public key and compare its name.")
    try:
        key = Ed25519PublicKey.from_public_bytes(public_keys[key_id])
        key.verify(signature, text.rpartition(".")[0].encode())
    except (InvalidSignature, ValueError) as error:
        what = "The signature does not fit the statement: one of them was changed after signing."
        raise RejectedError(what, remedy=_NOT_SIGNED) from error
    statement = _json(payload)
    if header != _header(key_id) or canonical_json(statement).encode() != payload:
        what = "The statement is signed, but not written in the one form that is accepted."
        raise RejectedError(what, remedy=_NOT_SIGNED)
    return statement


def unwrapped(text: str) -> str:
    r"""
    Join a statement that an editor or a mail program wrapped: blanks, line ends and invisible marks go.

    None of them is a character of a statement, so that nothing signed is touched.

    Examples
    --------
    >>> unwrapped("\ufeffeyJh bGci\u00ad\r\nOiJF ")
    'eyJhbGciOiJF'
    """
    return "".join(char for char in text if not char.isspace() and char not in _INVISIBLE)


def key_id_of(text: str) -> str:
    """
    Tell which key a statement says it was signed with; nothing is proved by that.

    Raises
    ------
    RejectedError
        If the text is not a signed statement.
    """
    header = _json(_parts(text)[0])
    key_id = header.get("kid")
    if not isinstance(key_id, str) or header.get("alg") != "EdDSA":
        what = "The statement does not name an Ed25519 key."
        raise RejectedError(what, remedy=_NOT_SIGNED)
    return key_id


def payload_of(text: str) -> dict[str, Any]:
    """
    Give what a statement says; nothing is proved by that.

    Raises
    ------
    RejectedError
        If the text is not a signed statement.
    """
    return _json(_parts(text)[1])


def _header(key_id: str) -> bytes:
    return canonical_json({"alg": "EdDSA", "kid": key_id}).encode()


def _encode(data: bytes) -> str:
    return base64.urlsafe_b64encode(data).rstrip(b"=").decode()


def _decode(part: str) -> bytes:
    """Decode base64url that has one spelling only."""
    try:
        data = base64.urlsafe_b64decode(part + "=" * (-len(part) % 4))
    except (binascii.Error, ValueError):
        data = b""
    if not _PART.fullmatch(part) or _encode(data) != part:
        what = "The text is not a signed statement: a character is missing, added or changed."
        raise RejectedError(what, remedy=_NOT_SIGNED)
    return data


def _parts(text: str) -> tuple[bytes, bytes, bytes]:
    parts = text.split(".")
    if len(parts) != 3:
        what = f"The text is not a signed statement: it has {len(parts)} parts where 3 are due."
        raise RejectedError(what, remedy=_NOT_SIGNED)
    header, payload, signature = (_decode(part) for part in parts)
    return header, payload, signature


def _json(data: bytes) -> dict[str, Any]:
    try:
        value = json.loads(data.decode())
    except (ValueError, RecursionError):
        value = None
    if not isinstance(value, dict):
        what = "The text is not a signed statement: what it says cannot be read."
        raise RejectedError(what, remedy=_NOT_SIGNED)
    return value
