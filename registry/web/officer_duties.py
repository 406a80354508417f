"""What is owed, and what has changed: duties with their drafts, and the changes since a day."""

from typing import Any
from zoneinfo import ZoneInfo

from fastapi import APIRouter, Request
from fastapi.responses import Response

from registry.actions.compare_audits import compare_audits
from registry.actions.list_duties import list_duties
from registry.desk.audit_dates import AuditDates
from registry.documents.audit_words import changes_words
from registry.errors import AccessDeniedError, NotFoundError, RequestError
from registry.records.duty import Duty, DutyKind, DutyState
from registry.web.officer_audit import asked_of, audit_of, reading_as_of
from registry.web.officer_page import Officer, download, officer_page, pager
from registry.web.opened import settings_of

__all__ = ["router"]

router = APIRouter(include_in_schema=False)
_DUTIES = 60
#: Of what a paper can be drafted that names nobody who died: the officer is no reader of the others.
_DRAFTED = frozenset((DutyKind.NOTICE, DutyKind.AS_BUILT))
#: Class of the style of a state, and its shape: it reads without colour.
_STYLES = {
    DutyState.OVERDUE: "bad",
    DutyState.DUE_SOON: "unsure",
    DutyState.UNKNOWN: "unsure",
    DutyState.OPEN: "none",
    DutyState.DONE: "good",
    DutyState.NOT_APPLICABLE: "none",
}


@router.get("/officer/duties")
def duties_page(request: Request, caller: Officer) -> Response:
    """List what is owed, overdue first."""
    del caller
    asked = asked_of(request)
    permit = request.query_params.get("permit") or None
    with reading_as_of(request, asked.dates) as register:
        zone = ZoneInfo(register.programme().zone)
        then = asked.dates.on or asked.dates.known or settings_of(request).clock.now()
        found = list_duties(register, on=then.astimezone(zone).date(), permit=permit)
    everything = bool(request.query_params.get("all"))
    told = [duty for duty in found.duties if everything or duty.state is not DutyState.NOT_APPLICABLE]
    at = pager(request, len(told), _DUTIES)
    return officer_page(
        request,
        "officer_duties.html",
        asked,
        on=found.on.isoformat(),
        zone=found.zone,
        duties=[_duty(duty) for duty in told[at.first : at.end]],
        left_out=len(found.duties) - len(told),
        notes=found.notes,
        permit=permit or "",
        everything=everything,
        at=at,
    )


def _duty(duty: Duty) -> dict[str, Any]:
    return {
        "id": duty.duty_id,
        "due": duty.due_on.isoformat() if duty.due_on else "no day yet",
        "what": duty.what,
        "kind": duty.kind.words,
        "permit": duty.permit,
        "state": duty.state_words,
        "style": _STYLES[duty.state],
        "cite": duty.cite,
        "evidence": duty.evidence,
        "drafted": duty.kind in _DRAFTED and duty.due_on is not None,
    }


@router.get("/officer/duties/draft.zip")
def draft_files(request: Request, caller: Officer) -> Response:
    """Give the draft of a notice or report: PDF and CSV."""
    from registry.desk.archive import archive_of
    from registry.desk.duty_files import draft_of, duty_files

    del caller
    asked = asked_of(request)
    duty_id = request.query_params.get("id", "")
    if not duty_id:
        raise RequestError("No duty is named.", remedy="Choose one of the list of duties.")
    with reading_as_of(request, asked.dates) as register:
        draft = draft_of(register, duty_id)
        if draft.private:
            what = (
                f"The draft of {duty_id} names a person who died; the office alone draws it up and sends it."
            )
            raise AccessDeniedError(what, remedy="Ask the programme's office for it.")
        files = duty_files(draft)
    return download(request, archive_of(files), f"{duty_id}.zip", "application/zip")


@router.get("/officer/changes")
def changes_page(request: Request, caller: Officer) -> Response:
    """Tell what has changed since a day: entries, and verdicts that are others now."""
    del caller
    asked = asked_of(request)
    since = asked.dates.since
    summary = audit_of(request, asked.dates)
    changes = None
    if since is not None:
        try:
            before = audit_of(request, AuditDates(known=since, on=asked.dates.on))
        except NotFoundError:
            # The registry had not begun.
            before = None
        with reading_as_of(request, asked.dates) as register:
            changes = changes_words(summary, compare_audits(register, before, summary, since=since))
    return officer_page(request, "officer_changes.html", asked, summary, changes=changes)
