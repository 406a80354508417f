"""Take in a day's spreadsheet: good rows go in, bad rows come back with reasons, nothing is lost."""

from collections.abc import Callable, Collection, Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any

from registry.actions.log_placement import Logged, log_placements
from registry.errors import ConflictError, LeadlineError
from registry.measure.decision import Verdict
from registry.ports import Register
from registry.records.entry import Draft, Entry
from registry.records.log_row import LogRow

__all__ = ["BATCH", "Intake", "Read", "Rejected", "earlier_intakes", "intake_log", "intake_once"]

#: Rows that are judged and written as one transaction.
BATCH = 5_000


@dataclass(frozen=True, slots=True, kw_only=True)
class Read:
    """One row of the spreadsheet as it could be read, or why it could not."""

    number: int
    cells: tuple[str, ...]
    row: LogRow | LeadlineError


@dataclass(frozen=True, slots=True, kw_only=True)
class Rejected:
    """One row that was not taken in."""

    number: int
    cells: tuple[str, ...]
    reason: str


@dataclass(slots=True, kw_only=True)
class Intake:
    """What became of a spreadsheet."""

    #: Number of the row and what was logged from it.
    logged: list[tuple[int, Logged]] = field(default_factory=list)
    rejected: list[Rejected] = field(default_factory=list)
    #: Numbers of rows that were taken in before, to the letter.
    repeated: list[int] = field(default_factory=list)

    def count(self, verdict: Verdict) -> int:
        """Give how many of the logged placements have a verdict."""
        return sum(1 for _, logged in self.logged if logged.verdict == verdict)


def intake_log(
    register: Register,
    rows: Iterable[Read],
    *,
    source: Mapping[str, Any],
    actor: str,
    progress: Callable[[int], None] = lambda _count: None,
) -> Intake:
    """
    Take in the rows of a log, some thousands as one transaction each.

    Parameters
    ----------
    register : Register
        Where they go.
    rows : iterable of Read
        The rows, read or with the reason why not.
    source : mapping
        Name and digest of the file, for the journal.
    actor : str
        Who takes it in.
    progress : callable
        Told how many rows are done.

    Notes
    -----
    If it is stopped midway, what was acknowledged stands; taking the same file in again passes over it.
    """
    result = Intake()
    batch: list[Read] = []
    for read in rows:
        batch.append(read)
        if len(batch) == BATCH:
            _take(register, batch, result, actor)
            progress(len(batch))
            batch = []
    _take(register, batch, result, actor)
    progress(len(batch))
    result.rejected.sort(key=lambda rejected: rejected.number)
    body = {
        **source,
        "logged": len(result.logged),
        "repeated": len(result.repeated),
        "rejected": [{"row": r.number, "reason": r.reason, "text": list(r.cells)} for r in result.rejected],
    }
    register.append([Draft(kind="intake.read", actor=actor, body=body)])
    return result


def earlier_intakes(register: Register, sha256: str) -> tuple[Entry, ...]:
    """Give the entries that tell of a file of this digest that was taken in, oldest first."""
    # Looked for in the text first: the bodies of large intakes are long.
    read = (entry for entry in register.journal(kind="intake.read") if sha256 in entry.body)
    return tuple(entry for entry in read if entry.content().get("sha256") == sha256)


def intake_once(
    register: Register,
    rows: Iterable[Read],
    *,
    source: Mapping[str, Any],
    actor: str,
    seen: Collection[str],
) -> Intake:
    """
    Take in the rows of a log as one transaction, unless somebody has taken in the same file meanwhile.

    Parameters
    ----------
    register, rows, source, actor :
        As for :func:`intake_log`; `source` has the digest of the file as ``sha256``.
    seen : collection of str
        References of the earlier intakes of this file that whoever asks has seen.

    Raises
    ------
    ConflictError
        If there is another one: who, when, and how many rows. Nothing is written then.
    """
    with register.writing():
        for entry in earlier_intakes(register, str(source["sha256"])):
            if entry.reference not in seen:
                told = entry.content()
                what = (
                    f"{entry.actor} took this file in at {entry.time:%Y-%m-%d %H:%M} UTC: placements recorded"
                    f" {told['logged']}, rows rejected {len(told['rejected'])}."
                )
                raise ConflictError(what, remedy="Open it again: rows that stand already are marked so.")
        return intake_log(register, rows, source=source, actor=actor)


def _take(register: Register, batch: list[Read], result: Intake, actor: str) -> None:
    readable = [read for read in batch if isinstance(read.row, LogRow)]
    for read in batch:
        if isinstance(read.row, LeadlineError):
            result.rejected.append(Rejected(number=read.number, cells=read.cells, reason=str(read.row)))
    rows = [read.row for read in readable if isinstance(read.row, LogRow)]
    if not rows:
        return
    for read, answer in zip(readable, log_placements(register, rows, actor=actor), strict=True):
        if isinstance(answer, Logged):
            result.logged.append((read.number, answer))
        elif isinstance(answer, ConflictError):
            result.repeated.append(read.number)
        else:
            result.rejected.append(Rejected(number=read.number, cells=read.cells, reason=str(answer)))
