"""Spreadsheets of modules and of module types."""

from collections.abc import Iterator, Mapping

from registry.errors import InvalidRecordError, LeadlineError, TableError
from registry.formats.csv_table import CsvTable, Row, read_csv_table
from registry.formats.written_instant import read_day
from registry.formats.written_quantity import read_mass
from registry.records.module import Memorial, Module, ModuleType

__all__ = ["read_module_types", "read_modules"]


_YES = {"yes", "y", "true", "1", "x"}
_NO = {"no", "n", "false", "0", ""}


def read_modules(table: CsvTable) -> Iterator[tuple[Row, Module | LeadlineError]]:
    """
    Read modules from the columns tag, type, cast, mass (or mass_kg), memorial, consent.

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
                what, remedy="Give the columns tag and type; cast, mass, memorial, consent are optional."
            )
    for row in table.rows():
        if row.problem is not None:
            yield row, TableError(row.problem, remedy="Mend the row.")
            continue
        try:
            yield row, _module({name: cell.strip() for name, cell in table.by_name(row).items()})
        except LeadlineError as error:
            yield row, error


def _module(say: Mapping[str, str]) -> Module:
    mass = read_mass(say["mass"]).value if say.get("mass") else None
    if say.get("mass_kg"):
        mass = read_mass(say["mass_kg"], unit="kg").value
    consent = say.get("consent", "").casefold()
    if consent not in _YES | _NO:
        what = f"Consent {say['consent']!r} for {say['tag']} is neither yes nor no."
        raise InvalidRecordError(what, remedy="Write yes or no; a name is public only with consent.")
    name = say.get("memorial", "")
    return Module(
        tag=say["tag"],
        type_id=say["type"],
        cast_on=read_day(say["cast"]) if say.get("cast") else None,
        mass_kg=mass,
        memorial=Memorial(name=name, consent_listed=consent in _YES) if name else None,
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
        try:
            sizes = {name: float(say[name]) for name in numbers}
        except ValueError as error:
            raise TableError(
                f"Row {row.number}: {error}.", remedy="Give plain numbers in m, m2, kg."
            ) from error
        types.append(ModuleType(type_id=say["type_id"], note=say.get("note", ""), **sizes))
    return tuple(types)
