"""Where to move a module: the nearest ground on which every condition of place would be kept."""

import numpy as np
from shapely import Polygon
from shapely.geometry.base import BaseGeometry

from registry.actions.gather_cases import moved
from registry.measure.clear_ground import Move, nearest_clear
from registry.measure.decision import Verdict
from registry.measure.edges import geodesic_circle
from registry.measure.geodesic import direct, inverse
from registry.records.finding import Finding
from registry.records.permit import Condition
from registry.rules.cases import Cases
from registry.rules.catalogue import judge
from registry.rules.offshore_distance import baselines_meant

__all__ = ["MENDED_BY_MOVING", "OF_SOMETHING_RECORDED", "find_move"]

#: A thing, and how far to stay away from it. Units: m.
KeptClear = tuple[BaseGeometry, float]

#: A move is told in steps of this. Units: m.
MOVE_STEP_M = 0.1
#: How often more room is given before a move is given up.
TRIES = 5
#: Rules that a move of the hook can mend.
MENDED_BY_MOVING = ("inside-area", "keep-out", "offshore-distance", "spacing", "target-offset")
#: Of these, such as ask for something that may not be recorded: then no move mends them.
OF_SOMETHING_RECORDED = ("offshore-distance", "target-offset")
#: A shore that is farther away than asked by more than this is left out of the search. Units: m.
SEEN_M = 5_000.0


def find_move(
    cases: Cases, conditions: tuple[Condition, ...], findings: tuple[Finding, ...]
) -> tuple[Move | None, str]:
    """
    Find the shortest move after which every condition of place conforms.

    Parameters
    ----------
    cases : Cases
        One case, with all that lies around it.
    conditions : tuple of Condition
        What its permit asks.
    findings : tuple of Finding
        What they say of it where it is.

    Returns
    -------
    tuple of (Move or None, str)
        None where no move is needed or none helps, and a sentence that says which.
    """
    wrong = {finding.rule for finding in findings if finding.verdict > Verdict.CONFORMING}
    unknown = {
        finding.rule
        for finding in findings
        if finding.rule in OF_SOMETHING_RECORDED and np.isnan(finding.measured)
    }
    mended = frozenset(MENDED_BY_MOVING) - unknown
    if not wrong & mended:
        if wrong:
            return None, f"Moving the hook does not settle {', '.join(sorted(wrong))}."
        return None, "No move is needed."
    asked = tuple(condition for condition in conditions if condition.rule in mended)
    seen = _shores(cases, asked, findings)
    slack_m = 0.0
    for _ in range(TRIES):
        best = _shortest(cases, asked, seen, slack_m)
        if best is None:
            return None, "No place inside the permit's areas is certain to conform with this uncertainty."
        move = _as_said(cases, best)
        still = _still_wrong(cases, asked, move)
        if not still:
            break
        # What rounding takes away sideways and along is given back as room.
        slack_m = max(2.0 * slack_m, MOVE_STEP_M + best.distance_m * float(np.sin(np.radians(0.5))))
    else:
        return None, f"No move away from what is near settles {', '.join(still)}."
    rest = sorted(wrong - mended)
    note = f"The move does not settle {', '.join(rest)}." if rest else ""
    return move, note


def _shortest(
    cases: Cases, conditions: tuple[Condition, ...], shores: list[KeptClear], slack_m: float
) -> Move | None:
    """Find the nearest clear ground in any area of the permit, with some room to spare."""
    place = cases.placements
    lon, lat, radius = _discs(cases, conditions)
    ring = _ring_about_target(cases, conditions, slack_m)
    if ring is None:
        return None
    clear = [(shape, clear_m + slack_m) for shape, clear_m in (*_keep_outs(cases, conditions), *shores)]
    found = [
        nearest_clear(
            float(place.lon_deg[0]),
            float(place.lat_deg[0]),
            area=area.shape,
            edges=area.edges,
            setback_m=_setback_m(conditions, "inside-area") + float(place.r95_m[0]) + slack_m,
            discs=(lon, lat, radius + slack_m),
            keep_outs=[*clear, *ring],
        )
        for area in cases.permits[0].areas
    ]
    return min((move for move in found if move is not None), key=lambda move: move.distance_m, default=None)


def _shores(
    cases: Cases, conditions: tuple[Condition, ...], findings: tuple[Finding, ...]
) -> list[KeptClear]:
    """Give every baseline that may be too near, with its distance widened by the doubt."""
    near = any(
        finding.rule == "offshore-distance" and not finding.measured - finding.limit > SEEN_M
        for finding in findings
    )
    clear: list[KeptClear] = []
    for condition in conditions:
        if near and condition.rule == "offshore-distance" and "least" in condition.limits:
            named = condition.limits.get("baseline")
            least_m = condition.limits["least"].value + float(cases.placements.r95_m[0])
            meant = baselines_meant(cases.baselines, named.written if named else None)
            clear += [(baseline.shape, least_m) for baseline in meant]
    return clear


def _ring_about_target(
    cases: Cases, conditions: tuple[Condition, ...], slack_m: float
) -> list[KeptClear] | None:
    """Give the ground farther from the target than allowed, to keep out of; None where that is all ground."""
    greatest = _limits(conditions, "target-offset", "greatest")
    if not greatest:
        return []
    place = cases.placements
    target = float(cases.target_lon_deg[0]), float(cases.target_lat_deg[0])
    allowed_m = min(greatest) - float(place.r95_m[0]) - slack_m
    if not allowed_m > 0.0:
        return None
    away_m = float(inverse(*target, place.lon_deg[0], place.lat_deg[0])[0])
    # So wide that what lies beyond the ring is farther away than all within.
    outer = geodesic_circle(*target, 2.0 * away_m + allowed_m + SEEN_M)
    return [(Polygon(outer.exterior, [geodesic_circle(*target, allowed_m).exterior]), 0.0)]


def _as_said(cases: Cases, move: Move) -> Move:
    """Give the move as a crew is told it: to a tenth of a metre, rounded up, and to a whole degree."""
    place = cases.placements
    distance_m = float(np.ceil(move.distance_m / MOVE_STEP_M - 1e-6) * MOVE_STEP_M)
    bearing_deg = float(round(move.bearing_deg) % 360)
    lon, lat = direct(place.lon_deg[0], place.lat_deg[0], bearing_deg, distance_m)
    return Move(distance_m=distance_m, bearing_deg=bearing_deg, lon=float(lon), lat=float(lat))


def _still_wrong(cases: Cases, conditions: tuple[Condition, ...], move: Move) -> list[str]:
    """Ask the rules themselves of the place that a move leads to: they alone decide."""
    (found,) = judge(moved(cases, np.array([move.lon]), np.array([move.lat])), [conditions])
    return [findings.rule for findings in found if findings.verdict[0] > Verdict.CONFORMING]


def _limits(conditions: tuple[Condition, ...], rule: str, name: str) -> list[float]:
    return [c.limits[name].value for c in conditions if c.rule == rule and name in c.limits]


def _setback_m(conditions: tuple[Condition, ...], rule: str) -> float:
    return max(_limits(conditions, rule, "setback"), default=0.0)


def _keep_outs(cases: Cases, conditions: tuple[Condition, ...]) -> list[KeptClear]:
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
