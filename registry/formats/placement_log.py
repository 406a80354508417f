"""The spreadsheet of a day at sea: its columns understood, each row read as what it says."""

import hashlib
import math
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any

from registry.errors import LeadlineError, QuantityError, TableError, TimeTextError
from registry.formats.csv_table import CsvTable, Row
from registry.formats.row_position import GRID, POSITION_FORMS, read_row_position
from registry.formats.written_depth import DEPTH_KINDS
from registry.formats.written_instant import read_instant
from registry.formats.written_quantity import read_length
from registry.records.entry import canonical_json
from registry.records.log_row import LogRow
from registry.records.quantity import Quantity
from registry.records.sounding import Sounding
from registry.records.surveyed_position import SurveyedPosition

__all__ = ["Instruments", "LogColumns", "read_placement_log", "understood_columns"]

#: What a column means, by the names that people give it (normalised: lower case, words joined by "_").
_NAMES: Mapping[str, tuple[str, ...]] = {
    "tag": ("tag", "module", "module_tag", "module_id"),
    "position": ("position", "coordinates", "coords", "location", "pos", "lat_lon", "lat_long"),
    "lat": ("lat", "latitude"),
    "lon": ("lon", "long", "longitude", "lng"),
    "easting": ("easting", "eastings"),
    "northing": ("northing", "northings"),
    "frame": ("frame", "datum", "crs"),
    "epoch": ("epoch",),
    "when": ("when", "placed_at", "time_placed", "datetime", "date_time", "touchdown", "instant"),
    "date": ("date", "day"),
    "time": ("time",),
    "depth": ("depth", "charted_depth", "water_depth"),
    "depth_u95": ("depth_u95", "depth_accuracy"),
    "depth_unit": ("depth_unit", "unit", "depth_units"),
    "tide": ("tide", "tide_height"),
    "r95": ("r95", "accuracy", "position_accuracy"),
    "receiver": ("receiver", "gnss", "receiver_class"),
    "permit": ("permit", "permit_number"),
    "type": ("type", "module_type"),
    "crew": ("crew", "divers", "team"),
    "vessel": ("vessel", "boat"),
    "note": ("note", "notes", "remark", "remarks", "comment", "comments"),
}
#: Where the fixes of a row are, and what is said of its depth: understood only where instruments are.
_FIXES: Mapping[str, tuple[str, ...]] = {
    "fixes": ("fixes", "fix_log"),
    "from": ("from", "fixes_from"),
    "to": ("to", "fixes_to"),
    "event": ("event", "event_mark"),
}
_DEPTHS: Mapping[str, tuple[str, ...]] = {
    "depth_kind": ("depth_kind",),
    **{name: (name,) for said in DEPTH_KINDS.values() for name in said if name != "cast"},
}
_LENGTHS = ("depth", "depth_u95", "tide", "r95")
_UNITS = ("m", "ft", "fathoms", "fathom", "fm", "feet", "metres", "meters")


@dataclass(frozen=True, slots=True, kw_only=True)
class LogColumns:
    """Which column holds what."""

    #: Meaning to normalised column name.
    by_meaning: Mapping[str, str]
    #: Meaning to the unit that the header states, for lengths.
    units: Mapping[str, str]
    #: Columns that are kept verbatim and not understood.
    others: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Instruments:
    """How the rows of a log are joined with what instruments recorded."""

    #: Gives the position of a row that has none of its own, from its cells and its touch-down.
    position_of: Callable[[Mapping[str, str], datetime], SurveyedPosition]
    #: True where there are fixes for rows that name no log.
    day_log: bool = False
    #: Gives the sounding of a row, from its kind, its cells, and depth, doubt and tide as read.
    sounding_of: Callable[
        [str, Mapping[str, str], Quantity | None, Quantity | None, Quantity | None, datetime], Sounding
    ]
    #: Of rows that name no kind of depth; empty where depths are plain.
    depth_kind: str = ""


