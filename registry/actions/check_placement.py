"""Advise before a drop: what every condition would say, who is near, and where to move the hook."""

from dataclasses import dataclass
from datetime import datetime

import numpy as np

from registry.actions.charted_depth import ChartedDepth
from registry.actions.find_move import find_move
from registry.actions.gather_cases import gather, table_of
from registry.actions.last_known import found_moved, with_moved
from registry.actions.permits_in_question import permits_in_question
from registry.actions.settle_position import Settled
from registry.actions.warn_of_slips import (
    furthest_inside,
    slip_of_permit,
    slips_of_depth,
    warnings_at_home,
    warnings_of_position,
)
from registry.measure.clear_ground import Move
from registry.measure.decision import Verdict
from registry.measure.geodesic import inverse
from registry.ports import Register
from registry.records.finding import Finding, whole_verdict
from registry.records.module import Module
from registry.records.permit import Permit
from registry.records.placement import Placement
from registry.records.written_position import WrittenPosition
from registry.rules.cases import Cases
from registry.rules.catalogue import conditions_of, judge
from registry.rules.spacing import sight_m

__all__ = ["Advice", "Neighbour", "check_placement"]

#: How far neighbours are looked for. Units: m.
REACH_M = 2_000.0
NEIGHBOURS_TOLD = 5
CANDIDATE = "\N{BULLET}candidate"


@dataclass(frozen=True, slots=True, kw_only=True)
class Neighbour:
    """A module near the intended place."""

    tag: str
    #: Between centres and between edges of the bases. Units: m.
    distance_m: float
    edge_m: float
    #: True bearing from the intended place. Units: degrees.
    bearing_deg: float
    #: 95 % uncertainty of the distance. Units: m.
    u95_m: float
    #: Of its base. Units: m.
    base_radius_m: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Advice:
    """What is known before the drop."""

    verdict: Verdict
    findings: tuple[Finding, ...]
    neighbours: tuple[Neighbour, ...]
    #: None where no move is needed or none helps; `move_note` says which.
    move: Move | None
    move_note: str
    warnings: tuple[str, ...]


def check_placement(
    register: Register,
    *,
    permit_number: str,
    type_id: str,
    written: WrittenPosition,
    settled: Settled,
    depth: ChartedDepth | None,
    depth_text: str = "",
    at: datetime,
    tag: str = "",
) -> Advice:
    """
    Judge an intended placement by every condition of its permit; nothing is written.

    Parameters
    ----------
    tag : str
        Which module it is to be: its target is the one of this tag. Without it the plan says nothing.

    Raises
    ------
    NotFoundError
        If the permit or the module type is not in the registry.
    """
    permit = register.permit(permit_number)
    module_type = register.module_type(type_id)
    home = settled.home.position
    nameless = () if tag else _unplanned(permit)
    tag = tag or CANDIDATE
    candidate = Placement(
        tag=tag,
        permit=permit.number,
        placed_at=at,
        position_text=written.text,
        observed=settled.observed,
        home=settled.home,
        charted_depth_m=depth.depth_m if depth else None,
        depth_u95_m=depth.u95_m if depth else None,
    )
    module = Module(tag=tag, type_id=type_id)
    new = table_of([candidate], {tag: module}, {type_id: module_type})
    reach_m = _reach_m(permit)
    around = register.placements_near(
        lon_deg=home.lon_deg, lat_deg=home.lat_deg, reach_m=reach_m, permit=permit.number
    )
    around = with_moved(around, found_moved(register)).joined(new)
    cases = gather(register, around, [(permit, [len(around) - 1])])
    conditions = conditions_of(permit)
    (judged,) = judge(cases, [conditions])
    findings = tuple(found.line(0, None) for found in judged)
    warnings = (
        *settled.warnings,
        *nameless,
        *_slips(register, permit, written, settled),
        *(slips_of_depth(depth.depth_m, depth_text, _depths(cases, reach_m)) if depth else ()),
    )
    move, note = find_move(cases, conditions, findings)
    return Advice(
        verdict=whole_verdict(findings),
        findings=findings,
        neighbours=_neighbours(cases),
        move=move,
        move_note=note,
        warnings=warnings,
    )


def _unplanned(permit: Permit) -> tuple[str, ...]:
    """Say what a check of a module without a tag leaves open."""
    if any(condition.rule == "target-offset" for condition in permit.conditions):
        return (
            "Which module it is to be was not said, so its target is not known: leadline check --tag TAG.",
        )
    return ()


def _slips(register: Register, permit: Permit, written: WrittenPosition, settled: Settled) -> tuple[str, ...]:
    """Warn of what was mistyped; a place inside its own permit's areas needs no look at any other permit."""
    home = settled.home.position
    if furthest_inside([permit], [home.lon_deg], [home.lat_deg])[0] >= 0:
        return warnings_at_home(written)
    permits = permits_in_question(register, permit, written, settled)
    return (
        *warnings_of_position(written, settled.observed, home, permits),
        *slip_of_permit(home, permit.number, permits),
    )


def _reach_m(permit: Permit) -> float:
    """Give how far neighbours are looked for: as far as the rule of spacing names them. Units: m."""
    least = [
        condition.limits["least"].value
        for condition in permit.conditions
        if condition.rule == "spacing" and "least" in condition.limits
    ]
    return max(REACH_M, sight_m(max(least, default=0.0)))


def _depths(cases: Cases, reach_m: float) -> list[float]:
    """Give the depths that are known within reach of the place, its own left out. Units: m."""
    others, place = cases.others, cases.placements
    known = np.isfinite(others.depth_m)
    known[cases.own_row[0]] = False
    distance, _ = inverse(place.lon_deg[0], place.lat_deg[0], others.lon_deg[known], others.lat_deg[known])
    near: list[float] = others.depth_m[known][distance <= reach_m].tolist()
    return near


def _neighbours(cases: Cases) -> tuple[Neighbour, ...]:
    """Give the nearest modules within reach, nearest first."""
    own = int(cases.own_row[0])
    others, place = cases.others, cases.placements
    rows = np.delete(np.arange(len(others)), own)
    if not len(rows):
        return ()
    distance, bearing = inverse(
        place.lon_deg[0], place.lat_deg[0], others.lon_deg[rows], others.lat_deg[rows]
    )
    order = np.argsort(distance, kind="stable")[:NEIGHBOURS_TOLD]
    return tuple(
        Neighbour(
            tag=str(others.tag[rows[k]]),
            distance_m=float(distance[k]),
            edge_m=float(distance[k] - place.base_radius_m[0] - others.base_radius_m[rows[k]]),
            bearing_deg=float(bearing[k]),
            u95_m=float(np.hypot(place.r95_m[0], others.r95_m[rows[k]])),
            base_radius_m=float(others.base_radius_m[rows[k]]),
        )
        for k in order
        if distance[k] <= REACH_M
    )
