"""The predicted tide of one day at one station, ready to be printed or drawn."""

from dataclasses import dataclass
from datetime import date, datetime

from registry.errors import InvalidRecordError
from registry.measure.tide import TurningPoint

__all__ = ["TideDay"]


@dataclass(frozen=True, slots=True, kw_only=True)
class TideDay:
    """A day of the zone: 23 or 25 hours long where the clocks change."""

    station: str
    position: str
    source: str
    day: date
    #: IANA zone whose day it is, as "UTC".
    zone: str
    datum: str
    datum_epoch: str
    #: Instants of the curve in the zone, evenly spaced, both ends of the day among them.
    times: tuple[datetime, ...]
    #: Same length. Units: m.
    heights_m: tuple[float, ...]
    #: High and low waters in order, in UTC.
    turns: tuple[TurningPoint, ...]
    #: Doubt of the heights at 95 %, weather included. Units: m.
    u95_m: float
    #: Where that comes from.
    u95_basis: str

    def __post_init__(self) -> None:
        """Refuse a curve without points."""
        if len(self.times) != len(self.heights_m) or len(self.times) < 2:
            what = f"The tide of {self.day} has {len(self.times)} times and {len(self.heights_m)} heights."
            raise InvalidRecordError(what, remedy="Give one height for each time, and at least two.")
