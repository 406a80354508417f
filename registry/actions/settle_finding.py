"""
The smallest thing that would settle a finding: a move of the module, a better measurement, or that none can.

Advice in sentences, for an officer and for the boat that goes out next. A move is found and proved as before
a drop (``find_move``). A survey settles what is inconclusive once its uncertainty is no greater than the
distance from the limit, if it finds the same value; what misses its limit by more no survey is likely to
mend.
"""

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace

import numpy as np

from registry.actions.find_move import MENDED_BY_MOVING, OF_SOMETHING_RECORDED, find_move
from registry.actions.gather_cases import gather
from registry.actions.last_known import found_moved, with_moved
from registry.measure.clear_ground import Move
from registry.measure.decision import Verdict
from registry.measure.geodesic import inverse
from registry.ports import Register
from registry.records.audit_summary import AuditSummary, ConditionSummary, PermitSummary, Settlement, margins
from registry.records.placement import PlacementTable
from registry.rules.catalogue import conditions_of, judge
from registry.rules.wording import radius_text

__all__ = ["settle_findings"]

#: So many findings of one condition, and of a whole audit, are looked into: more than these nobody reads.
MOST_OF_CONDITION, MOST_OF_AUDIT = 100, 200
#: Neighbours are looked for within this distance. Units: m.
REACH_M = 2_000.0

#: What neither a move nor a survey changes, and what would.
NEITHER = {
    "capacity": "No move or survey: the number or mass that the permit allows was used up. Ask for an "
    "amendment, or take modules up.",
    "validity": "No move or survey: check the day that was logged; if it is right, ask the authority.",
    "season": "No move or survey: check the day that was logged; if it is right, ask the authority.",
    "module-type": "No move or survey: check the type that is recorded; if it is right, ask the authority.",
    "duplicate": "Find out which of the entries is true, and withdraw or correct the others.",
}


@dataclass(frozen=True, slots=True)
class _Case:
    """One finding with all that its settlement is worked out from."""

    permit: PermitSummary
    one: ConditionSummary
    row: int
    margin: float
    u95: float
    verdict: Verdict

    @property
    def r95_m(self) -> float:
        return float(self.permit.placements.r95_m[self.row])


@dataclass(frozen=True, slots=True)
class _Sea:
    """What lies around a placement: the registry, and what of it has moved."""

    register: Register
    moved: PlacementTable

    def around(self, placements: PlacementTable, row: int) -> PlacementTable:
        """Give what lies near one placement, each where it was last found."""
        near = self.register.placements_near(
            lon_deg=float(placements.lon_deg[row]), lat_deg=float(placements.lat_deg[row]), reach_m=REACH_M
        )
        return with_moved(near, self.moved)


def settle_findings(register: Register, summary: AuditSummary) -> AuditSummary:
    """
    Give an audit with what would settle each finding that is listed on paper.

    Parameters
    ----------
    register : Register
        The registry that was audited; read for what lies around.
    summary : AuditSummary
        What the audit found.
    """
    sea = _Sea(register, found_moved(register))
    left = MOST_OF_AUDIT
    permits = list(summary.permits)
    for place in summary.told_in_full:
        settled = _of_permit(sea, permits[place], left)
        left -= len(settled)
        permits[place] = replace(permits[place], settlements=settled)
    return replace(summary, permits=tuple(permits))


def _of_permit(sea: _Sea, permit: PermitSummary, most: int) -> tuple[Settlement, ...]:
    moves: dict[int, str] = {}
    settled: list[Settlement] = []
    for place, one in enumerate(permit.conditions):
        rows = one.flagged()[:MOST_OF_CONDITION]
        if not len(rows) or len(settled) >= most:
            continue
        margin = margins(one.condition, one.findings)
        for row in rows[: most - len(settled)].tolist():
            case = _Case(
                permit=permit,
                one=one,
                row=row,
                margin=float(margin[row]),
                u95=float(one.findings.u95[row]),
                verdict=Verdict(int(one.findings.verdict[row])),
            )
            if one.condition.rule in MENDED_BY_MOVING and row not in moves:
                moves[row] = _move(sea, permit, row)
            settled.append(
                Settlement(condition=place, row=row, sentence=_sentence(sea, case, moves.get(row, "")))
            )
    return tuple(settled)


