"""
A cast through the water as a spreadsheet: depth with the speed of sound, or with temperature and salinity.

Headings say the units, as ``Depth (m),Sound speed (m/s)`` or ``Depth (m),Temperature (°C),Salinity``.
"""

import re
from dataclasses import dataclass

from registry.errors import LeadlineError, TableError
from registry.formats.csv_table import CsvTable, Row, read_csv_table
from registry.formats.plain_text import plain_text
from registry.formats.written_quantity import read_length
from registry.measure.sound_speed import FASTEST_MPS, SLOWEST_MPS, sound_speed
from registry.records.depth_reading import SoundCast

__all__ = ["CastTable", "read_sound_cast"]

_COLUMNS = {
    "depth": re.compile(r"depth(?:_(?P<unit>m|ft|metres|meters|feet))?"),
    "speed": re.compile(r"(?:sound_)?(?:speed|velocity|svp?|speed_of_sound)(?:_(?P<unit>m_s|mps|m_s_1))"),
    "temperature": re.compile(r"(?:temp|temperature)(?:_(?P<unit>c|degc|deg_c|celsius|f|degf|fahrenheit))"),
    "salinity": re.compile(r"(?:sal|salinity|practical_salinity)(?:_(?P<unit>psu|pss|pss_78|ppt))?"),
}
_FAHRENHEIT = ("f", "degf", "fahrenheit")
_NUMBER = re.compile(r"[+-]?[0-9]{1,6}(?:[.,][0-9]{1,9})?")
MEASURED = "measured"


@dataclass(frozen=True, slots=True, kw_only=True)
class CastTable:
    """The cast, and the rows that are no level of it."""

    cast: SoundCast
    #: Each with its reason.
    rejected: tuple[tuple[Row, str], ...]


def read_sound_cast(
    content: bytes | str, *, source: str, equation: str = "Chen-Millero", lat_deg: float = 45.0
) -> CastTable:
    r"""
    Read a cast.

    Parameters
    ----------
    content : bytes or str
        With a header.
    source : str
        Name of the cast or file, for the record.
    equation : str
        That makes a speed of temperature and salinity; left alone where the table has speeds.
    lat_deg : float
        Turns depth into pressure. Units: degrees.

    Returns
    -------
    CastTable
        Levels from the surface down, as they stand.

    Raises
    ------
    TableError
        If the columns cannot be understood, a unit is missing, or no row can be read.
    InvalidRecordError
        If the depths decrease, as in a cast with its way up.

    Examples
    --------
    >>> table = read_sound_cast("Depth (m),Sound speed (m/s)\n0,1540\n20,1520\n", source="cast 1")
    >>> table.cast.speeds_mps, table.cast.equation
    ((1540.0, 1520.0), 'measured')
    """
    table = read_csv_table(content)
    found = _understood(table)
    depths: list[float] = []
    speeds: list[float] = []
    rejected: list[tuple[Row, str]] = []
    for row in table.rows():
        if row.problem is not None:
            rejected.append((row, row.problem))
            continue
        cells = table.by_name(row)
        try:
            depth_m = read_length(cells[found["depth"][0]], unit=found["depth"][1] or None).value
            speed_mps = _speed(cells, found, depth_m, equation, lat_deg)
        except LeadlineError as error:
            rejected.append((row, str(error)))
            continue
        depths.append(depth_m)
        speeds.append(speed_mps)
    if not depths:
        first = f" The first: {rejected[0][1]}" if rejected else ""
        raise TableError(
            f"{source}: no row of the table is a level of a cast.{first}", remedy="Check its units."
        )
    cast = SoundCast(
        depths_m=tuple(depths),
        speeds_mps=tuple(speeds),
        equation=MEASURED if "speed" in found else equation,
        source=source,
    )
    return CastTable(cast=cast, rejected=tuple(rejected))


def _understood(table: CsvTable) -> dict[str, tuple[str, str]]:
    """Each quantity with its column and the unit in the heading."""
    found: dict[str, tuple[str, str]] = {}
    for name in table.header:
        for quantity, pattern in _COLUMNS.items():
            if match := pattern.fullmatch(name):
                if quantity in found:
                    what = f"The cast has two columns for {quantity}: {found[quantity][0]} and {name}."
                    raise TableError(what, remedy="Keep one of them.")
                found[quantity] = (name, match["unit"] or "")
    if "depth" not in found or not ("speed" in found or {"temperature", "salinity"} <= found.keys()):
        what = f"The cast has the columns {', '.join(table.written_header)}."
        remedy = "Head them Depth (m), Sound speed (m/s), or Depth (m), Temperature (°C), Salinity."
        raise TableError(what, remedy=remedy)
    return found


def _speed(
    cells: dict[str, str],
    found: dict[str, tuple[str, str]],
    depth_m: float,
    equation: str,
    lat_deg: float,
) -> float:
    if "speed" in found:
        speed_mps = _plain_number(cells[found["speed"][0]])
        if not SLOWEST_MPS < speed_mps < FASTEST_MPS:
            what = f"{speed_mps:g} m/s is no speed of sound in sea water."
            raise TableError(what, remedy=f"It has {SLOWEST_MPS:.0f} to {FASTEST_MPS:.0f} m/s.")
        return speed_mps
    column, unit = found["temperature"]
    temperature = _plain_number(cells[column])
    if unit in _FAHRENHEIT:
        temperature = (temperature - 32.0) / 1.8
    return sound_speed(
        equation,
        temperature_c=temperature,
        salinity=_plain_number(cells[found["salinity"][0]]),
        depth_m=depth_m,
        lat_deg=lat_deg,
    )


def _plain_number(text: str) -> float:
    plain = plain_text(text)
    if not _NUMBER.fullmatch(plain):
        raise TableError(f"“{text.strip()[:40]}” is not a number.", remedy="Write plain digits.")
    return float(plain.replace(",", "."))
