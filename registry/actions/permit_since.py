"""What was recorded of a permit since somebody looked at it: nobody amends what they have not seen."""

import hashlib
from collections.abc import Sequence
from datetime import date

from registry.errors import ConflictError
from registry.ports import Register
from registry.records.body import permit_body, permit_from_body
from registry.records.entry import Entry, canonical_json
from registry.records.permit import Permit, in_force_on
from registry.records.permit_changes import permit_changes

__all__ = ["permit_version", "refuse_unseen"]


def permit_version(versions: Sequence[Permit]) -> str:
    """
    Name what is recorded of a permit: 16 digits of the SHA-256 over every version of it.

    Whoever amends it brings this back.
    """
    return hashlib.sha256(canonical_json([permit_body(v) for v in versions]).encode()).hexdigest()[:16]


def refuse_unseen(register: Register, versions: Sequence[Permit], seen: str | None) -> None:
    """
    Refuse to amend a permit of which more is recorded than somebody has seen.

    Raises
    ------
    ConflictError
        It tells who recorded what and when. Nothing is refused where `seen` is None.
    """
    if seen is None or seen == permit_version(versions):
        return
    number = versions[0].number
    told: list[str] = []
    known: dict[date, Permit] = {}
    for entry in _entries(register, number):
        after = permit_from_body(entry.content())
        before = list(known.values())
        if seen == permit_version(before):
            told = []
        if before:
            changes = "; ".join(permit_changes(in_force_on(before, after.begins_on), after)) or "other words"
            told.append(
                f"{entry.actor}, {entry.time:%Y-%m-%d %H:%M} UTC, from {after.begins_on} on: {changes}."
            )
        known[after.begins_on] = after
        known = dict(sorted(known.items()))
    what = f"Permit {number} was amended since you looked at it; nothing was recorded. {' '.join(told)}"
    raise ConflictError(what.strip(), remedy="Look at it as it is now, and amend that.")


def _entries(register: Register, number: str) -> list[Entry]:
    """Give what was recorded of a permit, oldest first."""
    found = [
        entry
        for kind in ("permit.added", "permit.amended")
        for entry in register.journal(kind=kind)
        if entry.content()["number"] == number
    ]
    return sorted(found, key=lambda entry: entry.time)
