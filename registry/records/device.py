"""A machine that writes to a registry apart from others, with the key by which its bundles are known."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from registry.errors import InvalidRecordError
from registry.records.printed_words import printed_words

__all__ = ["LONGEST_NAME", "Device", "device_name", "trust_statement"]

LONGEST_NAME = 60


@dataclass(frozen=True, slots=True, kw_only=True)
class Device:
    """One machine, as the journal knows it."""

    #: What every reference of an entry that it wrote begins with.
    origin: str
    name: str
    #: Thumbprint (RFC 7638) and base64url of its raw Ed25519 public key.
    key_id: str
    public_key: str
    #: A statement signed with the programme's key that names this device; empty where it is not trusted.
    endorsement: str = ""
    #: UTC, as the journal writes it; empty where it never was, or is still trusted.
    trusted_at: str = ""
    ended_at: str = ""
    #: Why it is trusted no longer.
    reason: str = ""


def device_name(text: str) -> str:
    """
    Read the name of a device: one line that prints.

    Raises
    ------
    InvalidRecordError
        If there is none, or it is too long.
    UnprintableTextError
        If it holds what does not show.
    """
    name = text.strip()
    if not name:
        raise InvalidRecordError("The device has no name.", remedy='Give one, as "Petrel, wheelhouse".')
    return printed_words("name", name, longest=LONGEST_NAME)


def trust_statement(device: Device, *, registry: str) -> Mapping[str, Any]:
    """Give the statement by which the programme's key vouches for a device of a registry."""
    return {
        "trusts": device.key_id,
        "public_key": device.public_key,
        "origin": device.origin,
        "device": device.name,
        "registry": registry,
    }
