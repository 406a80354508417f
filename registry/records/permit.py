"""The paper that allows placement: its areas, conditions and what to stay clear of."""

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date

from shapely import MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry

from registry.errors import InvalidRecordError, PermitError
from registry.measure.edges import Edges
from registry.records.quantity import Quantity

__all__ = ["Area", "Condition", "Edges", "KeepOut", "Permit"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Condition:
    """One limit of a permit with its own citation; what each rule reads is told by the rules' catalogue."""

    #: Identifier of the rule that reads it, as "spacing".
    rule: str
    #: Where the paper says so, as "Special condition 4".
    cite: str
    #: Parameter to quantity: "least" to 6.0 m, "order" to text. SI values; the written form is kept.
    limits: Mapping[str, Quantity] = field(default_factory=dict)

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
class Permit:
    """One permit as the programme transcribed it."""

    number: str
    authority: str
    valid_from: date
    valid_to: date
    #: Vertical datum of every depth under this permit, as "MLLW".
    chart_datum: str
    areas: tuple[Area, ...]
    conditions: tuple[Condition, ...] = ()

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
