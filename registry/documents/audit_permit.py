"""
One permit of an audit in words and drawings, for paper and screen alike: plain text, numbers and SVG.

Whatever stands under a key `svg` or `mark` is a drawing of our own, in which all that a person typed is
escaped; all else is text, which whoever sets the page must escape.
"""

import math
from datetime import UTC, datetime
from typing import Any
from zoneinfo import ZoneInfo

import numpy as np

from registry.documents.audit_finding import LIMIT_WORDS, condition_words, count_words, finding_words
from registry.documents.audit_plan import Plan, draw_plans
from registry.documents.audit_values import (
    SHOWN_VERDICTS,
    counted,
    many,
    minutes,
    moment,
    sentence,
    shortened,
    verdict_words,
)
from registry.documents.histogram import Histogram, draw_histogram
from registry.measure.decision import Verdict
from registry.records.audit_summary import (
    AuditSummary,
    Correction,
    Evidence,
    PermitSummary,
)
from registry.records.permit import Area, Permit
from registry.rules.wording import length_text, limit_text, radius_text

__all__ = ["permit_words", "place_words", "plan_words", "version_words"]

MOST_BEYOND = 12
#: Of what one condition flags, so much is listed; the rest stands in findings.csv.
MOST_FLAGGED = 100
#: More corrections than these are counted.
MOST_CORRECTIONS = 200
#: What is drawn as a histogram, and what its axis says.
HISTOGRAMS = {
    "spacing": ("Spacing", "metres to the neighbour that decides"),
    "clearance": ("Clearance", "metres of water over the top of the module"),
}


def version_words(permit: Permit, *, several: bool) -> str:
    """Tell which version of a permit is meant; nothing where it has only one."""
    if permit.in_force_from is not None:
        why = f": {sentence(permit.amendment)}" if permit.amendment else ""
        return f"as in force from {permit.in_force_from}{why}"
    return "as first issued" if several else ""


def permit_words(
    summary: AuditSummary, each: PermitSummary, number: int, *, last: bool = True
) -> dict[str, Any]:
    """
    Word one permit.

    Parameters
    ----------
    summary : AuditSummary
        The audit that it is part of.
    each : PermitSummary
        The permit, in one of its versions.
    number : int
        Its number on the page, by which drawings are named.
    last : bool
        Whether it is the last version of its permit, with which corrections are told.
    """
    permit = each.permit
    whole = Verdict(int(each.verdict.max())) if len(each.verdict) else Verdict.NOT_APPLICABLE
    plans = [
        plan
        for index in range(len(permit.areas))
        for plan in draw_plans(each, index, summary.keep_outs, name=f"plan-{number}-{index + 1}")
    ]
    corrections = each.corrections if last else ()
    return {
        "place": number,
        "number": permit.number,
        "version": version_words(permit, several=_several(summary, permit)),
        "authority": permit.authority,
        "holder": permit.holder,
        "valid": f"{permit.valid_from} to {permit.valid_to}, both days included",
        "chart_datum": permit.chart_datum,
        "verdict": verdict_words(whole),
        "whole": counted(each.counts),
        "counts": count_words(each),
        "placed": _placed(each),
        "areas": [{"name": area.area_id, "told": _area(area)} for area in permit.areas],
        "conditions": [condition_words(condition) for condition in each.conditions],
        "plans": [
            {
                "title": plan.title,
                "svg": plan.svg,
                "marks": [verdict_words(verdict) for verdict in SHOWN_VERDICTS[:3]],
                "told": plan_words(plan),
            }
            for plan in plans
        ],
        "histograms": [
            {"title": drawn.title, "svg": drawn.svg, "told": drawn.told}
            for drawn in _histograms(each, number)
        ],
        "flagged": [
            _flagged(summary, each, place)
            for place, condition in enumerate(each.conditions)
            if len(condition.flagged())
        ],
        "evidence": [_evidence(summary, each, evidence) for evidence in each.evidence],
        "evidence_left_out": _flagged_count(each) - len(each.evidence),
        "corrections": [_correction(summary, correction) for correction in corrections[-MOST_CORRECTIONS:]],
        "corrections_left_out": max(0, len(corrections) - MOST_CORRECTIONS),
        "tell_corrections": last,
    }


def _several(summary: AuditSummary, permit: Permit) -> bool:
    return sum(each.permit.number == permit.number for each in summary.permits) > 1


def _flagged_count(each: PermitSummary) -> int:
    return int((each.verdict >= Verdict.INCONCLUSIVE).sum())


def _histograms(each: PermitSummary, number: int) -> list[Histogram]:
    """Draw spacing and clearance, each condition by itself, with the limits that it states."""
    found = []
    for place, condition in enumerate(each.conditions, start=1):
        if condition.condition.rule not in HISTOGRAMS:
            continue
        title, axis = HISTOGRAMS[condition.condition.rule]
        limits = [
            (limit.value, f"{LIMIT_WORDS[name]} {limit_text(limit)}")
            for name, limit in sorted(condition.condition.limits.items(), reverse=True)
            if limit.dimension == "length" and name in LIMIT_WORDS
        ]
        findings = condition.findings
        drawn = draw_histogram(
            findings.measured,
            findings.u95,
            findings.verdict,
            limits,
            title=f"{title}, {condition.condition.cite}",
            axis=axis,
            name=f"histogram-{number}-{place}",
        )
        if drawn is not None:
            found.append(drawn)
    return found


