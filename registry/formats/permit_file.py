"""
The file in which a programme states a permit: TOML with ``[permit]``, ``[[area]]``, ``[[condition]]`` and,
where the authority wants to be told, ``[reporting]``.

A limit is written with its unit: ``least = "50 ft"``, or ``least_m = 6.0`` with the unit at the end of the
name, which then is taken off it. ``greatest_count = 120``, ``greatest_share = 0.25``,
``drag_coefficient = 1.05`` and ``least_sliding_factor = 1.5`` are pure numbers: these endings are no units,
so they stay in the name. Words (``order = "1a"``) are kept as text, and a list of words
(``types = ["a", "b"]``) as one text joined by commas. ``area = "north-patch"``, or a list, says for which
areas a condition holds; without it, for all.

Sources
-------
TOML 1.0.0, read by the standard library.
"""

import re
import tomllib
from collections.abc import Callable, Mapping, Sequence
from contextlib import suppress
from datetime import date, datetime
from decimal import Decimal
from difflib import get_close_matches
from typing import Any, TypeVar, cast, get_args

from registry.errors import PermitError, QuantityError
from registry.formats.written_quantity import read_density, read_length, read_mass, read_time
from registry.records.permit import Edges, LengthUnit, MassUnit, Notation, Reporting
from registry.records.permit_draft import AreaDraft, ConditionDraft, PermitDraft
from registry.records.quantity import Quantity
from registry.records.season_windows import read_windows

__all__ = ["read_permit_file"]

Table = Mapping[str, Any]
T = TypeVar("T")

TOP_KEYS = ("permit", "area", "condition", "reporting")
PERMIT_KEYS = (
    *("number", "authority", "holder", "valid_from", "valid_to"),
    *("chart_datum", "chart_datum_note"),
)
REPORTING_KEYS = (
    *("frame", "notation", "length_unit", "mass_unit"),
    *("notice_days_before", "notice_cite", "report_days_after", "report_cite"),
)
#: Usual names of the level below which depths are counted. Sources: NOAA's tidal datums; IHO S-4 and S-57,
#: attribute VERDAT; national height systems (from memory).
CHART_DATUMS = (
    *("MLLW", "MLW", "MTL", "MSL", "LMSL", "DTL", "MHW", "MHHW", "NAVD88", "NAVD 88", "NGVD29", "NGVD 29"),
    *("LAT", "HAT", "CD", "MLWS", "MLWN", "MHWS", "MHWN", "LLWLT", "HHWLT", "LNT", "ISLW", "LLW", "ALLW"),
    *("LWD", "IGLD85", "IGLD 85", "CGVD28", "CGVD2013", "AHD", "ODN", "NAP", "LOWEST ASTRONOMICAL TIDE"),
    *("MEAN LOWER LOW WATER", "MEAN LOW WATER", "MEAN SEA LEVEL", "CHART DATUM"),
)
RADIUS_KEYS = ("radius", "radius_m", "radius_ft")
AREA_KEYS = (
    *("id", "frame", "epoch", "edges"),
    *("source", "layer", "corners", "holes", "centre"),
    *RADIUS_KEYS,
)
EDGES = ("geodesic", "rhumb")
LEAST_CORNERS = 3

Read = Callable[[str], Quantity]
#: Ending of a name to how the unit is written beside a number, and what reads it.
UNITS: Mapping[str, tuple[str, Read]] = {
    **{f"_{unit}": (unit, read_length) for unit in ("m", "ft", "fathoms", "nmi")},
    **{f"_{unit}": (unit, read_mass) for unit in ("kg", "t")},
    "_s": ("s", read_time),
    "_kg_m3": ("kg/m3", read_density),
}
#: Endings of names whose values are pure numbers without a bound.
RATIOS = ("_coefficient", "_factor")
#: Names whose values are words although they may look like numbers: S-44 calls an order "2", and a season may
#: begin on "1 May".
WORDS = frozenset({"order", "open", "closed", "baseline"})

