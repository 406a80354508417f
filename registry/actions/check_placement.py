"""Advise before a drop: what every condition would say, who is near, and where to move the hook."""

from dataclasses import dataclass, replace
from datetime import datetime

import numpy as np
from shapely.geometry.base import BaseGeometry

from registry.actions.charted_depth import ChartedDepth
from registry.actions.gather_cases import gather, table_of
from registry.actions.settle_position import Settled
from registry.actions.warn_of_slips import (
    furthest_inside,
    slip_of_permit,
    slips_of_depth,
    warnings_at_home,
    warnings_of_position,
)
from registry.measure.clear_ground import Move, nearest_clear
from registry.measure.decision import Verdict
from registry.measure.geodesic import direct, inverse
from registry.ports import Register
from registry.records.finding import Finding, whole_verdict
from registry.records.module import Module
from registry.records.permit import Condition, Permit
from registry.records.placement import Placement, PlacementTable
from registry.records.written_position import WrittenPosition
from registry.rules.cases import Cases
from registry.rules.catalogue import conditions_of, judge

__all__ = ["Advice", "Neighbour", "check_placement"]

#: How far neighbours are looked for. Units: m.
REACH_M = 2_000.0
NEIGHBOURS_TOLD = 5
#: A move is told in steps of this. Units: m.
MOVE_STEP_M = 0.1
#: How often more room is given before a move is given up.
TRIES = 5
#: Rules that a move of the hook can mend.
MENDED_BY_MOVING = ("inside-area", "keep-out", "spacing")
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
) -> Advice:
    """
    Judge an intended placement by every condition of its permit; nothing is written.

    Raises
    ------
    NotFoundError
        If the permit or the module type is not in the registry.
    """
    permit = register.permit(permit_number)
    module_type = register.module_type(type_id)
    home = settled.home.position
    candidate = Placement(
        tag=CANDIDATE,
        permit=permit.number,
        placed_at=at,
        position_text=written.text,
        observed=settled.observed,
        home=settled.home,
        charted_depth_m=depth.depth_m if depth else None,
        depth_u95_m=depth.u95_m if depth else None,
    )
    module = Module(tag=CANDIDATE, type_id=type_id)
    new = table_of([candidate], {CANDIDATE: module}, {type_id: module_type})
    standing = register.placements(permit=permit.number)
    near = register.placements_near(lon_deg=home.lon_deg, lat_deg=home.lat_deg, reach_m=REACH_M)
    foreign = near.rows(np.flatnonzero(near.permit != permit.number))
    around = standing.joined(foreign).joined(new)
    cases = gather(register, permit, around, [len(around) - 1])
    conditions = conditions_of(permit)
    findings = tuple(found.line(0, None) for found in judge(cases, conditions))
    warnings = (
        *settled.warnings,
        *_slips(register, permit, written, settled),
        *(slips_of_depth(depth.depth_m, depth_text, _depths(near)) if depth else ()),
    )
    move, note = _move(cases, conditions, findings)
    return Advice(
        verdict=whole_verdict(findings),
        findings=findings,
        neighbours=_neighbours(cases),
        move=move,
        move_note=note,
        warnings=warnings,
    )


def _slips(register: Register, permit: Permit, written: WrittenPosition, settled: Settled) -> tuple[str, ...]:
    """Warn of what was mistyped; a place inside its own permit's areas needs no look at any other permit."""
    home = settled.home.position
    if furthest_inside([permit], [home.lon_deg], [home.lat_deg])[0] >= 0:
        return warnings_at_home(written)
    permits = register.permits()
    return (
        *warnings_of_position(written, settled.observed, home, permits),
        *slip_of_permit(home, permit.number, permits),
    )


def _depths(near: PlacementTable) -> list[float]:
    known: list[float] = near.depth_m[np.isfinite(near.depth_m)].tolist()
    return known


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
        )
        for k in order
        if distance[k] <= REACH_M
    )


