"""
What the public may see: there is no field here for anything private.

Maps, plotter files and public layers are made from these records alone, so they have nothing private to leak.
Every coordinate is WGS 84 (realised as ITRF2020, the same as G2296) at ``epoch``.
"""

import math
from dataclasses import dataclass, field
from datetime import date

from shapely import MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry

from registry.errors import InvalidRecordError
from registry.records.publication import Publication

__all__ = [
    "PublicArea",
    "PublicClearance",
    "PublicCondition",
    "PublicCorner",
    "PublicDepths",
    "PublicKeepOut",
    "PublicModule",
    "PublicSite",
]


@dataclass(frozen=True, slots=True, kw_only=True)
class PublicModule:
    """One module at rest on the seabed, as the public may see it."""

    #: The tag on the concrete.
    tag: str
    #: The memorial's name, only where consent to be listed is recorded; else None.
    name: str | None
    #: Latitude and longitude, WGS 84. Units: degrees, longitude in [-180, 180).
    lat_deg: float
    lon_deg: float
    #: Radius within which the true position lies with 95 % probability. Units: m.
    r95_m: float
    #: Depth of the seabed below chart datum, None where nobody measured it. Units: m.
    charted_depth_m: float | None
    #: 95 % uncertainty of that depth. Units: m.
    depth_u95_m: float | None
    #: Height of the module above the seabed. Units: m.
    relief_m: float | None
    #: Day of placement in the site's own zone.
    placed_on: date
    #: Identifier of the permit area nearest to it.
    area_id: str
    #: Number of the permit under which it lies: two permits may call an area alike.
    permit: str = ""

    def __post_init__(self) -> None:
        """Refuse what no map can show."""
        if not (abs(self.lat_deg) <= 90 and -180 <= self.lon_deg < 180 and math.isfinite(self.r95_m)):
            place = f"{self.lat_deg}, {self.lon_deg}, R95 {self.r95_m} m"
            what = f"Module {self.tag} has no usable position: {place}."
            raise InvalidRecordError(what, remedy="Give finite degrees, longitude from -180 to below 180.")


@dataclass(frozen=True, slots=True, kw_only=True)
class PublicCorner:
    """One corner of an area, or the centre of a circle."""

    #: Which ring of the area it belongs to: "outline", "hole 1" or "centre".
    ring: str
    #: Its place in that ring, from 1.
    number: int
    #: As the permit writes it, in the permit's frame; empty where the area came from a drawing.
    written: str
    #: WGS 84. Units: degrees.
    lat_deg: float
    lon_deg: float
    #: What it is good for, when it comes to digits. Units: m.
    resolution_m: float


@dataclass(frozen=True, slots=True, kw_only=True)
class PublicCondition:
    """What a permit asks for, in the words of the permit."""

    #: Identifier of the rule that reads it, as "spacing".
    rule: str
    #: Name and value of each limit, the value as the permit writes it: ("least", "6.0 m").
    limits: tuple[tuple[str, str], ...]
    cite: str


@dataclass(frozen=True, slots=True, kw_only=True)
class PublicClearance:
    """The least water over the modules of an area, at chart datum."""

    #: Units: m.
    value_m: float
    #: How far below the value the least may lie with 95 % probability, over all modules. Units: m.
    u95_m: float


@dataclass(frozen=True, slots=True, kw_only=True)
class PublicDepths:
    """The shoalest and the deepest seabed under the modules of an area, below chart datum."""

    #: Each with its 95 % uncertainty, None where nobody stated one. Units: m.
    least_m: float
    least_u95_m: float | None
    greatest_m: float
    greatest_u95_m: float | None
    #: How many modules have no depth.
    unmeasured: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class PublicArea:
    """One permit area; a ring across the 180th meridian runs on past 180 and is split only on export."""

    area_id: str
    permit: str
    #: Longitude, latitude in WGS 84; edges already follow the line that the permit means. Units: degrees.
    shape: Polygon | MultiPolygon
    #: Who gave the permit, from when until when; None where nobody said.
    authority: str = ""
    valid_from: date | None = None
    valid_to: date | None = None
    #: The vertical datum of every depth under this permit.
    chart_datum: str = ""
    #: The frame in which the permit writes its corners.
    stated_in: str = ""
    corners: tuple[PublicCorner, ...] = ()
    #: Of a circle, as the permit writes it; else empty.
    radius: str = ""
    conditions: tuple[PublicCondition, ...] = ()
    #: What the programme tells visitors, in its own words: the rules of the place, and when a young reef is
    #: worth a visit; empty where it says nothing.
    rules: str = ""
    young_reef: str = ""
    #: None where no module lies here, or the depth of one is not known.
    clearance: PublicClearance | None = None
    #: Modules in it, or to which it is the nearest area of their permit; told also where no module is shown.
    module_count: int = 0
    #: None where no depth is known.
    depths: PublicDepths | None = None
    #: Days in the site's own zone; None where no module lies here.
    first_placed: date | None = None
    last_placed: date | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class PublicKeepOut:
    """A cable, channel, wreck or habitat to stay clear of."""

    name: str
    kind: str
    #: Units: m.
    setback_m: float
    shape: BaseGeometry


@dataclass(frozen=True, slots=True, kw_only=True)
class PublicSite:
    """Everything that one public map or plotter file shows."""

    programme: str
    #: The vertical datum of every depth, as the permits name it ("MLLW").
    chart_datum: str
    #: Epoch of the coordinates. Units: decimal year.
    epoch: float
    #: Day on which this view was made.
    issued_on: date
    areas: tuple[PublicArea, ...]
    keep_outs: tuple[PublicKeepOut, ...]
    #: Empty where the programme publishes sites alone; at rounded places, with R95 widened, where it rounds.
    modules: tuple[PublicModule, ...]
    #: How much of the positions is shown.
    published: Publication = field(default_factory=Publication)
