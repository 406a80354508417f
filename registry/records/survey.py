"""
What a dive team brings ashore for one module: fixes, marks, offsets and soundings, as they were measured.

Every uncertainty is at 95 %. Where none was stated, the default beside the field is taken: a cautious round
number, common practice, no source. The derivation prints each.
"""

import math
from dataclasses import dataclass
from typing import Literal

from registry.errors import InvalidRecordError
from registry.records.fix import FixTable, LogAccount
from registry.records.written_position import WrittenPosition

__all__ = [
    "AcousticFix",
    "Bearing",
    "Buoy",
    "Current",
    "Descent",
    "FixedPoint",
    "LeverArm",
    "LogFile",
    "LoggedFixes",
    "MarkRange",
    "Sighting",
    "Survey",
]


@dataclass(frozen=True, slots=True, kw_only=True)
class Bearing:
    """
    A direction, and from which north or bow it is counted.

    Examples
    --------
    >>> Bearing(degrees=118.5, reference="true").u95_deg
    2.0
    """

    #: Clockwise, 0 to 360. Units: degrees.
    degrees: float
    reference: Literal["true", "magnetic", "relative"]
    #: Units: degrees.
    u95_deg: float = 2.0

    def __post_init__(self) -> None:
        """Refuse what is no direction."""
        if not (0.0 <= self.degrees <= 360.0 and 0.0 <= self.u95_deg <= 180.0):
            what = f"A bearing of {self.degrees} ± {self.u95_deg} degrees is none."
            raise InvalidRecordError(what, remedy="Give 0 to 360 degrees, and its uncertainty.")
        if self.reference not in ("true", "magnetic", "relative"):
            what = f"A bearing counted from {self.reference!r} is none."
            raise InvalidRecordError(what, remedy="Say true, magnetic or relative (to the bow).")


@dataclass(frozen=True, slots=True, kw_only=True)
class FixedPoint:
    """A known mark, in the frame of the survey."""

    lon_deg: float
    lat_deg: float
    #: 95 % radius of its own coordinates, but for the digits that were left out in writing. Units: m.
    r95_m: float
    name: str = "the mark"
    #: As it was written; None where its coordinates are exact as they stand.
    written: WrittenPosition | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class LeverArm:
    """From the antenna to the hook: toward the bow, to starboard, downward."""

    #: Units: m.
    forward_m: float
    starboard_m: float
    down_m: float
    #: True heading; None to take it from the log. Course over ground is no heading. Units: degrees.
    heading_deg: float | None = None
    #: Starboard down, and bow up; None where nobody noted them. Units: degrees.
    roll_deg: float | None = None
    pitch_deg: float | None = None
    arm_u95_m: float = 0.2
    heading_u95_deg: float = 3.0
    #: Of roll and pitch where they were noted, and where not. Units: degrees.
    attitude_u95_deg: float = 2.0
    unnoted_attitude_u95_deg: float = 5.0

    def __post_init__(self) -> None:
        """Refuse what is no offset or no angle."""
        noted = (self.heading_deg, self.roll_deg, self.pitch_deg)
        told = [
            self.forward_m,
            self.starboard_m,
            self.down_m,
            *(angle for angle in noted if angle is not None),
        ]
        if not all(map(math.isfinite, told)):
            what = f"A lever arm of {told} holds what is no number."
            raise InvalidRecordError(what, remedy="Give finite metres and degrees.")


@dataclass(frozen=True, slots=True, kw_only=True)
class LogFile:
    """A receiver's log by its name and its contents, so that it is known again."""

    name: str
    #: SHA-256 of the file as it lay on the disk, in hexadecimal.
    sha256: str


@dataclass(frozen=True, slots=True, kw_only=True)
class LoggedFixes:
    """Fixes of one module from receiver logs."""

    #: Those of the time window only.
    fixes: FixTable
    #: Of the whole logs.
    account: LogAccount
    #: Name of the class of receiver.
    receiver: str
    #: How the window was chosen, in words.
    window: str = "all fixes of the logs"
    #: The window itself, both ends included; None where it is open. Units: s since 1970-01-01T00:00Z.
    start_s: float | None = None
    end_s: float | None = None
    #: In the order in which they were read.
    files: tuple[LogFile, ...] = ()
    #: The lines of the logs from the first fix to the last, verbatim, where they are few; else empty.
    sentences: tuple[str, ...] = ()
    #: UTC day that was stated for a log that never says one, as "2026-06-14"; else empty.
    day: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Sighting:
    """Range and bearing from a known mark to the point."""

    mark: FixedPoint
    #: Horizontal. Units: m.
    range_m: float
    bearing: Bearing
    range_u95_m: float = 0.5


