"""Days on which a permit closes: its seasons and its end. They are reminders; only a renewal can be sent."""

from collections.abc import Iterator, Sequence
from dataclasses import replace

from registry.actions.told_duties import Told
from registry.records.duty import Duty, DutyKind, DutyState
from registry.records.permit import Permit, in_force_on

__all__ = ["owed_expiry"]


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
