"""
A spreadsheet of positions observed again: a check survey, or the modules of a site after a storm.

One row for each module: its tag, where it was found, when, and how sure.
"""

import hashlib
from collections.abc import Iterator, Mapping
from datetime import datetime
from typing import Any

from registry.errors import LeadlineError, TableError, TimeTextError
from registry.formats.csv_table import CsvTable, Row
from registry.formats.written_epoch import read_epoch
from registry.formats.written_instant import read_day, read_instant
from registry.formats.written_position import read_position
from registry.formats.written_quantity import read_length
from registry.records.entry import canonical_json
from registry.records.log_row import LogRow
from registry.records.quantity import Quantity

__all__ = ["read_check_survey", "read_time"]

#: What a column means, by the names that people give it (normalised: lower case, words joined by "_").
_NAMES: Mapping[str, tuple[str, ...]] = {
    "tag": ("tag", "module", "module_tag", "module_id"),
    "position": ("position", "coordinates", "coords", "location", "pos", "lat_lon", "lat_long"),
    "lat": ("lat", "latitude"),
    "lon": ("lon", "long", "longitude", "lng"),
    "frame": ("frame", "datum", "crs"),
    "epoch": ("epoch",),
    "when": ("when", "observed_at", "date_time", "datetime", "instant"),
    "date": ("date", "day", "observed_on"),
    "time": ("time",),
    "r95": ("r95", "accuracy", "position_accuracy", "r95_m", "r95_ft"),
    "receiver": ("receiver", "gnss", "receiver_class"),
    "crew": ("crew", "divers", "team"),
    "vessel": ("vessel", "boat"),
    "note": ("note", "notes", "remark", "remarks", "comment", "comments"),
}
_R95_UNITS = {"r95_m": "m", "r95_ft": "ft"}


def read_time(text: str, zone: str) -> datetime:
    """
    Read when something was observed: an instant, or a day, of which noon in the programme's zone is taken.

    A day fixes the epoch of a coordinate to a tenth of a millimetre.

    Raises
    ------
    TimeTextError
        If it is neither.

    Examples
    --------
    >>> read_time("2056-06-14", "America/New_York").isoformat()
    '2056-06-14T16:00:00+00:00'
    """
    try:
        day = read_day(text)
    except TimeTextError:
        return read_instant(text, zone)
    return read_instant(f"{day.isoformat()}T12:00", zone)


def read_check_survey(
    table: CsvTable,
    *,
    zone: str,
    source: Mapping[str, Any],
    when: datetime | None = None,
    frame: str | None = None,
) -> Iterator[tuple[Row, LogRow | LeadlineError]]:
    """
    Read the rows; one that cannot be read gives its error instead.

    Parameters
    ----------
    table : CsvTable
        The spreadsheet.
    zone : str
        The programme's zone, for times that state none.
    source : mapping
        Name and digest of the file, kept with every row.
    when : datetime, optional
        When rows were observed that do not say.
    frame : str, optional
        The frame of rows that name none.

    Raises
    ------
    TableError
        If the columns cannot be understood.
    """
    columns = _columns(table, dated=when is not None)
    for row in table.rows():
        if row.problem is not None:
            yield row, TableError(row.problem, remedy="Mend the row.")
            continue
        cells = table.by_name(row)
        say = {meaning: cells[name].strip() for meaning, name in columns.items()}
        try:
            yield row, _read(say, columns, table, row, zone=zone, source=source, when=when, frame=frame)
        except LeadlineError as error:
            yield row, error


def _columns(table: CsvTable, *, dated: bool) -> dict[str, str]:
    """Match the header with what a row can say."""
    found: dict[str, str] = {}
    for name in table.header:
        meaning = next((meaning for meaning, names in _NAMES.items() if name in names), None)
        if meaning in found:
            what = f"The columns {found[meaning]!r} and {name!r} both mean {meaning}."
            raise TableError(what, remedy="Keep one of them, or rename the other.")
        if meaning is not None:
            found[meaning] = name
    missing = [] if "tag" in found else ["tag"]
    if "position" not in found and not {"lat", "lon"} <= set(found):
        missing.append("position (or latitude and longitude)")
    if not dated and not {"when", "date"} & set(found):
        missing.append("when (or date)")
    if missing:
        what = f"The spreadsheet has no column for {', '.join(missing)}; it has {', '.join(table.header)}."
        raise TableError(what, remedy="Name the columns in the first row, as tag, position, when, r95.")
    if "position" in found and {"lat", "lon"} & set(found):
        what = "The spreadsheet has a column for the position and others for latitude and longitude."
        raise TableError(what, remedy="Keep one form of the position.")
    return found


def _read(
    say: Mapping[str, str],
    columns: Mapping[str, str],
    table: CsvTable,
    row: Row,
    *,
    zone: str,
    source: Mapping[str, Any],
    when: datetime | None,
    frame: str | None,
) -> LogRow:
    tag = say["tag"]
    if not tag:
        raise TableError("The row has no tag.", remedy="Give the tag of the module.")
    text = say["position"] if "position" in say else f"Lat {say['lat']} Lon {say['lon']}"
    if not text or ("position" not in say and not (say["lat"] and say["lon"])):
        raise TableError(f"The row for {tag} has no position.", remedy="Give latitude and longitude.")
    return LogRow(
        tag=tag,
        permit="",
        placed_at=_observed_at(say, tag, zone, when),
        position=read_position(text),
        frame=say.get("frame") or frame,
        epoch=read_epoch(say.get("epoch", "")),
        r95=_r95(say.get("r95", ""), columns.get("r95", "")),
        receiver=say.get("receiver", ""),
        crew=say.get("crew", ""),
        vessel=say.get("vessel", ""),
        note=say.get("note", ""),
        source={**source, "row": row.number, "key": _key(table, row), "raw": row.raw},
    )


def _observed_at(say: Mapping[str, str], tag: str, zone: str, when: datetime | None) -> datetime:
    text = say.get("when") or " ".join(part for part in (say.get("date"), say.get("time")) if part)
    if text:
        return read_time(text, zone)
    if when is None:
        raise TimeTextError(f"The row for {tag} has no time.", remedy="Give the day, as 2026-06-14.")
    return when


def _key(table: CsvTable, row: Row) -> str:
    """Name a row by what it says, apart from rows of a placement log that say the same."""
    said = [[name, cell.strip()] for name, cell in zip(table.header, row.cells, strict=True) if cell.strip()]
    return hashlib.sha256(canonical_json(["observed again", said]).encode()).hexdigest()


def _r95(text: str, column: str) -> Quantity | None:
    return read_length(text, unit=_R95_UNITS.get(column)) if text else None
