"""The modules that an officer looks at again: which, why each, and how they were drawn."""

from dataclasses import dataclass
from datetime import date, datetime

from registry.errors import InvalidRecordError
from registry.measure.decision import Verdict

__all__ = ["HOW_TO_FILL", "METHOD", "InspectionSample", "SampledModule"]

#: How every sample is drawn.
METHOD = (
    "local pivotal method (Grafström, Lundström and Schelin 2012): spread over the ground, fixed size, "
    "chances by how uncertain position and depth are"
)
#: What whoever looks at the modules writes into the table.
HOW_TO_FILL = (
    "position: as the receiver shows it over the module",
    "frame: what the receiver is set to, as EPSG:4326 for WGS 84",
    "when: the day, or the instant with its zone",
    "r95: the 95 % radius with its unit, as 0.5 m; or receiver: rtk, float, dgnss, sbas, autonomous",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class SampledModule:
    """One module to be looked at."""

    tag: str
    placement_id: str
    #: Where it was last found: WGS 84 (ITRF2020) at the epoch of the sample. Units: degrees.
    lat_deg: float
    lon_deg: float
    #: 95 % radius of that. Units: m.
    r95_m: float
    #: True where a resurvey found it moved from where it was placed.
    moved: bool
    #: Charted depth of the seabed and its 95 % uncertainty; None where nobody measured. Units: m.
    depth_m: float | None
    depth_u95_m: float | None
    #: The permit area that holds it or is nearest, and what the audit says of it.
    area_id: str
    verdict: Verdict
    placed_on: date
    #: How doubtful it is, and the chance that it had to be drawn.
    weight: float
    chance: float


@dataclass(frozen=True, slots=True, kw_only=True)
class InspectionSample:
    """A sample of the modules under one permit, in the order in which a boat visits them."""

    programme: str
    permit: str
    seed: str
    #: How many were asked for, and from how many.
    size: int
    population: int
    #: Digest of the journal's last entry, the instant at which the registry stood so, and when it was drawn.
    journal_head: str
    as_of: datetime
    drawn_at: datetime
    #: Epoch of the coordinates. Units: decimal year.
    epoch: float
    chart_datum: str
    modules: tuple[SampledModule, ...]
    #: 0 for a perfect spread, about 0.28 for simple random samples of a wide area.
    balance: float
    #: Length of the course from the first to the last, None for more than a boat visits. Units: m.
    course_m: float | None
    #: What a reader must know, one sentence each.
    notes: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        """Refuse a sample of another size than it says."""
        if len(self.modules) != min(self.size, self.population):
            what = f"The sample holds {len(self.modules)} modules; {self.size} were asked for."
            raise InvalidRecordError(what, remedy="Draw it anew.")
