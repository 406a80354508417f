"""What was built under a permit, for its authority and the chart office; it has no field for a family."""

from dataclasses import dataclass
from datetime import date, datetime

from registry.errors import InvalidRecordError
from registry.measure.decision import Verdict
from registry.records.permit import MassUnit, Notation, Permit
from registry.records.reported_value import reported_mass

__all__ = [
    "CAUTIONS",
    "AreaAsBuilt",
    "AsBuiltList",
    "ChartAttribute",
    "Corner",
    "LeastClearance",
    "Material",
    "ModuleAsBuilt",
    "Used",
]

#: Said on every list.
CAUTIONS = (
    "Not for navigation. Official charts and notices to mariners go before this list.",
    "What is charted, and how, is for the chart office to decide; the permit and its authority prevail. "
    "Leadline claims no legal authority for any placement.",
)


def _counted(count: int) -> str:
    return "1 module" if count == 1 else f"{count} modules"


@dataclass(frozen=True, slots=True, kw_only=True)
class Corner:
    """One corner of an area, or the centre of a circle."""

    #: "outline", "hole 1", "part 2, outline", "centre", ...
    ring: str
    #: From 1 in each ring.
    number: int
    #: As the permit writes it, verbatim; empty where it came as a drawing.
    written: str
    #: In the frame of the list. Units: degrees.
    lat_deg: float
    lon_deg: float
    #: Latitude and longitude, or northing and easting, in the notation asked for.
    text: tuple[str, str]


@dataclass(frozen=True, slots=True, kw_only=True)
class LeastClearance:
    """The least water over any module of an area, at chart datum."""

    #: Value and 95 % uncertainty, which reaches down to the lowest that any module leaves open. Units: m.
    value_m: float
    u95_m: float
    #: Over which module.
    tag: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Material:
    """The modules of one type in an area."""

    type_id: str
    #: What such a module is, as the registry of types says.
    note: str
    count: int
    #: Together; None where the mass of any is unknown. Units: kg.
    mass_kg: float | None
    #: Height above the seabed; None where unknown. Units: m.
    height_m: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class ChartAttribute:
    """One attribute of the feature that a chart office may make of an area."""

    #: As S-57 and S-101 name it: "VALSOU", "valueOfSounding"; empty where the standard has none.
    s57: str
    s101: str
    #: Empty where nothing that is recorded gives it.
    value: str
    #: What the value means, or why there is none.
    meaning: str
    #: Whether S-101 asks for it in every such feature.
    mandatory: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class AreaAsBuilt:
    """One permit area and what lies in it."""

    area_id: str
    #: How the permit states it: frame and epoch as words, how its edges run, a circle's radius.
    stated_in: str
    edges: str
    #: Of a circle, as the permit writes it; empty for any other shape.
    radius: str
    #: File that the permit names in place of corners; empty where it lists them.
    source: str
    corners: tuple[Corner, ...]
    #: The datum operation from the frame in which the permit states it to that of the list.
    operation: str
    count: int
    mass_kg: float | None
    first_placed: date | None
    last_placed: date | None
    #: None where no module lies there, or the clearance of any is unknown: of `unmeasured` modules.
    clearance: LeastClearance | None
    unmeasured: int
    #: The clearance that the permit asks for there, as written with its citation; empty where none.
    authorised_clearance: str
    materials: tuple[Material, ...]
    chart: tuple[ChartAttribute, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class ModuleAsBuilt:
    """One module where it was last found."""

    tag: str
    placement_id: str
    module_type: str
    #: The area that holds it, or the nearest where none does.
    area_id: str
    inside: bool
    #: In the frame of the list. Units: degrees, m.
    lat_deg: float
    lon_deg: float
    r95_m: float
    text: tuple[str, str]
    #: Each with its 95 % uncertainty; NaN where unknown. Units: m.
    depth_m: float
    depth_u95_m: float
    height_m: float
    height_u95_m: float
    clearance_m: float
    clearance_u95_m: float
    #: NaN where unknown. Units: kg.
    mass_kg: float
    placed_on: date
    #: True where a resurvey found it moved.
    moved: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Used:
    """How much of what is authorised is used."""

    #: "modules" or "mass".
    what: str
    #: A number, or kg; without those whose mass is unknown, of which `unknown` tells how many.
    used: float
    unknown: int
    #: In the same unit; None where the permit states none.
    authorised: float | None
    written: str
    cite: str
    #: The areas to which it applies; none named: all.
    areas: tuple[str, ...]
    verdict: Verdict

    def used_words(self, unit: MassUnit) -> str:
        """Say what is used, with the unit of mass that is asked for."""
        doubt = f", and {_counted(self.unknown)} of unknown mass" if self.unknown else ""
        return f"{self._amount(self.used, unit)}{doubt}"

    def authorised_words(self, unit: MassUnit) -> str:
        """Say what is authorised as the permit writes it, and in the unit asked for where that is another."""
        if self.authorised is None:
            return "no limit stated"
        amount = self._amount(self.authorised, unit)
        if self.what == "modules" or self.written.endswith(f" {unit}"):
            return amount if self.what == "modules" else self.written
        return f"{self.written} ({amount})"

    def _amount(self, value: float, unit: MassUnit) -> str:
        return _counted(round(value)) if self.what == "modules" else f"{reported_mass(value, unit)} {unit}"


@dataclass(frozen=True, slots=True, kw_only=True)
class AsBuiltList:
    """What was built under one permit, in the permit's own frame, notation and units."""

    programme: str
    #: The version in force: its chart datum, holder, authority and the form in which it wants to be told.
    permit: Permit
    #: Code and name of the frame of every coordinate, and their epoch (decimal year; None where none).
    frame: str
    frame_name: str
    epoch: float | None
    #: What the two texts of a position are called, and the words for both.
    coordinate_names: tuple[str, str]
    notation: Notation
    form: str
    #: The datum operation from the home frame, and the versions of the software.
    operation: str
    software: str
    made_on: date
    #: The instant as of which the registry was read, None for as it stands.
    as_of: datetime | None = None
    zone: str
    journal_head: str
    areas: tuple[AreaAsBuilt, ...]
    modules: tuple[ModuleAsBuilt, ...]
    used: tuple[Used, ...]
    #: What a reader must know, one sentence each.
    notes: tuple[str, ...] = ()
    cautions: tuple[str, ...] = CAUTIONS

    def __post_init__(self) -> None:
        """Refuse areas that are not those of the permit."""
        if [area.area_id for area in self.areas] != [area.area_id for area in self.permit.areas]:
            what = f"The list names other areas than permit {self.permit.number} has."
            raise InvalidRecordError(what, remedy="Make it from the version that is in force.")
