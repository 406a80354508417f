"""
The draft of a notice or report as spreadsheets: its fields one below the other, and each of its tables.

What Leadline does not hold says so in words. A private draft says so in its first row.
"""

from collections.abc import Iterator

from registry.formats.csv_table import write_csv_table
from registry.records.duty_draft import TO_FILL_IN, DraftTable, DutyDraft

__all__ = ["COLUMNS", "write_draft_table", "write_duty_fields"]

COLUMNS = ("section", "field", "value", "note")


def write_duty_fields(draft: DutyDraft) -> bytes:
    """
    Write the fields of a draft in the order of the page.

    Parameters
    ----------
    draft : DutyDraft
        What is to be sent once a person has filled it in and checked it.

    Returns
    -------
    bytes
        CSV in UTF-8 with its mark; the same bytes for the same draft.
    """
    return write_csv_table(COLUMNS, _rows(draft)).encode("utf-8-sig", errors="replace")


def write_draft_table(table: DraftTable) -> bytes:
    """Write one table of a draft, a row for each module or corner, as CSV in UTF-8 with its mark."""
    return write_csv_table(table.columns, table.rows).encode("utf-8-sig", errors="replace")


def _rows(draft: DutyDraft) -> Iterator[tuple[str, str, str, str]]:
    yield "Draft", "title", draft.title, "private: it names a person" if draft.private else ""
    yield "Draft", "duty", draft.duty.duty_id, draft.duty.what
    yield "Draft", "to", draft.addressee or TO_FILL_IN, ""
    yield "Draft", "made on", draft.made_on.isoformat(), f"days of {draft.zone}"
    yield "Draft", "journal head", draft.journal_head, ""
    for section in draft.sections:
        for field in section.fields:
            yield section.title, field.label, field.shown, field.note
    for table in draft.tables:
        yield table.title, "rows", str(len(table.rows)), table.note
    recorded = "Authority basis on record"
    for basis in draft.bases or ("",):
        yield recorded, "basis", basis, "" if basis else "none is recorded"
    for sentence in draft.decides:
        yield "Who must decide", "", sentence, ""
    for sentence in draft.cautions:
        yield "Before it is sent", "", sentence, ""
