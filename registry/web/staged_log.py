"""A spreadsheet on its way in, as pages need it: its note, its table, and what would become of its rows."""

import threading
from collections import OrderedDict
from collections.abc import Callable, Iterator
from typing import Any

from fastapi import Request

from registry.actions.intake_log import Read
from registry.actions.preview_intake import Previewed, RowOutlook, preview_intake
from registry.errors import InvalidRecordError, NotFoundError
from registry.formats.csv_table import CsvTable, Row, read_csv_table
from registry.formats.log_columns import LogColumns, chosen_columns
from registry.formats.placement_log import read_placement_log
from registry.records.staged_intake import StagedIntake, staged_body, staged_from_body
from registry.storage.files import DecodedText, decode_text
from registry.web.opened import reading
from registry.web.received import received

__all__ = [
    "changed",
    "columns_of",
    "decoded_of",
    "previewed",
    "read_rows",
    "source_of",
    "staged_of",
    "table_of",
]

#: Previews that are kept: of a few files, each for what was stated of it and for one state of the registry.
_KEPT = 6
_previews: "OrderedDict[tuple[str, ...], tuple[RowOutlook, ...]]" = OrderedDict()
_lock = threading.Lock()


def staged_of(request: Request, digest: str) -> StagedIntake:
    """Give what is known of a file that was sent; NotFoundError where it was not sent."""
    note = received(request).note(f"intake-{digest}")
    if note is None:
        raise NotFoundError("No such spreadsheet was sent.", remedy="Send it again.")
    return staged_from_body(note)


def changed(request: Request, digest: str, change: Callable[[StagedIntake], StagedIntake]) -> StagedIntake:
    """Change what was said of a file; nobody else changes it meanwhile."""

    def of_note(note: Any) -> Any:
        if note is None:
            raise NotFoundError("No such spreadsheet was sent.", remedy="Send it again.")
        return staged_body(change(staged_from_body(note)))

    return staged_from_body(received(request).change(f"intake-{digest}", of_note))


def decoded_of(request: Request, staged: StagedIntake) -> DecodedText:
    """Give the text of a file, and how its bytes were understood."""
    return decode_text(received(request).read(staged.sha256), name=staged.file)


def table_of(request: Request, staged: StagedIntake) -> CsvTable:
    """Give the table of a file; TableError where it is none."""
    return read_csv_table(decoded_of(request, staged).text, delimiter=staged.delimiter)


def columns_of(table: CsvTable, staged: StagedIntake) -> LogColumns:
    """Give the columns as they were chosen; NotFoundError before that."""
    stated = staged.read_as
    if stated is None:
        raise NotFoundError(
            f"Nobody has said yet what the columns of {staged.file} mean.", remedy="Say it first."
        )
    return chosen_columns(table, stated.columns, stated.units)


def source_of(staged: StagedIntake, encoding: str) -> dict[str, Any]:
    """Give what the journal keeps of the file."""
    return {"file": staged.file, "sha256": staged.sha256, "encoding": encoding}


def read_rows(request: Request, staged: StagedIntake) -> Iterator[tuple[Row, Read]]:
    """Read the rows as it was stated, mended and left out."""
    decoded = decoded_of(request, staged)
    table = read_csv_table(decoded.text, delimiter=staged.delimiter)
    columns = columns_of(table, staged)
    stated = staged.read_as
    assert stated is not None
    left_out = staged.left_out()
    rows = read_placement_log(
        table,
        zone=stated.zone,
        permit=stated.permit,
        frame=stated.frame,
        source=source_of(staged, decoded.encoding),
        columns=columns,
        mends=staged.mends(),
    )
    for row, read in rows:
        reason = left_out.get(row.number)
        said = InvalidRecordError(reason) if reason else read
        yield row, Read(number=row.number, cells=row.cells, row=said)


def previewed(request: Request, staged: StagedIntake, actor: str) -> Previewed:
    """Tell what would become of every row; kept until something is stated otherwise or the registry grows."""
    with reading(request) as register, register.reading():
        # What rows were merely confirmed changes nothing of what becomes of the others.
        mended = {number: dict(mend) for number, mend in staged.mends().items()}
        stated = repr((staged.delimiter, staged.read_as, mended, sorted(staged.left_out().items())))
        key = (str(register.place), register.head(), staged.sha256, stated)
        with _lock:
            kept = _previews.get(key)
            if kept is not None:
                _previews.move_to_end(key)
        if kept is None:
            reads = (read for _, read in read_rows(request, staged))
            kept = tuple(preview_intake(register, reads, actor=actor))
            with _lock:
                _previews[key] = kept
                while len(_previews) > _KEPT:
                    _previews.popitem(last=False)
    return Previewed(rows=kept, staged=staged)
