"""
Readings of a depth as they came: what was displayed, and all about the instrument that makes a depth of it.

Doubts that nobody stated are None; whoever derives the depth takes a usual one and says so.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal, TypeAlias, get_args

from registry.errors import InvalidRecordError
from registry.measure.depth import GaugeSetting
from registry.measure.sound_speed import SOUND_SPEED_EQUATIONS
from registry.records.quantity import Quantity

__all__ = [
    "ChartSounding",
    "CountsFrom",
    "DepthReading",
    "EchoSounding",
    "GaugeReading",
    "LeadLineSounding",
    "PressureReading",
    "SoundCast",
    "SpeedOfSound",
    "WaterSample",
    "ZoneOfConfidence",
]

CountsFrom = Literal["transducer", "waterline"]
ZoneOfConfidence = Literal["A1", "A2", "B", "C"]


@dataclass(frozen=True, slots=True, kw_only=True)
class SpeedOfSound:
    """A mean speed of sound that somebody measured, as by a bar check."""

    #: Units: m/s.
    speed_mps: float
    #: At 95 %. Units: m/s.
    u95_mps: float
    #: How it was got.
    method: str

    def __post_init__(self) -> None:
        """Refuse a speed without its doubt."""
        _positive(self.speed_mps, "A speed of sound", "m/s")
        _positive(self.u95_mps, "The uncertainty of a speed of sound", "m/s")


@dataclass(frozen=True, slots=True, kw_only=True)
class WaterSample:
    """Temperature and salinity that stand for the whole path of sound."""

    #: On ITS-90. Units: °C.
    temperature_c: float
    #: Practical salinity.
    salinity: float
    #: Name of the equation that makes a speed of them.
    equation: str = "Chen-Millero"
    #: At 95 %, the change from surface to seabed included. Units: °C.
    temperature_u95_c: float = 1.0
    #: At 95 %.
    salinity_u95: float = 1.0

    def __post_init__(self) -> None:
        """Refuse an equation that is not known."""
        _known_equation(self.equation)
        _positive(self.temperature_u95_c, "The uncertainty of a temperature", "°C")
        _positive(self.salinity_u95, "The uncertainty of a salinity", "")


@dataclass(frozen=True, slots=True, kw_only=True)
class SoundCast:
    """A profile of the speed of sound, from the surface down."""

    #: Not decreasing. Units: m.
    depths_m: tuple[float, ...]
    #: Same length. Units: m/s.
    speeds_mps: tuple[float, ...]
    #: "measured", or the name of the equation that made speeds of temperature and salinity.
    equation: str
    #: Name of the cast or of its file.
    source: str
    #: Of the mean speed, at 95 %. Units: m/s.
    u95_mps: float = 1.0

    def __post_init__(self) -> None:
        """Refuse a cast without levels, or out of order."""
        if self.equation != "measured":
            _known_equation(self.equation)
        if len(self.depths_m) != len(self.speeds_mps) or not self.depths_m:
            what = (
                f"The cast {self.source!r} has {len(self.depths_m)} depths and {len(self.speeds_mps)} speeds."
            )
            raise InvalidRecordError(what, remedy="Give one speed for each depth, and at least one.")
        if any(lower < upper for upper, lower in zip(self.depths_m, self.depths_m[1:], strict=False)):
            what = f"The depths of the cast {self.source!r} decrease."
            raise InvalidRecordError(what, remedy="Give the cast from the surface down, without its way up.")
        _positive(self.u95_mps, "The uncertainty of a cast", "m/s")


@dataclass(frozen=True, slots=True, kw_only=True)
class EchoSounding:
    """A depth off an echo sounder."""

    depth: Quantity
    counts_from: CountsFrom
    #: Speed of sound set in the sounder. Units: m/s.
    set_speed_mps: float
    #: Draft keyed into the sounder; only where it counts from the waterline. Units: m.
    set_draft_m: float
    #: Transducer below the waterline when it was read. Units: m.
    draft_m: float
    sound: SpeedOfSound | WaterSample | SoundCast
    #: By how much the display reads too deep. Units: m.
    index_error_m: float = 0.0
    #: At 95 %. Units: m.
    instrument_u95_m: float | None = None
    draft_u95_m: float | None = None
    waves_u95_m: float | None = None

    def __post_init__(self) -> None:
        """Refuse a reading of which it is not known what it counts from."""
        _is_depth(self.depth)
        if self.counts_from not in get_args(CountsFrom):
            what = f"A sounding counts from {self.counts_from!r}."
            raise InvalidRecordError(what, remedy=f"Say {' or '.join(get_args(CountsFrom))}.")
        _finite((self.set_speed_mps, self.set_draft_m, self.draft_m, self.index_error_m), "An echo sounding")
        _doubts(self.instrument_u95_m, self.draft_u95_m, self.waves_u95_m)


@dataclass(frozen=True, slots=True, kw_only=True)
class GaugeReading:
    """A depth off a diver's gauge or computer, held at the seabed."""

    depth: Quantity
    setting: GaugeSetting
    #: Mean density of the water; None where nobody measured it. Units: kg/m³.
    density_kgpm3: float | None = None
    #: At 95 %. Units: kg/m³.
    density_u95_kgpm3: float | None = None
    #: Shown at the surface before the dive. Units: m.
    index_error_m: float = 0.0
    #: At 95 %. Units: m.
    instrument_u95_m: float | None = None
    waves_u95_m: float | None = None

    def __post_init__(self) -> None:
        """Refuse a gauge whose setting is not known."""
        _is_depth(self.depth)
        if self.setting not in get_args(GaugeSetting):
            what = f"A depth gauge is set to {self.setting!r}."
            raise InvalidRecordError(what, remedy=f"Say which: {', '.join(get_args(GaugeSetting))}.")
        if (self.density_kgpm3 is None) != (self.density_u95_kgpm3 is None):
            what = "A density of the water needs its uncertainty, and the other way round."
            raise InvalidRecordError(what, remedy="Give both, in kg/m³, or neither.")
        _finite((self.index_error_m,), "A gauge reading")
        _doubts(self.instrument_u95_m, self.waves_u95_m, self.density_u95_kgpm3)


