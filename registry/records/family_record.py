"""All that a programme holds about one family, as a paper for them: sections of rows of facts."""

from dataclasses import dataclass
from datetime import datetime
from typing import Any

__all__ = ["Fact", "FamilyRecord", "Section"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Fact:
    """One thing that is held."""

    #: For machines, with its unit: "charted_depth_m".
    name: str
    #: As JSON data.
    value: Any
    #: For people; empty where nothing is to be said.
    label: str
    words: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Section:
    """What is held of one kind."""

    #: For machines: "placements".
    name: str
    title: str
    #: Where it is kept, and whether it can be erased.
    kept: str
    rows: tuple[tuple[Fact, ...], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class FamilyRecord:
    """All that is held about one family at one instant."""

    tag: str
    programme: str
    written_at: datetime
    zone: str
    #: Of the journal then.
    journal_head: str
    sections: tuple[Section, ...]
    #: What this does not hold, and why.
    notes: tuple[str, ...]
