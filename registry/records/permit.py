"""The paper that allows placement: its areas, conditions and what to stay clear of."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from typing import Literal

from shapely import MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry

from registry.errors import InvalidRecordError, PermitError
from registry.measure.edges import Edges
from registry.records.quantity import Quantity

__all__ = [
    "Area",
    "Condition",
    "Edges",
    "KeepOut",
    "LengthUnit",
    "MassUnit",
    "Notation",
    "Permit",
    "Reporting",
    "Standing",
    "in_force_on",
]

#: How degrees are written: decimal, with decimal minutes, or with minutes and seconds.
Notation = Literal["dd", "ddm", "dms"]
LengthUnit = Literal["m", "ft", "ftUS", "fathoms"]
MassUnit = Literal["kg", "t", "lb", "short tons"]
#: What the dates of a permit make of it on one day.
Standing = Literal["not yet valid", "in force", "expired"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Condition:
    """One limit of a permit with its own citation; what each rule reads is told by the rules' catalogue."""

    #: Identifier of the rule that reads it, as "spacing".
    rule: str
    #: Where the paper says so, as "Special condition 4".
    cite: str
    #: Parameter to quantity: "least" to 6.0 m, "order" to text. SI values; the written form is kept.
    limits: Mapping[str, Quantity] = field(default_factory=dict)
    #: The areas to which it applies, by identifier; none named: every area of the permit.
    areas: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        """A limit without its source cannot be defended."""
        if not self.cite.strip():
            what = f"The condition for {self.rule} names no source."
            raise PermitError(what, remedy='Add cite = "..." with the clause of the permit.')


@dataclass(frozen=True, slots=True, kw_only=True)
class Area:
    """A polygon inside which placement is allowed."""

    area_id: str
    #: Longitude, latitude in the registry's home frame; a ring across the 180th meridian runs on past 180.
    shape: Polygon | MultiPolygon
    #: How the line between two corners runs.
    edges: Edges
    #: The frame in which the permit states it, and the epoch used if that frame moves.
    frame: str
    epoch: float | None
    #: Corners or source file as they were written, for the record.
    written: str
    #: The datum operation that brought it home.
    operation: str

    def __post_init__(self) -> None:
        """Refuse an area without inside."""
        if self.shape.is_empty:
            what = f"Area {self.area_id} is empty."
            raise InvalidRecordError(what, remedy="Give at least three corners.")


@dataclass(frozen=True, slots=True, kw_only=True)
class Reporting:
    """How and when the authority wants to be told: what a permit says of notices and reports."""

    #: The frame of reported coordinates, as "EPSG:6318"; None for that of the permit's first area.
    frame: str | None = None
    notation: Notation = "ddm"
    length_unit: LengthUnit = "m"
    mass_unit: MassUnit = "kg"
    #: Days before the work by which it must be announced, None where the permit asks for no notice.
    notice_days_before: int | None = None
    notice_cite: str = ""
    #: Days after the work within which it must be reported, None where the permit asks for no report.
    report_days_after: int | None = None
    report_cite: str = ""

    def __post_init__(self) -> None:
        """A duty that is none, or without its source, cannot be kept."""
        for name, days, cite in (
            ("notice_days_before", self.notice_days_before, self.notice_cite),
            ("report_days_after", self.report_days_after, self.report_cite),
        ):
            if days is not None and days < 0:
                raise PermitError(f"{name} = {days} is no number of days.", remedy="Give zero or more.")
            if days is not None and not cite.strip():
                what = f"{name} = {days} names no source."
                remedy = f'Add {name.split("_")[0]}_cite = "..." with the clause of the permit.'
                raise PermitError(what, remedy=remedy)


@dataclass(frozen=True, slots=True, kw_only=True)
class Permit:
    """One version of a permit as the programme transcribed it; an amended permit is another version."""

    number: str
    authority: str
    valid_from: date
    valid_to: date
    #: Vertical datum of every depth under this permit, as "MLLW".
    chart_datum: str
    areas: tuple[Area, ...]
    conditions: tuple[Condition, ...] = ()
    #: To whom it is issued; empty where the programme did not say.
    holder: str = ""
    #: First day of this version; None for a permit as first issued, which begins with its validity.
    in_force_from: date | None = None
    #: Why it was amended, as the amending paper says it; empty for a permit as first issued.
    amendment: str = ""
    reporting: Reporting = field(default_factory=Reporting)

    @property
    def begins_on(self) -> date:
        """First day on which this version is in force."""
        return self.in_force_from or self.valid_from

    def standing_on(self, day: date) -> Standing:
        """Tell what the dates of the permit make of it on a day, both dates included."""
        if day < self.valid_from:
            return "not yet valid"
        return "expired" if day > self.valid_to else "in force"

    def __post_init__(self) -> None:
        """Refuse a permit that contradicts itself."""
        if self.valid_to < self.valid_from:
            what = f"Permit {self.number} ends on {self.valid_to}, before it begins on {self.valid_from}."
            raise PermitError(what, remedy="Check valid_from and valid_to.")
        ids = [area.area_id for area in self.areas]
        if not ids:
            what = f"Permit {self.number} has no area."
            raise PermitError(what, remedy="Add an [[area]] with source, corners, or centre and radius.")
        if len(set(ids)) != len(ids):
            what = f"Permit {self.number} names an area twice: {', '.join(sorted(ids))}."
            raise PermitError(what, remedy="Give every [[area]] an id of its own.")
        for condition in self.conditions:
            unknown = [area_id for area_id in condition.areas if area_id not in ids]
            if unknown:
                what = f"Condition {condition.rule!r} ({condition.cite}) is for area {unknown[0]!r}, "
                what += f"which permit {self.number} does not have."
                raise PermitError(what, remedy=f"It has: {', '.join(ids)}.")


def in_force_on(versions: Sequence[Permit], day: date) -> Permit:
    """
    Choose the version of a permit that is in force on a day.

    Parameters
    ----------
    versions : sequence of Permit
        Every version of one permit, oldest in force first.
    day : date
        The day, in the programme's zone.

    Returns
    -------
    Permit
        The last version that had begun; before the first, the first: whether the permit was valid at all
        is for the rule of its dates to say.
    """
    begun = [version for version in versions if version.begins_on <= day]
    return begun[-1] if begun else versions[0]


@dataclass(frozen=True, slots=True, kw_only=True)
class KeepOut:
    """Something to stay clear of, and by how much."""

    keep_out_id: str
    #: cable, pipeline, channel, wreck, hard bottom, seagrass or another word.
    kind: str
    name: str
    #: Units: m.
    setback_m: float
    #: Longitude, latitude in the home frame: point, line or polygon of one or several parts.
    shape: BaseGeometry
    frame: str
    epoch: float | None
    written: str
    operation: str

    def __post_init__(self) -> None:
        """Refuse a setback that is none."""
        if not (math.isfinite(self.setback_m) and self.setback_m >= 0):
            what = f"Keep-out {self.name}: a setback of {self.setback_m} m is not one."
            raise InvalidRecordError(what, remedy="Give a distance of zero or more with its unit.")
