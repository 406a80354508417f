"""What the programme owes its authorities on a day: notices, reports, ends of seasons and of permits."""

from collections.abc import Iterator, Sequence
from datetime import date
from zoneinfo import ZoneInfo

import numpy as np
from numpy.typing import NDArray

from registry.actions.gather_cases import local_days
from registry.actions.owed_dates import owed_expiry, owed_seasons
from registry.actions.owed_notices import notice_day, owed_notices
from registry.actions.owed_reports import Remembered, owed_as_built, owed_burials
from registry.actions.told_duties import PlacedDay, Told, sent_words, told_by
from registry.ports import Register
from registry.records.duty import SOON_DAYS, Duties, Duty, DutyKind, DutyState
from registry.records.permit import Permit, in_force_on
from registry.records.placement import PlacementTable

__all__ = ["list_duties", "today"]

Days = NDArray[np.datetime64]

_AMENDED_PERMIT = "The permit was amended since and ends on another day."
_NOTHING_STANDS = (
    "No placement and no plan stands behind it now: corrected, withdrawn or called off since. "
    "Ask the authority whether it wants an amended paper."
)


def list_duties(
    register: Register,
    *,
    on: date | None = None,
    permit: str | None = None,
    soon_days: int | None = None,
) -> Duties:
    """
    List what is owed, as it stands on a day by what the registry knows now.

    Parameters
    ----------
    register : Register
        Read from.
    on : datetime.date, optional
        A day in the programme's zone; today if none is named. What was placed or sent later is left aside.
    permit : str, optional
        Only what is owed under this one.
    soon_days : int, optional
        How many days ahead a duty counts as due soon; by default :data:`registry.records.duty.SOON_DAYS`.

    Raises
    ------
    NotFoundError
        If there is no such permit.

    Notes
    -----
    What is owed for a placement is what the version of its permit asked that was in force on its day.
    """
    with register.reading():
        permits = register.permits() if permit is None else (register.permit(permit),)
        versions = [register.permit_versions(each.number) for each in permits]
        zone = register.programme().zone
        on = on or today(register)
        soon = SOON_DAYS if soon_days is None else dict.fromkeys(DutyKind, soon_days)
        told = told_by(register, on=on, soon=soon)
        # All of them: a tag may be recorded under two permits.
        table = register.placements()
    days = local_days(table.placed_at_s, zone)
    there = days <= np.datetime64(on)
    table, days = table.rows(there), days[there]
    placed = _by_permit_and_day(table, days)
    remembered = _remembered(table, days)
    duties: list[Duty] = []
    notes: list[str] = []
    for each in versions:
        number = each[0].number
        duties += owed_notices(told, each, placed.get(number, ()))
        duties += owed_as_built(told, each, placed.get(number, ()))
        duties += owed_burials(told, number, remembered.get(number, ()))
        duties += owed_seasons(told, each)
        duties += owed_expiry(told, each)
        notes += _unasked(in_force_on(each, on))
    duties += _left_over(told, duties, {each.number for each in permits})
    return Duties(on=on, zone=zone, duties=tuple(sorted(duties, key=_order)), notes=tuple(notes))


def today(register: Register) -> date:
    """Give the day that it is in the programme's zone."""
    return register.now().astimezone(ZoneInfo(register.programme().zone)).date()


def _by_permit_and_day(table: PlacementTable, days: Days) -> dict[str, list[PlacedDay]]:
    """Gather the placements by permit and, in order, by day."""
    if not len(table):
        return {}
    permits, code = np.unique(table.permit.astype(str), return_inverse=True)
    # The table is in order of time, and so is each permit's part of it.
    order = np.lexsort((days, code))
    code, days = code[order], days[order]
    starts = np.flatnonzero(np.r_[True, (code[1:] != code[:-1]) | (days[1:] != days[:-1])])
    found: dict[str, list[PlacedDay]] = {}
    for start, part in zip(starts.tolist(), np.split(table.placement_id[order], starts[1:]), strict=True):
        day = PlacedDay(day=days[start].astype(object), placements=tuple(part.tolist()))
        found.setdefault(str(permits[code[start]]), []).append(day)
    return found


def _remembered(table: PlacementTable, days: Days) -> dict[str, list[Remembered]]:
    """Gather the placements of modules with a memorial by tag, and the tags by the permit of the first."""
    rows = np.flatnonzero(table.memorial != "")
    by_tag: dict[str, list[int]] = {}
    for row in rows.tolist():
        by_tag.setdefault(table.tag[row], []).append(row)
    found: dict[str, list[Remembered]] = {}
    for tag, those in by_tag.items():
        first = those[0]
        module = Remembered(
            tag=tag,
            permit=table.permit[first],
            day=days[first].astype(object),
            placements=tuple(table.placement_id[those].tolist()),
        )
        found.setdefault(module.permit, []).append(module)
    return found


def _unasked(version: Permit) -> Iterator[str]:
    """Say which papers the transcript of a permit does not ask for: silence could be an omission."""
    asks = (
        ("notice before work", version.reporting.notice_days_before),
        ("as-built report", version.reporting.report_days_after),
    )
    lacks = [name for name, days in asks if days is None]
    if lacks:
        yield (
            f"The file of permit {version.number} asks for no {' and no '.join(lacks)}. If the paper does, "
            "add [reporting] to the file and record it: leadline permit amend."
        )


def _left_over(told: Told, duties: Sequence[Duty], permits: set[str]) -> Iterator[Duty]:
    """Tell of what was sent for something that stands no longer: corrected, withdrawn or called off since."""
    known = {duty.duty_id for duty in duties}
    for duty_id, sent in told.sendings.items():
        kind, permit = sent[0].kind, sent[0].permit
        if duty_id in known or permit not in permits or _counted(duty_id, kind, permit, duties):
            continue
        yield Duty(
            duty_id=duty_id,
            kind=kind,
            permit=permit,
            what=f"{kind.words.capitalize()}, sent for something that stands no longer",
            due_on=None,
            state=DutyState.NOT_APPLICABLE,
            cite="",
            evidence=(
                *map(sent_words, sent),
                _AMENDED_PERMIT if kind is DutyKind.EXPIRY else _NOTHING_STANDS,
            ),
            sent_on=min(each.sent_on for each in sent if each.sent_on is not None),
            times_sent=len(sent),
        )


def _counted(duty_id: str, kind: DutyKind, permit: str, duties: Sequence[Duty]) -> bool:
    """Tell whether a notice names a later day of a work that begins earlier, and counts there."""
    day = notice_day(duty_id, permit) if kind is DutyKind.NOTICE else None
    return day is not None and any(
        duty.kind is kind
        and duty.permit == permit
        and duty.from_day is not None
        and duty.to_day is not None
        and duty.from_day <= day <= duty.to_day
        for duty in duties
    )


def _order(duty: Duty) -> tuple[int, date, str]:
    return duty.state.rank, duty.due_on or date.max, duty.duty_id
