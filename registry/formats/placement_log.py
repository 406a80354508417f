"""The spreadsheet of a day at sea: its columns understood, each row read as what it says."""

import hashlib
from collections.abc import Iterator, Mapping
from dataclasses import replace
from datetime import datetime
from typing import Any

from registry.errors import LeadlineError, TableError, TimeTextError
from registry.formats.csv_table import CsvTable, Row
from registry.formats.log_columns import MEANINGS, LogColumns, understood_columns
from registry.formats.log_instruments import Instruments
from registry.formats.row_position import POSITION_FORMS, read_row_position
from registry.formats.written_epoch import read_epoch
from registry.formats.written_instant import read_instant
from registry.formats.written_quantity import read_length
from registry.records.entry import canonical_json
from registry.records.log_row import LogRow
from registry.records.quantity import Quantity

__all__ = ["read_placement_log"]

_NO_MENDS: Mapping[int, Mapping[str, str]] = {}


def read_placement_log(
    table: CsvTable,
    *,
    zone: str | None,
    permit: str | None,
    source: Mapping[str, Any],
    frame: str | None = None,
    instruments: Instruments | None = None,
    columns: LogColumns | None = None,
    mends: Mapping[int, Mapping[str, str]] = _NO_MENDS,
) -> Iterator[tuple[Row, LogRow | LeadlineError]]:
    """
    Read the rows of a log; one that cannot be read gives its error instead.

    Parameters
    ----------
    table : CsvTable
        The spreadsheet.
    zone : str or None
        The zone of times that state none; None where each has to state its own.
    permit : str, optional
        The permit of rows that name none.
    source : mapping
        Name and digest of the file, kept with every row.
    frame : str, optional
        The frame of rows that name none.
    instruments : Instruments, optional
        For positions and depths that are to be derived.
    columns : LogColumns, optional
        What each column means, where a person chose it; else the header tells.
    mends : mapping of int to mapping, optional
        For rows by number: meaning to what a person put in the place of what the row says. The row keeps its
        key and its raw text, and both what was and what is go into its source.

    Raises
    ------
    TableError
        If the columns cannot be understood, or a mend is of something that no column can mean.
    """
    columns = columns or understood_columns(table, instruments)
    for row in table.rows():
        if row.problem is not None:
            yield row, TableError(row.problem, remedy="Mend the row.")
            continue
        try:
            yield (
                row,
                _log_row(
                    table,
                    columns,
                    row,
                    zone=zone,
                    permit=permit,
                    source=source,
                    frame=frame,
                    instruments=instruments,
                    mend=mends.get(row.number, {}),
                ),
            )
        except LeadlineError as error:
            yield row, error


def _log_row(
    table: CsvTable,
    columns: LogColumns,
    row: Row,
    *,
    zone: str | None,
    permit: str | None,
    source: Mapping[str, Any],
    frame: str | None,
    instruments: Instruments | None,
    mend: Mapping[str, str],
) -> LogRow:
    cells = table.by_name(row)
    said = {meaning: cells[name].strip() for meaning, name in columns.by_meaning.items()}
    say = _mended(said, mend)
    tag = say["tag"]
    if not tag:
        raise TableError("The row has no tag.", remedy="Give the tag of the module.")
    number = say.get("permit") or permit
    if not number:
        raise TableError(f"The row for {tag} names no permit.", remedy="Add a permit column, or --permit.")
    others = {name: cells[name] for name in columns.others if cells[name].strip()}
    placed_at = read_instant(_instant_text(say, tag), zone)
    depths = {name: _length(say, columns, name) for name in ("depth", "depth_u95", "tide")}
    kind = (say.get("depth_kind") or instruments.depth_kind) if instruments else ""
    sounding = None
    if instruments and kind and (depths["depth"] is not None or say.get("pressure")):
        sounding = instruments.sounding_of(
            kind, say, depths["depth"], depths["depth_u95"], depths["tide"], placed_at
        )
        depths = dict.fromkeys(depths)
    stated: dict[str, Any] = {
        "frame": say.get("frame") or frame,
        "epoch": read_epoch(say.get("epoch", "")),
        "r95": _length(say, columns, "r95"),
        "receiver": say.get("receiver", ""),
    }
    where = _where(say, columns, tag, stated, placed_at, instruments=instruments)
    return LogRow(
        tag=tag,
        permit=number,
        placed_at=placed_at,
        **where,
        depth=depths["depth"],
        depth_u95=depths["depth_u95"],
        tide=depths["tide"],
        sounding=sounding,
        type_id=say.get("type", ""),
        crew=say.get("crew", ""),
        vessel=say.get("vessel", ""),
        note=say.get("note", ""),
        source={
            **source,
            "row": row.number,
            "key": _key(table, row),
            "raw": row.raw,
            **({"columns": others} if others else {}),
            **({"mended": {name: [said.get(name, ""), now] for name, now in mend.items()}} if mend else {}),
        },
    )


def _mended(said: Mapping[str, str], mend: Mapping[str, str]) -> dict[str, str]:
    """Put what a person mended in the place of what the row says; a mended position is the only one."""
    unknown = [meaning for meaning in mend if meaning not in MEANINGS]
    if unknown:
        raise TableError(f"Nothing in a log is called {unknown[0]!r}.", remedy=f"Mend {', '.join(MEANINGS)}.")
    say = {**said, **{meaning: text.strip() for meaning, text in mend.items()}}
    if mend.get("position"):
        say.update({name: "" for form in POSITION_FORMS[1:] for name in form if name in say})
    if mend.get("when"):
        return say
    if mend.get("date") or mend.get("time"):
        say.pop("when", None)
    return say


def _where(
    say: Mapping[str, str],
    columns: LogColumns,
    tag: str,
    stated: Mapping[str, Any],
    placed_at: datetime,
    *,
    instruments: Instruments | None,
) -> dict[str, Any]:
    """Give the position of a row, its own or the one that its fixes give, with what is stated beside it."""
    written = any(say.get(name) for form in POSITION_FORMS for name in form)
    if written or instruments is None or not (instruments.day_log or say.get("fixes")):
        position = read_row_position(say, tag=tag, frame=stated["frame"], units=columns.units)
        return {**stated, "position": position}
    survey = instruments.position_of({**say, "frame": stated["frame"] or ""}, placed_at)
    derived = survey.derivation.position
    # A class of receiver has gone into the derivation; a radius of the row would contradict it.
    return {
        "r95": stated["r95"],
        "position": survey.written,
        "survey": survey,
        "frame": derived.frame,
        "epoch": derived.epoch,
    }


def _key(table: CsvTable, row: Row) -> str:
    """Name a row by what it says, so that the same row is known again in another copy of the file."""
    said = [[name, cell.strip()] for name, cell in zip(table.header, row.cells, strict=True) if cell.strip()]
    return hashlib.sha256(canonical_json(said).encode()).hexdigest()


def _instant_text(say: Mapping[str, str], tag: str) -> str:
    text = say["when"] if "when" in say else f"{say['date']}T{say['time']}"
    if not text.strip("T"):
        raise TimeTextError(f"The row for {tag} has no time.", remedy="Give date and time with the zone.")
    return text


def _length(say: Mapping[str, str], columns: LogColumns, meaning: str) -> Quantity | None:
    text = say.get(meaning, "")
    if not text:
        return None
    unit = columns.units.get(meaning) or (say.get("depth_unit") if meaning != "r95" else None) or None
    length = read_length(text, unit=unit)
    # A unit that stands in the header alone belongs to what was written: "66" would mean nothing later.
    return replace(length, written=f"{text} {unit}") if unit and text[-1].isdigit() else length
