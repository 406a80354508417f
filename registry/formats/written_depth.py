"""
A depth as it came off an instrument, with what that instrument needs, as people write it.

Nothing about an instrument is assumed that makes metres: how a gauge is set, from where a sounder counts and
which speed of sound is set in it are asked for.
"""

import re
from collections.abc import Mapping

from registry.errors import QuantityError
from registry.formats.plain_text import plain_text
from registry.formats.written_motion import read_speed
from registry.formats.written_quantity import read_length
from registry.measure.depth import GaugeSetting
from registry.records.depth_reading import (
    ChartSounding,
    DepthReading,
    EchoSounding,
    GaugeReading,
    LeadLineSounding,
    PressureReading,
    SoundCast,
    WaterSample,
    ZoneOfConfidence,
)
from registry.records.quantity import Quantity

__all__ = ["DEPTH_KINDS", "read_depth_reading", "read_pressure_dbar"]

#: Kinds of instruments, and what may be said of each besides the depth itself.
DEPTH_KINDS: Mapping[str, tuple[str, ...]] = {
    "echo": ("sounder_speed", "transducer", "set_draft", "draft", "water", "cast", "index_error"),
    "gauge": ("gauge_setting", "index_error"),
    "lead": ("above_water",),
    "pressure": ("pressure", "air", "above_seabed"),
    "chart": ("chart_datum", "chart_zone"),
}
_SETTINGS: Mapping[str, GaugeSetting] = {
    "msw": "msw",
    "fsw": "fsw",
    "fresh": "fresh",
    "en13319": "EN 13319",
}
_ZONES: Mapping[str, ZoneOfConfidence] = {"A1": "A1", "A2": "A2", "B": "B", "C": "C"}
#: Units: dbar.
_PRESSURES = {
    "dbar": 1.0,
    "bar": 10.0,
    "mbar": 0.01,
    "hpa": 0.01,
    "kpa": 0.1,
    "psi": 6894.757293168361 / 10_000.0,  # pound-force per square inch, from its definition
}
_PRESSURE = re.compile(r"([0-9]{1,6}(?:[.,][0-9]{1,6})?)\s*([A-Za-z]+)")
_WATER = re.compile(r"(-?[0-9]{1,2}(?:\.[0-9]{1,4})?)\s*[,;]\s*([0-9]{1,2}(?:\.[0-9]{1,4})?)")


def read_depth_reading(
    kind: str,
    said: Mapping[str, str],
    *,
    depth: Quantity | None,
    u95: Quantity | None = None,
    cast: SoundCast | None = None,
) -> DepthReading:
    """
    Read what was noted of a sounding.

    Parameters
    ----------
    kind : str
        A key of `DEPTH_KINDS`.
    said : mapping of str to str
        What else was noted, by the names of `DEPTH_KINDS`, as written; "cast" stands for `cast`.
    depth : Quantity, optional
        As displayed; needed by all but a pressure sensor.
    u95 : Quantity, optional
        95 % uncertainty of the instrument itself.
    cast : SoundCast, optional
        Profile of the speed of sound.

    Raises
    ------
    QuantityError
        If something needed is missing, unreadable, or says nothing of such an instrument.

    Examples
    --------
    >>> depth = read_length("18.3 m")
    >>> read_depth_reading("gauge", {"gauge_setting": "EN 13319"}, depth=depth).setting
    'EN 13319'
    """
    if kind not in DEPTH_KINDS:
        what = f"“{kind}” is no kind of depth."
        raise QuantityError(what, remedy=f"Use one of {', '.join(DEPTH_KINDS)}.")
    noted = _noted(kind, said)
    if kind == "pressure":
        if depth is not None or u95 is not None:
            what = "A pressure sensor gives a pressure; a depth or its uncertainty stands beside it."
            raise QuantityError(what, remedy="Give the pressure alone.")
        return _pressure(noted)
    if depth is None:
        raise QuantityError(f"The depth of kind {kind} is missing.", remedy="Give it as displayed.")
    u95_m = u95.value if u95 is not None else None
    if kind == "echo":
        return _echo(noted, depth, u95_m, cast)
    if kind == "gauge":
        return GaugeReading(
            depth=depth,
            setting=_setting(_needed(noted, "gauge_setting", "gauge", "en13319, msw, fsw or fresh")),
            index_error_m=_length_m(noted, "index_error"),
            instrument_u95_m=u95_m,
        )
    if kind == "lead":
        return LeadLineSounding(
            depth=depth, read_above_water_m=_length_m(noted, "above_water"), instrument_u95_m=u95_m
        )
    return _chart(noted, depth, u95_m)


def _noted(kind: str, said: Mapping[str, str]) -> Mapping[str, str]:
    noted = {name: text for name, text in said.items() if text.strip()}
    for name in noted:
        if name not in DEPTH_KINDS[kind]:
            what = f"{_label(name)} says nothing of a depth of kind {kind}."
            raise QuantityError(what, remedy=f"Leave it out; {kind} takes {_labels(DEPTH_KINDS[kind])}.")
    return noted


