"""Record that a notice or report was sent: when, and about which placements."""

import re
from collections.abc import Sequence
from datetime import date
from difflib import get_close_matches

from registry.actions.list_duties import list_duties, today
from registry.actions.told_duties import standing_sendings
from registry.errors import InvalidRecordError, NotFoundError
from registry.ports import Register
from registry.records.duty import Duty, DutyKind
from registry.records.duty_entry import Sending, sending_body
from registry.records.entry import Draft

__all__ = ["find_duty", "record_sending"]


def record_sending(
    register: Register,
    duty_ids: Sequence[str],
    *,
    sent_on: date | None,
    note: str = "",
    instead: bool = False,
    actor: str,
) -> tuple[Duty, ...]:
    """
    Record one sending for each of some duties, and give them as they stand then.

    Parameters
    ----------
    register : Register
        Where they stand.
    duty_ids : sequence of str
        As the list of duties prints them; with ``*``, all that it fits and that were not sent yet.
    sent_on : datetime.date or None
        In the programme's zone; None: nothing was sent, and what was told before was a mistake.
    note : str
        To whom, under which number; a reason, where something told before is put right.
    instead : bool
        Whether this takes the place of what was told last; else it is a further sending, as of an amended
        report.
    actor : str
        Who tells it.

    Raises
    ------
    NotFoundError
        If there is no such duty, or nothing was told that could be put right.
    InvalidRecordError
        If nothing can be sent for it, the day is still to come or lies before what would be reported, or
        something is put right without a reason.
    """
    with register.writing():
        now_on = today(register)
        if sent_on is not None and sent_on > now_on:
            what = f"{sent_on} is still to come: nothing was sent then."
            raise InvalidRecordError(what, remedy="Give the day on which it left, with --sent DAY.")
        if (instead or sent_on is None) and not note.strip():
            what = "What was told before is put right without a reason."
            raise InvalidRecordError(what, remedy='Say why, with --note "...".')
        listed = list_duties(register, on=now_on).duties
        told = standing_sendings(register)
        duty_ids = tuple(dict.fromkeys(found for each in duty_ids for found in _matching(listed, each)))
        drafts = []
        for duty_id in duty_ids:
            duty = find_duty(listed, duty_id)
            _insist_sendable(duty, sent_on)
            if instead or sent_on is None:
                _insist_told(told.get(duty_id, []), duty_id)
            sending = Sending(
                duty_id=duty_id,
                kind=duty.kind,
                permit=duty.permit,
                sent_on=sent_on,
                note=note.strip(),
                covers=duty.placements if duty.kind is not DutyKind.NOTICE else (),
                instead=instead or sent_on is None,
            )
            drafts.append(Draft(kind="duty.done", actor=actor, body=sending_body(sending)))
        register.append(drafts)
        after = {duty.duty_id: duty for duty in list_duties(register, on=now_on).duties}
    return tuple(after[duty_id] for duty_id in duty_ids if duty_id in after)


def find_duty(duties: Sequence[Duty], duty_id: str) -> Duty:
    """
    Find a duty by its identifier.

    Raises
    ------
    NotFoundError
        If it is not among them; the nearest are named.
    """
    found = next((duty for duty in duties if duty.duty_id == duty_id), None)
    if found is None:
        near = get_close_matches(duty_id, [duty.duty_id for duty in duties], n=3)
        remedy = f"Did you mean: {', '.join(near)}?" if near else "List them with: leadline duties --all."
        raise NotFoundError(f"There is no duty {duty_id!r}.", remedy=remedy)
    return found


def _matching(duties: Sequence[Duty], duty_id: str) -> Sequence[str]:
    """Give an identifier as it is, or those of the unsent duties that a pattern fits."""
    if "*" not in duty_id:
        return (duty_id,)
    pattern = re.compile(".*".join(map(re.escape, duty_id.split("*"))))
    found = [
        duty.duty_id
        for duty in duties
        if pattern.fullmatch(duty.duty_id) and duty.due_on is not None and not duty.times_sent
    ]
    if not found:
        what = f"No duty that was not sent yet fits {duty_id!r}."
        raise NotFoundError(what, remedy="List them with: leadline duties.")
    return found


def _insist_sendable(duty: Duty, sent_on: date | None) -> None:
    if duty.kind is DutyKind.SEASON or (duty.due_on is None and not duty.times_sent):
        what = f"Nothing is sent for {duty.duty_id}: {duty.what}."
        raise InvalidRecordError(what, remedy=_first(duty.evidence) or "It is a reminder.")
    reports = duty.kind in (DutyKind.AS_BUILT, DutyKind.BURIAL)
    if sent_on is not None and reports and duty.from_day is not None and sent_on < duty.from_day:
        what = (
            f"{duty.duty_id} cannot have been sent on {sent_on}: it reports the placing of {duty.from_day}."
        )
        raise InvalidRecordError(
            what, remedy="Check the day; a placement with a wrong day is set right by correct."
        )


def _insist_told(told: Sequence[Sending], duty_id: str) -> None:
    if not any(each.sent_on is not None for each in told[-1:]):
        what = f"Nothing was told as sent for {duty_id}, so nothing can be put right."
        raise NotFoundError(what, remedy="Leave out --instead and --not-sent.")


def _first(evidence: Sequence[str]) -> str:
    return evidence[0] if evidence else ""
