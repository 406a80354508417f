"""Spreadsheets of modules and of module types."""

import math
from collections.abc import Iterator, Mapping

from registry.errors import InvalidRecordError, LeadlineError, TableError
from registry.formats.csv_table import CsvTable, Row, read_csv_table
from registry.formats.written_instant import read_day
from registry.formats.written_quantity import read_mass
from registry.records.module import Memorial, Module, ModuleType

__all__ = ["columns_left_out", "read_module_types", "read_modules"]


_COLUMNS = ("tag", "type", "cast", "mass", "mass_kg", "memorial", "consent", "language")
_YES = {"yes", "y", "true", "1", "x"}
_NO = {"no", "n", "false", "0", ""}


def read_modules(table: CsvTable) -> Iterator[tuple[Row, Module | LeadlineError]]:
    """
    Read modules from the columns tag, type, cast, mass (or mass_kg), memorial, consent, language.

    A row that cannot be read gives its error instead.

    Raises
    ------
    TableError
        If there is no column for tag or type.
    """
    for needed in ("tag", "type"):
        if needed not in table.header:
            what = f"The spreadsheet has no column {needed!r}; it has {', '.join(table.header)}."
            raise TableError(
                what,
                remedy="Give the columns tag and type; cast, mass, memorial, consent, language are optional.",
            )
    for row in table.rows():
        if row.problem is not None:
            yield row, TableError(row.problem, remedy="Mend the row.")
            continue
        try:
            yield row, _module({name: cell.strip() for name, cell in table.by_name(row).items()})
        except LeadlineError as error:
            yield row, error


def columns_left_out(table: CsvTable) -> tuple[str, ...]:
    """
    Name the columns that :func:`read_modules` does not read, as they are written, so that somebody is told.

    The column of reasons that a reject file carries is not among them.
    """
    return tuple(
        written
        for name, written in zip(table.header, table.written_header, strict=True)
        if name not in _COLUMNS and not name.startswith("reason")
    )


def _module(say: Mapping[str, str]) -> Module:
    if say.get("mass") and say.get("mass_kg"):
        what = f"The row for {say['tag']} gives a mass in two columns, mass and mass_kg."
        raise TableError(what, remedy="Keep one of them.")
    mass = read_mass(say["mass"]).value if say.get("mass") else None
    if say.get("mass_kg"):
        mass = read_mass(say["mass_kg"], unit="kg").value
    consent = say.get("consent", "").casefold()
    if consent not in _YES | _NO:
        what = f"Consent {say['consent']!r} for {say['tag']} is neither yes nor no."
        raise InvalidRecordError(what, remedy="Write yes or no; a name is public only with consent.")
    name, language = say.get("memorial", ""), say.get("language") or None
    if language and not name:
        what = f"The row for {say['tag']} gives a language, but no memorial name that is in it."
        raise InvalidRecordError(what, remedy="Give the name in the column memorial, or no language.")
    return Module(
        tag=say["tag"],
        type_id=say["type"],
        cast_on=read_day(say["cast"]) if say.get("cast") else None,
        mass_kg=mass,
        memorial=Memorial(name=name, consent_listed=consent in _YES, language=language) if name else None,
    )


def read_module_types(text: str) -> tuple[ModuleType, ...]:
    """
    Read module types from a table whose columns are named as the fields of the record.

    Raises
    ------
    TableError
        If a column is missing or a number cannot be read.
    """
    table = read_csv_table(text)
    numbers = [name for name, kind in ModuleType.__annotations__.items() if kind is float]
    missing = [name for name in ("type_id", *numbers) if name not in table.header]
    if missing:
        what = f"The table of module types has no column {', '.join(missing)}."
        raise TableError(what, remedy="Name the columns type_id, base_radius_m, height_m and so on.")
    types = []
    for row in table.rows():
        if row.problem is not None:
            raise TableError(f"Row {row.number}: {row.problem}", remedy="Mend the row.")
        say = {name: cell.strip() for name, cell in table.by_name(row).items()}
        sizes = {name: _size(say[name], name, row.number) for name in numbers}
        types.append(ModuleType(type_id=say["type_id"], note=say.get("note", ""), **sizes))
    return tuple(types)


def _size(text: str, name: str, row_number: int) -> float:
    try:
        size = float(text)
    except ValueError:
        size = math.nan
    if not math.isfinite(size):
        what = f"Row {row_number}: {text!r} is no number for {name}."
        raise TableError(what, remedy="Give plain numbers in m, m2, kg.")
    return size
