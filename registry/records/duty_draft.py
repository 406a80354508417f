"""
The draft of a notice or a report: what the registry holds for it, and what somebody else must fill in.

A draft claims no authority for anything. It names the papers that the programme recorded, and who decides.
"""

from dataclasses import dataclass
from datetime import date

from registry.records.duty import Duty

__all__ = ["TO_FILL_IN", "DraftField", "DraftSection", "DraftTable", "DutyDraft", "blank", "filled"]

#: What stands where Leadline holds nothing.
TO_FILL_IN = "to be filled in by the programme"


@dataclass(frozen=True, slots=True, kw_only=True)
class DraftField:
    """One thing that the paper asks."""

    label: str
    #: Empty where Leadline does not hold it.
    value: str
    #: How the value is to be understood, or why there is none.
    note: str = ""

    @property
    def missing(self) -> bool:
        """Whether somebody else must fill it in."""
        return not self.value

    @property
    def shown(self) -> str:
        """The value, or the words that stand in its place."""
        return self.value or TO_FILL_IN


def filled(label: str, value: str, note: str = "") -> DraftField:
    """Give a field with what the registry holds; where that is nothing, somebody else must fill it in."""
    return DraftField(label=label, value=value, note=note)


def blank(label: str, note: str = "") -> DraftField:
    """Give a field that somebody else must fill in."""
    return DraftField(label=label, value="", note=note)


@dataclass(frozen=True, slots=True, kw_only=True)
class DraftSection:
    """Fields that belong together."""

    title: str
    fields: tuple[DraftField, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class DraftTable:
    """Rows that belong together: one for each module, or each corner."""

    title: str
    #: With their units.
    columns: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    #: What holds for every row.
    note: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class DutyDraft:
    """One draft."""

    duty: Duty
    title: str
    #: To whom it goes; empty where the registry does not know.
    addressee: str
    programme: str
    #: The day of the draft and the zone of its days.
    made_on: date
    zone: str
    #: Digest of the journal's last entry.
    journal_head: str
    sections: tuple[DraftSection, ...]
    tables: tuple[DraftTable, ...] = ()
    #: The papers on which the programme rests the placements, as it recorded them: "KIND: DOCUMENT".
    bases: tuple[str, ...] = ()
    #: Who must decide, and what is known to stand against it, one sentence each.
    decides: tuple[str, ...] = ()
    #: What the person who sends it should know, one sentence each.
    cautions: tuple[str, ...] = ()
    #: True where it names a person: it goes to the authority and to nobody else.
    private: bool = False

    @property
    def blanks(self) -> int:
        """How many fields somebody else must fill in."""
        return sum(field.missing for section in self.sections for field in section.fields)