def _sentence(sea: _Sea, case: _Case, move: str) -> str:
    rule = case.one.condition.rule
    if rule in NEITHER:
        return NEITHER[rule]
    if rule in OF_SOMETHING_RECORDED and not math.isfinite(case.margin):
        return "What it is measured from must be recorded first."
    if rule in MENDED_BY_MOVING:
        return " ".join(part for part in (_better_fix(sea, case), move) if part)
    worded: Mapping[str, Callable[[_Case], str]] = {
        "depth-band": _sounding,
        "clearance": _sounding,
        "relief": _relief,
        "position-quality": _position,
        "stability": _stability,
    }
    return worded.get(rule, _other)(case)


# Moves


def _move(sea: _Sea, permit: PermitSummary, row: int) -> str:
    """Find the nearest ground on which every condition of place would be kept by a fix as sure as this."""
    p = permit.placements
    near = sea.around(p, row)
    own = np.flatnonzero(near.placement_id == p.placement_id[row])
    around = near if len(own) else near.joined(p.rows(np.array([row])))
    place = int(own[0]) if len(own) else len(around) - 1
    cases = gather(sea.register, around, [(permit.permit, [place])])
    conditions = conditions_of(permit.permit)
    (judged,) = judge(cases, [conditions])
    found = tuple(findings.line(0, None) for findings in judged)
    move, note = find_move(cases, conditions, found)
    if move is None:
        return note
    if move.distance_m == 0:
        return ""
    return f"A move of {_far(move)} would keep every distance asked, with a fix no worse than now."


def _far(move: Move) -> str:
    if move.distance_m < 1000:
        return f"{move.distance_m:.1f} m toward {round(move.bearing_deg) % 360:03d}° true"
    return f"{move.distance_m / 1000:.1f} km toward {round(move.bearing_deg) % 360:03d}° true"


# Fixes


def _better_fix(sea: _Sea, case: _Case) -> str:
    """Say how sure a fix would decide it where it lies."""
    if case.verdict == Verdict.NONCONFORMING:
        return _hopeless(case)
    if not (math.isfinite(case.margin) and math.isfinite(case.u95)):
        return ""
    if case.one.condition.rule == "spacing":
        return _better_of_two(sea, case)
    return f"A fix good to {_down(abs(case.margin))} (R95) or better would decide it where it lies."


def _better_of_two(sea: _Sea, case: _Case) -> str:
    """Say which of two fixes to better: the less sure one, and both where that is not enough."""
    own_m, needed = case.r95_m, abs(case.margin)
    other_m = math.sqrt(max(0.0, case.u95**2 - own_m**2))
    own = str(case.permit.placements.tag[case.row])
    other = _neighbour(sea, case, other_m) or "the neighbour"
    (worse, worse_m), (better, better_m) = sorted(((own, own_m), (other, other_m)), key=lambda pair: -pair[1])
    if better_m < needed:
        target = math.sqrt(needed**2 - better_m**2)
        return (
            f"Better the fix of {worse} (now {radius_text(worse_m)}): with {_down(target)} (R95) or better "
            f"it is decided; that of {better} is good to {radius_text(better_m)}."
        )
    return (
        f"Better both fixes, {worse} ({radius_text(worse_m)}) and {better} ({radius_text(better_m)}): "
        f"{_down(needed / math.sqrt(2.0))} (R95) or better for each decides it."
    )


