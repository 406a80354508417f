"""
What a later version of a certificate says otherwise than the one before it.

Kept as data, so that a paper can say it in its own language. A name that was put right is not repeated in its
wrong spelling.
"""

from dataclasses import dataclass
from enum import StrEnum

__all__ = ["Change", "ChangeKind"]


class ChangeKind(StrEnum):
    """What is otherwise, in the order in which it is told."""

    #: The version before was withdrawn.
    WITHDRAWN = "withdrawn"
    NAME = "name"
    #: A survey found the module moved.
    MOVED = "moved"
    #: The position given before was not the true one.
    POSITION = "position"
    #: How well the position is known.
    RADIUS = "radius"
    DEPTH = "depth"
    DAY = "day"
    #: The area, or on which side of its edge.
    REEF = "reef"
    PERMIT = "permit"
    MODULE_TYPE = "type"
    #: The same place in the coordinates of a later year.
    EPOCH = "epoch"
    #: Only the entries behind the paper; nothing that it prints.
    RECORD = "record"


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """One thing that is otherwise; how far and which way where it is the position."""

    what: ChangeKind
    #: From the position before to this one. Units: m; degrees from true north.
    distance_m: float | None = None
    bearing_deg: float | None = None
    #: 95 % radius of that displacement, from both positions. Units: m.
    u95_m: float | None = None
