"""What somebody needs to know who goes to a module on a day; every coordinate is WGS 84 of that day."""

from dataclasses import dataclass
from datetime import date, datetime
from typing import Literal

from registry.measure.daylight import Daylight
from registry.measure.movement import Motion
from registry.records.position import Position
from registry.records.tide_day import TideDay

__all__ = ["Course", "ExpectedWater", "ReefPlan", "Seen", "Visit", "Water"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Course:
    """The straight line over the earth from where a boat leaves; no route."""

    name: str
    start: Position
    #: Of the geodesic, and how sure. Units: m.
    distance_m: float
    distance_u95_m: float
    #: At the start, from true north, and how sure. Units: degrees.
    bearing_deg: float
    bearing_u95_deg: float
    #: Magnetic variation there, east positive, how sure, and by which model; None where no model holds.
    variation_east_deg: float | None
    variation_u95_deg: float | None
    model: str
    #: Why there is none; empty where there is.
    no_variation: str
    #: How the written start was understood, one sentence each.
    basis: tuple[str, ...]

    @property
    def magnetic_deg(self) -> float | None:
        """The bearing from magnetic north: east is taken off."""
        if self.variation_east_deg is None:
            return None
        return (self.bearing_deg - self.variation_east_deg) % 360.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Water:
    """A depth with its 95 % uncertainty. Units: m."""

    value_m: float
    u95_m: float


@dataclass(frozen=True, slots=True, kw_only=True)
class ExpectedWater:
    """What is expected at one high or low water of the day."""

    kind: Literal["high", "low"]
    at: datetime
    tide_m: float
    #: Of the seabed below the water, and of the module's top.
    depth: Water
    over: Water


@dataclass(frozen=True, slots=True, kw_only=True)
class Seen:
    """One later observation of the module, without the names of who made it."""

    on: date
    motion: Motion
    distance_m: float
    bearing_deg: float
    u95_m: float
    note: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ReefPlan:
    """The reef around the module. Longitude, latitude; units: degrees."""

    rings: tuple[tuple[tuple[float, float], ...], ...]
    #: Tag and place of each other module near; none where the programme does not publish such positions.
    others: tuple[tuple[str, float, float], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Visit:
    """Everything that a visit sheet prints."""

    programme: str
    #: IANA zone whose day and times these are.
    zone: str
    day: date
    tag: str
    #: The name remembered, where it may be shown; else empty.
    name: str
    #: Why the sheet is not for the public, as "for the family"; else empty.
    private: str
    placed_on: date
    #: The permit area, in words that never put the module where it is not.
    reef: str
    permit: str
    authority: str
    position: Position
    course: Course
    chart_datum: str
    #: Charted depth of the seabed, and of the module's top; None where nobody measured.
    charted: Water | None
    charted_over: Water | None
    #: The day's tide; None where no station was given.
    tide: TideDay | None
    expected: tuple[ExpectedWater, ...]
    daylight: Daylight
    seen: tuple[Seen, ...]
    plan: ReefPlan
    #: The programme's own words; empty where it told nothing.
    young_reef: str
    rules: str
    #: What a person should know, one sentence each.
    notes: tuple[str, ...]
    #: Digest of the journal's last entry.
    journal_head: str
