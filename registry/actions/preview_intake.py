"""What would become of the rows of a log, told before anything is written."""

from collections.abc import Iterable
from dataclasses import dataclass
from enum import Enum

from registry.actions.intake_log import BATCH, Read
from registry.actions.log_placement import Logged, log_placements
from registry.actions.settle_position import NO_FRAME
from registry.errors import AmbiguousPositionError, ConflictError, InvalidRecordError, LeadlineError
from registry.measure.decision import Verdict
from registry.ports import Register
from registry.records.log_row import LogRow
from registry.records.staged_intake import StagedIntake

__all__ = ["Outlook", "Previewed", "RowOutlook", "preview_intake"]


class Outlook(Enum):
    """What would become of a row."""

    #: It goes in, and nothing about it asks for a second look.
    ACCEPTED = "accepted"
    #: Somebody must look at it: it can be read in several ways, or what it says looks wrong.
    DOUBTFUL = "doubtful"
    #: It cannot go in as it is.
    REJECTED = "rejected"
    #: It stands in the registry, to the letter.
    REPEATED = "taken in before"


@dataclass(frozen=True, slots=True, kw_only=True)
class RowOutlook:
    """What would become of one row, and why."""

    number: int
    cells: tuple[str, ...]
    outlook: Outlook
    #: As it was read; None where it was not.
    row: LogRow | None
    #: Why it is doubtful or rejected, one sentence each.
    reasons: tuple[str, ...] = ()
    #: What its position could mean, for a row that can be read in several ways.
    readings: tuple[str, ...] = ()
    #: What the rules would say of it; None for a row that would not go in.
    verdict: Verdict | None = None

    @property
    def can_go_in(self) -> bool:
        """Whether it would go in as it is."""
        return self.verdict is not None


@dataclass(frozen=True, slots=True, kw_only=True)
class Previewed:
    """What would become of every row, with what somebody said of the doubtful ones."""

    rows: tuple[RowOutlook, ...]
    staged: StagedIntake

    def waiting(self) -> tuple[RowOutlook, ...]:
        """Give the doubtful rows that nobody has settled, or that nobody can read as they were settled."""
        return tuple(
            row
            for row in self.rows
            if row.outlook is Outlook.DOUBTFUL and not (self.staged.is_settled(row.number) and row.can_go_in)
        )

    def of(self, outlook: Outlook) -> tuple[RowOutlook, ...]:
        """Give the rows of one outlook; a doubtful one that was settled is among the accepted."""
        waiting = self.waiting()
        if outlook is Outlook.DOUBTFUL:
            return waiting
        if outlook is Outlook.ACCEPTED:
            numbers = {row.number for row in waiting}
            return tuple(row for row in self.rows if row.can_go_in and row.number not in numbers)
        return tuple(row for row in self.rows if row.outlook is outlook)

    def refuse_unsettled(self, *, seen: str) -> None:
        """
        Refuse to take in what somebody has not seen or not settled.

        Raises
        ------
        ConflictError
            If something was stated or settled that whoever asks has not seen, by its version.
        InvalidRecordError
            If a doubtful row waits for somebody to settle it.
        """
        if seen != self.staged.version:
            last = max(self.staged.settlements.values(), key=lambda said: said.at, default=None)
            who = (
                f" Rows were settled last by {last.by} at {last.at[:16].replace('T', ' ')} UTC."
                if last
                else ""
            )
            what = (
                f"What is said of {self.staged.file} changed since you opened it; nothing was taken in.{who}"
            )
            raise ConflictError(what, remedy="Look at it again, and take it in then.")
        waiting = self.waiting()
        if waiting:
            rows = ", ".join(str(row.number) for row in waiting[:8]) + (", …" if len(waiting) > 8 else "")
            what = f"Doubtful rows wait to be settled: {rows}. Nothing was taken in."
            raise InvalidRecordError(what, remedy="Settle each: keep, mend or leave out.")


def preview_intake(register: Register, rows: Iterable[Read], *, actor: str) -> list[RowOutlook]:
    """
    Tell what would become of each row of a log; nothing is written.

    Parameters
    ----------
    register : Register
        Read from.
    rows : iterable of Read
        The rows, read or with the reason why not.
    actor : str
        Who asks.

    Returns
    -------
    list of RowOutlook
        One for each row, in order. Rows are judged with those beside them, as they will be when taken in.

    Notes
    -----
    A row is doubtful where its position is ambiguous or in no stated frame, where a likely slip was found,
    where a rule finds it nonconforming. Truth is recorded: none of these keeps a row out once somebody has
    looked at it, but for a position that nobody can read.
    """
    found: list[RowOutlook] = []
    batch: list[Read] = []
    for read in rows:
        batch.append(read)
        if len(batch) == BATCH:
            found += _told(register, batch, actor)
            batch = []
    return found + _told(register, batch, actor)


def _told(register: Register, batch: list[Read], actor: str) -> list[RowOutlook]:
    logs = [read.row for read in batch if isinstance(read.row, LogRow)]
    answers = iter(log_placements(register, logs, actor=actor, write=False))
    return [_outlook(read, next(answers) if isinstance(read.row, LogRow) else read.row) for read in batch]


def _outlook(read: Read, answer: Logged | LeadlineError) -> RowOutlook:
    row = read.row if isinstance(read.row, LogRow) else None
    if isinstance(answer, Logged):
        unstated = (told for told in answer.placement.basis if told.startswith(NO_FRAME))
        wrong = [f for f in answer.findings if f.verdict == Verdict.NONCONFORMING]
        reasons = (
            *answer.placement.warnings,
            *unstated,
            *(f"{f.rule}: {f.message} [{f.cite}]" for f in wrong),
        )
        return RowOutlook(
            number=read.number,
            cells=read.cells,
            outlook=Outlook.DOUBTFUL if reasons else Outlook.ACCEPTED,
            row=row,
            reasons=reasons,
            verdict=answer.verdict,
        )
    outlook = Outlook.REJECTED
    readings: tuple[str, ...] = ()
    if isinstance(answer, AmbiguousPositionError):
        outlook, readings = Outlook.DOUBTFUL, answer.readings
    elif isinstance(answer, ConflictError):
        outlook = Outlook.REPEATED
    # The readings stand beside the reason, not in it.
    reason = f"{answer.what} {answer.remedy}".strip()
    return RowOutlook(
        number=read.number, cells=read.cells, outlook=outlook, row=row, reasons=(reason,), readings=readings
    )