_BARE_NUMBER = re.compile(r"[+-]?(\d+([.,]\d*)?|[.,]\d+)([eE][+-]?\d+)?")
#: A number and something after a blank is meant as a quantity: what is wrong with it must be told.
_NUMBER_AND_WORD = re.compile(r"[+-]?[0-9][0-9.,]*\s+\S")
_PERCENT = re.compile(r"(\d+(?:\.\d+)?)\s*%")


def read_permit_file(content: str | bytes) -> PermitDraft:
    """
    Read the file that states a permit.

    Parameters
    ----------
    content : str or bytes
        TOML; bytes in UTF-8.

    Returns
    -------
    PermitDraft
        Corners are still texts, frames still as stated; whether a rule exists and reads its limits is not
        looked at here.

    Raises
    ------
    PermitError
        If the text is no TOML (with line and column), a key is unknown, missing or of the wrong kind, a limit
        has no unit, or the permit contradicts itself. The message names table and key.

    Examples
    --------
    >>> draft = read_permit_file('''
    ... [permit]
    ... number = "HB-0417"
    ... authority = "Harbour Bay Coastal Office"
    ... valid_from = 2024-05-01
    ... valid_to = 2034-04-30
    ... chart_datum = "MLLW"
    ... [[area]]
    ... id = "north-patch"
    ... source = "areas.gpkg"
    ... frame = "EPSG:6318"
    ... [[condition]]
    ... rule = "clearance"
    ... least = "50 ft"
    ... cite = "Special condition 2"
    ... ''')
    >>> round(draft.conditions[0].limits["least"].value, 2)
    15.24
    """
    document = _parsed(content)
    _known(document, TOP_KEYS, "The permit file")
    permit = document.get("permit")
    if not isinstance(permit, dict):
        raise PermitError("The permit file has no [permit] table.", remedy="Begin it with [permit].")
    where = "[permit]"
    _known(permit, PERMIT_KEYS, where)
    return PermitDraft(
        number=_text(permit, "number", where),
        authority=_text(permit, "authority", where),
        valid_from=_date(permit, "valid_from", where),
        valid_to=_date(permit, "valid_to", where),
        chart_datum=_chart_datum(permit, where),
        areas=tuple(_area(table, place) for place, table in _tables(document, "area")),
        conditions=tuple(_condition(table, place) for place, table in _tables(document, "condition")),
        holder=_optional(permit, "holder", where, _text) or "",
        reporting=_reporting(document.get("reporting", {})),
    )


def _reporting(table: object) -> Reporting:
    """Read how and when the authority wants to be told."""
    where = "[reporting]"
    if not isinstance(table, dict):
        what = "The permit file writes 'reporting' otherwise than as a [reporting] table."
        raise PermitError(what, remedy="Begin it with a line [reporting], in single brackets.")
    _known(table, REPORTING_KEYS, where)
    default = Reporting()
    try:
        return Reporting(
            frame=_optional(table, "frame", where, _text),
            notation=cast("Notation", _one_of(table, "notation", where, Notation, default.notation)),
            length_unit=cast(
                "LengthUnit", _one_of(table, "length_unit", where, LengthUnit, default.length_unit)
            ),
            mass_unit=cast("MassUnit", _one_of(table, "mass_unit", where, MassUnit, default.mass_unit)),
            notice_days_before=_optional(table, "notice_days_before", where, _days),
            notice_cite=_optional(table, "notice_cite", where, _text) or "",
            report_days_after=_optional(table, "report_days_after", where, _days),
            report_cite=_optional(table, "report_cite", where, _text) or "",
        )
    except PermitError as error:
        if error.what.startswith(where):
            raise
        raise PermitError(f"{where}: {error.what}", remedy=error.remedy) from error


