"""
Who had a module and the remains in it, hand-over by hand-over.

At each of them both sides write down on their own what they read: the tag, and the number under which the
crematory identified the remains. That number leads to a family, through the crematory's own books. So the
journal, of which nothing can be erased, keeps only a keyed digest of it: equal numbers have equal digests,
and once the secret of the module is erased nobody can tell the number from them.
"""

import hashlib
import hmac
import unicodedata
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import UTC, datetime
from enum import Enum
from typing import Any

from registry.errors import InvalidRecordError
from registry.records.entry import instant_text
from registry.records.family import Family
from registry.records.module import checked_tag
from registry.records.printed_words import printed_words

__all__ = [
    "HandOver",
    "HandOverDraft",
    "Side",
    "Step",
    "WrittenSide",
    "hand_over_body",
    "hand_over_from_body",
    "identification_digest",
    "numbers_by_digest",
    "secret_name",
    "spelt_alike",
]

LONGEST_KEEPER = 120
LONGEST_IDENTIFICATION = 60
LONGEST_NOTE = 400


class Step(Enum):
    """What a hand-over was for, in the order in which they come."""

    RECEIVED = "received"
    CAST = "cast"
    CURED = "cured"
    LOADED = "loaded"
    PLACED = "placed"

    @property
    def rank(self) -> int:
        """Its place in the order, from 0."""
        return list(Step).index(self)


@dataclass(frozen=True, slots=True, kw_only=True)
class WrittenSide:
    """One side of a hand-over as it was written down; never for the journal."""

    #: Firm, office or member of staff.
    name: str
    tag: str
    #: The crematory's number, as this side read it.
    identification: str

    def __post_init__(self) -> None:
        """Refuse a side that says nothing, or what does not read as it was typed."""
        printed_words("name of who hands or takes", self.name, longest=LONGEST_KEEPER)
        printed_words("tag that was read", self.tag, longest=LONGEST_KEEPER)
        printed_words("identification", self.identification, longest=LONGEST_IDENTIFICATION)


@dataclass(frozen=True, slots=True, kw_only=True)
class HandOverDraft:
    """A hand-over as somebody wrote it down."""

    #: The module to whose chain it belongs.
    tag: str
    step: Step
    at: datetime
    #: The instant as typed.
    at_text: str
    giver: WrittenSide
    taker: WrittenSide
    note: str = ""
    #: Where the row came from: file name, SHA-256 digest, row number.
    source: dict[str, Any] = field(default_factory=dict)

    def __post_init__(self) -> None:
        """Refuse an instant without its zone, a tag that nothing can carry, a note that does not show."""
        checked_tag(self.tag)
        _with_zone(self.tag, self.at)
        printed_words("note", self.note, longest=LONGEST_NOTE, may_be_empty=True)


@dataclass(frozen=True, slots=True, kw_only=True)
class Side:
    """One side of a hand-over as the journal keeps it."""

    name: str
    tag: str
    #: Of the crematory's number; see :func:`identification_digest`.
    identification_digest: str


@dataclass(frozen=True, slots=True, kw_only=True)
class HandOver:
    """One hand-over of a module and what it holds."""

    tag: str
    step: Step
    at: datetime
    at_text: str
    giver: Side
    taker: Side
    #: Name of the secret behind the digests; two that differ cannot be compared.
    secret: str
    note: str = ""
    source: dict[str, Any] = field(default_factory=dict)
    #: Its entry, and who told it when; empty while it is being drafted.
    reference: str = ""
    told: str = ""
    #: The entry that it corrects, and why.
    corrects: str = ""
    reason: str = ""

    def __post_init__(self) -> None:
        """Refuse an instant without its zone."""
        _with_zone(self.tag, self.at)


def identification_digest(secret: str, written: str) -> str:
    """
    Give the keyed digest of a crematory's number; how it is spaced, and its case, make no difference.

    Definition: HMAC-SHA256 (RFC 2104) with the secret's bytes, over the UTF-8 bytes of the number in Unicode
    form NFKC, case folded, without blanks.

    Parameters
    ----------
    secret : str
        Of this module; hexadecimal.
    written : str
        As it was read.

    Examples
    --------
    >>> identification_digest("00" * 32, "c-48 213") == identification_digest("00" * 32, "C-48213")
    True
    >>> identification_digest("00" * 32, "C-48231") == identification_digest("00" * 32, "C-48213")
    False
    """
    plain = "".join(unicodedata.normalize("NFKC", written).casefold().split())
    return hmac.new(bytes.fromhex(secret), plain.encode(), hashlib.sha256).hexdigest()


def numbers_by_digest(family: Family) -> dict[str, str]:
    """Give the crematory's numbers that are held of a family, each by its digest in the journal."""
    return {identification_digest(family.secret, number): number for number in family.identifications}


def secret_name(secret: str) -> str:
    """Give the name of a secret, which tells nothing of it: 16 digits of its SHA-256 digest."""
    return hashlib.sha256(bytes.fromhex(secret)).hexdigest()[:16]


def spelt_alike(one: str, other: str) -> bool:
    """Tell whether two texts differ in nothing but case, blanks and forms of the same letters."""

    def plain(text: str) -> str:
        return " ".join(unicodedata.normalize("NFKC", text).casefold().split())

    return plain(one) == plain(other)


def hand_over_body(hand_over: HandOver) -> dict[str, Any]:
    """Give a hand-over as the journal keeps it; a correction says what it corrects, and why."""
    body = {
        "tag": hand_over.tag,
        "step": hand_over.step.value,
        "at": instant_text(hand_over.at),
        "at_text": hand_over.at_text,
        "from": _side_body(hand_over.giver),
        "to": _side_body(hand_over.taker),
        "secret": hand_over.secret,
        "note": hand_over.note,
        "source": dict(hand_over.source),
    }
    if hand_over.corrects:
        body |= {"supersedes": hand_over.corrects, "reason": hand_over.reason}
    return body


def hand_over_from_body(body: Mapping[str, Any]) -> HandOver:
    """Give back the hand-over; with its "reference", "time" and "actor" where the body came with them."""
    told = f"{body['actor']}, {str(body['time'])[:16]}Z" if "reference" in body else ""
    return HandOver(
        tag=body["tag"],
        step=Step(body["step"]),
        at=datetime.fromisoformat(body["at"]).astimezone(UTC),
        at_text=body["at_text"],
        giver=Side(**body["from"]),
        taker=Side(**body["to"]),
        secret=body["secret"],
        note=body["note"],
        source=dict(body["source"]),
        reference=body.get("reference", ""),
        told=told,
        corrects=body.get("supersedes", ""),
        reason=body.get("reason", ""),
    )


def _side_body(side: Side) -> dict[str, str]:
    return {"name": side.name, "tag": side.tag, "identification_digest": side.identification_digest}


def _with_zone(tag: str, at: datetime) -> None:
    if at.tzinfo is None:
        what = f"Hand-over of {tag}: {at} has no zone."
        raise InvalidRecordError(what, remedy="Give the instant with Z or an offset.")
