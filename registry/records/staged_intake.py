"""A spreadsheet that was sent and not yet taken in: how it is read, and what somebody said of its rows."""

import hashlib
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any, Literal

from registry.records.entry import canonical_json

__all__ = ["ReadAs", "Settlement", "StagedIntake", "staged_body", "staged_from_body"]

#: What was said of a row: it is as it says; it was mended; it is left out.
Settled = Literal["confirmed", "mended", "left out"]


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadAs:
    """What a person stated for the whole file."""

    #: Meaning to normalised name of the column.
    columns: Mapping[str, str]
    #: Meaning to the unit of cells that state none.
    units: Mapping[str, str]
    #: None where each row names its own.
    frame: str | None
    permit: str | None
    zone: str | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Settlement:
    """What somebody said of one row."""

    kind: Settled
    #: Meaning to what takes the place of what the row says; for a row that was mended.
    mend: Mapping[str, str] = field(default_factory=dict)
    #: Why it is left out.
    reason: str = ""
    by: str
    #: UTC, as text.
    at: str
    #: A mended row that was looked at again and is as it now says.
    looked_at: bool = False

    def words(self) -> str:
        """Say it in a sentence."""
        if self.kind == "left out":
            return f"left out: {self.reason}"
        if self.kind == "mended":
            told = ", ".join(f"{name} set to “{text}”" for name, text in self.mend.items())
            return f"{told}{', and kept so' if self.looked_at else ''}"
        return "kept as it is written"


@dataclass(frozen=True, slots=True, kw_only=True)
class StagedIntake:
    """One spreadsheet on its way in; the file itself is kept by its digest."""

    sha256: str
    #: As its sender called it, for people.
    file: str
    #: Between cells: a comma, a semicolon or a tab; None where the text tells.
    delimiter: str | None = None
    sent_by: str
    sent_at: str
    read_as: ReadAs | None = None
    #: By number of the row.
    settlements: Mapping[int, Settlement] = field(default_factory=dict)

    @property
    def version(self) -> str:
        """Name everything that was stated and settled, so that nobody takes in what they have not seen."""
        body = staged_body(self)
        said = {name: body[name] for name in ("delimiter", "read_as", "settlements")}
        return hashlib.sha256(canonical_json(said).encode()).hexdigest()[:16]

    def is_settled(self, number: int) -> bool:
        """Tell whether somebody has said of a row that it is as it stands now, or is left out."""
        said = self.settlements.get(number)
        return said is not None and (said.kind != "mended" or said.looked_at)

    def mends(self) -> dict[int, Mapping[str, str]]:
        """Give what was mended, by row."""
        return {number: said.mend for number, said in self.settlements.items() if said.mend}

    def left_out(self) -> dict[int, str]:
        """Give why rows are left out, by row, with who says so."""
        return {
            number: f"Left out by {said.by}: {said.reason}"
            for number, said in self.settlements.items()
            if said.kind == "left out"
        }


def staged_body(staged: StagedIntake) -> dict[str, Any]:
    """Give it as data."""
    read_as = staged.read_as
    return {
        "sha256": staged.sha256,
        "file": staged.file,
        "delimiter": staged.delimiter,
        "sent_by": staged.sent_by,
        "sent_at": staged.sent_at,
        "read_as": read_as
        and {
            "columns": dict(read_as.columns),
            "units": dict(read_as.units),
            "frame": read_as.frame,
            "permit": read_as.permit,
            "zone": read_as.zone,
        },
        "settlements": {
            str(number): {
                "kind": said.kind,
                "mend": dict(said.mend),
                "reason": said.reason,
                "by": said.by,
                "at": said.at,
                "looked_at": said.looked_at,
            }
            for number, said in staged.settlements.items()
        },
    }


def staged_from_body(body: Mapping[str, Any]) -> StagedIntake:
    """Give it back."""
    settled = {int(number): Settlement(**said) for number, said in body["settlements"].items()}
    read_as = ReadAs(**body["read_as"]) if body["read_as"] else None
    return StagedIntake(**{**body, "read_as": read_as, "settlements": settled})