def _one_of(table: Table, key: str, where: str, words: object, default: str) -> str:
    known = get_args(words)
    word = _optional(table, key, where, _text) or default
    if word not in known:
        raise _wrong(where, key, word, f"Give one of {', '.join(known)}.")
    return word


def _days(table: Table, key: str, where: str) -> int:
    number = _plain(key, table[key], where)
    if number != int(number) or number < 0:
        raise _wrong(where, key, table[key], "Give a whole number of days, zero or more.")
    return int(number)


def _chart_datum(permit: Table, where: str) -> str:
    """Read the datum of depths: a usual name, or any other that the permit explains in a note."""
    name = _text(permit, "chart_datum", where)
    if "chart_datum_note" in permit:
        return f"{name} ({_text(permit, 'chart_datum_note', where)})"
    if name.upper() in CHART_DATUMS:
        return name
    near = get_close_matches(name.upper(), CHART_DATUMS, n=3)
    hint = f"Did you mean {' or '.join(near)}? " if near else ""
    what = f"{where}: chart_datum = {name!r} is no usual name of a datum of depths."
    raise PermitError(
        what, remedy=f'{hint}Else say what it is beside it, as chart_datum_note = "as the permit defines it".'
    )


def _parsed(content: str | bytes) -> dict[str, Any]:
    if isinstance(content, bytes):
        try:
            text = content.decode("utf-8-sig")
        except UnicodeDecodeError as error:
            line = content[: error.start].count(b"\n") + 1
            byte = content[error.start]
            what = f"Line {line} of the permit file holds the byte 0x{byte:02x}, which is not UTF-8."
            raise PermitError(what, remedy="Save the file as plain text in UTF-8.") from error
    else:
        text = content.removeprefix("\ufeff")
    try:
        # Decimal keeps the number as it was written.
        return tomllib.loads(text, parse_float=Decimal)
    except (tomllib.TOMLDecodeError, ValueError, RecursionError) as error:
        what = f"The permit file is not TOML: {str(error) or 'it is nested too deep'}."
        raise PermitError(what, remedy='Write name = "text", number or YYYY-MM-DD, one to a line.') from error


def _tables(document: Table, name: str) -> list[tuple[int, Table]]:
    value = document.get(name, [])
    if not (isinstance(value, list) and all(isinstance(table, dict) for table in value)):
        what = f"The permit file writes {name!r} otherwise than as [[{name}]] tables."
        raise PermitError(what, remedy=f"Begin each with a line [[{name}]], in two brackets.")
    return list(enumerate(value, start=1))


def _area(table: Table, place: int) -> AreaDraft:
    where = f"[[area]] {place}"
    area_id = _text(table, "id", where)
    where = f"[[area]] {place} ({area_id})"
    _known(table, AREA_KEYS, where)
    edges = _optional(table, "edges", where, _text) or "geodesic"
    if edges not in EDGES:
        raise _wrong(where, "edges", edges, 'Write edges = "geodesic" or edges = "rhumb".')
    holes = _given(table, "holes", where, [])
    if not isinstance(holes, list):
        raise _wrong(where, "holes", holes, "Give a list of rings, each a list of corners.")
    return AreaDraft(
        area_id=area_id,
        frame=_optional(table, "frame", where, _text),
        epoch=_optional(table, "epoch", where, _number),
        edges=cast("Edges", edges),
        source=_optional(table, "source", where, _text),
        layer=_optional(table, "layer", where, _text),
        corners=_ring(table["corners"], where, "corners") if "corners" in table else (),
        holes=tuple(_ring(hole, where, f"holes {number}") for number, hole in enumerate(holes, start=1)),
        centre=_optional(table, "centre", where, _text),
        radius=_radius(table, where),
    )


def _radius(table: Table, where: str) -> Quantity | None:
    keys = [key for key in RADIUS_KEYS if key in table]
    if not keys:
        return None
    if len(keys) > 1:
        what = f"{where} states its radius more than once: {', '.join(keys)}."
        raise PermitError(what, remedy="Keep one of them.")
    _, radius = _limit(keys[0], table[keys[0]], where)
    if radius.dimension != "length" or not radius.value > 0:
        raise _wrong(where, keys[0], radius.written, 'Give a length above zero, as "300 m".')
    return radius


