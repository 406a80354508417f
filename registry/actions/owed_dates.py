"""Days on which a permit closes: its seasons and its end. They are reminders; only a renewal can be sent."""

from collections.abc import Iterator, Sequence
from dataclasses import replace
from datetime import date

import numpy as np

from registry.actions.told_duties import Told
from registry.measure.season import allowed_days
from registry.records.duty import Duty, DutyKind, DutyState
from registry.records.permit import Condition, Permit, in_force_on
from registry.records.season_windows import read_windows

__all__ = ["owed_expiry", "owed_seasons"]

#: A season that begins on a leap day comes within this. Units: d.
_AHEAD_D = 9 * 366


def owed_expiry(told: Told, versions: Sequence[Permit]) -> Iterator[Duty]:
    """Give the day on which a permit ends, by the version in force on the day asked."""
    version = in_force_on(versions, told.on)
    holder = f", held by {version.holder}" if version.holder else ""
    owed = Duty(
        duty_id=f"expiry-{version.number}-{version.valid_to}",
        kind=DutyKind.EXPIRY,
        permit=version.number,
        what="The permit ends: ask for its renewal before",
        due_on=version.valid_to,
        state=DutyState.OPEN,
        cite="the permit's dates",
        evidence=(f"Of {version.authority}, valid from {version.valid_from} to {version.valid_to}{holder}.",),
        from_day=version.valid_to,
        to_day=version.valid_to,
    )
    duty = told.standing(owed)
    if duty.state is DutyState.OVERDUE:
        ended = f"It ended on {version.valid_to}; it covers no placing after that day."
        duty = replace(duty, state=DutyState.NOT_APPLICABLE, days_late=0, evidence=(*duty.evidence, ended))
    yield duty


def owed_seasons(told: Told, versions: Sequence[Permit]) -> Iterator[Duty]:
    """
    Give the last day of the season that runs on the day asked, or of the next one.

    Notes
    -----
    Where several conditions state a season, each has its own; those for the same areas that end on the same
    day are one. A season that begins after the permit has ended is none.
    """
    version = in_force_on(versions, told.on)
    found: dict[str, Duty] = {}
    for condition in version.conditions:
        if condition.rule == "season":
            span = _next_season(condition, told.on)
            if span is not None and span[0] <= version.valid_to:
                duty = told.standing(_season(version, condition, *span))
                found.setdefault(duty.duty_id, duty)
    yield from found.values()


def _next_season(condition: Condition, on: date) -> tuple[date, date] | None:
    """Give the first and last day of the season from a day on; None if there is none, or it never ends."""
    windows = {name: read_windows(limit.written) for name, limit in condition.limits.items()}
    calendar = np.datetime64(on) + np.arange(_AHEAD_D)
    allowed = allowed_days(calendar, within=windows.get("open", ()), outside=windows.get("closed", ()))
    opens = int(allowed.argmax())
    closed_after = ~allowed[opens:]
    if not allowed[opens] or not closed_after.any():
        return None
    ends = opens + int(closed_after.argmax()) - 1
    first, last = calendar[[opens, ends]].astype(object).tolist()
    return first, last


def _season(version: Permit, condition: Condition, opens_on: date, ends_on: date) -> Duty:
    areas = "".join(f"-{area}" for area in condition.areas)
    where = f" in {', '.join(condition.areas)}" if condition.areas else ""
    words = "; ".join(f"{name} {limit.written}" for name, limit in condition.limits.items())
    return Duty(
        duty_id=f"season-{version.number}{areas}-{ends_on}",
        kind=DutyKind.SEASON,
        permit=version.number,
        what=f"The season for placing{where} ends",
        due_on=ends_on,
        state=DutyState.OPEN,
        cite=condition.cite,
        evidence=(f"The permit states: {words}.", f"Placing is in season from {opens_on} to {ends_on}."),
        from_day=opens_on,
        to_day=ends_on,
    )
