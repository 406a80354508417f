"""A permit as programs read it: the same document from the command and over HTTP."""

from collections.abc import Sequence
from dataclasses import asdict
from datetime import date
from itertools import pairwise
from typing import Any

from registry.records.body import permit_body
from registry.records.permit import Permit
from registry.records.permit_changes import permit_changes

__all__ = ["permit_answer", "permit_notes"]


def permit_answer(
    permit: Permit, versions: Sequence[Permit] = (), today: date | None = None
) -> dict[str, Any]:
    """
    Give a permit as one JSON document.

    Parameters
    ----------
    permit : Permit
        In the version in force.
    versions : sequence of Permit
        All its versions, oldest in force first.
    today : datetime.date, optional
        With it the document says how the permit stands on that day, and what each version changed.
    """
    data = _body(permit) | {"notes": permit_notes(permit)}
    if today is None:
        return data
    changes = [(), *(permit_changes(before, after) for before, after in pairwise(versions))]
    return data | {
        "standing": permit.standing_on(today),
        "versions": [
            _body(version) | {"begins_on": version.begins_on.isoformat(), "changes": list(changed)}
            for version, changed in zip(versions, changes, strict=True)
        ],
    }


def _body(permit: Permit) -> dict[str, Any]:
    """Give a permit as data, with what goes without saying said too."""
    return permit_body(permit) | {"reporting": asdict(permit.reporting)}


def permit_notes(permit: Permit) -> list[str]:
    """Say of which area the epoch was not stated but taken."""
    return [
        f"Area {area.area_id}: {note.strip()}."
        for area in permit.areas
        for note in area.operation.split(";")[1:]
        if note.strip().startswith("no epoch was stated")
    ]