def _ring(value: object, where: str, key: str) -> tuple[str, ...]:
    remedy = 'Give a list of texts, as ["34 01.250 N 077 20.110 W", ...].'
    if not (isinstance(value, list) and all(isinstance(corner, str) and corner.strip() for corner in value)):
        raise _wrong(where, key, value, remedy)
    corners = [corner.strip() for corner in value]
    if len(corners) > 1 and corners[0] == corners[-1]:
        corners.pop()
    if len(corners) < LEAST_CORNERS:
        what = f"{where}: {key} has {len(corners)} different corners."
        raise PermitError(what, remedy=f"Give at least {LEAST_CORNERS}.")
    return tuple(corners)


def _condition(table: Table, place: int) -> ConditionDraft:
    where = f"[[condition]] {place}"
    rule = _text(table, "rule", where)
    where = f"[[condition]] {place} ({rule})"
    cite = _text(table, "cite", where)
    limits: dict[str, Quantity] = {}
    for key, value in table.items():
        if key in {"rule", "cite", "area"}:
            continue
        name, quantity = _limit(key, value, where)
        if name in limits:
            what = f"{where} states {name!r} more than once, the second time as {key}."
            raise PermitError(what, remedy="Keep one of them.")
        limits[name] = quantity
    return ConditionDraft(rule=rule, cite=cite, limits=limits, areas=_areas(table, where))


def _areas(table: Table, where: str) -> tuple[str, ...]:
    """Read for which areas a condition holds."""
    if "area" not in table:
        return ()
    value = table["area"]
    named = value if isinstance(value, list) else [value]
    if not named or not all(isinstance(area_id, str) and area_id.strip() for area_id in named):
        raise _wrong(where, "area", value, 'Give the id of an [[area]], as area = "north-patch", or a list.')
    areas = tuple(area_id.strip() for area_id in named)
    if len(set(areas)) != len(areas):
        raise _wrong(where, "area", value, "Name each area once.")
    return areas


def _limit(key: str, value: object, where: str) -> tuple[str, Quantity]:
    """Give the name of a parameter without its unit, and its value."""
    for suffix, (unit, read) in UNITS.items():
        if key.endswith(suffix) and key != suffix:
            return key.removesuffix(suffix), _measured(key, value, unit, read, where)
    if key.endswith("_count"):
        number = _plain(key, value, where)
        if number != int(number) or number < 0:
            raise _wrong(where, key, value, "Give a whole number of zero or more.")
        return key, Quantity(value=float(number), dimension="count", written=str(number))
    if key.endswith("_share"):
        return key, _share(key, value, where)
    if key.endswith(RATIOS):
        ratio = _plain(key, value, where)
        return key, Quantity(value=float(ratio), dimension="ratio", written=f"{ratio:f}")
    return key, _worded(key, value, where)


def _measured(key: str, value: object, unit: str, read: Read, where: str) -> Quantity:
    number = _plain(key, value, where)
    return _read(read, f"{number:f} {unit}", key, where)


def _share(key: str, value: object, where: str) -> Quantity:
    remedy = 'Give a share from 0 to 1, or as "25 %".'
    percent = _PERCENT.fullmatch(value.strip()) if isinstance(value, str) else None
    number = Decimal(percent[1]) / 100 if percent else _plain(key, value, where)
    if not 0 <= number <= 1:
        raise _wrong(where, key, value, remedy)
    return Quantity(value=float(number), dimension="share", written=str(value))


