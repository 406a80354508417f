"""
What an officer should look at again: the placements that give a reason, the most and the gravest first.

The reasons and their weights are this project's own; the reasons are printed, so that anybody can rank anew.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from zoneinfo import ZoneInfo

import numpy as np
from numpy.typing import NDArray

from registry.measure.decision import Verdict
from registry.measure.movement import Motion
from registry.ports import Register
from registry.records.audit_summary import (
    AuditSummary,
    Correction,
    Inspection,
    Inspections,
    PermitSummary,
    margins,
)
from registry.records.resurvey import Resurvey, resurvey_from_body
from registry.rules.wording import length_text, radius_text

__all__ = ["choose_inspections"]

#: What each reason counts.
MOVED, NONCONFORMING = 8.0, 5.0
INCONCLUSIVE, MAYBE_MOVED = 3.0, 3.0
CORRECTED, DEPTH_UNKNOWN = 2.0, 2.0
LEAST_CERTAIN, TIGHT, NEVER_AGAIN = 1.0, 1.0, 1.0
MOTIONS = {Motion.MOVED: MOVED, Motion.INCONCLUSIVE: MAYBE_MOVED, Motion.NOT_SHOWN: 0.0}
#: A position counts among the least certain from this share of all on, where it is so much worse than half.
SHARE_CERTAIN, WORSE_THAN_HALF = 0.95, 1.5
#: A limit that is kept by less than so many uncertainties is kept tightly.
TIGHT_U95 = 1.5

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Known:
    """What the registry tells of single placements, by identifier."""

    resurveys: Mapping[str, Resurvey]
    corrections: Mapping[str, Correction]
    r95_limit_m: float
    r95_middle_m: float


def choose_inspections(register: Register, summary: AuditSummary, *, most: int = 25) -> Inspections:
    """
    Rank the placements of an audit by what speaks for a visit.

    Parameters
    ----------
    register : Register
        The registry that was audited; read for resurveys.
    summary : AuditSummary
        What the audit found.
    most : int
        So many are listed.
    """
    known = _known(register, summary)
    starts = np.cumsum([0, *(len(each.placements) for each in summary.permits)])
    tight = np.concatenate([np.empty(0), *(_least_margins(each) for each in summary.permits)])
    total = np.concatenate(
        [
            np.empty(0),
            *(
                _points(each, known, tight[start : start + len(each.placements)])
                for each, start in zip(summary.permits, starts.tolist(), strict=False)
            ),
        ]
    )
    _add_what_is_known(total, summary, known)
    # Most points first; of equals, the one that misses by more or keeps by less.
    chosen = np.lexsort((np.arange(len(total)), tight, -total))[:most]
    listed = []
    for place in chosen[total[chosen] > 0].tolist():
        permit = int(np.searchsorted(starts, place, side="right")) - 1
        listed.append(_inspection(summary, summary.permits[permit], place - int(starts[permit]), known))
    return Inspections(listed=tuple(listed), count=int((total > 0).sum()))


def _known(register: Register, summary: AuditSummary) -> _Known:
    r95_m = np.concatenate([np.empty(0), *(each.placements.r95_m for each in summary.permits)])
    r95_m = r95_m[np.isfinite(r95_m)]
    limit, middle = np.quantile(r95_m, [SHARE_CERTAIN, 0.5]) if len(r95_m) else (np.inf, np.inf)
    return _Known(
        # The last one of each placement is what is known of it.
        resurveys={str(body["placement_id"]): resurvey_from_body(body) for body in register.resurveys()},
        corrections={
            correction.reference: correction
            for each in summary.permits
            for correction in each.corrections
            if not correction.withdraws
        },
        r95_limit_m=float(max(limit, WORSE_THAN_HALF * middle)),
        r95_middle_m=float(middle),
    )


def _least_margins(each: PermitSummary) -> Floats:
    """Give by how many uncertainties the tightest limit of each is kept; infinite where none is told."""
    least = np.full(len(each.placements), np.inf)
    for one in each.conditions:
        u95 = np.asarray(one.findings.u95, dtype=float)
        known = (u95 > 0) & (one.findings.verdict != Verdict.NOT_APPLICABLE)
        margin = margins(one.condition, one.findings)
        ratio = np.divide(margin, u95, out=np.full(len(least), np.inf), where=known)
        least = np.fmin(least, ratio)
    return least


def _points(each: PermitSummary, known: _Known, tight: Floats) -> Floats:
    p = each.placements
    points = np.where(each.verdict == Verdict.NONCONFORMING, NONCONFORMING, 0.0)
    points += np.where(each.verdict == Verdict.INCONCLUSIVE, INCONCLUSIVE, 0.0)
    points += np.where((each.verdict == Verdict.CONFORMING) & (tight < TIGHT_U95), TIGHT, 0.0)
    points += np.where(p.r95_m >= known.r95_limit_m, LEAST_CERTAIN, 0.0)
    points += np.where(np.isnan(p.depth_m), DEPTH_UNKNOWN, 0.0)
    return np.asarray(points, dtype=float)


def _add_what_is_known(points: Floats, summary: AuditSummary, known: _Known) -> None:
    """Add, in place, what single entries say: few of them, looked up among very many placements."""
    places = {
        identifier: place
        for place, identifier in enumerate(
            identifier for each in summary.permits for identifier in each.placements.placement_id.tolist()
        )
    }
    seen = [place for place in map(places.get, known.resurveys) if place is not None]
    again = np.zeros(len(points), dtype=bool)
    again[seen] = True
    points += np.where(again, 0.0, NEVER_AGAIN)
    for identifier in known.corrections:
        if identifier in places:
            points[places[identifier]] += CORRECTED
    for identifier, resurvey in known.resurveys.items():
        if identifier in places:
            points[places[identifier]] += MOTIONS[resurvey.movement.verdict]


def _inspection(summary: AuditSummary, each: PermitSummary, row: int, known: _Known) -> Inspection:
    p = each.placements
    return Inspection(
        permit=each.permit.number,
        tag=str(p.tag[row]),
        placement_id=str(p.placement_id[row]),
        lat_deg=float(p.lat_deg[row]),
        lon_deg=float(p.lon_deg[row]),
        r95_m=float(p.r95_m[row]),
        reasons=tuple(_reasons(summary, each, row, known)),
    )


def _reasons(summary: AuditSummary, each: PermitSummary, row: int, known: _Known) -> list[str]:
    p, zone = each.placements, ZoneInfo(summary.zone)
    identifier = str(p.placement_id[row])
    resurvey, correction = known.resurveys.get(identifier), known.corrections.get(identifier)
    reasons = [_moved(resurvey, zone)] if resurvey and resurvey.movement.verdict != Motion.NOT_SHOWN else []
    reasons += _findings(each, row)
    if correction is not None:
        reasons.append(f"Corrected on {correction.at.astimezone(zone):%Y-%m-%d}: {correction.reason}.")
    if p.r95_m[row] >= known.r95_limit_m:
        reasons.append(
            f"Known within {radius_text(float(p.r95_m[row]))} only, half of all within "
            f"{radius_text(known.r95_middle_m)}."
        )
    if np.isnan(p.depth_m[row]):
        reasons.append("Its depth is not known.")
    if resurvey is None:
        placed_on = datetime.fromtimestamp(float(p.placed_at_s[row]), UTC).astimezone(zone)
        reasons.append(f"Never measured again since {placed_on:%Y-%m-%d}.")
    return reasons


def _findings(each: PermitSummary, row: int) -> list[str]:
    """Tell what is flagged, or what is kept only just."""
    flagged = [
        f"{Verdict(int(one.findings.verdict[row])).word.capitalize()}: {one.findings.message[row]}"
        for one in each.conditions
        if one.findings.verdict[row] >= Verdict.INCONCLUSIVE
    ]
    if flagged:
        return flagged
    tight = []
    for one in each.conditions:
        u95, margin = float(one.findings.u95[row]), float(margins(one.condition, one.findings)[row])
        if u95 > 0 and margin < TIGHT_U95 * u95 and one.findings.verdict[row] != Verdict.NOT_APPLICABLE:
            times = f"{margin / u95:.1f} times its uncertainty"
            tight.append(f"Keeps {one.condition.rule} ({one.condition.cite}) by only {times}.")
    return tight


def _moved(resurvey: Resurvey, zone: ZoneInfo) -> str:
    movement = resurvey.movement
    far = length_text(movement.distance_m, movement.u95_m)
    way = f"{far} toward {round(movement.bearing_deg) % 360:03d}° true"
    seen = f"The resurvey of {resurvey.observed_at.astimezone(zone):%Y-%m-%d}"
    if movement.verdict is Motion.MOVED:
        return f"{seen} showed a movement of {way}."
    return f"{seen} found it {way}: whether it moved is not decided."
