"""Draft the paper of a duty: what the registry holds for it, in the form that its reader asks for."""

from registry.actions.area_corners import ReadPosition
from registry.actions.draft_as_built import draft_as_built
from registry.actions.draft_burial import draft_burial
from registry.actions.draft_notice import draft_notice
from registry.actions.drafting import begin_draft
from registry.actions.reporting_form import WritePosition
from registry.errors import InvalidRecordError
from registry.ports import Register
from registry.records.duty import DutyKind
from registry.records.duty_draft import DutyDraft

__all__ = ["draft_duty"]

_DRAFTS = {
    DutyKind.NOTICE: draft_notice,
    DutyKind.AS_BUILT: draft_as_built,
    DutyKind.BURIAL: draft_burial,
}


def draft_duty(
    register: Register, duty_id: str, *, read_position: ReadPosition, write_position: WritePosition
) -> DutyDraft:
    """
    Draft a notice, an as-built report or a burial-at-sea report; nothing is recorded.

    Parameters
    ----------
    register : Register
        Read from, in one state.
    duty_id : str
        As the list of duties prints it.
    read_position : callable
        Reads a corner as the permit writes it.
    write_position : callable
        Writes a position in the form asked for.

    Raises
    ------
    NotFoundError
        If there is no such duty.
    InvalidRecordError
        If no paper belongs to it: a reminder, work that nobody has planned, something that stands no longer.
    FrameError
        If the frame that the permit asks for cannot be reached.
    """
    with register.reading():
        drafting = begin_draft(register, duty_id, read_position=read_position, write_position=write_position)
        duty = drafting.duty
        draft = _DRAFTS.get(duty.kind)
        if draft is None or duty.due_on is None:
            what = f"Nothing can be drafted for {duty_id}: {duty.what}."
            remedy = duty.evidence[-1] if duty.evidence and draft is not None else "It is a reminder."
            raise InvalidRecordError(what, remedy=remedy)
        return draft(drafting)
