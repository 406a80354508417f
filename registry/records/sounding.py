"""A depth off an instrument with the tide to be taken off it, and both as plain data for the journal."""

from collections.abc import Mapping
from dataclasses import asdict, dataclass, field
from datetime import datetime
from typing import Any

from registry.errors import InvalidRecordError
from registry.measure.depth import BudgetTerm
from registry.records.depth_reading import (
    ChartSounding,
    DepthReading,
    EchoSounding,
    GaugeReading,
    LeadLineSounding,
    PressureReading,
    SoundCast,
    SpeedOfSound,
    WaterSample,
)
from registry.records.gauge_readings import GaugeReadings
from registry.records.quantity import Quantity
from registry.records.tide_height import TideHeight
from registry.records.tide_station import TideStation

__all__ = ["Sounding", "reading_body", "reading_from_body", "tide_body", "tide_from_body"]

_INSTRUMENTS: Mapping[str, type[DepthReading]] = {
    "echo": EchoSounding,
    "gauge": GaugeReading,
    "lead": LeadLineSounding,
    "pressure": PressureReading,
    "chart": ChartSounding,
}
_SOUNDS: Mapping[str, type[SpeedOfSound | WaterSample | SoundCast]] = {
    "speed": SpeedOfSound,
    "water": WaterSample,
    "cast": SoundCast,
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Sounding:
    """One reading of a depth, and where its tide comes from."""

    reading: DepthReading
    #: As read off the instrument, with its unit.
    written: str
    #: When it was read, with its zone.
    at: datetime
    #: Height of the water above chart datum as a person stated it, and its 95 % doubt.
    tide: Quantity | None = None
    tide_u95: Quantity | None = None
    #: Instead: a gauge to read, or a station to predict by.
    tide_source: GaugeReadings | TideStation | None = None
    #: Name and SHA-256 of each file that was read for it, by what it holds.
    files: Mapping[str, Any] = field(default_factory=dict)

    def __post_init__(self) -> None:
        """Refuse two tides, or a doubt of none."""
        if self.tide is not None and self.tide_source is not None:
            what = f"A tide of {self.tide.written} is stated, and a gauge or station is given too."
            raise InvalidRecordError(what, remedy="Give one of them.")
        if self.tide_u95 is not None and self.tide is None:
            what = "The uncertainty of a stated tide is given, but no tide."
            raise InvalidRecordError(what, remedy="Give the tide too, or leave it out.")


def reading_body(reading: DepthReading) -> dict[str, Any]:
    """Give a reading as data."""
    body = asdict(reading)
    if isinstance(reading, EchoSounding):
        name = next(name for name, kind in _SOUNDS.items() if isinstance(reading.sound, kind))
        levels = {k: list(v) if isinstance(v, tuple) else v for k, v in asdict(reading.sound).items()}
        body["sound"] = {"by": name, **levels}
    instrument = next(name for name, kind in _INSTRUMENTS.items() if isinstance(reading, kind))
    return {"instrument": instrument, **body}


def reading_from_body(body: Mapping[str, Any]) -> DepthReading:
    """Give back the reading."""
    data = dict(body)
    kind: Any = _INSTRUMENTS[data.pop("instrument")]
    if data.get("depth") is not None:
        data["depth"] = Quantity(**data["depth"])
    if "sound" in data:
        sound: dict[str, Any] = dict(data["sound"])
        made: Any = _SOUNDS[sound.pop("by")]
        sound = {k: tuple(v) if isinstance(v, list) else v for k, v in sound.items()}
        data["sound"] = made(**sound)
    reading: DepthReading = kind(**data)
    return reading


def tide_body(tide: TideHeight) -> dict[str, Any]:
    """Give a height of the tide as data."""
    return {
        "kind": tide.kind,
        "at": tide.at.isoformat() if tide.at else None,
        "height_m": tide.height_m,
        "datum": tide.datum,
        "source": tide.source,
        "terms": [asdict(term) for term in tide.terms],
    }


def tide_from_body(body: Mapping[str, Any]) -> TideHeight:
    """Give back the height of the tide."""
    data = dict(body)
    data["at"] = datetime.fromisoformat(data["at"]) if data["at"] else None
    data["terms"] = tuple(BudgetTerm(**term) for term in data["terms"])
    return TideHeight(**data)