def _chart(noted: Mapping[str, str], depth: Quantity, u95_m: float | None) -> ChartSounding:
    zone = noted.get("chart_zone", "").strip().upper()
    if zone and zone not in _ZONES:
        what = f"“{zone}” is no zone of confidence with a figure."
        raise QuantityError(what, remedy="Use A1, A2, B or C; for D and U state the uncertainty.")
    return ChartSounding(
        depth=depth,
        datum=_needed(noted, "chart_datum", "chart", "MLLW, as its title says").strip(),
        zone_of_confidence=_ZONES.get(zone),
        u95_m=u95_m,
    )


def read_pressure_dbar(text: str) -> float:
    """
    Read a pressure. Units of the answer: dbar.

    Raises
    ------
    QuantityError
        If the unit is missing or unknown.

    Examples
    --------
    >>> read_pressure_dbar("1013 hPa"), read_pressure_dbar("3 bar")
    (10.13, 30.0)
    """
    found = _PRESSURE.fullmatch(plain_text(text))
    if found is None or found[2].lower() not in _PRESSURES:
        what = f"“{text.strip()[:80]}” is no pressure with a known unit."
        raise QuantityError(what, remedy="Write it as 30.2 dbar or 3.02 bar, kPa, hPa, mbar or psi.")
    return float(found[1].replace(",", ".")) * _PRESSURES[found[2].lower()]


def _echo(
    noted: Mapping[str, str], depth: Quantity, u95_m: float | None, cast: SoundCast | None
) -> EchoSounding:
    counts = _needed(noted, "transducer", "echo", "transducer or waterline: from where the display counts")
    counts = counts.strip().lower()
    if counts not in ("transducer", "waterline"):
        what = f"A display counts from the transducer or the waterline, not from “{counts[:40]}”."
        raise QuantityError(what, remedy="Look in the sounder's settings for a draft or keel offset.")
    set_draft_m = (
        _metres("set_draft", _needed(noted, "set_draft", "echo", "0.5 m, as keyed into the sounder"))
        if counts == "waterline"
        else _length_m(noted, "set_draft")
    )
    if ("water" in noted) == (cast is not None):
        what = "The speed of sound in the water is known by a cast or by its temperature and salinity."
        raise QuantityError(what, remedy='Give one: a cast, or the water as "18.5,35.1" (°C, salinity).')
    return EchoSounding(
        depth=depth,
        counts_from="waterline" if counts == "waterline" else "transducer",
        set_speed_mps=read_speed(_needed(noted, "sounder_speed", "echo", "1500 m/s, as set in the sounder")),
        set_draft_m=set_draft_m,
        draft_m=_metres("draft", _needed(noted, "draft", "echo", "0.5 m, transducer below the waterline")),
        sound=cast if cast is not None else _water(noted["water"]),
        index_error_m=_length_m(noted, "index_error"),
        instrument_u95_m=u95_m,
    )


def _pressure(noted: Mapping[str, str]) -> PressureReading:
    air = _needed(noted, "air", "pressure", "zeroed, or the air pressure that is in it, as 1013 hPa")
    return PressureReading(
        pressure_dbar=read_pressure_dbar(_needed(noted, "pressure", "pressure", "30.2 dbar")),
        air_dbar=0.0 if air.strip().lower() == "zeroed" else read_pressure_dbar(air),
        above_seabed_m=_length_m(noted, "above_seabed"),
    )


def _water(text: str) -> WaterSample:
    found = _WATER.fullmatch(plain_text(text))
    if found is None:
        what = f"“{text.strip()[:80]}” is no temperature and salinity."
        raise QuantityError(what, remedy='Write °C and practical salinity as "18.5,35.1".')
    return WaterSample(temperature_c=float(found[1]), salinity=float(found[2]))


def _setting(text: str) -> GaugeSetting:
    plain = re.sub(r"[\s_-]", "", text).lower()
    if plain in _SETTINGS:
        return _SETTINGS[plain]
    what = f"A gauge set to “{text.strip()[:40]}” does not say how much pressure it shows as a metre."
    if plain in ("salt", "sea", "seawater", "saltwater"):
        remedy = "Look in its manual: salt is en13319 or msw in most, fsw in some; fresh is its own."
        raise QuantityError(what, remedy=remedy)
    raise QuantityError(what, remedy="Use en13319, msw, fsw or fresh.")


def _needed(noted: Mapping[str, str], name: str, kind: str, example: str) -> str:
    if name not in noted:
        what = f"A depth of kind {kind} needs {_label(name)}."
        raise QuantityError(what, remedy=f"Give it, as {example}.")
    return noted[name]


def _length_m(noted: Mapping[str, str], name: str) -> float:
    return _metres(name, noted[name]) if name in noted else 0.0


def _metres(name: str, text: str) -> float:
    try:
        return read_length(text).value
    except QuantityError as error:
        raise QuantityError(f"{_label(name)}: {error.what}", remedy=error.remedy) from error


def _label(name: str) -> str:
    return f"“{name.replace('_', ' ')}”"


def _labels(names: tuple[str, ...]) -> str:
    return ", ".join(map(_label, names))
