"""
A tide station as a TOML file of our own: datums, constants, and by which convention they were derived.

::

    [station]
    name = "Gannet Pier"
    position = "34 01.250 N 077 20.110 W"
    source = "invented for the demonstration"
    length_unit = "m"          # of every height and amplitude below
    phases = "greenwich"       # lag behind the constituent's argument at Greenwich
    nodal = "schureman"        # node factors by which the constants were derived
    chart_datum = "MLLW"
    datum_epoch = "1983-2001"  # optional

    [datums]                   # heights above one zero of the station's own
    MSL = 1.02
    MLLW = 0.30

    [constituents]
    M2 = { amplitude = 0.61, phase_deg = 9.0 }

    [weather]                  # optional
    u95 = 0.35                 # what wind and air pressure add or take, at 95 %
    source = "residuals of 2024 at the pier"
"""

import tomllib
from collections.abc import Sequence
from typing import Any

from registry.errors import InvalidRecordError
from registry.measure.tidal_arguments import CONSTITUENTS
from registry.measure.tide import HarmonicConstant
from registry.measure.units import metres_per
from registry.records.tide_station import TideStation

__all__ = ["read_tide_station"]

Table = dict[str, Any]

TOP_KEYS = ("station", "datums", "constituents", "weather")
STATION_KEYS = (
    "name",
    "position",
    "source",
    "length_unit",
    "phases",
    "nodal",
    "chart_datum",
    "datum_epoch",
)
CONSTANT_KEYS = ("amplitude", "phase_deg")
WEATHER_KEYS = ("u95", "source")
#: What each convention may say; anything else is refused, for a guess would be wrong by metres.
CONVENTIONS = {
    "phases": (
        "greenwich",
        "Local or zone-time phases must be turned into Greenwich phases first.",
    ),
    "nodal": (
        "schureman",
        "Constants by another school of node factors give wrong heights here; fetch such by Schureman.",
    ),
}


def read_tide_station(content: str | bytes) -> TideStation:
    """
    Read a tide station.

    Parameters
    ----------
    content : str or bytes
        TOML, in UTF-8.

    Returns
    -------
    TideStation
        Heights in metres; other spellings of a constituent under its usual name.

    Raises
    ------
    InvalidRecordError
        If the text is no TOML (with line and column), a key is missing, unknown or of the wrong kind, the
        phases or node factors are by another convention than the one understood, or the station contradicts
        itself. The message names table and key.
    QuantityError
        If the unit is unknown or ambiguous.

    Examples
    --------
    >>> station = read_tide_station('''
    ... [station]
    ... name = "Gannet Pier"
    ... position = "34 01.250 N 077 20.110 W"
    ... source = "invented"
    ... length_unit = "ft"
    ... phases = "greenwich"
    ... nodal = "schureman"
    ... chart_datum = "MLLW"
    ... [datums]
    ... MSL = 6.21
    ... MLLW = 3.38
    ... [constituents]
    ... M2 = { amplitude = 1.61, phase_deg = 181.3 }
    ... ''')
    >>> f"{station.z0_m('MLLW'):.3f} {station.constants[0].amplitude_m:.3f}"
    '0.863 0.491'
    """
    document = _parsed(content)
    _known(document, TOP_KEYS, "The tide station file")
    station = _table(document, "station")
    _known(station, STATION_KEYS, "[station]")
    for key, (wanted, why) in CONVENTIONS.items():
        stated = _text(station, key, "[station]")
        if stated.casefold() != wanted:
            what = f"[station] says {key} = {stated!r}; only {wanted!r} is understood."
            raise InvalidRecordError(what, remedy=why)
    metres = metres_per(_text(station, "length_unit", "[station]"))
    weather = _table(document, "weather") if "weather" in document else {}
    _known(weather, WEATHER_KEYS, "[weather]")
    return TideStation(
        name=_text(station, "name", "[station]"),
        position=_text(station, "position", "[station]"),
        source=_text(station, "source", "[station]"),
        chart_datum=_text(station, "chart_datum", "[station]"),
        datum_epoch=_text(station, "datum_epoch", "[station]") if "datum_epoch" in station else "",
        datums=_datums(_table(document, "datums"), metres),
        constants=_constants(_table(document, "constituents"), metres),
        weather_u95_m=_number(weather, "u95", "[weather]") * metres if weather else None,
        weather_source=_text(weather, "source", "[weather]") if weather else "",
    )


def _datums(table: Table, metres: float) -> dict[str, float]:
    return {name: _number(table, name, "[datums]") * metres for name in table}


def _constants(table: Table, metres: float) -> tuple[HarmonicConstant, ...]:
    constants = []
    for written, row in table.items():
        where = f"[constituents] {written}"
        if not isinstance(row, dict):
            what = f"{where} = {row!r} cannot be used."
            raise InvalidRecordError(what, remedy="Write { amplitude = ..., phase_deg = ... }.")
        _known(row, CONSTANT_KEYS, where)
        name = written.upper()
        if name not in CONSTITUENTS:
            known = ", ".join(CONSTITUENTS)
            raise InvalidRecordError(f"{where} is no constituent known here.", remedy=f"Known: {known}.")
        constants.append(
            HarmonicConstant(
                name=CONSTITUENTS[name].name,
                amplitude_m=_number(row, "amplitude", where) * metres,
                phase_deg=_number(row, "phase_deg", where),
            )
        )
    return tuple(constants)


def _parsed(content: str | bytes) -> Table:
    try:
        text = content.decode("utf-8-sig") if isinstance(content, bytes) else content.removeprefix("\ufeff")
        return tomllib.loads(text)
    except UnicodeDecodeError as error:
        what = f"The tide station file holds the byte 0x{error.object[error.start]:02x}, which is not UTF-8."
        raise InvalidRecordError(what, remedy="Save the file as plain text in UTF-8.") from error
    except (tomllib.TOMLDecodeError, ValueError, RecursionError) as error:
        what = f"The tide station file is not TOML: {str(error) or 'it is nested too deep'}."
        raise InvalidRecordError(what, remedy='Write name = "text" or a number, one to a line.') from error


def _table(document: Table, name: str) -> Table:
    table = document.get(name)
    if not isinstance(table, dict) or not table:
        what = f"The tide station file has no [{name}] table."
        raise InvalidRecordError(what, remedy=f"Write its lines under [{name}].")
    return table


def _known(table: Table, keys: Sequence[str], where: str) -> None:
    for key in table:
        if key not in keys:
            what = f"{where} holds the unknown key {key!r}."
            raise InvalidRecordError(what, remedy=f"Known keys: {', '.join(keys)}.")


def _text(table: Table, key: str, where: str) -> str:
    value = table.get(key)
    if not isinstance(value, str) or not value.strip():
        what = f"{where} has no {key}." if value is None else f"{where}: {key} = {value!r} cannot be used."
        raise InvalidRecordError(what, remedy=f'Write it in quotes: {key} = "...".')
    return value.strip()


def _number(table: Table, key: str, where: str) -> float:
    value = table.get(key)
    if isinstance(value, bool) or not isinstance(value, int | float):
        what = f"{where} has no {key}." if value is None else f"{where}: {key} = {value!r} cannot be used."
        raise InvalidRecordError(what, remedy=f"Write a plain number: {key} = 1.25.")
    return float(value)
