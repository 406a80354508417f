"""A permit as its file states it, before any corner is read as a coordinate and brought home."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date

from registry.errors import PermitError
from registry.records.permit import Edges, Reporting
from registry.records.quantity import Quantity

__all__ = ["AreaDraft", "ConditionDraft", "PermitDraft"]


@dataclass(frozen=True, slots=True, kw_only=True)
class ConditionDraft:
    """One limit as written; whether a rule reads it is for the rules' catalogue to say."""

    rule: str
    cite: str
    #: Parameter without its suffix to quantity: "least_m" and "least" both give "least". SI values.
    limits: Mapping[str, Quantity] = field(default_factory=dict)
    #: The areas to which it applies, by identifier; none named: every area.
    areas: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class AreaDraft:
    """One area as written: a layer of a file, corners, or a centre and a radius, and exactly one of these."""

    area_id: str
    #: Code of the frame, None where the file states none (a layer may state its own).
    frame: str | None = None
    #: Units: decimal year.
    epoch: float | None = None
    edges: Edges = "geodesic"
    #: A file beside the permit's, and one layer in it.
    source: str | None = None
    layer: str | None = None
    #: Texts of positions in any notation, the first not repeated as the last.
    corners: tuple[str, ...] = ()
    holes: tuple[tuple[str, ...], ...] = ()
    centre: str | None = None
    radius: Quantity | None = None

    def __post_init__(self) -> None:
        """Refuse an area that is stated twice or not at all."""
        ways = [self.source is not None, bool(self.corners), self.centre is not None]
        if sum(ways) != 1:
            stated = "in more than one way" if any(ways) else "without saying where it is"
            what = f"Area {self.area_id!r} is stated {stated}."
            raise PermitError(what, remedy="Give one of source, corners, or centre and radius.")
        if (self.centre is None) != (self.radius is None):
            what = f"Area {self.area_id!r} needs both a centre and a radius."
            raise PermitError(what, remedy='Write centre = "34 01.250 N 077 20.110 W" and radius = "300 m".')
        if self.layer is not None and self.source is None:
            what = f"Area {self.area_id!r} names the layer {self.layer!r} but no source."
            raise PermitError(what, remedy='Add source = "FILE".')
        if self.holes and not self.corners:
            what = f"Area {self.area_id!r} has holes but no corners."
            raise PermitError(what, remedy="Give holes only beside corners.")

    @property
    def written(self) -> str:
        """How the area was written, for the record."""
        if self.source is not None:
            return self.source if self.layer is None else f"{self.source}, layer {self.layer}"
        if self.radius is not None:
            return f"radius {self.radius.written} around {self.centre}"
        return "; ".join(self.corners) + "".join(f"; without {'; '.join(hole)}" for hole in self.holes)


@dataclass(frozen=True, slots=True, kw_only=True)
class PermitDraft:
    """A permit as its file states it."""

    number: str
    authority: str
    valid_from: date
    valid_to: date
    chart_datum: str
    areas: tuple[AreaDraft, ...]
    conditions: tuple[ConditionDraft, ...] = ()
    holder: str = ""
    reporting: Reporting = field(default_factory=Reporting)

    def __post_init__(self) -> None:
        """Refuse a permit that contradicts itself."""
        if self.valid_to < self.valid_from:
            what = f"Permit {self.number} ends on {self.valid_to}, before it begins on {self.valid_from}."
            raise PermitError(what, remedy="Check valid_from and valid_to.")
        if not self.areas:
            what = f"Permit {self.number} has no area."
            raise PermitError(what, remedy="Add an [[area]] with source, corners, or centre and radius.")
        ids = [area.area_id for area in self.areas]
        twice = sorted({area_id for area_id in ids if ids.count(area_id) > 1})
        if twice:
            what = f"Permit {self.number} names an area twice: {', '.join(twice)}."
            raise PermitError(what, remedy="Give every [[area]] an id of its own.")
