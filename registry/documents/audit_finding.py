"""How one condition, and what it says of one placement, are worded on every page: plain text and numbers."""

import math
from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

from registry.documents.audit_values import amount, margin_text, verdict_words
from registry.records.audit_summary import ConditionSummary, PermitSummary
from registry.records.finding import Finding
from registry.records.quantity import Quantity
from registry.rules.position_quality import POSITION_QUALITY
from registry.rules.wording import limit_text, radius_text

__all__ = ["LIMIT_WORDS", "condition_words", "count_words", "finding_words"]

#: Of each unit of findings, what the parameters are that state a limit in it.
DIMENSIONS = {"m": "length", "kg": "mass", "modules": "count", "1": "ratio"}

#: How the parameters of a condition are read aloud before their value; others as they are called.
LIMIT_WORDS = {
    "least": "at least",
    "greatest": "at most",
    "greatest_count": "at most",
    "greatest_mass": "at most",
    "least_sliding_factor": "sliding: at least",
    "least_overturning_factor": "overturning: at least",
}


def count_words(each: PermitSummary | ConditionSummary) -> dict[str, int]:
    """Give how many placements have which verdict, by name."""
    counts = each.counts
    return {
        "total": counts.total,
        "conforming": counts.conforming,
        "nonconforming": counts.nonconforming,
        "inconclusive": counts.inconclusive,
        "not_applicable": counts.not_applicable,
    }


def condition_words(each: ConditionSummary) -> dict[str, Any]:
    """Word a condition: what it asks, by which words of the permit, its counts and its least margin."""
    stated = sorted(each.condition.limits.items(), key=lambda named: not named[0].startswith("least"))
    limits = [_stated(name, limit) for name, limit in stated]
    margin = each.least_margin
    return {
        "rule": each.condition.rule,
        "sentence": each.sentence,
        "source": each.source,
        "cite": each.condition.cite,
        "limits": limits or ["as it stands"],
        "counts": count_words(each),
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


def finding_words(
    each: ConditionSummary, found: Finding, placed_at_s: float, zone: ZoneInfo
) -> dict[str, Any]:
    """
    Word what a condition says of one placement.

    Parameters
    ----------
    each : ConditionSummary
        The condition.
    found : Finding
        What it says.
    placed_at_s : float
        When the module was placed. Units: seconds since 1970-01-01T00:00Z.
    zone : zoneinfo.ZoneInfo
        In which days are told.
    """
    return {
        "tag": found.placement,
        "verdict": verdict_words(found.verdict),
        "day": f"{datetime.fromtimestamp(placed_at_s, zone):%Y-%m-%d}",
        "measured": _measured(found),
        "limit": _limit(each, found),
        "message": found.message,
    }


def _measured(found: Finding) -> str:
    if not found.unit:
        return "–"
    # A radius says how far off a module may be, and is rounded upward wherever it stands.
    if found.rule == POSITION_QUALITY.rule_id and math.isfinite(found.measured):
        return radius_text(found.measured)
    return amount(found.measured, found.u95, found.unit)


def _limit(each: ConditionSummary, found: Finding) -> str:
    """Write the limit that decided, in the permit's own words where they state it."""
    for quantity in each.condition.limits.values():
        if quantity.dimension == DIMENSIONS.get(found.unit) and quantity.value == found.limit:
            return limit_text(quantity)
    if not math.isfinite(found.limit):
        return ", ".join(quantity.written for quantity in each.condition.limits.values()) or "–"
    if found.unit == "m":
        return f"{found.limit:.10g} m" if found.limit == round(found.limit, 2) else f"{found.limit:.2f} m"
    return amount(found.limit, 0.0, found.unit)
