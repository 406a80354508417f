"""Record a spreadsheet of modules observed again: what moved, what was known, what cannot be used."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from registry.actions.intake_log import Read, Rejected
from registry.actions.record_resurvey import Resurveyed, SiteResurvey, record_resurveys
from registry.errors import ConflictError, LeadlineError
from registry.ports import Register
from registry.records.log_row import LogRow

__all__ = ["SurveyIntake", "record_survey", "with_usual"]


@dataclass(frozen=True, slots=True, kw_only=True)
class SurveyIntake:
    """What became of the rows of a survey."""

    found: SiteResurvey
    good: tuple[Resurveyed, ...]
    #: Numbers of rows that were taken in before, to the letter.
    repeated: tuple[int, ...]
    #: In order of their rows.
    rejected: tuple[Rejected, ...]


def record_survey(
    register: Register, reads: Sequence[Read], *, usual: Mapping[str, Any], actor: str, write: bool = True
) -> SurveyIntake:
    """
    Record the rows of a survey as one transaction; those that cannot be used come back with their reasons.

    Parameters
    ----------
    register : Register
        Where they go.
    reads : sequence of Read
        The rows, read or with the reason why not.
    usual : mapping
        As for :func:`with_usual`.
    actor : str
        Who records them.
    write : bool
        False to be told without writing.
    """
    readable = [(read, with_usual(read.row, usual)) for read in reads if isinstance(read.row, LogRow)]
    found = record_resurveys(register, [row for _, row in readable], actor=actor, write=write)
    rejected = [(read, read.row) for read in reads if isinstance(read.row, LeadlineError)]
    repeated = []
    for (read, _), answer in zip(readable, found.answers, strict=True):
        if isinstance(answer, ConflictError) and "to the letter" in answer.what:
            repeated.append(read.number)
        elif isinstance(answer, LeadlineError):
            rejected.append((read, answer))
    rejected.sort(key=lambda pair: pair[0].number)
    return SurveyIntake(
        found=found,
        good=tuple(answer for answer in found.answers if isinstance(answer, Resurveyed)),
        repeated=tuple(repeated),
        rejected=tuple(
            Rejected(number=read.number, cells=read.cells, reason=str(error)) for read, error in rejected
        ),
    )


def with_usual(row: LogRow, usual: Mapping[str, Any]) -> LogRow:
    """
    Let what is stated for all rows stand for what a row does not say.

    Parameters
    ----------
    row : LogRow
        As it was read.
    usual : mapping
        Field of the row to what is usual. A radius and a class of receiver exclude each other: neither is
        filled in where the row says one of them.
    """
    said = {"r95", "receiver"} if row.r95 or row.receiver else set()
    gaps = {name: value for name, value in usual.items() if value and name not in said}
    return replace(row, **{name: value for name, value in gaps.items() if not getattr(row, name)})
