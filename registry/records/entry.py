"""
One line of the journal, the append-only record from which everything else follows.

The digest of an entry is the SHA-256 of the canonical JSON of all its other fields, the previous digest
among them; so no entry can be changed, removed, reordered or inserted without breaking the chain.
"""

import hashlib
import json
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from functools import lru_cache
from typing import Any

from registry.errors import InvalidRecordError

__all__ = ["GENESIS", "Draft", "Entry", "canonical_json", "digest_of", "instant_text", "seal"]

#: The digest before the first entry.
GENESIS = "0" * 64
#: Origin, sequence, time, actor, kind, body and previous digest, as they are written down.
Fields = tuple[str, int, str, str, str, str, str]
#: One text as canonical JSON writes it; made once, since a journal holds millions.
_quoted = json.JSONEncoder(ensure_ascii=False).encode
_canonical = json.JSONEncoder(
    sort_keys=True, separators=(",", ":"), ensure_ascii=False, allow_nan=False
).encode


def canonical_json(value: Any) -> str:
    """
    Write JSON in one way only: sorted keys, no blanks, UTF-8 text, finite numbers.

    Raises
    ------
    InvalidRecordError
        If a number is NaN or infinite, or a value has no JSON form.

    Examples
    --------
    >>> canonical_json({"b": 1.5, "a": ["é", None]})
    '{"a":["é",null],"b":1.5}'
    """
    try:
        return _canonical(value)
    except (TypeError, ValueError) as error:
        what = f"The record cannot be written down: {error}."
        raise InvalidRecordError(what, remedy="Leave out values that are not finite numbers.") from error


@dataclass(frozen=True, slots=True, kw_only=True)
class Draft:
    """What is to be written: everything of an entry that does not depend on its place in the journal."""

    #: What happened, as "placement.logged".
    kind: str
    actor: str
    body: Mapping[str, Any]


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """One line of the journal."""

    #: The device that wrote it, and the sequence within that device, from 1.
    origin: str
    sequence: int
    #: UTC, to the millisecond.
    time: datetime
    actor: str
    kind: str
    #: Canonical JSON.
    body: str
    previous: str
    digest: str

    @property
    def reference(self) -> str:
        """The name by which other entries cite this one."""
        return f"{self.origin}-{self.sequence}"

    def content(self) -> dict[str, Any]:
        """Give the body as data."""
        data: dict[str, Any] = json.loads(self.body)
        return data

    def expected_digest(self) -> str:
        """Compute the digest that this entry must carry."""
        time = instant_text(self.time)
        return digest_of((self.origin, self.sequence, time, self.actor, self.kind, self.body, self.previous))


@lru_cache(maxsize=64)  # every entry of one transaction bears the same instant
def instant_text(instant: datetime) -> str:
    """Write an instant as UTC to the millisecond: the one form in the registry."""
    return instant.astimezone(UTC).isoformat(timespec="milliseconds").replace("+00:00", "Z")


def digest_of(fields: Fields) -> str:
    """
    Compute the digest of an entry from its fields as they are written down.

    Definition: SHA-256, in hexadecimal, of the UTF-8 bytes of the canonical JSON of the list of all seven.

    Parameters
    ----------
    fields : tuple
        Origin, sequence, time, actor, kind, body and previous digest.

    Examples
    --------
    >>> fields = ("0badcafe", 1, "2026-06-01T17:00:00.000Z", "crew", "intake.read", "{}", GENESIS)
    >>> digest_of(fields) == hashlib.sha256(canonical_json(list(fields)).encode()).hexdigest()
    True
    """
    origin, sequence, *texts = fields
    line = f"[{_quoted(origin)},{sequence},{','.join(map(_quoted, texts))}]"
    return hashlib.sha256(line.encode()).hexdigest()


def seal(draft: Draft, *, origin: str, sequence: int, time: datetime, previous: str) -> Entry:
    """Give a draft its place in the journal, after the entry whose digest is `previous`."""
    time = time.astimezone(UTC).replace(microsecond=time.microsecond // 1000 * 1000)
    body = canonical_json(dict(draft.body))
    fields = (origin, sequence, instant_text(time), draft.actor, draft.kind, body, previous)
    return Entry(
        origin=origin,
        sequence=sequence,
        time=time,
        actor=draft.actor,
        kind=draft.kind,
        body=body,
        previous=previous,
        digest=digest_of(fields),
    )