def understood_columns(table: CsvTable, instruments: Instruments | None = None) -> LogColumns:
    r"""
    Match the header of a spreadsheet with what a log can say.

    Raises
    ------
    TableError
        If tag, position or time are missing, or two columns mean the same.

    Examples
    --------
    >>> from registry.formats.csv_table import read_csv_table
    >>> columns = understood_columns(read_csv_table("Tag,Position,When,Depth (ft),Weather\nMC-1,,,,fair\n"))
    >>> columns.by_meaning["depth"], columns.units["depth"], columns.others
    ('depth_ft', 'ft', ('weather',))
    """
    found: dict[str, str] = {}
    units: dict[str, str] = {}
    others: list[str] = []
    surveyed = instruments is not None and (
        instruments.day_log or not set(_FIXES["fixes"]).isdisjoint(table.header)
    )
    sounded = instruments is not None and (bool(instruments.depth_kind) or "depth_kind" in table.header)
    known = {**_NAMES, **(_FIXES if surveyed else {}), **(_DEPTHS if sounded else {})}
    for name in table.header:
        meaning, unit = _meaning(name, known)
        if meaning is None:
            others.append(name)
        elif meaning in found:
            what = f"The columns {found[meaning]!r} and {name!r} both mean {meaning}."
            raise TableError(what, remedy="Keep one of them, or rename the other.")
        else:
            found[meaning] = name
            if unit:
                units[meaning] = unit
    missing = [word for word in ("tag",) if word not in found]
    forms = [form for form in POSITION_FORMS if not set(form).isdisjoint(found)]
    if not surveyed and not any(set(form) <= set(found) for form in forms):
        missing.append("position (or latitude and longitude, or easting and northing)")
    if "when" not in found and not {"date", "time"} <= set(found):
        missing.append("when (or date and time)")
    if missing:
        what = f"The spreadsheet has no column for {', '.join(missing)}; it has {', '.join(table.header)}."
        raise TableError(what, remedy="Name the columns in the first row, as tag, position, when, depth_ft.")
    if found.get("depth", "").startswith("charted") and "tide" in found:
        what = "The spreadsheet has a charted depth, from which the tide is taken off already, and a tide."
        raise TableError(what, remedy="Name the column depth if it is as sounded; else rename the tide.")
    if len(forms) > 1:
        names = ", ".join(found[word] for form in forms for word in form if word in found)
        what = f"The spreadsheet has columns for several forms of the position: {names}."
        raise TableError(what, remedy="Keep one form of the position.")
    return LogColumns(by_meaning=found, units=units, others=tuple(others))


def _meaning(name: str, known_names: Mapping[str, tuple[str, ...]]) -> tuple[str | None, str]:
    for meaning, names in known_names.items():
        if name in names:
            return meaning, ""
    for meaning in (*_LENGTHS, *GRID):
        for known in _NAMES[meaning]:
            unit = name.removeprefix(f"{known}_")
            if unit != name and unit in _UNITS:
                return meaning, unit
    return None, ""


def read_placement_log(
    table: CsvTable,
    *,
    zone: str,
    permit: str | None,
    source: Mapping[str, Any],
    frame: str | None = None,
    instruments: Instruments | None = None,
) -> Iterator[tuple[Row, LogRow | LeadlineError]]:
    """
    Read the rows of a log; one that cannot be read gives its error instead.

    Parameters
    ----------
    table : CsvTable
        The spreadsheet.
    zone : str
        The programme's zone, for times that state none.
    permit : str, optional
        The permit of rows that name none.
    source : mapping
        Name and digest of the file, kept with every row.
    frame : str, optional
        The frame of rows that name none.
    instruments : Instruments, optional
        For positions and depths that are to be derived.

    Raises
    ------
    TableError
        If the columns cannot be understood.
    """
    columns = understood_columns(table, instruments)
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
                ),
            )
        except LeadlineError as error:
            yield row, error


def _log_row(
    table: CsvTable,
    columns: LogColumns,
    row: Row,
    *,
    zone: str,
    permit: str | None,
    source: Mapping[str, Any],
    frame: str | None,
    instruments: Instruments | None,
) -> LogRow:
    cells = table.by_name(row)
    say = {meaning: cells[name].strip() for meaning, name in columns.by_meaning.items()}
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
        "epoch": _epoch(say.get("epoch", "")),
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
        },
    )


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


def _epoch(text: str) -> float | None:
    if not text:
        return None
    try:
        epoch = float(text)
    except ValueError:
        epoch = math.nan
    if not math.isfinite(epoch):
        raise QuantityError(f"{text!r} is no epoch.", remedy="Give a decimal year, as 2026.5.")
    return epoch


def _length(say: Mapping[str, str], columns: LogColumns, meaning: str) -> Quantity | None:
    text = say.get(meaning, "")
    if not text:
        return None
    unit = columns.units.get(meaning) or (say.get("depth_unit") if meaning != "r95" else None) or None
    length = read_length(text, unit=unit)
    # A unit that stands in the header alone belongs to what was written: "66" would mean nothing later.
    return replace(length, written=f"{text} {unit}") if unit and text[-1].isdigit() else length
