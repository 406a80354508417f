"""
An audit as one page to read, print and keep: permit by permit, condition by condition.

The page is whole in itself: no script, no font and no picture is fetched. What conforms is counted, what does
not or may not is listed in full with the evidence behind it. The same audit gives the same page.
"""

import math
from collections.abc import Iterable, Sequence
from datetime import UTC, datetime
from functools import lru_cache
from importlib.resources import files
from typing import Any
from zoneinfo import ZoneInfo

import numpy as np

from registry.documents.audit_plan import Plan, draw_mark, draw_plans
from registry.measure.decision import Verdict
from registry.measure.digits import Notation, coordinate_decimals, split_minutes
from registry.records.audit_summary import (
    AuditSummary,
    ConditionSummary,
    Correction,
    Counts,
    Evidence,
    Margin,
    PermitSummary,
)
from registry.records.finding import Finding
from registry.records.permit import Area
from registry.records.quantity import Quantity
from registry.rules.wording import length_text, limit_text

__all__ = ["margin_text", "write_audit_report"]

#: So much of what was typed is shown; the journal has it whole.
LONGEST_WRITTEN = 400
MOST_BEYOND = 12
#: Of what was changed in the registry, so much is told on the page.
MOST_PROBLEMS = 20

#: How the parameters of a condition are read aloud before their value; others as they are called.
LIMIT_WORDS = {
    "least": "at least",
    "greatest": "at most",
    "greatest_count": "at most",
    "greatest_mass": "at most",
}

MEANINGS = {
    Verdict.CONFORMING: "the measured value keeps the limit by at least its uncertainty.",
    Verdict.NONCONFORMING: "the measured value misses the limit by more than its uncertainty.",
    Verdict.INCONCLUSIVE: "the limit lies within the uncertainty, or a value is unknown: measure better.",
    Verdict.NOT_APPLICABLE: "the condition asks nothing here.",
}
WHOLES = {
    Verdict.CONFORMING: "Every placement conforms to the conditions of its permit.",
    Verdict.NONCONFORMING: "Something is nonconforming.",
    Verdict.INCONCLUSIVE: "Nothing is nonconforming, but something is inconclusive.",
    Verdict.NOT_APPLICABLE: "Nothing has been placed yet.",
}


def write_audit_report(summary: AuditSummary) -> str:
    """
    Write the page.

    Parameters
    ----------
    summary : AuditSummary
        What the audit found.

    Returns
    -------
    str
        HTML, complete.
    """
    from markupsafe import Markup

    permits = [_permit(summary, permit, number) for number, permit in enumerate(summary.permits, start=1)]
    return _template().render(  # type: ignore[no-any-return]
        styles=Markup(_shipped("page.css")),
        programme=summary.programme,
        audited_at=_moment(summary.audited_at, summary.zone),
        state=_state(summary),
        frame=f"{summary.frame_name} ({summary.frame}), epoch {summary.frame_epoch:g}",
        entries=_many(summary.journal_entries, "entry", "entries"),
        head=summary.journal_head,
        problems=summary.problems[:MOST_PROBLEMS],
        whole={
            **_verdict(summary.verdict),
            "big": Markup(draw_mark(summary.verdict)),
            "sentence": WHOLES[summary.verdict],
            "counted": _counted(_together(permit.counts for permit in summary.permits)),
        },
        legend=[{**_verdict(verdict), "meaning": MEANINGS[verdict]} for verdict in _shown_verdicts()],
        permits=permits,
    )


@lru_cache(maxsize=1)
def _template() -> Any:
    """Load the page's template; every value that is not markup of our own is escaped."""
    from jinja2 import Environment, StrictUndefined

    surroundings = Environment(autoescape=True, undefined=StrictUndefined, trim_blocks=False)
    return surroundings.from_string(_shipped("page.html"))


def _shipped(name: str) -> str:
    return files("registry.documents").joinpath("audit_page", name).read_text(encoding="utf-8")


def _shown_verdicts() -> tuple[Verdict, ...]:
    return (Verdict.CONFORMING, Verdict.NONCONFORMING, Verdict.INCONCLUSIVE, Verdict.NOT_APPLICABLE)


def _verdict(verdict: Verdict) -> dict[str, Any]:
    from markupsafe import Markup

    return {
        "word": verdict.word,
        "css": verdict.word.replace(" ", "-"),
        "mark": Markup(draw_mark(verdict)),
    }


def _together(counts: Iterable[Counts]) -> Counts:
    listed = list(counts)
    return Counts(
        conforming=sum(each.conforming for each in listed),
        nonconforming=sum(each.nonconforming for each in listed),
        inconclusive=sum(each.inconclusive for each in listed),
        not_applicable=sum(each.not_applicable for each in listed),
    )


