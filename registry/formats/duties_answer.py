"""What a programme owes as programs read it: the same document from the command and over HTTP."""

from typing import Any

from registry.records.duty import Duties, Duty

__all__ = ["duties_answer", "duty_answer"]


def duties_answer(found: Duties) -> dict[str, Any]:
    """Give what is owed as one JSON document."""
    return {
        "on": found.on.isoformat(),
        "zone": found.zone,
        "overdue": found.overdue,
        "attention": found.want_attention,
        "duties": [duty_answer(duty) for duty in found.duties],
        "notes": list(found.notes),
    }


def duty_answer(duty: Duty) -> dict[str, Any]:
    """Give one duty."""
    return {
        "id": duty.duty_id,
        "kind": duty.kind.value,
        "permit": duty.permit,
        "what": duty.what,
        "due": duty.due_on.isoformat() if duty.due_on else None,
        "state": duty.state.value,
        "days_late": duty.days_late,
        "changed_since": duty.changed_since,
        "sent": duty.sent_on.isoformat() if duty.sent_on else None,
        "times_sent": duty.times_sent,
        "cite": duty.cite,
        "evidence": list(duty.evidence),
        "placements": list(duty.placements),
    }
