"""Plan work under a permit, so that its notice has a day; or call it off."""

from datetime import date

from registry.actions.told_duties import standing_works
from registry.errors import InvalidRecordError, NotFoundError
from registry.ports import Register
from registry.records.duty_entry import PlannedWork, planned_work_body
from registry.records.entry import Draft

__all__ = ["plan_work"]


def plan_work(
    register: Register,
    *,
    permit: str,
    begins_on: date,
    ends_on: date | None,
    called_off: bool = False,
    actor: str,
) -> PlannedWork:
    """
    Record the days on which the programme means to place; the last word on a first day stands.

    Parameters
    ----------
    register : Register
        Where it stands.
    permit : str
        The permit under which it works.
    begins_on, ends_on : datetime.date
        First and last day, in the programme's zone; the last may be left out of what is called off.
    called_off : bool
        Whether the work that begins on that day is called off.
    actor : str
        Who plans it.

    Raises
    ------
    NotFoundError
        If there is no such permit, or no such work to be called off.
    InvalidRecordError
        If it ends before it begins, has no end, or shares days with other planned work.
    """
    with register.writing():
        register.permit(permit)
        standing = [work for work in standing_works(register) if work.permit == permit]
        same = next((work for work in standing if work.begins_on == begins_on), None)
        if called_off:
            if same is None:
                first_days = ", ".join(str(work.begins_on) for work in standing) or "none"
                what = f"No work under {permit} is planned from {begins_on}."
                raise NotFoundError(what, remedy=f"Planned work begins on: {first_days}.")
            work = PlannedWork(permit=permit, begins_on=begins_on, ends_on=same.ends_on, called_off=True)
        elif ends_on is None:
            what = f"The work from {begins_on} has no last day."
            raise InvalidRecordError(what, remedy="Give it with --to DAY.")
        else:
            work = PlannedWork(permit=permit, begins_on=begins_on, ends_on=ends_on)
            _insist_apart(work, [each for each in standing if each is not same])
        register.append([Draft(kind="programme.declared", actor=actor, body=planned_work_body(work))])
    return work


def _insist_apart(work: PlannedWork, others: list[PlannedWork]) -> None:
    """Refuse work that shares days with other work: nobody could say which notice is meant."""
    for other in others:
        if work.begins_on <= other.ends_on and other.begins_on <= work.ends_on:
            what = f"Work from {other.begins_on} to {other.ends_on} is planned under {work.permit} already."
            off = f"leadline duties plan --permit {work.permit} --from {other.begins_on} --call-off"
            raise InvalidRecordError(what, remedy=f"Name other days, or call that off first: {off}.")
