"""
Bundles as files: what one machine hands to another on a stick, by mail or through a page.

The first line is a signed statement (see ``signed_statement``): of which registry, by which machine, how many
entries, what the rest of the file weighs and its SHA-256. Each line after it is one entry, the eight fields
of the journal as canonical JSON. A file has one spelling only, so that no byte of it can be changed,
added or left out. Whether the key that signed it is trusted is for ``actions/import_bundle`` to say.
"""

import hashlib
import json
import re
from datetime import datetime
from typing import Any

from registry.errors import (
    InvalidRecordError,
    LeadlineError,
    NewerRegistryError,
    RejectedError,
    UnreadableFileError,
)
from registry.formats.signed_statement import payload_of, sign, verify
from registry.ports import Signer
from registry.records.bundle import Bundle
from registry.records.certificate import key_thumbprint
from registry.records.device import Device, device_name
from registry.records.entry import Entry, canonical_json, digest_of, instant_text
from registry.records.programme_key import public_key_bytes

__all__ = ["LARGEST", "looks_like_bundle", "read_bundle", "write_bundle"]

#: Bytes of a bundle, and of its first line. A year at sea is some megabytes.
LARGEST = 1_000_000_000
_LARGEST_HEADER = 1_000_000
_FORMAT = 1
_ORIGIN = re.compile(r"[0-9a-f]{8}", re.ASCII)
_DIGEST = re.compile(r"[0-9a-f]{64}", re.ASCII)
_PREVIOUS = re.compile(r"[0-9a-f]{64}(,[0-9a-f]{64})*", re.ASCII)
_INSTANT = re.compile(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d\.\d{3}Z", re.ASCII)
_KIND = re.compile(r"[a-z]+\.[a-z]+", re.ASCII)
_AGAIN = "Copy the bundle again from the machine that made it, or export it anew; nothing was taken in."
_FIELDS = (
    "bundle",
    "programme",
    "registry",
    "founded",
    "sender",
    "made_at",
    "held",
    "entries",
    "size",
    "sha256",
)
_SENDER = ("origin", "name", "key_id", "public_key")
#: Nobody counts further; the numbers of JSON are exact up to here.
_MOST = 2**53


def write_bundle(bundle: Bundle, signer: Signer) -> bytes:
    """
    Write a bundle.

    Parameters
    ----------
    bundle : Bundle
        Its sender bears the key of the signer.
    signer : Signer
        Whoever holds the key.

    Raises
    ------
    InvalidRecordError
        If it was made for another key.
    """
    if bundle.sender.key_id != signer.key_id:
        what = f"The bundle names the key {bundle.sender.key_id}, and is to be signed with {signer.key_id}."
        raise InvalidRecordError(what, remedy="Draft it for the key that signs.")
    rest = "".join(f"{_line(entry)}\n" for entry in bundle.entries).encode()
    statement = {
        "bundle": _FORMAT,
        "programme": bundle.programme,
        "registry": bundle.registry,
        "founded": bundle.founded,
        "sender": {name: getattr(bundle.sender, name) for name in _SENDER},
        "made_at": bundle.made_at,
        "held": dict(bundle.held),
        "entries": len(bundle.entries),
        "size": len(rest),
        "sha256": hashlib.sha256(rest).hexdigest(),
    }
    return f"{sign(statement, signer)}\n".encode() + rest


def looks_like_bundle(data: bytes) -> bool:
    """Tell whether a file begins as a bundle does; nothing is proved by that."""
    try:
        return "bundle" in payload_of(data[:_LARGEST_HEADER].split(b"\n", 1)[0].decode("ascii"))
    except (UnicodeDecodeError, RejectedError):
        return False


def read_bundle(data: bytes) -> Bundle:
    """
    Read a bundle and prove it against the key that it names itself.

    Parameters
    ----------
    data : bytes
        The whole file.

    Raises
    ------
    UnreadableFileError
        If it is no bundle, is cut short or longer than it says, or any byte of it was changed.
    NewerRegistryError
        If a later version of Leadline wrote it.
    """
    if not data:
        raise UnreadableFileError("The bundle is empty.", remedy=_AGAIN)
    if len(data) > LARGEST:
        what = f"The bundle holds {len(data):,} bytes; no more than {LARGEST:,} are read."
        raise UnreadableFileError(what, remedy="Export it in parts, with --to.")
    if not looks_like_bundle(data):
        what = "The file is no bundle, or its beginning was changed."
        raise UnreadableFileError(what, remedy=_AGAIN)
    first, parted, rest = data.partition(b"\n")
    statement = _statement(first.decode("ascii"))
    if not parted or len(rest) < statement["size"]:
        what = f"The bundle is cut short: {len(rest):,} bytes of {statement['size']:,} came."
        raise UnreadableFileError(what, remedy=_AGAIN)
    if len(rest) > statement["size"] or hashlib.sha256(rest).hexdigest() != statement["sha256"]:
        what = "The bundle was damaged or changed after it was signed."
        raise UnreadableFileError(what, remedy=_AGAIN)
    lines = rest.split(b"\n")
    if lines.pop():
        raise _misstated("Its last line has no end.")
    if len(lines) != statement["entries"]:
        raise _misstated(f"It holds {len(lines)} entries and says {statement['entries']}.")
    entries = tuple(_entry(line, number) for number, line in enumerate(lines, start=1))
    bundle = Bundle(
        programme=statement["programme"],
        registry=statement["registry"],
        founded=statement["founded"],
        sender=Device(**statement["sender"]),
        made_at=statement["made_at"],
        held=statement["held"],
        entries=entries,
        sha256=hashlib.sha256(data).hexdigest(),
    )
    _count_on(bundle)
    return bundle


def _statement(line: str) -> dict[str, Any]:
    """Prove the first line and see that every field of it is what it has to be."""
    statement = payload_of(line)
    form = statement.get("bundle")
    if isinstance(form, int) and not isinstance(form, bool) and form > _FORMAT:
        what = f"The bundle was written in form {form}; this version reads form {_FORMAT}."
        raise NewerRegistryError(what, remedy="Install that version of Leadline here; nothing was taken in.")
    sender = statement.get("sender")
    try:
        if set(statement) != set(_FIELDS) or not isinstance(sender, dict) or set(sender) != set(_SENDER):
            raise ValueError("its fields are not those of a bundle")
        key = public_key_bytes(sender["public_key"])
        if key_thumbprint(key) != sender["key_id"]:
            raise ValueError("the key is not the one that it names")
        verify(line, {sender["key_id"]: key})
        if device_name(sender["name"]) != sender["name"]:
            raise ValueError("the sender's name")
        _must(_is_count(form) and form == _FORMAT, "form")
        _must(isinstance(statement["programme"], str), "programme")
        _must(_is(_ORIGIN, statement["registry"]) and _is(_ORIGIN, sender["origin"]), "origin")
        _must(_is(_DIGEST, statement["founded"]) and _is(_DIGEST, statement["sha256"]), "digest")
        _instant(statement["made_at"])
        _must(_is_count(statement["entries"]) and _is_count(statement["size"]), "length")
        held = statement["held"]
        _must(
            isinstance(held, dict) and all(_is(_ORIGIN, o) and _is_count(s) for o, s in held.items()), "held"
        )
    except (LeadlineError, ValueError, TypeError, AttributeError) as error:
        reason = error.what if isinstance(error, LeadlineError) else f"its first line misstates: {error}."
        raise _misstated(reason) from error
    return statement


def _line(entry: Entry) -> str:
    return canonical_json(
        [
            entry.origin,
            entry.sequence,
            instant_text(entry.time),
            entry.actor,
            entry.kind,
            entry.body,
            entry.previous,
            entry.digest,
        ]
    )


def _entry(line: bytes, number: int) -> Entry:
    """Read one line; whatever is not as a journal writes it is refused."""
    try:
        text = line.decode()
        fields = json.loads(text)
        _must(isinstance(fields, list) and len(fields) == 8, "number of fields")
        origin, sequence, time, actor, kind, body, previous, digest = fields
        _must(_is(_ORIGIN, origin) and _is_count(sequence) and sequence > 0, "name")
        _must(isinstance(actor, str) and _is(_KIND, kind), "kind")
        _must(_is(_PREVIOUS, previous) and _is(_DIGEST, digest), "links")
        _must(previous.split(",") == sorted(set(previous.split(","))), "links")
        content = json.loads(body) if isinstance(body, str) else None
        _must(isinstance(content, dict) and canonical_json(content) == body, "body")
        _must(digest_of((origin, sequence, time, actor, kind, body, previous)) == digest, "digest")
        _must(canonical_json(fields) == text, "spelling")
        return Entry(
            origin=origin,
            sequence=sequence,
            time=_instant(time),
            actor=actor,
            kind=kind,
            body=body,
            previous=previous,
            digest=digest,
        )
    except (ValueError, TypeError, AttributeError, RecursionError, InvalidRecordError) as error:
        reason = " ".join(str(error).split())[:200]
        raise _misstated(f"Entry number {number} in it is none ({reason}).") from error


def _count_on(bundle: Bundle) -> None:
    """See that the entries of each device follow each other, up to what the sender says to hold."""
    last: dict[str, int] = {}
    for entry in bundle.entries:
        before = last.get(entry.origin)
        if before is not None and entry.sequence != before + 1:
            raise _misstated(f"After {entry.origin}-{before} comes {entry.reference}.")
        last[entry.origin] = entry.sequence
    for origin, sequence in last.items():
        if bundle.held.get(origin) != sequence:
            raise _misstated(f"The sender holds other entries of {origin} than it says.")


def _misstated(reason: str) -> UnreadableFileError:
    return UnreadableFileError(f"The bundle cannot be used. {reason}", remedy=_AGAIN)


def _must(holds: object, what: str) -> None:
    if not holds:
        raise ValueError(what)


def _is(pattern: re.Pattern[str], value: Any) -> bool:
    return isinstance(value, str) and pattern.fullmatch(value) is not None


def _is_count(value: Any) -> bool:
    return isinstance(value, int) and not isinstance(value, bool) and 0 <= value < _MOST


def _instant(value: Any) -> datetime:
    _must(_is(_INSTANT, value), "instant")
    instant = datetime.fromisoformat(value)
    _must(instant_text(instant) == value, "instant")
    return instant