def _neighbour(sea: _Sea, case: _Case, r95_m: float) -> str:
    """Name the neighbour that decided, by its distance and its fix."""
    p, row = case.permit.placements, case.row
    near = sea.around(p, row)
    near = near.rows((near.placement_id != p.placement_id[row]) & (near.tag != p.tag[row]))
    if not len(near):
        return ""
    distance, _ = inverse(p.lon_deg[row], p.lat_deg[row], near.lon_deg, near.lat_deg)
    measured = float(case.one.findings.measured[row])
    edge = distance - np.nan_to_num(near.base_radius_m) - np.nan_to_num(p.base_radius_m[row])
    # Edge to edge or between centres, whichever the permit counts: only one of the two fits.
    off = np.minimum(np.abs(edge - measured), np.abs(distance - measured)) + np.abs(near.r95_m - r95_m)
    nearest = int(np.nanargmin(off))
    return str(near.tag[nearest]) if off[nearest] < 0.01 else ""


def _position(case: _Case) -> str:
    limit = float(case.one.findings.limit[case.row])
    if not math.isfinite(limit):
        return "A sounding: what radius is allowed depends on the depth, which is not known."
    return f"A fix good to {_down(limit)} (R95) or better."


# Soundings


def _sounding(case: _Case) -> str:
    """Say how sure a sounding would decide it; the height of the module takes its share."""
    p, row = case.permit.placements, case.row
    if not math.isfinite(p.depth_m[row]):
        return "A sounding: the depth is not known."
    if not math.isfinite(case.margin):
        return "The height of the module type: it is not recorded."
    if case.verdict == Verdict.NONCONFORMING:
        return _hopeless(case)
    height_m = float(p.height_u95_m[row]) if case.one.condition.rule == "clearance" else 0.0
    needed = abs(case.margin)
    if height_m >= needed:
        return (
            f"The height of the module itself: no sounding decides {_exact(needed)} while it is good to "
            f"{radius_text(height_m)} only."
        )
    target = math.sqrt(needed**2 - height_m**2)
    side = "inside" if case.margin > 0 else "beyond"
    return (
        f"A sounding good to ± {_down(target)} (95 %) or better, if it finds the same depth: it lies "
        f"{_exact(needed)} {side} the limit."
    )


def _relief(case: _Case) -> str:
    p, row = case.permit.placements, case.row
    if not math.isfinite(p.height_m[row]):
        return "The height of the module type: it is not recorded."
    if not math.isfinite(case.margin):
        return "A sounding: the depth is not known."
    if case.verdict == Verdict.NONCONFORMING:
        return _hopeless(case)
    return (
        f"A height, and where a share of the water is asked a depth, that together are good to "
        f"± {_down(abs(case.margin))} (95 %)."
    )


def _stability(case: _Case) -> str:
    if not math.isfinite(case.permit.placements.depth_m[case.row]):
        return "A sounding: the depth is not known."
    if case.verdict == Verdict.INCONCLUSIVE and math.isfinite(case.margin):
        return "A better sounding may decide it; so may an engineer, for a screening is no proof."
    return "An engineer's own figures, or a deeper or more sheltered place: a screening is no proof."


def _other(case: _Case) -> str:
    return _hopeless(case) if case.verdict == Verdict.NONCONFORMING else "A better measurement."


def _hopeless(case: _Case) -> str:
    """Say that no survey is likely to find otherwise, and why."""
    if not (case.u95 > 0 and math.isfinite(case.margin)):
        return ""
    times = abs(case.margin) / case.u95
    told = f"{times:.1f}" if times < 10 else f"{times:,.0f}"
    return f"No survey is likely to: it misses by {told} times its uncertainty."


# Numbers


def _down(metres: float) -> str:
    """
    Write what is needed, rounded down to two digits: what is asked for must be enough.

    Examples
    --------
    >>> _down(0.2387), _down(1.99), _down(14.78), _down(0.0004)
    ('0.23 m', '1.9 m', '14 m', 'less than 1 mm')
    """
    if metres < 1e-3:
        return "less than 1 mm"
    power = math.floor(math.log10(metres)) - 1
    digits = math.floor(metres / 10.0**power + 1e-9)
    return f"{digits * 10.0**power:.{max(0, -power)}f} m"


def _exact(metres: float) -> str:
    """Write a distance from a limit to two digits."""
    power = math.floor(math.log10(metres)) - 1 if metres > 0 else 0
    return f"{round(metres, -power):.{max(0, -power)}f} m"
