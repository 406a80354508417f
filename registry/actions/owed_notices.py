"""
Notices before work: for each planned work, for placing that no plan foretold, and for what is to come.

A notice whose day cannot be known says so. Placing without a notice on record so many days before is told
as overdue for good: sending it late makes it done, but late.
"""

from collections.abc import Iterator, Sequence
from datetime import date, timedelta

from registry.actions.told_duties import PlacedDay, Told, placed_words
from registry.records.duty import Duty, DutyKind, DutyState
from registry.records.duty_entry import Sending
from registry.records.permit import Permit, in_force_on

__all__ = ["notice_day", "owed_notices"]


def owed_notices(told: Told, versions: Sequence[Permit], placed: Sequence[PlacedDay]) -> Iterator[Duty]:
    """
    Give the notices of one permit.

    Parameters
    ----------
    told : Told
        With the planned work.
    versions : sequence of Permit
        Oldest in force first; each work is under the one in force on its first day.
    placed : sequence of PlacedDay
        In order of day.

    Notes
    -----
    Unplanned days of placing that are no further apart than the notice asks are one work, since no notice
    could have been given between them. A notice told for any day of a work counts for it.
    """
    number = versions[0].number
    works = [work for work in told.works if work.permit == number]
    sent = _notices_sent(told, number)
    for work in works:
        version = in_force_on(versions, work.begins_on)
        if version.reporting.notice_days_before is not None:
            days = [each for each in placed if work.begins_on <= each.day <= work.ends_on]
            plan = f"Work is planned from {work.begins_on} to {work.ends_on} (told by {work.told})."
            owed = _notice(version, work.begins_on, work.ends_on, days, (plan, *placed_words(days)))
            those = [s for day, own in sent.items() if work.begins_on <= day <= work.ends_on for s in own]
            yield told.standing(owed, those)
    unplanned = [day for day in placed if not any(w.begins_on <= day.day <= w.ends_on for w in works)]
    for days in _works_of(unplanned, versions):
        version = in_force_on(versions, days[0].day)
        those = [each for day in days for each in sent.get(day.day, ())]
        evidence = ["No plan on record foretold this work.", *placed_words(days)]
        if not those:
            evidence.append("No notice is on record for it.")
        owed = _notice(version, days[0].day, days[-1].day, days, evidence)
        yield told.standing(owed, those)
    if not any(work.ends_on >= told.on for work in works):
        yield from _next_notice(in_force_on(versions, told.on), told.on)


def notice_day(duty_id: str, permit: str) -> date | None:
    """
    Give the first day of the work that a notice names.

    Examples
    --------
    >>> notice_day("notice-HB-0417-2026-06-14", "HB-0417")
    datetime.date(2026, 6, 14)
    """
    try:
        return date.fromisoformat(duty_id.removeprefix(f"notice-{permit}-"))
    except ValueError:
        return None


def _notices_sent(told: Told, number: str) -> dict[date, tuple[Sending, ...]]:
    found = {}
    for duty_id, those in told.sendings.items():
        if those[0].kind is DutyKind.NOTICE and those[0].permit == number:
            day = notice_day(duty_id, number)
            if day is not None:
                found[day] = those
    return found


def _works_of(placed: Sequence[PlacedDay], versions: Sequence[Permit]) -> Iterator[list[PlacedDay]]:
    """Join days of placing that belong to one work; days that ask for no notice are left out."""
    work: list[PlacedDay] = []
    for each in placed:
        asks = in_force_on(versions, each.day).reporting.notice_days_before
        if work and (asks is None or (each.day - work[-1].day).days > asks):
            yield work
            work = []
        if asks is not None:
            work.append(each)
    if work:
        yield work


def _notice(
    version: Permit, begins_on: date, ends_on: date, days: Sequence[PlacedDay], evidence: Sequence[str]
) -> Duty:
    before = version.reporting.notice_days_before or 0
    span = f"of {begins_on}" if ends_on == begins_on else f"from {begins_on} to {ends_on}"
    return Duty(
        duty_id=f"notice-{version.number}-{begins_on}",
        kind=DutyKind.NOTICE,
        permit=version.number,
        what=f"Notice {before} days before the work {span}",
        due_on=begins_on - timedelta(before),
        state=DutyState.OPEN,
        cite=version.reporting.notice_cite,
        evidence=(f"It goes to {version.authority}.", *evidence),
        from_day=begins_on,
        to_day=ends_on,
        placements=tuple(identifier for each in days for identifier in each.placements),
    )


def _next_notice(version: Permit, on: date) -> Iterator[Duty]:
    """Say that a notice is due before the next work, on a day that nobody knows."""
    before = version.reporting.notice_days_before
    if before is None or on > version.valid_to:
        return
    yield Duty(
        duty_id=f"notice-{version.number}-next",
        kind=DutyKind.NOTICE,
        permit=version.number,
        what=f"Notice {before} days before the next work",
        due_on=None,
        state=DutyState.UNKNOWN,
        cite=version.reporting.notice_cite,
        evidence=(
            "No work to come is on record, so its day cannot be known: "
            f"leadline duties plan --permit {version.number} --from DAY --to DAY.",
        ),
    )
