"""
Units of length, mass, time and density as people write them, and exactly what they are worth.

A spelling that could mean two things is in no table: it is listed among the ambiguous ones, with what it
could mean, so that a person is asked. Case matters only where it tells units apart.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from types import MappingProxyType

from registry.errors import QuantityError

__all__ = [
    "AMBIGUOUS_UNITS",
    "DENSITY_UNITS",
    "LENGTHS",
    "LENGTH_UNITS",
    "MASSES",
    "MASS_UNITS",
    "TIME_UNITS",
    "Unit",
    "kilograms_per",
    "metres_per",
]


@dataclass(frozen=True, slots=True, kw_only=True)
class Unit:
    """One unit."""

    name: str
    #: As it is written after a number.
    symbol: str
    #: What one of it is worth, exactly. Units: m, kg, s or kg/m3.
    si: float
    #: Who says so.
    source: str
    #: Spellings of which the case does not matter.
    words: tuple[str, ...] = ()
    #: Spellings of which the case matters.
    symbols: tuple[str, ...] = ()


_SI = "SI Brochure, 9th edition"
_1959 = "International yard and pound agreement of 1959 (24 FR 5348)"
_NMI = "International Extraordinary Hydrographic Conference, Monaco 1929; SI Brochure, 8th edition, table 8"
_US = "Customary unit of the United States, NIST Handbook 44, appendix C"

LENGTHS: tuple[Unit, ...] = (
    Unit(
        name="metre",
        symbol="m",
        si=1.0,
        source=_SI,
        words=("metre", "metres", "meter", "meters", "mtr", "mtrs"),
        symbols=("m",),
    ),
    Unit(
        name="kilometre",
        symbol="km",
        si=1000.0,
        source=_SI,
        words=("km", "kilometre", "kilometres", "kilometer", "kilometers"),
    ),
    Unit(
        name="centimetre",
        symbol="cm",
        si=0.01,
        source=_SI,
        words=("cm", "centimetre", "centimetres", "centimeter", "centimeters"),
    ),
    Unit(
        name="millimetre",
        symbol="mm",
        si=0.001,
        source=_SI,
        words=("millimetre", "millimetres", "millimeter", "millimeters"),
        symbols=("mm",),
    ),
    Unit(
        name="foot",
        symbol="ft",
        si=0.3048,
        source=_1959,
        words=("ft", "ft.", "foot", "feet", "international foot", "international feet"),
    ),
    Unit(
        name="US survey foot",
        symbol="ftUS",
        si=1200.0 / 3937.0,
        source="Mendenhall Order of 1893; retired at the end of 2022 (85 FR 62698), still met in old papers",
        words=(
            "ftus",
            "us-ft",
            "us ft",
            "survey ft",
            "survey foot",
            "survey feet",
            "us survey ft",
            "us survey foot",
            "us survey feet",
            "u.s. survey foot",
            "u.s. survey feet",
        ),
    ),
    Unit(name="yard", symbol="yd", si=0.9144, source=_1959, words=("yd", "yds", "yard", "yards")),
    Unit(name="inch", symbol="in", si=0.0254, source=_1959, words=("in", "in.", "inch", "inches")),
    Unit(
        name="fathom",
        symbol="fm",
        si=1.8288,
        source=f"Six feet. {_1959}",
        words=("fm", "fms", "fth", "fathom", "fathoms"),
    ),
    Unit(
        name="cable",
        symbol="cable",
        si=185.2,
        source=f"A tenth of a nautical mile; common practice. {_NMI}",
        words=("cable", "cables"),
    ),
    Unit(
        name="nautical mile",
        symbol="nmi",
        si=1852.0,
        source=_NMI,
        words=("nmi", "n.mi.", "naut mi", "nautical mile", "nautical miles"),
        symbols=("NM",),
    ),
)

MASSES: tuple[Unit, ...] = (
    Unit(
        name="kilogram",
        symbol="kg",
        si=1.0,
        source=_SI,
        words=("kg", "kgs", "kilo", "kilos", "kilogram", "kilograms", "kilogramme", "kilogrammes"),
    ),
    Unit(
        name="gram",
        symbol="g",
        si=0.001,
        source=_SI,
        words=("gram", "grams", "gramme", "grammes"),
        symbols=("g",),
    ),
    Unit(
        name="tonne",
        symbol="t",
        si=1000.0,
        source=_SI,
        words=("tonne", "tonnes", "metric ton", "metric tons"),
        symbols=("t",),
    ),
    Unit(
        name="pound",
        symbol="lb",
        si=0.45359237,
        source=_1959,
        words=("lb", "lb.", "lbs", "lbs.", "pound", "pounds"),
    ),
    Unit(
        name="US short ton",
        symbol="short ton",
        si=2000 * 0.45359237,
        source=f"2000 pounds. {_US}",
        words=("short ton", "short tons", "us short ton", "us short tons", "us ton", "us tons"),
    ),
    Unit(
        name="long ton",
        symbol="long ton",
        si=2240 * 0.45359237,
        source=f"2240 pounds. {_US}",
        words=("long ton", "long tons", "imperial ton", "imperial tons"),
    ),
)

TIMES: tuple[Unit, ...] = (
    Unit(
        name="second",
        symbol="s",
        si=1.0,
        source=_SI,
        words=("sec", "secs", "second", "seconds"),
        symbols=("s",),
    ),
    Unit(name="minute", symbol="min", si=60.0, source=_SI, words=("minute", "minutes"), symbols=("min",)),
)


def _density(name: str, symbol: str, si: float, source: str) -> Unit:
    spellings = tuple(symbol.replace("3", third) for third in ("3", "^3", "³"))
    return Unit(name=name, symbol=symbol, si=si, source=source, symbols=spellings)


DENSITIES: tuple[Unit, ...] = (
    _density("kilogram per cubic metre", "kg/m3", 1.0, _SI),
    _density("gram per cubic centimetre", "g/cm3", 1000.0, _SI),
    _density("tonne per cubic metre", "t/m3", 1000.0, _SI),
    _density("pound per cubic foot", "lb/ft3", 0.45359237 / 0.3048**3, _1959),
)


def _by_spelling(units: Iterable[Unit]) -> Mapping[str, float]:
    """List every accepted spelling; words also in capitals and with a first capital."""
    table: dict[str, float] = {}
    for unit in units:
        spellings = {s for word in unit.words for s in (word, word.upper(), word.capitalize())}
        for spelling in {*spellings, *unit.symbols, unit.symbol}:
            if table.setdefault(spelling, unit.si) != unit.si:
                what = f"The spelling {spelling!r} stands for two units."
                raise ValueError(what)
    return MappingProxyType(table)


#: Every accepted spelling of a length, and its metres.
LENGTH_UNITS = _by_spelling(LENGTHS)
#: Every accepted spelling of a mass, and its kilograms.
MASS_UNITS = _by_spelling(MASSES)
#: Every accepted spelling of a span of time, and its seconds.
TIME_UNITS = _by_spelling(TIMES)
#: Every accepted spelling of a density, and its kilograms per cubic metre.
DENSITY_UNITS = _by_spelling(DENSITIES)

#: Spellings that are refused, and what they could mean.
AMBIGUOUS_UNITS: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {
        "nm": ("nautical miles (write nmi)", "nanometres"),
        "Nm": ("nautical miles (write nmi)", "newton metres"),
        "M": ("metres (write m)", "nautical miles (write nmi)"),
        "mi": ("nautical miles (write nmi)", "statute miles of 1609.344 m (write the metres)"),
        "mile": ("nautical miles (write nmi)", "statute miles of 1609.344 m (write the metres)"),
        "miles": ("nautical miles (write nmi)", "statute miles of 1609.344 m (write the metres)"),
        "'": ("feet (write ft)", "minutes of arc"),
        "′": ("feet (write ft)", "minutes of arc"),
        '"': ("inches (write in)", "seconds of arc"),
        "″": ("inches (write in)", "seconds of arc"),
        "ton": ("tonnes (write t)", "US short tons (write short ton)", "long tons (write long ton)"),
        "tons": ("tonnes (write t)", "US short tons (write short ton)", "long tons (write long ton)"),
        "T": ("tonnes (write t)", "US short tons (write short ton)"),
        "MT": ("tonnes (write t)", "megatonnes"),
    }
)


def metres_per(unit: str) -> float:
    """
    Give the length of one unit.

    Raises
    ------
    QuantityError
        If the spelling is ambiguous or unknown; the remedy names what to write.

    Examples
    --------
    >>> metres_per("feet"), metres_per("fathoms"), metres_per("NM")
    (0.3048, 1.8288, 1852.0)
    >>> metres_per("nm")
    Traceback (most recent call last):
    registry.errors.QuantityError: The unit 'nm' is ambiguous: nautical miles (write nmi) or nanometres. ...
    """
    return _worth(unit, LENGTH_UNITS, LENGTHS)


def kilograms_per(unit: str) -> float:
    """
    Give the mass of one unit.

    Raises
    ------
    QuantityError
        If the spelling is ambiguous or unknown; the remedy names what to write.

    Examples
    --------
    >>> kilograms_per("lb"), kilograms_per("short tons")
    (0.45359237, 907.18474)
    """
    return _worth(unit, MASS_UNITS, MASSES)


def _worth(spelling: str, table: Mapping[str, float], units: Iterable[Unit]) -> float:
    """Look a spelling up, or say what to write instead."""
    written = " ".join(spelling.split())
    if written in table:
        return table[written]
    known = f"Write one of: {', '.join(unit.symbol for unit in units)}."
    if written in AMBIGUOUS_UNITS:
        what = f"The unit {written!r} is ambiguous: {' or '.join(AMBIGUOUS_UNITS[written])}."
        raise QuantityError(what, remedy=known)
    what = f"The unit {written!r} is not known here."
    raise QuantityError(what, remedy=known)
