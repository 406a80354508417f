"""A later observation of a module that lies on the seabed, and whether it showed a movement."""

from collections.abc import Mapping
from dataclasses import asdict, dataclass, field
from datetime import UTC, datetime
from typing import Any

from registry.errors import InvalidRecordError
from registry.measure.movement import Motion
from registry.records.entry import instant_text
from registry.records.position import HomePosition, Position

__all__ = ["Movement", "Resurvey", "resurvey_body", "resurvey_from_body"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Movement:
    """What a resurvey says of movement, as it was judged then."""

    verdict: Motion
    #: Entry of the observation that it was compared with, and when that was made.
    compared_with: str
    compared_at: datetime
    #: From there to here on the ellipsoid, and which way. Units: m; degrees from true north.
    distance_m: float
    bearing_deg: float
    #: 95 % radius of the displacement, from both positions. Units: m.
    u95_m: float
    #: Chance of such a displacement at rest, alone and among all that were tested together.
    p_value: float
    adjusted_p: float
    #: What all modules of the survey showed alike and was taken off before the test. Units: m; degrees.
    shift_m: float = 0.0
    shift_bearing_deg: float = 0.0
    #: When the module was last seen where it had been.
    since: datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class Resurvey:
    """One later observation of one module."""

    tag: str
    #: The placement of the module as it stood then.
    placement_id: str
    observed_at: datetime
    #: What was typed or received, verbatim.
    position_text: str
    #: As read from the text, in the frame stated.
    observed: Position
    home: HomePosition
    #: How frame, epoch and R95 were settled, one sentence each.
    basis: tuple[str, ...] = ()
    warnings: tuple[str, ...] = ()
    movement: Movement
    crew: str = ""
    vessel: str = ""
    note: str = ""
    #: Where the row came from: file name, SHA-256 digest, row number.
    source: dict[str, Any] = field(default_factory=dict)

    def __post_init__(self) -> None:
        """Refuse an instant without its zone."""
        if self.observed_at.tzinfo is None:
            what = f"Resurvey of {self.tag}: {self.observed_at} has no zone."
            raise InvalidRecordError(what, remedy="Give the instant with Z or an offset.")


def resurvey_body(resurvey: Resurvey) -> dict[str, Any]:
    """Give a resurvey as plain JSON data."""
    body = asdict(resurvey)
    body["observed_at"] = instant_text(resurvey.observed_at)
    body["basis"], body["warnings"] = list(resurvey.basis), list(resurvey.warnings)
    movement = body["movement"]
    movement["verdict"] = resurvey.movement.verdict.value
    for name in ("compared_at", "since"):
        movement[name] = instant_text(movement[name])
    return body


def resurvey_from_body(body: Mapping[str, Any]) -> Resurvey:
    """Give back the resurvey; keys that are not its own (reasons, its reference) are left aside."""
    data = {name: body[name] for name in Resurvey.__dataclass_fields__}
    data["observed_at"] = _instant(data["observed_at"])
    data["observed"] = Position(**data["observed"])
    home = dict(data["home"])
    data["home"] = HomePosition(**(home | {"position": Position(**home["position"])}))
    data["basis"], data["warnings"] = tuple(data["basis"]), tuple(data["warnings"])
    movement = dict(data["movement"])
    movement["verdict"] = Motion(movement["verdict"])
    for name in ("compared_at", "since"):
        movement[name] = _instant(movement[name])
    data["movement"] = Movement(**movement)
    return Resurvey(**data)


def _instant(text: str) -> datetime:
    return datetime.fromisoformat(text).astimezone(UTC)
