"""Was the module placed on a day on which the permit allows placing?"""

import numpy as np

from registry.errors import PermitError
from registry.measure.decision import at_least
from registry.measure.season import Window, allowed_days, days_inside
from registry.records.finding import Findings, Phrases
from registry.records.permit import Condition
from registry.records.season_windows import named_day, read_windows
from registry.rules.cases import Asked, Cases, Rule

__all__ = ["SEASON"]

#: Every day that a year may have.
_LEAP_YEAR = np.arange("2024-01-01", "2025-01-01", dtype="datetime64[D]")


def check(cases: Cases, asked: Asked) -> Findings:
    """Judge the day of placement, in the programme's zone, by the windows that are open and those closed."""
    opened, closed = read_windows(asked.text("open")), read_windows(asked.text("closed"))
    inside_d = days_inside(cases.placed_day, within=opened, outside=closed)
    nothing = np.zeros(len(cases))
    asks = (("modules may be placed from", opened), ("none may be placed from", closed))
    said = " and ".join(f"{words} {_span_text(windows)}" for words, windows in asks if windows)

    def message(row: int) -> str:
        day = cases.placed_day[row].item()
        out = "" if inside_d[row] >= 0 else f", {_days_text(-inside_d[row])} out of season"
        placed = f"Placed on {named_day((day.month, day.day))} {day.year}{out}"
        return f"{placed}; {said}."

    return Findings(
        rule=asked.rule,
        cite=asked.cite,
        unit="d",
        verdict=at_least(inside_d, nothing, nothing),
        measured=inside_d,
        limit=nothing,
        u95=nothing,
        message=Phrases(len(cases), message),
    )


def examine(condition: Condition) -> None:
    """Refuse windows that cannot be read, or that leave no day of the year."""
    opened, closed = (
        read_windows(condition.limits[name].written if name in condition.limits else None)
        for name in ("open", "closed")
    )
    if not allowed_days(_LEAP_YEAR, within=opened, outside=closed).any():
        raise PermitError("No day of the year is left for placing.", remedy="Check the windows.")


def _span_text(windows: tuple[Window, ...]) -> str:
    return " or ".join(f"{named_day(first)} to {named_day(last)}" for first, last in windows)


def _days_text(days: float) -> str:
    return "1 day" if days == 1 else f"{days:.0f} days"


SEASON = Rule(
    rule_id="season",
    sentence="The module was placed in a season in which the permit allows placing.",
    source="Permit condition: months of work, and seasons closed for the sake of what lives there.",
    parameters={"open": "text", "closed": "text"},
    needs_one_of=("open", "closed"),
    examine=examine,
    check=check,
)