def _counted(counts: Counts) -> str:
    """Say how many placements have which verdict."""
    if not counts.total:
        return "No placement stands."
    parts = [f"{counts.conforming:,} conforming"]
    parts += [f"{counts.nonconforming:,} nonconforming", f"{counts.inconclusive:,} inconclusive"]
    parts += [f"{counts.not_applicable:,} not applicable"] if counts.not_applicable else []
    return f"{_many(counts.total, 'placement', 'placements')}: {', '.join(parts)}."


def _many(count: int, one: str, more: str) -> str:
    return f"{count:,} {one if count == 1 else more}"


def _moment(instant: datetime, zone: str) -> str:
    """Write an instant in the programme's zone and in UTC."""
    local = instant.astimezone(ZoneInfo(zone))
    return f"{local:%Y-%m-%d %H:%M} {zone} ({instant.astimezone(UTC):%Y-%m-%d %H:%M} UTC)"


def _state(summary: AuditSummary) -> str:
    if summary.as_of is None:
        return "as it stood when this audit was made"
    return f"as it stood at {_moment(summary.as_of, summary.zone)}; later entries are left out"


def _permit(summary: AuditSummary, each: PermitSummary, number: int) -> dict[str, Any]:
    from markupsafe import Markup

    permit = each.permit
    whole = Verdict(int(each.verdict.max())) if len(each.verdict) else Verdict.NOT_APPLICABLE
    plans = [
        plan
        for index in range(len(permit.areas))
        for plan in draw_plans(each, index, summary.keep_outs, name=f"plan-{number}-{index + 1}")
    ]
    return {
        "number": permit.number,
        "authority": permit.authority,
        "valid": f"{permit.valid_from} to {permit.valid_to}, both days included",
        "chart_datum": permit.chart_datum,
        "verdict": _verdict(whole),
        "whole": _counted(each.counts),
        "counts": each.counts,
        "placed": _placed(each),
        "areas": [{"name": area.area_id, "told": _area(area)} for area in permit.areas],
        "conditions": [_condition(condition) for condition in each.conditions],
        "plans": [
            {
                "title": plan.title,
                "svg": Markup(plan.svg),
                "marks": [_verdict(verdict) for verdict in _shown_verdicts()[:3]],
                "told": _plan_told(plan),
            }
            for plan in plans
        ],
        "flagged": [_flagged(summary, each, c) for c in each.conditions if len(c.flagged())],
        "evidence": [_evidence(summary, each, evidence) for evidence in each.evidence],
        "corrections": [_correction(summary, correction) for correction in each.corrections],
    }


def _placed(each: PermitSummary) -> str:
    masses = each.placements.mass_kg
    told = _many(len(masses), "module", "modules")
    known = masses[np.isfinite(masses)]
    if not len(known):
        return told
    unknown = len(masses) - len(known)
    more = f", and {_many(unknown, 'module', 'modules')} of unknown mass" if unknown else ""
    return f"{told}, {known.sum():,.0f} kg{more}"


def _area(area: Area) -> str:
    epoch = f", epoch {area.epoch:g}" if area.epoch is not None else ""
    lines = {"geodesic": "geodesics", "rhumb": "rhumb lines"}[area.edges]
    return (
        f"Stated in {area.frame}{epoch}; its edges run as {lines}. "
        f"Datum operation: {_sentence(area.operation)} As written: {_shortened(area.written)}"
    )


def _sentence(text: str) -> str:
    return text if text.endswith(".") else f"{text}."


def _shortened(text: str) -> str:
    return text if len(text) <= LONGEST_WRITTEN else f"{text[: LONGEST_WRITTEN - 1]}…"


def _condition(each: ConditionSummary) -> dict[str, Any]:
    stated = sorted(each.condition.limits.items(), key=lambda named: not named[0].startswith("least"))
    limits = [_stated(name, limit) for name, limit in stated]
    margin = each.least_margin
    return {
        "rule": each.condition.rule,
        "sentence": each.sentence,
        "source": each.source,
        "cite": each.condition.cite,
        "limits": limits or ["as it stands"],
        "counts": each.counts,
        # Broken before its uncertainty where it must be, never between a number and its unit.
        "margin": margin_text(margin).replace("± ", "±\u00a0").replace(" m", "\u00a0m") if margin else "–",
        "whose": margin.placement if margin else "",
    }