def _placed(each: PermitSummary) -> str:
    masses = each.placements.mass_kg
    told = many(len(masses), "module", "modules")
    known = masses[np.isfinite(masses)]
    if not len(known):
        return told
    unknown = len(masses) - len(known)
    more = f", and {many(unknown, 'module', 'modules')} of unknown mass" if unknown else ""
    return f"{told}, {known.sum():,.0f} kg{more}"


def _area(area: Area) -> str:
    epoch = f", epoch {area.epoch:g}" if area.epoch is not None else ""
    lines = {"geodesic": "geodesics", "rhumb": "rhumb lines"}[area.edges]
    return (
        f"Stated in {area.frame}{epoch}; its edges run as {lines}. "
        f"Datum operation: {sentence(area.operation)} As written: {shortened(area.written)}"
    )


def plan_words(plan: Plan) -> str:
    """Tell how a plan is drawn, and what lies beyond it."""
    told = "Drawn to the scale of its bar, true north up."
    if plan.bases:
        told += " The circles are the bases of the modules in true size."
    if plan.keep_outs:
        told += f" Dashed: setback of {', '.join(plan.keep_outs)}."
    if plan.labels_left_out:
        told += " Tags are left out where they would cover each other."
    if plan.beyond:
        named = [
            f"{each.tag} ({each.verdict.word}), {_far(each.distance_m)} from the middle of the area "
            f"toward {round(each.bearing_deg) % 360:03d}° true"
            for each in plan.beyond[:MOST_BEYOND]
        ]
        more = len(plan.beyond) - len(named)
        tail = f"; and {more:,} more" if more else ""
        told += f" Beyond the plan, shown by arrows: {'; '.join(named)}{tail}."
    return told


def _far(distance_m: float) -> str:
    if distance_m < 1000:
        return f"{distance_m:.0f} m"
    return f"{distance_m / 1000:.1f} km" if distance_m < 100_000 else f"{distance_m / 1000:,.0f} km"


def _flagged(summary: AuditSummary, permit: PermitSummary, place: int) -> dict[str, Any]:
    zone = ZoneInfo(summary.zone)
    each, placements = permit.conditions[place], permit.placements
    rows = each.flagged()
    settled = {one.row: one.sentence for one in permit.settlements if one.condition == place}
    return {
        "sentence": each.sentence,
        "rule": each.condition.rule,
        "cite": each.condition.cite,
        "left_out": max(0, len(rows) - MOST_FLAGGED),
        "findings": [
            {
                **finding_words(
                    each, each.findings.line(row, str(placements.tag[row])), placements.placed_at_s[row], zone
                ),
                "settle": settled.get(row, ""),
            }
            for row in rows[:MOST_FLAGGED].tolist()
        ],
    }


def place_words(summary: AuditSummary, permit: PermitSummary, row: int) -> dict[str, Any]:
    """Word where and when a module was placed, by its row: with the digits that are known."""
    p = permit.placements
    r95_m = float(p.r95_m[row])
    depth_m, u95_m = float(p.depth_m[row]), float(p.depth_u95_m[row])
    placed_at = datetime.fromtimestamp(float(p.placed_at_s[row]), UTC)
    return {
        "tag": p.tag[row],
        "entry": p.placement_id[row],
        "position": minutes(float(p.lat_deg[row]), float(p.lon_deg[row]), r95_m),
        "r95": f"within {radius_text(r95_m)} (95 %)",
        "depth": length_text(depth_m, u95_m) if math.isfinite(depth_m) else "not known",
        "when": f"placed {moment(placed_at, summary.zone)}",
    }


def _evidence(summary: AuditSummary, permit: PermitSummary, each: Evidence) -> dict[str, Any]:
    logged = [f"“{shortened(each.position_text)}”"] if each.position_text else []
    logged += [f"depth “{shortened(each.depth_text)}”"] if each.depth_text else []
    logged += [f"tide “{shortened(each.tide_text)}”"] if each.tide_text else []
    logged += [shortened(each.source)] if each.source else []
    return {
        **place_words(summary, permit, each.row),
        "logged": logged,
        "basis": [sentence(shortened(line)) for line in each.basis],
    }


def _correction(summary: AuditSummary, each: Correction) -> dict[str, Any]:
    return {
        "tag": each.tag,
        "at": f"{each.at.astimezone(ZoneInfo(summary.zone)):%Y-%m-%d %H:%M}",
        "actor": each.actor,
        "reason": each.reason,
        "reference": each.reference,
        "supersedes": each.supersedes,
        "does": "withdraws" if each.withdraws else "supersedes",
    }
