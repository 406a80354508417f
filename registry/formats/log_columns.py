"""The columns of a placement log: what each means, guessed from its header or chosen by a person."""

from collections.abc import Mapping
from dataclasses import dataclass

from registry.errors import TableError
from registry.formats.csv_table import CsvTable
from registry.formats.log_instruments import Instruments
from registry.formats.row_position import GRID, POSITION_FORMS
from registry.formats.written_depth import DEPTH_KINDS

__all__ = [
    "LENGTHS",
    "MEANINGS",
    "LogColumns",
    "chosen_columns",
    "guessed_columns",
    "refuse_unstated",
    "understood_columns",
]

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
#: Everything that a column can mean where no instruments are joined with the log.
MEANINGS = tuple(_NAMES)
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
#: Meanings that are lengths, whose unit stands in the cell, in the header, or is stated beside.
LENGTHS = ("depth", "depth_u95", "tide", "r95")
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
    surveyed = instruments is not None and (
        instruments.day_log or not set(_FIXES["fixes"]).isdisjoint(table.header)
    )
    sounded = instruments is not None and (bool(instruments.depth_kind) or "depth_kind" in table.header)
    known = {**_NAMES, **(_FIXES if surveyed else {}), **(_DEPTHS if sounded else {})}
    found: dict[str, str] = {}
    units: dict[str, str] = {}
    others: list[str] = []
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
    return _sufficient(found, units, tuple(others), table, surveyed=surveyed)


def _sufficient(
    found: Mapping[str, str],
    units: Mapping[str, str],
    others: tuple[str, ...],
    table: CsvTable,
    *,
    surveyed: bool = False,
) -> LogColumns:
    """Refuse columns from which no row could be placed, or which contradict each other."""
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
    return LogColumns(by_meaning=found, units=units, others=others)


def guessed_columns(table: CsvTable) -> LogColumns:
    r"""
    Guess from the header what each column may mean; of several that mean the same, the first.

    Nothing is refused: a person looks at the guess.

    Examples
    --------
    >>> from registry.formats.csv_table import read_csv_table
    >>> guessed_columns(read_csv_table("Tag,Module,Depth (ft)\nMC-1,,\n")).by_meaning
    {'tag': 'tag', 'depth': 'depth_ft'}
    """
    found: dict[str, str] = {}
    units: dict[str, str] = {}
    for name in table.header:
        meaning, unit = _meaning(name, _NAMES)
        if meaning is None or meaning in found:
            continue
        found[meaning] = name
        if unit:
            units[meaning] = unit
    return LogColumns(by_meaning=found, units=units, others=_others(table, found))


def chosen_columns(table: CsvTable, by_meaning: Mapping[str, str], units: Mapping[str, str]) -> LogColumns:
    """
    Give the columns as a person chose them.

    Parameters
    ----------
    table : CsvTable
        The spreadsheet.
    by_meaning : mapping
        Meaning to normalised name of the column; meanings without a column are left out.
    units : mapping
        Meaning to the unit of cells that state none; not for a meaning whose every cell states its unit.

    Raises
    ------
    TableError
        If a meaning, column or unit is unknown, one column is to mean two things, a unit contradicts the
        header, or tag, position or time are missing.
    """
    for meaning, name in by_meaning.items():
        if meaning not in _NAMES or name not in table.header:
            what = f"{meaning!r} from the column {name!r} cannot be read."
            raise TableError(what, remedy=f"Columns: {', '.join(table.header)}.")
        twice = [other for other, column in by_meaning.items() if column == name and other != meaning]
        if twice:
            what = f"The column {name!r} is to mean {meaning} and {twice[0]}."
            raise TableError(what, remedy="Let a column mean one thing.")
    unknown = [unit for unit in units.values() if unit not in _UNITS]
    if unknown:
        raise TableError(f"{unknown[0]!r} is no unit of length.", remedy=f"Give one of {', '.join(_UNITS)}.")
    said = {meaning: unit for meaning, unit in units.items() if meaning in by_meaning}
    for meaning, name in by_meaning.items():
        inside = _unit_in(name)
        if inside and said.setdefault(meaning, inside) != inside:
            what = f"The header calls the column {name!r}, but its unit is stated as {said[meaning]}."
            raise TableError(what, remedy="State the unit of the header, or rename the column.")
    return _sufficient(by_meaning, said, _others(table, by_meaning), table)


def refuse_unstated(columns: LogColumns, *, frame: str | None, permit: str | None) -> None:
    """
    Refuse a log in which no row could say what must not be assumed.

    Raises
    ------
    TableError
        If frame or permit are neither stated for the whole log nor named by a column of their own.
    """
    for meaning, stated in (("frame", frame), ("permit", permit)):
        if (
            stated is None
            and meaning not in columns.by_meaning
            and not (meaning == "frame" and "position" in columns.by_meaning)
        ):
            what = f"The {meaning} is to be named by each row, but no column holds it."
            raise TableError(what, remedy=f"State the {meaning} of the whole file, or choose its column.")


def _unit_in(name: str) -> str:
    """Give the unit at the end of a column's name, whatever stands before it."""
    unit = name.rpartition("_")[2]
    return unit if unit != name and unit in _UNITS else ""


def _others(table: CsvTable, found: Mapping[str, str]) -> tuple[str, ...]:
    used = set(found.values())
    return tuple(name for name in table.header if name not in used)


def _meaning(name: str, known_names: Mapping[str, tuple[str, ...]]) -> tuple[str | None, str]:
    for meaning, names in known_names.items():
        if name in names:
            return meaning, ""
    for meaning in (*LENGTHS, *GRID):
        for known in _NAMES[meaning]:
            unit = name.removeprefix(f"{known}_")
            if unit != name and unit in _UNITS:
                return meaning, unit
    return None, ""
