"""What the programme told of its duties, and how a duty stands by it on a day."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date

from registry.ports import Register
from registry.records.duty import Duty, DutyKind, state_of
from registry.records.duty_entry import (
    Declaration,
    PlannedWork,
    Sending,
    declaration_from_body,
    planned_work_from_body,
    sending_from_body,
)

__all__ = [
    "PlacedDay",
    "Told",
    "declarations_of",
    "placed_words",
    "sent_words",
    "standing_sendings",
    "standing_works",
    "told_by",
]

#: Papers that report placements, so that a placement changed since is something to tell.
_REPORTS = (DutyKind.AS_BUILT, DutyKind.BURIAL)


@dataclass(frozen=True, slots=True, kw_only=True)
class PlacedDay:
    """What was placed under one permit on one day."""

    day: date
    placements: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Told:
    """All that the programme told, as far as it counts on a day."""

    on: date
    #: How many days ahead a duty of each kind counts as due soon.
    soon: Mapping[DutyKind, int]
    #: By duty, in the order in which they were told; none was sent after the day.
    sendings: Mapping[str, tuple[Sending, ...]]
    #: In order of their first day.
    works: tuple[PlannedWork, ...]
    #: By permit; under the empty name, that for all other permits.
    declared: Mapping[str, Declaration]

    def declaration(self, permit: str) -> Declaration | None:
        """Give the declaration that holds for a permit, None where nothing was declared."""
        return self.declared.get(permit, self.declared.get(""))

    def standing(self, owed: Duty, sent: Sequence[Sending] | None = None) -> Duty:
        """
        Judge a duty whose day is known: is it done, how late, and did what it reports change since.

        Parameters
        ----------
        owed : Duty
            With the day it is due, and the placements behind it.
        sent : sequence of Sending, optional
            What was sent for it; by default what was told under its own identifier.
        """
        assert owed.due_on is not None
        sent = self.sendings.get(owed.duty_id, ()) if sent is None else sent
        days = [each.sent_on for each in sent if each.sent_on is not None]
        first = min(days, default=None)
        state, late = state_of(owed.due_on, on=self.on, soon_days=self.soon[owed.kind], sent_on=first)
        evidence = [*owed.evidence, *(sent_words(each) for each in sent)]
        changed = bool(sent) and owed.kind in _REPORTS and set(sent[-1].covers) != set(owed.placements)
        if changed:
            evidence.append(_changed_words(sent[-1].covers, owed.placements))
        return replace(
            owed,
            state=state,
            days_late=late,
            sent_on=first,
            times_sent=len(sent),
            changed_since=changed,
            evidence=tuple(evidence),
        )


def told_by(register: Register, *, on: date, soon: Mapping[DutyKind, int]) -> Told:
    """Gather all that the programme told, as far as it counts on a day."""
    sendings = {
        duty_id: tuple(each for each in those if each.sent_on is not None and each.sent_on <= on)
        for duty_id, those in standing_sendings(register).items()
    }
    return Told(
        on=on,
        soon=soon,
        sendings={duty_id: those for duty_id, those in sendings.items() if those},
        works=standing_works(register),
        declared=declarations_of(register),
    )


def standing_sendings(register: Register) -> dict[str, list[Sending]]:
    """Give the sendings that stand, by duty and in the order in which they were told."""
    found: dict[str, list[Sending]] = {}
    for body in register.duties_done():
        sending = sending_from_body(body)
        those = found.setdefault(sending.duty_id, [])
        if sending.instead and those:
            those.pop()
        those.append(sending)
    return found


def declarations_of(register: Register) -> dict[str, Declaration]:
    """Give the declaration that stands for each permit; under the empty name, that for all others."""
    bodies = (body for body in register.declarations() if body["about"] == "burial report")
    return {made.permit: made for made in map(declaration_from_body, bodies)}


def standing_works(register: Register) -> tuple[PlannedWork, ...]:
    """Give the work that is planned, by first day; the last word on a permit and a first day stands."""
    bodies = (body for body in register.declarations() if body["about"] == "work")
    latest = {(work.permit, work.begins_on): work for work in map(planned_work_from_body, bodies)}
    return tuple(sorted((w for w in latest.values() if not w.called_off), key=lambda w: w.begins_on))


def sent_words(sending: Sending) -> str:
    """Say when something was sent, and who told so."""
    note = f": {sending.note}" if sending.note else ""
    return f"Sent on {sending.sent_on}{note} (told by {sending.told})."


def placed_words(days: Sequence[PlacedDay]) -> tuple[str, ...]:
    """Say how much was placed, and when; nothing where nothing was."""
    if not days:
        return ()
    count = sum(len(each.placements) for each in days)
    span = f"on {days[0].day}"
    if len(days) > 1:
        span = f"on {len(days)} days from {days[0].day} to {days[-1].day}"
    return (f"{count} placement{'' if count == 1 else 's'} {span}.",)


def _changed_words(covered: Sequence[str], stand: Sequence[str]) -> str:
    new, gone = len(set(stand) - set(covered)), len(set(covered) - set(stand))
    added = f"{new} placement{' was' if new == 1 else 's were'} added or corrected"
    lost = f"{gone} no longer stand{'s' if gone == 1 else ''} as reported"
    return f"Since it was told as sent, {added} and {lost}: ask whether an amended paper is wanted."
