"""A spreadsheet of targets: one row for each module, its tag and where the plan wants it."""

import math
from collections.abc import Iterator, Mapping

from registry.errors import LeadlineError, QuantityError, TableError
from registry.formats.csv_table import CsvTable, Row
from registry.formats.row_position import GRID, POSITION_FORMS, read_row_position
from registry.records.target import TargetDraft

__all__ = ["TARGET_COLUMNS", "read_targets", "target_columns_left_out"]

#: What a column means, by the names that people give it (normalised: lower case, words joined by "_").
TARGET_COLUMNS: Mapping[str, tuple[str, ...]] = {
    "tag": ("tag", "module", "module_tag", "module_id"),
    "position": ("position", "target", "coordinates", "coords", "location", "lat_lon"),
    "lat": ("lat", "latitude"),
    "lon": ("lon", "long", "longitude", "lng"),
    "easting": ("easting", "eastings"),
    "northing": ("northing", "northings"),
    "frame": ("frame", "datum", "crs"),
    "epoch": ("epoch",),
}


def read_targets(
    table: CsvTable, *, frame: str | None = None, epoch: float | None = None
) -> Iterator[tuple[Row, TargetDraft | LeadlineError]]:
    r"""
    Read the rows; one that cannot be read gives its error instead.

    Parameters
    ----------
    table : CsvTable
        With columns for the tag and the position (one text, latitude and longitude, or easting and northing).
    frame, epoch : optional
        Of rows that name none. Units of the epoch: decimal year.

    Raises
    ------
    TableError
        If the columns cannot be understood.

    Examples
    --------
    >>> from registry.formats.csv_table import read_csv_table
    >>> table = read_csv_table("tag,latitude,longitude,frame\nMC-1,34.02,-77.33,EPSG:6318\n")
    >>> [(draft.tag, draft.position.lat_deg, draft.frame) for _, draft in read_targets(table)]
    [('MC-1', 34.02, 'EPSG:6318')]
    """
    columns, units = _columns(table)
    for row in table.rows():
        if row.problem is not None:
            yield row, TableError(row.problem, remedy="Mend the row.")
            continue
        cells = table.by_name(row)
        say = {meaning: cells[name].strip() for meaning, name in columns.items()}
        try:
            yield row, _draft(say, units, frame, epoch)
        except LeadlineError as error:
            yield row, error


def target_columns_left_out(table: CsvTable) -> tuple[str, ...]:
    """Name the columns that :func:`read_targets` does not read, as they are written, but that of reasons."""
    read = set(_columns(table)[0].values())
    return tuple(
        written
        for name, written in zip(table.header, table.written_header, strict=True)
        if name not in read and not name.startswith("reason")
    )


def _draft(
    say: Mapping[str, str], units: Mapping[str, str], frame: str | None, epoch: float | None
) -> TargetDraft:
    tag = say["tag"]
    if not tag:
        raise TableError("The row has no tag.", remedy="Give the tag of the module.")
    stated = say.get("frame") or frame
    position = read_row_position(say, tag=tag, frame=stated, units=units)
    return TargetDraft(
        tag=tag,
        position=position,
        frame=stated,
        epoch=_epoch(say["epoch"]) if say.get("epoch") else epoch,
    )


def _columns(table: CsvTable) -> tuple[dict[str, str], dict[str, str]]:
    """Match the header with what a row can say: meaning to column, and meaning to the unit in its name."""
    found: dict[str, str] = {}
    units: dict[str, str] = {}
    for name in table.header:
        meaning, unit = _meaning(name)
        if meaning is None:
            continue
        if meaning in found:
            what = f"The columns {found[meaning]!r} and {name!r} both mean {meaning}."
            raise TableError(what, remedy="Keep one of them, or rename the other.")
        found[meaning] = name
        if unit:
            units[meaning] = unit
    forms = [form for form in POSITION_FORMS if not set(form).isdisjoint(found)]
    missing = [] if "tag" in found else ["tag"]
    if not any(set(form) <= set(found) for form in forms):
        missing.append("position (or latitude and longitude, or easting and northing)")
    if missing:
        what = f"The spreadsheet has no column for {', '.join(missing)}; it has {', '.join(table.header)}."
        raise TableError(what, remedy="Name the columns in the first row, as tag, position, frame.")
    if len(forms) > 1:
        names = ", ".join(found[word] for form in forms for word in form if word in found)
        what = f"The spreadsheet has columns for several forms of the position: {names}."
        raise TableError(what, remedy="Keep one form of the position.")
    return found, units


def _meaning(name: str) -> tuple[str | None, str]:
    for meaning, names in TARGET_COLUMNS.items():
        if name in names:
            return meaning, ""
        unit = name.rpartition("_")[2]
        if meaning in GRID and name.removesuffix(f"_{unit}") in names:
            return meaning, unit
    return None, ""


def _epoch(text: str) -> float:
    try:
        epoch = float(text)
    except ValueError:
        epoch = math.nan
    if not math.isfinite(epoch):
        raise QuantityError(f"{text!r} is no epoch.", remedy="Give a decimal year, as 2026.5.")
    return epoch
