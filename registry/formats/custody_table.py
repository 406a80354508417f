"""A spreadsheet of hand-overs: one row for each, with what both sides read."""

from collections.abc import Iterator, Mapping
from typing import Any

from registry.errors import InvalidRecordError, LeadlineError, TableError
from registry.formats.csv_table import CsvTable, Row
from registry.formats.written_instant import read_instant
from registry.records.custody import HandOverDraft, Step, WrittenSide

__all__ = ["CUSTODY_COLUMNS", "read_hand_overs", "read_step"]

CUSTODY_COLUMNS = ("tag", "step", "when", "from", "from_tag", "from_id", "to", "to_tag", "to_id")


def read_hand_overs(
    table: CsvTable, *, zone: str, source: Mapping[str, Any]
) -> Iterator[tuple[Row, HandOverDraft | LeadlineError]]:
    r"""
    Read the rows; one that cannot be read gives its error instead.

    Parameters
    ----------
    table : CsvTable
        With the columns of ``CUSTODY_COLUMNS`` and perhaps note.
    zone : str
        IANA zone of instants that name none.
    source : mapping
        Of the file, for the journal.

    Raises
    ------
    TableError
        If a column is missing.

    Examples
    --------
    >>> from registry.formats.csv_table import read_csv_table
    >>> head = "tag,step,when,from,from_tag,from_id,to,to_tag,to_id"
    >>> row = "MC-1,received,2025-01-14 09:30,Skua Crematory,MC-1,C-48213,Marram yard,MC-1,C-48213"
    >>> rows = read_hand_overs(read_csv_table(f"{head}\n{row}\n"), zone="America/New_York", source={})
    >>> [(draft.step.value, draft.at.isoformat(), draft.taker.identification) for _, draft in rows]
    [('received', '2025-01-14T14:30:00+00:00', 'C-48213')]
    """
    missing = [name for name in CUSTODY_COLUMNS if name not in table.header]
    if missing:
        what = f"The spreadsheet has no column for {', '.join(missing)}; it has {', '.join(table.header)}."
        raise TableError(what, remedy=f"Name the columns in the first row: {', '.join(CUSTODY_COLUMNS)}.")
    for row in table.rows():
        if row.problem is not None:
            yield row, TableError(row.problem, remedy="Mend the row.")
            continue
        say = {name: cell.strip() for name, cell in table.by_name(row).items()}
        try:
            yield row, _draft(say, zone, {**source, "row": row.number})
        except LeadlineError as error:
            yield row, error


def read_step(text: str) -> Step:
    """
    Read the name of a step.

    Raises
    ------
    InvalidRecordError
        If there is no such step; it names those there are.
    """
    try:
        return Step(text.strip().casefold())
    except ValueError as error:
        what = f"{text!r} is no step of the keepers' chain."
        raise InvalidRecordError(what, remedy=f"Say {', '.join(step.value for step in Step)}.") from error


def _draft(say: Mapping[str, str], zone: str, source: dict[str, Any]) -> HandOverDraft:
    return HandOverDraft(
        tag=say["tag"],
        step=read_step(say["step"]),
        at=read_instant(say["when"], zone),
        at_text=say["when"],
        giver=WrittenSide(name=say["from"], tag=say["from_tag"], identification=say["from_id"]),
        taker=WrittenSide(name=say["to"], tag=say["to_tag"], identification=say["to_id"]),
        note=say.get("note", ""),
        source=source,
    )
