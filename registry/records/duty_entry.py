"""
What the programme tells of its duties, entry by entry: what it declares, what it plans, what it sent.

Later entries go before earlier ones; nothing is taken back without an entry that says so.
"""

import re
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any, Literal, get_args

from registry.errors import InvalidRecordError
from registry.records.duty import DutyKind
from registry.records.printed_words import printed_words

__all__ = [
    "BURIAL_REPORT_DAYS",
    "BURIAL_REPORT_SOURCE",
    "Applies",
    "AuthorityBasis",
    "Declaration",
    "PlannedWork",
    "Sending",
    "declaration_body",
    "declaration_from_body",
    "planned_work_body",
    "planned_work_from_body",
    "sending_body",
    "sending_from_body",
]

Applies = Literal["yes", "no", "unknown"]

#: What a declaration takes where it names no number of days; nothing is owed unless the programme declares.
BURIAL_REPORT_DAYS = 30
BURIAL_REPORT_SOURCE = "40 CFR 229.1(d), as EPA Region 1 states it in its requirements"
_LONGEST = 400
#: A claim that nobody but the authority can make.
_CLAIM = re.compile(r"\bauthori[sz]ed\s+under\b", re.IGNORECASE)


@dataclass(frozen=True, slots=True, kw_only=True)
class AuthorityBasis:
    """A paper on which the programme rests a placement; recorded, never judged."""

    #: As "state permit", "MPRSA special permit", "EPA correspondence".
    kind: str
    #: Identifier of the document.
    document: str

    def __post_init__(self) -> None:
        """Refuse a basis that nobody can look up."""
        if not (self.kind.strip() and self.document.strip()):
            what = f"The authority basis “{self.kind}: {self.document}” lacks its kind or its document."
            raise InvalidRecordError(what, remedy='Give both, as "state permit: HB-0417".')
        _named_paper(printed_words("authority basis", f"{self.kind}: {self.document}", longest=_LONGEST))


@dataclass(frozen=True, slots=True, kw_only=True)
class Declaration:
    """What the programme declares of its burial-at-sea reports and of the papers that it rests on."""

    #: The permit for which it holds; empty for every permit without one of its own.
    permit: str = ""
    applies: Applies = "unknown"
    #: Days after the placement; None unless it applies.
    days: int | None = None
    #: Where that is asked, in the programme's words.
    cite: str = ""
    bases: tuple[AuthorityBasis, ...] = ()
    #: Who declared it and when; empty while it is being drafted.
    told: str = ""

    def __post_init__(self) -> None:
        """Refuse an obligation without its term or its source."""
        if self.applies not in get_args(Applies):
            what = f"A burial-at-sea report applies: {self.applies!r} is no answer."
            raise InvalidRecordError(what, remedy="Answer yes, no or unknown.")
        if self.applies == "yes" and (self.days is None or not 0 < self.days <= 3650):
            what = f"A burial-at-sea report within {self.days} days is not a term."
            raise InvalidRecordError(what, remedy="Give --days, as 30.")
        if self.applies != "unknown" and not self.cite.strip():
            what = f"The declaration ({self.applies}) names no source."
            raise InvalidRecordError(what, remedy='Say who says so, with --cite "...".')
        _named_paper(printed_words("citation", self.cite, longest=_LONGEST, may_be_empty=True))


@dataclass(frozen=True, slots=True, kw_only=True)
class PlannedWork:
    """Days on which the programme means to place under a permit."""

    permit: str
    begins_on: date
    ends_on: date
    #: True where it was called off.
    called_off: bool = False
    #: Who planned it and when; empty while it is being drafted.
    told: str = ""

    def __post_init__(self) -> None:
        """Refuse work that ends before it begins."""
        if self.ends_on < self.begins_on:
            what = f"Work from {self.begins_on} to {self.ends_on} ends before it begins."
            raise InvalidRecordError(what, remedy="Check --from and --to.")


@dataclass(frozen=True, slots=True, kw_only=True)
class Sending:
    """One entry that says when a duty was done."""

    duty_id: str
    kind: DutyKind
    permit: str
    #: None where an earlier entry was recorded by mistake and nothing was sent.
    sent_on: date | None
    note: str = ""
    #: Placements that stood behind the duty when this was recorded.
    covers: tuple[str, ...] = ()
    #: True where it takes the place of what was recorded before; else it is a further sending.
    instead: bool = False
    #: Who told it and when; empty while it is being drafted.
    told: str = ""

    def __post_init__(self) -> None:
        """Refuse a note that does not read as it was typed."""
        printed_words("note", self.note, longest=_LONGEST, may_be_empty=True)


def _named_paper(words: str) -> None:
    """Refuse a claim of authority where a paper is to be named: it would be printed on drafts."""
    if _CLAIM.search(words):
        what = f"“{words}” claims that something was allowed; that is for the authority to say."
        raise InvalidRecordError(what, remedy='Name the paper alone, as "state permit: HB-0417".')


def declaration_body(declaration: Declaration) -> dict[str, Any]:
    """Give a declaration as the journal keeps it."""
    return {
        "about": "burial report",
        "permit": declaration.permit,
        "applies": declaration.applies,
        "days": declaration.days,
        "cite": declaration.cite,
        "bases": [{"kind": basis.kind, "document": basis.document} for basis in declaration.bases],
    }


def declaration_from_body(body: Mapping[str, Any]) -> Declaration:
    """Give back the declaration."""
    return Declaration(
        permit=body["permit"],
        applies=body["applies"],
        days=body["days"],
        cite=body["cite"],
        bases=tuple(AuthorityBasis(**basis) for basis in body["bases"]),
        told=_told(body),
    )


def planned_work_body(work: PlannedWork) -> dict[str, Any]:
    """Give planned work as the journal keeps it."""
    return {
        "about": "work",
        "permit": work.permit,
        "begins_on": work.begins_on.isoformat(),
        "ends_on": work.ends_on.isoformat(),
        "called_off": work.called_off,
    }


def planned_work_from_body(body: Mapping[str, Any]) -> PlannedWork:
    """Give back the planned work."""
    return PlannedWork(
        permit=body["permit"],
        begins_on=date.fromisoformat(body["begins_on"]),
        ends_on=date.fromisoformat(body["ends_on"]),
        called_off=body["called_off"],
        told=_told(body),
    )


def sending_body(sending: Sending) -> dict[str, Any]:
    """Give a sending as the journal keeps it."""
    return {
        "duty_id": sending.duty_id,
        "kind": sending.kind.value,
        "permit": sending.permit,
        "sent_on": sending.sent_on.isoformat() if sending.sent_on else None,
        "note": sending.note,
        "covers": list(sending.covers),
        "instead": sending.instead,
    }


def sending_from_body(body: Mapping[str, Any]) -> Sending:
    """Give back the sending."""
    return Sending(
        duty_id=body["duty_id"],
        kind=DutyKind(body["kind"]),
        permit=body["permit"],
        sent_on=date.fromisoformat(body["sent_on"]) if body["sent_on"] else None,
        note=body["note"],
        covers=tuple(body["covers"]),
        instead=body["instead"],
        told=_told(body),
    )


def _told(body: Mapping[str, Any]) -> str:
    """Say who made an entry and when, where its body came with that."""
    if "reference" not in body:
        return ""
    return f"{body['actor']}, {str(body['time'])[:16]}Z, entry {body['reference']}"
