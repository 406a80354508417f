"""Say of a spreadsheet on its way in how it is to be read, and of a doubtful row what is to become of it."""

from collections.abc import Iterable, Mapping
from dataclasses import replace

from registry.errors import ConflictError, InvalidRecordError
from registry.ports import Clock
from registry.records.entry import instant_text
from registry.records.staged_intake import ReadAs, Settlement, StagedIntake

__all__ = ["ask_again", "confirm_rows", "leave_out_row", "mend_row", "read_as", "row_version"]


def row_version(staged: StagedIntake, number: int) -> str:
    """Name what was last said of a row: whoever says something else brings it back."""
    said = staged.settlements.get(number)
    return "" if said is None else f"{said.at} {said.by}"


def read_as(staged: StagedIntake, stated: ReadAs, *, seen: str) -> StagedIntake:
    """
    State how the whole file is to be read. What was said of rows stays.

    Raises
    ------
    ConflictError
        If somebody stated or settled something that whoever states this has not seen.
    """
    if staged.read_as is not None and stated != staged.read_as and seen != staged.version:
        what = "Somebody stated meanwhile how this file is read, or settled rows of it; nothing was changed."
        raise ConflictError(what, remedy="Open it again, and look at what it says now.")
    return replace(staged, read_as=stated)


def confirm_rows(staged: StagedIntake, numbers: Iterable[int], *, clock: Clock, actor: str) -> StagedIntake:
    """Say that rows are as they say: they go in, with what is wrong with them. What is left out stays out."""
    at = instant_text(clock.now())
    settled = dict(staged.settlements)
    for number in numbers:
        said = settled.get(number)
        if said is None:
            settled[number] = Settlement(kind="confirmed", by=actor, at=at)
        elif said.kind == "mended":
            settled[number] = replace(said, looked_at=True, by=actor, at=at)
    return replace(staged, settlements=settled)


def mend_row(
    staged: StagedIntake, number: int, mend: Mapping[str, str], *, seen: str, clock: Clock, actor: str
) -> StagedIntake:
    """
    Put something else in the place of what a row says; it is read and judged anew.

    Raises
    ------
    ConflictError
        If somebody settled the row meanwhile.
    InvalidRecordError
        If nothing is put in its place.
    """
    _refuse_stale(staged, number, seen)
    if not mend:
        what = f"Nothing of row {number} is said otherwise than before."
        raise InvalidRecordError(what, remedy="Change a cell, keep the row as it is, or leave it out.")
    said = Settlement(kind="mended", mend=dict(mend), by=actor, at=instant_text(clock.now()))
    return replace(staged, settlements={**staged.settlements, number: said})


def leave_out_row(
    staged: StagedIntake, number: int, reason: str, *, seen: str, clock: Clock, actor: str
) -> StagedIntake:
    """
    Leave a row out; it goes to the rejected ones with the reason.

    Raises
    ------
    ConflictError
        If somebody settled the row meanwhile.
    InvalidRecordError
        If no reason is given.
    """
    _refuse_stale(staged, number, seen)
    if not reason.strip():
        raise InvalidRecordError(f"Row {number} is left out without a reason.", remedy="Say why.")
    said = Settlement(kind="left out", reason=reason.strip(), by=actor, at=instant_text(clock.now()))
    return replace(staged, settlements={**staged.settlements, number: said})


def ask_again(staged: StagedIntake, number: int, *, seen: str) -> StagedIntake:
    """
    Take back what was said of a row.

    Raises
    ------
    ConflictError
        If somebody settled the row meanwhile.
    """
    _refuse_stale(staged, number, seen)
    return replace(staged, settlements={n: said for n, said in staged.settlements.items() if n != number})


def _refuse_stale(staged: StagedIntake, number: int, seen: str) -> None:
    if row_version(staged, number) == seen:
        return
    said = staged.settlements.get(number)
    told = (
        f"{said.by} settled row {number} meanwhile, at {said.at[:16].replace('T', ' ')} UTC: {said.words()}."
        if said
        else f"What was said of row {number} was taken back meanwhile."
    )
    raise ConflictError(f"{told} What you said was not kept.", remedy="Open the row again, and decide anew.")