def _worded(key: str, value: object, where: str) -> Quantity:
    """Read a value whose name says no unit: a text with its own unit, or words."""
    if isinstance(value, list):
        if not value or not all(isinstance(word, str) and word.strip() and "," not in word for word in value):
            raise _wrong(where, key, value, "Give a list of words without commas in them.")
        return _as_text(",".join(word.strip() for word in value))
    if isinstance(value, bool):
        return _as_text("true" if value else "false")
    if isinstance(value, date) and not isinstance(value, datetime):
        return _as_text(value.isoformat())
    if not isinstance(value, str | int | Decimal):
        raise _wrong(where, key, value, "Give a text, a number with its unit, or a list of words.")
    text = str(value).strip()
    if not text:
        raise _wrong(where, key, value, "Give a value, or leave the line out.")
    if isinstance(value, str) and (key in WORDS or _is_season(text)):
        return _as_text(text)
    return _united(key, text, where)


def _is_season(text: str) -> bool:
    """Tell windows of days, under whatever name, from lengths: "1 May to 31 October" has no unit."""
    try:
        return " to " in text and bool(read_windows(text))
    except PermitError:
        return False


def _united(key: str, text: str, where: str) -> Quantity:
    """Read a text as a quantity with its unit if it can be one, else as words."""
    if _BARE_NUMBER.fullmatch(text):
        what = f"{where}: {key} = {text} is a limit without unit."
        raise PermitError(what, remedy=f'Write {key} = "{text} m" or {key}_m = {text}, or the unit it has.')
    for read in (read_mass, read_time, read_density):
        with suppress(QuantityError):
            return read(text)
    if _NUMBER_AND_WORD.match(text):
        return _read(read_length, text, key, where)
    with suppress(QuantityError):
        return read_length(text)
    return _as_text(text)


def _read(read: Read, text: str, key: str, where: str) -> Quantity:
    try:
        return read(text)
    except QuantityError as error:
        raise PermitError(f"{where}: {key}: {error.what}", remedy=error.remedy) from error


def _as_text(text: str) -> Quantity:
    return Quantity(value=0.0, dimension="text", written=text)


def _plain(key: str, value: object, where: str) -> Decimal:
    if isinstance(value, bool) or not isinstance(value, int | Decimal) or not Decimal(value).is_finite():
        raise _wrong(where, key, value, f"Give a plain number, as {key} = 6.0.")
    return Decimal(value)


def _known(table: Table, keys: Sequence[str], where: str) -> None:
    for key in table:
        if key not in keys:
            what = f"{where} holds the unknown key {key!r}."
            raise PermitError(what, remedy=f"Known keys: {', '.join(keys)}.")


def _given(table: Table, key: str, where: str, default: object = None) -> Any:
    value = table.get(key, default)
    if value is None:
        what = f"{where} has no {key}."
        raise PermitError(what, remedy=f"Add a line {key} = ...")
    return value


def _optional(table: Table, key: str, where: str, read: Callable[[Table, str, str], T]) -> T | None:
    return read(table, key, where) if key in table else None


def _text(table: Table, key: str, where: str) -> str:
    value = _given(table, key, where)
    if not isinstance(value, str) or not value.strip():
        raise _wrong(where, key, value, f'Write it in quotes: {key} = "...".')
    return value.strip()


def _number(table: Table, key: str, where: str) -> float:
    return float(_plain(key, _given(table, key, where), where))


def _date(table: Table, key: str, where: str) -> date:
    value = _given(table, key, where)
    remedy = f"Write it as {key} = 2024-05-01."
    if isinstance(value, str):
        try:
            return date.fromisoformat(value.strip())
        except ValueError as error:
            raise _wrong(where, key, value, remedy) from error
    if isinstance(value, datetime) or not isinstance(value, date):
        raise _wrong(where, key, value, remedy)
    return value


def _wrong(where: str, key: str, value: object, remedy: str) -> PermitError:
    shown = str(value) if isinstance(value, Decimal) else repr(value)
    return PermitError(f"{where}: {key} = {shown} cannot be used.", remedy=remedy)