@dataclass(frozen=True, slots=True, kw_only=True)
class MarkRange:
    """A horizontal range to a known mark."""

    mark: FixedPoint
    #: Units: m.
    range_m: float
    range_u95_m: float = 0.5


@dataclass(frozen=True, slots=True, kw_only=True)
class Current:
    """Mean current over the water column."""

    #: Units: m/s.
    speed_mps: float
    #: Toward which it sets, true. Units: degrees.
    toward_deg: float
    speed_u95_mps: float = 0.2
    direction_u95_deg: float = 20.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Descent:
    """A module let go, or lowered, at the surface."""

    #: Depth of water at that moment. Units: m.
    depth_m: float
    #: Units: m/s.
    fall_speed_mps: float
    depth_u95_m: float = 0.5
    #: As a part of the fall speed. Dimensionless.
    fall_speed_u95_share: float = 0.3
    #: How far it may glide or swing, as a part of the depth, 95 % radius. Dimensionless.
    glide_share: float = 0.05


@dataclass(frozen=True, slots=True, kw_only=True)
class Buoy:
    """The fix is of a buoy at the surface whose line is fast to the module."""

    #: Depth of the point where it is fast, at that moment; and length of the line. Units: m.
    depth_m: float
    line_m: float


@dataclass(frozen=True, slots=True, kw_only=True)
class AcousticFix:
    """What a transducer at the point says of a beacon on the module."""

    #: Units: m.
    slant_m: float
    bearing: Bearing
    #: Below the horizon. Units: degrees.
    depression_deg: float
    #: As a part of the range: sound speed and timing. Dimensionless.
    slant_u95_share: float = 0.01
    depression_u95_deg: float = 2.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Survey:
    """Everything about one module, in the order in which it is used."""

    #: Frame of every coordinate in it, as "EPSG:4326".
    frame: str
    #: Epoch of the coordinates where no fix tells the day and the frame needs one. Units: decimal year.
    epoch: float | None = None
    #: Where it starts; exactly one of the three.
    logged: LoggedFixes | None = None
    sighting: Sighting | None = None
    ranges: tuple[MarkRange, ...] = ()
    #: Roughly where, to tell two answers of ranges apart: longitude, latitude. Units: degrees.
    near: tuple[float, float] | None = None
    #: And how it goes on.
    lever: LeverArm | None = None
    acoustic: AcousticFix | None = None
    buoy: Buoy | None = None
    descent: Descent | None = None
    current: Current | None = None
    #: Magnetic variation as stated, east positive; None to take it from the model. Units: degrees.
    variation_east_deg: float | None = None

    def __post_init__(self) -> None:
        """Refuse what starts nowhere or in two places, or lacks what a step needs."""
        starts = [self.logged is not None, self.sighting is not None, bool(self.ranges)]
        if sum(starts) != 1:
            what = f"A survey starts from fixes, a range and bearing, or ranges; {sum(starts)} were given."
            raise InvalidRecordError(what, remedy="Give exactly one of them.")
        if self.buoy is not None and self.descent is not None:
            what = "A module under a buoy has come to rest: it does not drift on descent any more."
            raise InvalidRecordError(what, remedy="Give the buoy or the descent, not both.")
        if self.acoustic is not None and (self.buoy is not None or self.descent is not None):
            what = "An acoustic fix already leads to the module itself."
            raise InvalidRecordError(what, remedy="Leave the buoy or the descent out.")
        if self.lever is not None and self.logged is None:
            what = "A lever arm leads from an antenna, but there is no fix of one."
            raise InvalidRecordError(what, remedy="Give the receiver's log, or leave the lever arm out.")
        if self.current is not None and self.buoy is None and self.descent is None:
            what = "A current was given, but nothing that it carried."
            raise InvalidRecordError(what, remedy="Give the descent or the buoy, or leave the current out.")
        if self.variation_east_deg is not None and not abs(self.variation_east_deg) <= 180.0:
            what = f"A magnetic variation of {self.variation_east_deg} degrees is none."
            raise InvalidRecordError(what, remedy="Give degrees, east positive.")
        if self.epoch is not None and not math.isfinite(self.epoch):
            what = f"An epoch of {self.epoch} is no year."
            raise InvalidRecordError(what, remedy="Give a decimal year, as 2026.5.")
