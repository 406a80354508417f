"""Record a drop once, however often its entry is sent: the answer to each sending is the same."""

import json
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from registry.actions.log_placement import log_placement
from registry.errors import ConflictError, NotFoundError
from registry.ports import Register
from registry.records.entry import Entry
from registry.records.log_row import LogRow
from registry.records.tag_reading import TagReading, agreed

__all__ = ["RecordedDrop", "earlier_drop", "find_drop", "record_drop", "recorded_drop"]

#: What of an entry's source tells what was said, apart from when and by whom it was sent.
_SAID = ("said", "photo")


@dataclass(frozen=True, slots=True, kw_only=True)
class RecordedDrop:
    """A drop as it stands in the journal."""

    placement_id: str
    tag: str
    permit: str
    #: Word of the verdict when it was recorded.
    verdict: str
    findings: tuple[Mapping[str, Any], ...]
    warnings: tuple[str, ...]
    #: How it was read, one sentence each.
    basis: tuple[str, ...]
    #: The whole entry, as it was journaled.
    body: Mapping[str, Any]


def record_drop(register: Register, row: LogRow, *, reading: TagReading | None, actor: str) -> RecordedDrop:
    """
    Record a drop, unless the very same entry was recorded before; then give what it became.

    Parameters
    ----------
    register : Register
        Open for writing.
    row : LogRow
        Its `source` has the "key" of the entry, and under "said" what was typed, word for word.
    reading : TagReading or None
        The tag as a diver read it on the seabed; None where nobody has yet.
    actor : str
        Who is signed in.

    Raises
    ------
    ConflictError
        If the diver read another tag, or the key belongs to an entry that says something else.
    LeadlineError
        If it cannot be derived.
    """
    with register.writing():
        earlier = earlier_drop(register, row.tag, row.source)
        if earlier is not None:
            return earlier
        agreed(row.tag, reading)
        log_placement(register, row, actor=actor)
        entry = register.source_entry(str(row.source["key"]))
        assert entry is not None
        return recorded_drop(entry)


def earlier_drop(register: Register, tag: str, source: Mapping[str, Any]) -> RecordedDrop | None:
    """
    Give what an entry became that was sent before, or None where it was not.

    Parameters
    ----------
    register : Register
        The registry.
    tag : str
        Of the module that the entry is of.
    source : mapping
        With the "key" of the entry, what it "said", and its "photo" if it has one.

    Raises
    ------
    ConflictError
        If the key belongs to an entry that says something else.
    """
    entry = register.source_entry(str(source["key"]))
    if entry is None:
        return None
    body = json.loads(entry.body)
    if body["tag"] != tag or any(body["source"].get(name) != source.get(name) for name in _SAID):
        what = (
            f"This entry was recorded before as {entry.reference}, for {body['tag']} and with other words;"
            " nothing was changed."
        )
        remedy = "If it is another drop, open the page of its module anew; else let the office correct it."
        raise ConflictError(what, remedy=remedy)
    return recorded_drop(entry)


def find_drop(register: Register, placement_id: str) -> RecordedDrop:
    """
    Give a drop that a crew recorded, as its entry tells it.

    Raises
    ------
    NotFoundError
        If there is no such placement, or no crew recorded it on a page of the boat.
    """
    key = register.placement(placement_id).source.get("key")
    entry = register.source_entry(str(key)) if key is not None else None
    if entry is None or entry.reference != placement_id:
        what = f"{placement_id} was not recorded on a page of the boat."
        raise NotFoundError(what, remedy="Look for it in the office.")
    return recorded_drop(entry)


def recorded_drop(entry: Entry) -> RecordedDrop:
    """Give a drop as its entry in the journal tells it."""
    body = json.loads(entry.body)
    return RecordedDrop(
        placement_id=entry.reference,
        tag=body["tag"],
        permit=body["permit"],
        verdict=body["verdict"],
        findings=tuple(body["findings"]),
        warnings=tuple(body["warnings"]),
        basis=tuple(body["basis"]),
        body=body,
    )
