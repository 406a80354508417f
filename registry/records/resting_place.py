"""What is known of the place where a module lies, on a day; the coordinate is WGS 84 of that day."""

from dataclasses import dataclass
from datetime import date

from registry.records.position import Position
from registry.records.visit import ReefPlan, Seen, Water

__all__ = ["RestingPlace"]


@dataclass(frozen=True, slots=True, kw_only=True)
class RestingPlace:
    """A module at rest, for whoever asks where it lies and how sure that is."""

    programme: str
    tag: str
    #: Day of placement in the programme's zone.
    placed_on: date
    #: The permit area, in words that never put the module where it is not.
    reef: str
    permit: str
    authority: str
    #: With its radius on that day.
    position: Position
    #: Day of the observation that says where it lies, and whether that is a survey that found it moved.
    observed_on: date
    moved: bool
    chart_datum: str
    #: Charted depth of the seabed, and of the module's top; None where nobody measured it there.
    charted: Water | None
    charted_over: Water | None
    #: The latest surveys, newest first.
    seen: tuple[Seen, ...]
    plan: ReefPlan
    #: Whether the public is shown exact positions of modules.
    published: bool
    #: The programme's own words; empty where it told nothing.
    young_reef: str
    rules: str
    #: What a person should know, one sentence each.
    notes: tuple[str, ...]
