"""How an audit words verdicts, values and moments, on every page alike."""

import math
from collections.abc import Iterable, Sequence
from datetime import UTC, datetime
from typing import Any
from zoneinfo import ZoneInfo

from registry.documents.audit_plan import draw_mark
from registry.measure.decision import Verdict
from registry.measure.digits import Notation, coordinate_decimals, split_minutes
from registry.records.audit_summary import Counts, Margin
from registry.rules.wording import factor_text, length_text

__all__ = [
    "MEANINGS",
    "SHOWN_VERDICTS",
    "amount",
    "counted",
    "many",
    "margin_text",
    "minutes",
    "moment",
    "sentence",
    "shortened",
    "together",
    "verdict_words",
]

#: So much of what was typed is shown; the journal has it whole.
LONGEST_WRITTEN = 400

#: In the order in which they are explained and counted.
SHOWN_VERDICTS = (
    Verdict.CONFORMING,
    Verdict.NONCONFORMING,
    Verdict.INCONCLUSIVE,
    Verdict.NOT_APPLICABLE,
)
MEANINGS = {
    Verdict.CONFORMING: "the measured value keeps the limit by at least its uncertainty.",
    Verdict.NONCONFORMING: "the measured value misses the limit by more than its uncertainty.",
    Verdict.INCONCLUSIVE: "the limit lies within the uncertainty, or a value is unknown: measure better.",
    Verdict.NOT_APPLICABLE: "the condition asks nothing here.",
}


def verdict_words(verdict: Verdict) -> dict[str, Any]:
    """Give a verdict as its word, the name of its style, and its mark as SVG."""
    return {"word": verdict.word, "css": verdict.word.replace(" ", "-"), "mark": draw_mark(verdict)}


def together(counts: Iterable[Counts]) -> Counts:
    """Add counts up."""
    listed = list(counts)
    return Counts(
        conforming=sum(each.conforming for each in listed),
        nonconforming=sum(each.nonconforming for each in listed),
        inconclusive=sum(each.inconclusive for each in listed),
        not_applicable=sum(each.not_applicable for each in listed),
    )


def counted(counts: Counts) -> str:
    """Say how many placements have which verdict."""
    if not counts.total:
        return "No placement stands."
    parts = [f"{counts.conforming:,} conforming"]
    parts += [f"{counts.nonconforming:,} nonconforming", f"{counts.inconclusive:,} inconclusive"]
    parts += [f"{counts.not_applicable:,} not applicable"] if counts.not_applicable else []
    return f"{many(counts.total, 'placement', 'placements')}: {', '.join(parts)}."


def many(count: int, one: str, more: str) -> str:
    """Write a number with its noun."""
    return f"{count:,} {one if count == 1 else more}"


def moment(instant: datetime, zone: str) -> str:
    """Write an instant in the programme's zone and in UTC."""
    local = instant.astimezone(ZoneInfo(zone))
    return f"{local:%Y-%m-%d %H:%M} {zone} ({instant.astimezone(UTC):%Y-%m-%d %H:%M} UTC)"


def sentence(text: str) -> str:
    """End a text with a full stop."""
    return text if text.endswith(".") else f"{text}."


def shortened(text: str) -> str:
    """Give the beginning of a long text."""
    return text if len(text) <= LONGEST_WRITTEN else f"{text[: LONGEST_WRITTEN - 1]}…"


def margin_text(margin: Margin) -> str:
    """Write a margin with its sign: short of the limit is below zero."""
    text = amount(abs(margin.value), margin.u95, margin.unit)
    return f"−{text}" if margin.value < 0 else text


def amount(value: float, u95: float, unit: str) -> str:
    """Write a value of a finding in its unit, with the digits that are known."""
    if not math.isfinite(value):
        return "unknown"
    if unit == "m":
        # A value without uncertainty is a radius or a tolerance: two digits are all that such a thing has.
        text = length_text(value, u95) if u95 != 0 else f"{float(f'{value:.2g}'):.12g} m"
        return text.replace("-", "−", 1)
    if unit == "1":
        return factor_text(value, u95)
    words = {
        "d": ("day", "days"),
        "modules": ("module", "modules"),
        "placements": ("placement", "placements"),
    }
    if unit in words:
        return f"{'−' if round(value) < 0 else ''}{many(abs(round(value)), *words[unit])}"
    return f"{value:,.0f} {unit}".strip()


def minutes(lat_deg: float, lon_deg: float, r95_m: float) -> Sequence[str]:
    """Write degrees and minutes with the digits that R95 supports."""
    decimals = coordinate_decimals(Notation.MINUTES, r95_m) if r95_m > 0 else 5
    lat, lon = split_minutes(lat_deg, decimals), split_minutes(lon_deg, decimals)
    return (
        f"{lat[0]:02d}° {lat[1]}′ {'S' if lat_deg < 0 else 'N'}",
        f"{lon[0]:03d}° {lon[1]}′ {'W' if lon_deg < 0 else 'E'}",
    )
