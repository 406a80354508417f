"""
The keys with which a programme signed and signs: which was in use when, and how each came to its end.

A public key that once signed is kept for good: papers of decades ago are proved with it. A signature carries
no time that anyone could trust; so what a stolen key signed counts only where the programme's own record or
its published list holds it.
"""

import base64
import binascii
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from enum import StrEnum
from typing import Any

from registry.errors import InvalidRecordError
from registry.records.certificate import key_thumbprint
from registry.records.programme import Programme

__all__ = [
    "KeyEnd",
    "ProgrammeKey",
    "endorsement_of",
    "programme_keys",
    "public_key_bytes",
    "public_key_text",
]


class KeyEnd(StrEnum):
    """Why a key is no longer signed with."""

    RETIRED = "retired"
    #: Nobody has it any more: what it signed stands, but it can vouch for no key after it.
    LOST = "lost"
    #: Somebody else may sign with it.
    STOLEN = "stolen"


@dataclass(frozen=True, slots=True, kw_only=True)
class ProgrammeKey:
    """One key of a programme."""

    #: The thumbprint (RFC 7638).
    key_id: str
    #: Raw Ed25519 public key, 32 bytes.
    public_key: bytes
    since: datetime
    #: When it was replaced, and why; None for the key in use.
    until: datetime | None = None
    ended: KeyEnd | None = None
    #: A statement signed with the key before it that names this one; empty for the first key, and where the
    #: key before it could not sign any more.
    endorsement: str = ""


def programme_keys(
    programme: Programme, began: datetime, rotations: Sequence[tuple[datetime, Mapping[str, Any]]]
) -> tuple[ProgrammeKey, ...]:
    """
    Give every key of a programme, oldest first; the last is in use.

    Parameters
    ----------
    programme : Programme
        As it was created, with its first key.
    began : datetime
        When its registry was created.
    rotations : sequence of (datetime, mapping)
        Time and body of each ``key.rotated``, oldest first.
    """
    keys = [
        ProgrammeKey(
            key_id=programme.key_id,
            public_key=public_key_bytes(programme.public_key, checked=False),
            since=began,
        )
    ]
    for time, body in rotations:
        keys[-1] = replace(keys[-1], until=time, ended=KeyEnd(body["ended"]))
        keys.append(
            ProgrammeKey(
                key_id=body["key_id"],
                public_key=public_key_bytes(body["public_key"]),
                since=time,
                endorsement=body["endorsement"],
            )
        )
    return tuple(keys)


def endorsement_of(programme: str, *, replaces: str, key_id: str, public_key: bytes) -> dict[str, Any]:
    """Give the statement by which one key vouches for the next."""
    return {
        "endorses": key_id,
        "public_key": public_key_text(public_key),
        "replaces": replaces,
        "programme": programme,
    }


def public_key_text(public_key: bytes) -> str:
    """Write a raw public key as base64url, as the journal keeps it."""
    return base64.urlsafe_b64encode(public_key).rstrip(b"=").decode()


def public_key_bytes(text: str, *, checked: bool = True) -> bytes:
    """
    Read a public key as the journal keeps it.

    Raises
    ------
    InvalidRecordError
        If it is no base64url, or, where it is `checked`, not the length of an Ed25519 key.
    """
    try:
        key = base64.urlsafe_b64decode(text + "=" * (-len(text) % 4))
    except (binascii.Error, ValueError) as error:
        what = f"{text!r} is not a public key in base64url."
        raise InvalidRecordError(what, remedy="Give the 32 bytes of the raw key.") from error
    if checked:
        key_thumbprint(key)
    return key
