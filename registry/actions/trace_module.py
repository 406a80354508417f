"""
Trace a module through the journal: every entry about a placement of it, oldest first.

Who may be named stays out: crews and notes. The actor is who answers for the entry.
"""

import json
from collections.abc import Mapping
from typing import Any

from registry.ports import Register
from registry.records.entry import Entry
from registry.records.module_trace import TracedEntry

__all__ = ["trace_module"]

_KINDS = {
    "placement.logged": "placed",
    "placement.corrected": "corrected",
    "placement.withdrawn": "withdrawn",
    "placement.resurveyed": "resurveyed",
}


def trace_module(register: Register, tag: str, *, permit: str) -> tuple[TracedEntry, ...]:
    """
    Trace a module under one permit.

    Parameters
    ----------
    register : Register
        Read from; best within one `reading()`.
    tag : str
        Of the module.
    permit : str
        Number of the permit; of what is under another nothing is told.
    """
    # A digest of the text of each of many entries is not worked out: only those that name the tag are read.
    named = json.dumps(tag, ensure_ascii=False)
    found: list[TracedEntry] = []
    own: set[str] = set()
    for entry in register.journal():
        if entry.kind not in _KINDS or named not in entry.body:
            continue
        body = entry.content()
        if body["tag"] != tag:
            continue
        about = _about(body)
        if body.get("permit", permit) != permit or ("permit" not in body and about not in own):
            continue
        own.add(entry.reference)
        found.append(_traced(entry, body, about))
    return tuple(found)


def _about(body: Mapping[str, Any]) -> str:
    return str(body.get("supersedes") or body.get("placement_id") or "")


def _traced(entry: Entry, body: Mapping[str, Any], about: str) -> TracedEntry:
    return TracedEntry(
        kind=_KINDS[entry.kind],
        at=entry.time,
        actor=entry.actor,
        reference=entry.reference,
        digest=entry.digest,
        about=about,
        reason=str(body.get("reason", "")),
        told=_told(body),
    )


def _told(body: Mapping[str, Any]) -> str:
    if "movement" in body:
        return f"{body['position_text']}: {body['movement']['verdict']}; seen on {body['observed_at'][:10]}"
    if "position_text" not in body:
        return ""
    return ", depth ".join(text for text in (body["position_text"], body["depth_text"]) if text)
