"""An entry of the journal as programs read it: the same document from the command and over HTTP."""

from typing import Any

from registry.records.entry import Entry, instant_text

__all__ = ["entry_answer"]


def entry_answer(entry: Entry) -> dict[str, Any]:
    """Give one entry, whole: with its digest and that of the one before."""
    return {
        "reference": entry.reference,
        "time": instant_text(entry.time),
        "actor": entry.actor,
        "kind": entry.kind,
        "body": entry.content(),
        "previous": entry.previous,
        "digest": entry.digest,
    }