@dataclass(frozen=True, slots=True, kw_only=True)
class LeadLineSounding:
    """A depth by lead and line."""

    depth: Quantity
    #: Height above the water of the hand that read the marks. Units: m.
    read_above_water_m: float = 0.0
    #: By which share the wet line is longer than its marks say.
    stretch_share: float = 0.0
    #: At 95 %. Units: m.
    instrument_u95_m: float | None = None
    waves_u95_m: float | None = None

    def __post_init__(self) -> None:
        """Refuse what is no depth."""
        _is_depth(self.depth)
        _finite((self.read_above_water_m, self.stretch_share), "A lead line sounding")
        _doubts(self.instrument_u95_m, self.waves_u95_m)


@dataclass(frozen=True, slots=True, kw_only=True)
class PressureReading:
    """A pressure recorded at or above the seabed."""

    #: Units: dbar.
    pressure_dbar: float
    #: Air pressure that is in it: 0 for a sensor zeroed at the surface. Units: dbar.
    air_dbar: float
    #: Height of the sensor above the seabed. Units: m.
    above_seabed_m: float = 0.0
    #: At 95 %. Units: dbar.
    sensor_u95_dbar: float | None = None
    air_u95_dbar: float | None = None
    #: At 95 %. Units: m.
    waves_u95_m: float | None = None

    def __post_init__(self) -> None:
        """Refuse what is no pressure."""
        _positive(self.pressure_dbar, "A pressure", "dbar")
        if not 0.0 <= self.air_dbar <= 11.5:
            what = f"Air of {self.air_dbar} dbar is not to be breathed."
            raise InvalidRecordError(
                what, remedy="Give 0 for a sensor zeroed at the surface, else near 10.13."
            )
        _finite((self.above_seabed_m,), "A pressure reading")
        _doubts(self.sensor_u95_dbar, self.air_u95_dbar, self.waves_u95_m)


@dataclass(frozen=True, slots=True, kw_only=True)
class ChartSounding:
    """A depth off a chart: below the chart's datum already."""

    depth: Quantity
    datum: str
    #: Of the chart's data there; None where it is D, unassessed or not known.
    zone_of_confidence: ZoneOfConfidence | None = None
    #: At 95 %, where stated. Units: m.
    u95_m: float | None = None

    def __post_init__(self) -> None:
        """Refuse a charted depth of unknown datum or without any doubt."""
        _is_depth(self.depth)
        if not self.datum.strip():
            raise InvalidRecordError("A charted depth has no datum.", remedy="Read it off the chart's title.")
        if self.zone_of_confidence is None and self.u95_m is None:
            what = "A charted depth has neither a zone of confidence nor an uncertainty."
            raise InvalidRecordError(what, remedy="Give A1, A2, B or C off the chart, or an uncertainty.")
        if self.zone_of_confidence not in (None, *get_args(ZoneOfConfidence)):
            what = f"{self.zone_of_confidence!r} is no zone of confidence with a figure."
            raise InvalidRecordError(what, remedy="Use A1, A2, B or C; for D and U state an uncertainty.")
        _doubts(self.u95_m)


DepthReading: TypeAlias = EchoSounding | GaugeReading | LeadLineSounding | PressureReading | ChartSounding


def _is_depth(depth: Quantity) -> None:
    if depth.dimension != "length" or not 0 < depth.value < 11_000.0:
        what = f"A depth of {depth.written!r} is not one."
        raise InvalidRecordError(what, remedy="Depths are positive downward; give one with its unit.")


def _known_equation(name: str) -> None:
    if name not in SOUND_SPEED_EQUATIONS:
        what = f"{name!r} is no equation for the speed of sound here."
        raise InvalidRecordError(what, remedy=f"Use one of {', '.join(SOUND_SPEED_EQUATIONS)}.")


def _positive(value: float, what: str, unit: str) -> None:
    if not (math.isfinite(value) and value > 0):
        raise InvalidRecordError(
            f"{what} is {value} {unit}.".replace(" .", "."), remedy="Give more than zero."
        )


def _finite(values: Sequence[float], what: str) -> None:
    if not all(math.isfinite(value) for value in values):
        raise InvalidRecordError(f"{what} holds what is no number.", remedy="Give finite numbers.")


def _doubts(*values: float | None) -> None:
    for value in values:
        if value is not None and not (math.isfinite(value) and value >= 0):
            what = f"An uncertainty of {value} is not one."
            raise InvalidRecordError(what, remedy="Give zero or more, at 95 %.")
