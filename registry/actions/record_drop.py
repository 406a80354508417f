"""Record a drop once, however often its entry is sent: the answer to each sending is the same."""

import json
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from registry.actions.log_placement import log_placement
from registry.errors import ConflictError
from registry.ports import Register
from registry.records.entry import Entry
from registry.records.log_row import LogRow
from registry.records.tag_reading import TagReading, agreed

__all__ = ["RecordedDrop", "record_drop", "recorded_drop"]

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
        earlier = register.source_entry(str(row.source["key"]))
        if earlier is None:
            agreed(row.tag, reading)
            log_placement(register, row, actor=actor)
            earlier = register.source_entry(str(row.source["key"]))
            assert earlier is not None
            return recorded_drop(earlier)
    body = json.loads(earlier.body)
    if any(body["source"].get(name) != row.source.get(name) for name in _SAID) or body["tag"] != row.tag:
        what = (
            f"This entry was recorded before as {earlier.reference}, for {body['tag']} and with other words;"
            " nothing was changed."
        )
        raise ConflictError(
            what, remedy="To set the record right, correct that placement: leadline correct, in the office."
        )
    return recorded_drop(earlier)


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