def _stated(name: str, limit: Quantity) -> str:
    """Write a parameter of a condition as it is read aloud."""
    if limit.dimension == "text":
        return f"{name.replace('_', ' ')}: {', '.join(word.strip() for word in limit.written.split(','))}"
    if name == "greatest_share":
        return f"at most {limit.written} of the water"
    return f"{LIMIT_WORDS.get(name, name.replace('_', ' '))} {limit_text(limit)}"


def margin_text(margin: Margin) -> str:
    """Write a margin with its sign: short of the limit is below zero."""
    text = _amount(abs(margin.value), margin.u95, margin.unit)
    return f"−{text}" if margin.value < 0 else text


def _amount(value: float, u95: float, unit: str) -> str:
    """Write a value of a finding in its unit, with the digits that are known."""
    if not math.isfinite(value):
        return "unknown"
    if unit == "m":
        # A value without uncertainty is a radius or a tolerance: two digits are all that such a thing has.
        text = length_text(value, u95) if u95 != 0 else f"{float(f'{value:.2g}'):.12g} m"
        return text.replace("-", "−", 1)
    words = {
        "d": ("day", "days"),
        "modules": ("module", "modules"),
        "placements": ("placement", "placements"),
    }
    if unit in words:
        return _many(round(value), *words[unit])
    return f"{value:,.0f} {unit}".strip()


def _plan_told(plan: Plan) -> str:
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


def _flagged(summary: AuditSummary, permit: PermitSummary, each: ConditionSummary) -> dict[str, Any]:
    zone = ZoneInfo(summary.zone)
    placements = permit.placements
    rows = [int(row) for row in each.flagged()]
    return {
        "sentence": each.sentence,
        "rule": each.condition.rule,
        "cite": each.condition.cite,
        "findings": [
            _finding(
                each, each.findings.line(row, str(placements.tag[row])), placements.placed_at_s[row], zone
            )
            for row in rows
        ],
    }


def _finding(each: ConditionSummary, found: Finding, placed_at_s: float, zone: ZoneInfo) -> dict[str, Any]:
    return {
        "tag": found.placement,
        "verdict": _verdict(found.verdict),
        "day": f"{datetime.fromtimestamp(placed_at_s, zone):%Y-%m-%d}",
        "measured": _amount(found.measured, found.u95, found.unit) if found.unit else "–",
        "limit": _limit(each, found),
        "message": found.message,
    }


def _limit(each: ConditionSummary, found: Finding) -> str:
    """Write the limit that decided, in the permit's own words where they state it."""
    for quantity in each.condition.limits.values():
        if quantity.dimension != "text" and quantity.value == found.limit:
            return limit_text(quantity)
    if not math.isfinite(found.limit):
        return ", ".join(quantity.written for quantity in each.condition.limits.values()) or "–"
    if found.unit == "m":
        return f"{found.limit:.10g} m" if found.limit == round(found.limit, 2) else f"{found.limit:.2f} m"
    return _amount(found.limit, 0.0, found.unit)


def _evidence(summary: AuditSummary, permit: PermitSummary, each: Evidence) -> dict[str, Any]:
    p, row = permit.placements, each.row
    r95_m = float(p.r95_m[row])
    depth_m, u95_m = float(p.depth_m[row]), float(p.depth_u95_m[row])
    logged = [f"“{_shortened(each.position_text)}”"] if each.position_text else []
    logged += [f"depth “{_shortened(each.depth_text)}”"] if each.depth_text else []
    logged += [f"tide “{_shortened(each.tide_text)}”"] if each.tide_text else []
    logged += [_shortened(each.source)] if each.source else []
    placed_at = datetime.fromtimestamp(float(p.placed_at_s[row]), UTC)
    return {
        "tag": p.tag[row],
        "entry": p.placement_id[row],
        "position": _minutes(float(p.lat_deg[row]), float(p.lon_deg[row]), r95_m),
        "r95": f"within {_amount(r95_m, 0.0, 'm')} (95 %)",
        "depth": length_text(depth_m, u95_m) if math.isfinite(depth_m) else "not known",
        "logged": logged,
        "when": f"placed {_moment(placed_at, summary.zone)}",
        "basis": [_sentence(line) for line in each.basis],
    }


def _minutes(lat_deg: float, lon_deg: float, r95_m: float) -> Sequence[str]:
    """Write degrees and minutes with the digits that R95 supports."""
    decimals = coordinate_decimals(Notation.MINUTES, r95_m) if r95_m > 0 else 5
    lat, lon = split_minutes(lat_deg, decimals), split_minutes(lon_deg, decimals)
    return (
        f"{lat[0]:02d}° {lat[1]}′ {'S' if lat_deg < 0 else 'N'}",
        f"{lon[0]:03d}° {lon[1]}′ {'W' if lon_deg < 0 else 'E'}",
    )


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
