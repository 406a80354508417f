"""
Heights of the water that a gauge observed, as a spreadsheet.

The heading of the height says its unit and may say the datum, as ``Height above MLLW (m)``; that of the time
may say ``(UTC)``. A datum or zone that neither the table nor the person states is asked for, never assumed: a
guess would be wrong by metres.
"""

import re
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any

import numpy as np

from registry.errors import InvalidRecordError, LeadlineError, TableError, TimeTextError
from registry.formats.csv_table import CsvTable, Row, read_csv_table
from registry.formats.written_instant import read_instant
from registry.formats.written_quantity import read_length
from registry.records.gauge_readings import GaugeReadings

__all__ = ["GaugeTable", "read_gauge_table"]

_TIME = re.compile(r"(?:date_time|date|time|when|instant|timestamp)(?:_(?P<zone>utc|gmt|z))?")
_HEIGHT = re.compile(
    r"(?:water_)?(?:height|level|water_level|tide|observed)(?:_above_(?P<datum>[a-z0-9]+))?(?:_(?P<unit>m|ft|cm|metres|meters|feet))?"
)
_HIGHEST_M = 20.0


@dataclass(frozen=True, slots=True, kw_only=True)
class GaugeTable:
    """The readings, and the rows that are none."""

    readings: GaugeReadings
    #: Each with its reason.
    rejected: tuple[tuple[Row, str], ...]


def read_gauge_table(
    content: bytes | str,
    *,
    source: str,
    datum: str | None = None,
    zone: str | None = None,
    unit: str | None = None,
    u95_m: float | None = None,
) -> GaugeTable:
    r"""
    Read the table of a gauge.

    Parameters
    ----------
    content : bytes or str
        With a header; a column of times and one of heights, others are left alone.
    source : str
        Name of the gauge or file, for the record.
    datum : str, optional
        That the heights count from, where the heading does not say so.
    zone : str, optional
        IANA zone of the times, where neither heading nor cell says so.
    unit : str, optional
        Of the heights, where neither heading nor cell says so.
    u95_m : float, optional
        Doubt of one reading at 95 %. Units: m.

    Returns
    -------
    GaugeTable
        In order of time. Rows that cannot be read, or give another height for the same instant, are rejected.

    Raises
    ------
    TableError
        If the columns cannot be understood, or no row can be read.
    InvalidRecordError
        If no datum is stated, or two different ones are.
    TimeTextError
        If no zone is stated, or two different ones are.

    Examples
    --------
    >>> table = read_gauge_table(
    ...     "Time (UTC),Height above MLLW (m)\n2026-06-14 14:30,0.61\n2026-06-14 14:36,0.63\n",
    ...     source="Gannet Pier",
    ... )
    >>> table.readings.datum, table.readings.heights_m.tolist()
    ('MLLW', [0.61, 0.63])
    """
    table = read_csv_table(content)
    time_column, said_zone = _time_column(table)
    height_column, said_datum, said_unit = _height_column(table)
    above = _one_datum(source, said_datum, datum)
    clock = _one_zone(source, said_zone, zone)
    taken: dict[datetime, float] = {}
    rejected: list[tuple[Row, str]] = []
    for row in table.rows():
        if row.problem is not None:
            rejected.append((row, row.problem))
            continue
        cells = table.by_name(row)
        try:
            at = read_instant(cells[time_column], clock)
            height_m = read_height_m(cells[height_column], said_unit or unit)
        except TimeTextError as error:
            if clock is None and "zone" in error.what and not rejected and not taken:
                remedy = "Write the zone in the heading, as Time (UTC), or name the zone of the gauge."
                raise TimeTextError(f"{source}: {error.what}", remedy=remedy) from error
            rejected.append((row, str(error)))
            continue
        except LeadlineError as error:
            rejected.append((row, str(error)))
            continue
        if taken.setdefault(at, height_m) != height_m:
            rejected.append((row, f"Another row gives {taken[at]:.3f} m for the same instant."))
    if not taken:
        what = f"{source}: no row of the table is a reading."
        first = f" The first: {rejected[0][1]}" if rejected else ""
        raise TableError(what + first, remedy="Give one time and one height in each row.")
    times = sorted(taken)
    readings = GaugeReadings(
        source=source,
        datum=above,
        times=np.array([at.astimezone(UTC).replace(tzinfo=None) for at in times], dtype="datetime64[us]"),
        heights_m=np.array([taken[at] for at in times]),
        u95_m=u95_m,
    )
    return GaugeTable(readings=readings, rejected=tuple(rejected))


def read_height_m(text: str, unit: str | None) -> float:
    """
    Read a height above a datum, which may be below it.

    Examples
    --------
    >>> read_height_m("-0.5", "m"), round(read_height_m("5.27 ft", None), 3)
    (-0.5, 1.606)
    """
    height_m = read_length(text, unit=unit).value
    if abs(height_m) > _HIGHEST_M:
        what = f"A height of “{text.strip()}” is one that no tide reaches."
        raise TableError(what, remedy="Leave out rows that mark a missing reading; check the unit.")
    return height_m


def _time_column(table: CsvTable) -> tuple[str, str | None]:
    found = [(name, match["zone"]) for name in table.header if (match := _TIME.fullmatch(name))]
    if len(found) != 1:
        raise _columns(table, "time", found, "Time (UTC)")
    return found[0]


def _height_column(table: CsvTable) -> tuple[str, str | None, str | None]:
    found = [
        (name, match["datum"], match["unit"]) for name in table.header if (match := _HEIGHT.fullmatch(name))
    ]
    if len(found) != 1:
        raise _columns(table, "height", found, "Height above MLLW (m)")
    return found[0]


def _columns(table: CsvTable, what: str, found: list[Any], example: str) -> TableError:
    written = ", ".join(table.written_header)
    number = "no" if not found else f"{len(found)} columns that could be the"
    return TableError(
        f"The gauge table has {number} {what} among its columns: {written}.",
        remedy=f"Head one column {example!r}.",
    )


def _one_datum(source: str, said: str | None, given: str | None) -> str:
    if said and given and said.casefold() != given.casefold():
        what = f"{source} counts from {said.upper()} by its heading, and from {given} as stated."
        raise InvalidRecordError(what, remedy="Find out which is right; they differ by metres.")
    if not (said or given):
        what = f"{source} does not say which datum its heights count from."
        raise InvalidRecordError(what, remedy="Head the column Height above MLLW (m), or name the datum.")
    return given or (said or "").upper()


def _one_zone(source: str, said: str | None, given: str | None) -> str | None:
    if said and given and given.upper() not in ("UTC", "GMT", "ETC/UTC"):
        what = f"{source} keeps UTC by its heading, and {given} as stated."
        raise TimeTextError(what, remedy="Find out which is right; the tide turns in an hour.")
    return "UTC" if said else given