def _move(
    cases: Cases, conditions: tuple[Condition, ...], findings: tuple[Finding, ...]
) -> tuple[Move | None, str]:
    """Find the shortest move after which inside-area, keep-out and spacing all conform."""
    wrong = {finding.rule for finding in findings if finding.verdict > Verdict.CONFORMING}
    if not wrong & set(MENDED_BY_MOVING):
        if wrong:
            return None, f"Moving the hook does not settle {', '.join(sorted(wrong))}."
        return None, "No move is needed."
    slack_m = 0.0
    for _ in range(TRIES):
        best = _shortest(cases, conditions, slack_m)
        if best is None:
            return None, "No place inside the permit's areas is certain to conform with this uncertainty."
        move = _as_said(cases, best)
        still = _still_wrong(cases, conditions, move)
        if not still:
            break
        # What rounding takes away sideways and along is given back as room.
        slack_m = max(2.0 * slack_m, MOVE_STEP_M + best.distance_m * float(np.sin(np.radians(0.5))))
    else:
        return None, f"No move away from what is near settles {', '.join(still)}."
    rest = sorted(wrong - set(MENDED_BY_MOVING))
    note = f"The move does not settle {', '.join(rest)}." if rest else ""
    return move, note


def _shortest(cases: Cases, conditions: tuple[Condition, ...], slack_m: float) -> Move | None:
    """Find the nearest clear ground in any area of the permit, with some room to spare."""
    place = cases.placements
    lon, lat, radius = _discs(cases, conditions)
    found = [
        nearest_clear(
            float(place.lon_deg[0]),
            float(place.lat_deg[0]),
            area=area.shape,
            edges=area.edges,
            setback_m=_setback_m(conditions, "inside-area") + float(place.r95_m[0]) + slack_m,
            discs=(lon, lat, radius + slack_m),
            keep_outs=[(shape, clear_m + slack_m) for shape, clear_m in _keep_outs(cases, conditions)],
        )
        for area in cases.permit.areas
    ]
    return min((move for move in found if move is not None), key=lambda move: move.distance_m, default=None)


def _as_said(cases: Cases, move: Move) -> Move:
    """Give the move as a crew is told it: to a tenth of a metre, rounded up, and to a whole degree."""
    place = cases.placements
    distance_m = float(np.ceil(move.distance_m / MOVE_STEP_M - 1e-6) * MOVE_STEP_M)
    bearing_deg = float(round(move.bearing_deg) % 360)
    lon, lat = direct(place.lon_deg[0], place.lat_deg[0], bearing_deg, distance_m)
    return Move(distance_m=distance_m, bearing_deg=bearing_deg, lon=float(lon), lat=float(lat))


def _still_wrong(cases: Cases, conditions: tuple[Condition, ...], move: Move) -> list[str]:
    """Ask the rules themselves of the place that a move leads to: they alone decide."""
    there = replace(cases.placements, lon_deg=np.array([move.lon]), lat_deg=np.array([move.lat]))
    asked = [condition for condition in conditions if condition.rule in MENDED_BY_MOVING]
    found = judge(replace(cases, placements=there), asked)
    return [findings.rule for findings in found if findings.verdict[0] > Verdict.CONFORMING]


def _limits(conditions: tuple[Condition, ...], rule: str, name: str) -> list[float]:
    return [c.limits[name].value for c in conditions if c.rule == rule and name in c.limits]


def _setback_m(conditions: tuple[Condition, ...], rule: str) -> float:
    return max(_limits(conditions, rule, "setback"), default=0.0)


def _keep_outs(cases: Cases, conditions: tuple[Condition, ...]) -> list[tuple[BaseGeometry, float]]:
    """Give every keep-out with its setback widened by the doubt and the base of the module."""
    widening = float(cases.placements.r95_m[0] + cases.placements.base_radius_m[0])
    least_m = _setback_m(conditions, "keep-out")
    return [(k.shape, max(k.setback_m, least_m) + widening) for k in cases.keep_outs]


def _discs(cases: Cases, conditions: tuple[Condition, ...]) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Give the ground that neighbours take up: centre and radius, widened by the doubt of both fixes."""
    least_m = max(_limits(conditions, "spacing", "least"), default=0.0)
    place, others = cases.placements, cases.others
    rows = np.delete(np.arange(len(others)), int(cases.own_row[0]))
    if not least_m:
        rows = rows[:0]
    edge_to_edge = not any(
        c.limits["basis"].written == "centre"
        for c in conditions
        if c.rule == "spacing" and "basis" in c.limits
    )
    radii = np.nan_to_num(place.base_radius_m[0] + others.base_radius_m[rows]) if edge_to_edge else 0.0
    reach = least_m + radii + np.hypot(place.r95_m[0], others.r95_m[rows])
    return others.lon_deg[rows], others.lat_deg[rows], np.broadcast_to(reach, rows.shape)
