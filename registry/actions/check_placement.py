"""Advise before a drop: what every condition would say, who is near, and where to move the hook."""

from dataclasses import dataclass
from datetime import datetime

import numpy as np

from registry.actions.charted_depth import ChartedDepth
from registry.actions.find_move import find_move
from registry.actions.gather_around import NEIGHBOURS_TOLD, REACH_M, Around
from registry.actions.gather_cases import table_of
from registry.actions.permits_in_question import permits_in_question
from registry.actions.settle_position import Settled
from registry.actions.warn_of_slips import (
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

__all__ = ["Advice", "Neighbour", "check_placement"]

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
    nobody = not tag
    nameless = _unplanned(permit) if nobody else ()
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
    conditions = conditions_of(permit)
    around = Around(register, permit, new, planned=not nobody)
    cases = around.cases()
    (judged,) = judge(cases, [conditions])
    findings = tuple(found.line(0, None) for found in judged)
    flagged = any(finding.verdict > Verdict.CONFORMING for finding in findings)
    warnings = (
        *settled.warnings,
        *nameless,
        *_slips(register, permit, written, settled, inside_m=float(cases.inside_m[0])),
        *(slips_of_depth(depth.depth_m, depth_text, around.depths_m()) if depth else ()),
    )
    move, note = find_move(around.cases(whole=True) if flagged else cases, conditions, findings)
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


def _slips(
    register: Register, permit: Permit, written: WrittenPosition, settled: Settled, *, inside_m: float
) -> tuple[str, ...]:
    """Warn of what was mistyped; a place inside its own permit's areas needs no look at any other permit."""
    if inside_m >= 0:
        return warnings_at_home(written)
    home = settled.home.position
    permits = permits_in_question(register, permit, written, settled)
    return (
        *warnings_of_position(written, settled.observed, home, permits),
        *slip_of_permit(home, permit.number, permits),
    )


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
