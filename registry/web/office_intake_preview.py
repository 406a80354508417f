"""What would become of each row of a spreadsheet; and the taking in itself."""

from typing import Annotated

from fastapi import APIRouter, Depends, Request
from fastapi.responses import RedirectResponse, Response

from registry.actions.intake_log import earlier_intakes, intake_once
from registry.actions.preview_intake import Outlook
from registry.errors import LeadlineError, NotFoundError
from registry.formats.csv_table import write_reject_table
from registry.web.faults import status_of
from registry.web.forms import Form, posted
from registry.web.identity import Caller, needs
from registry.web.opened import reading, writing
from registry.web.pages import page
from registry.web.staged_log import decoded_of, previewed, read_rows, source_of, staged_of, table_of

__all__ = ["router"]

router = APIRouter(include_in_schema=False)
Office = Annotated[Caller, Depends(needs("office"))]
Posted = Annotated[Form, Depends(posted)]
ROWS_A_PAGE = 50
_SHOWN = {
    "doubtful": Outlook.DOUBTFUL,
    "accepted": Outlook.ACCEPTED,
    "rejected": Outlook.REJECTED,
    "before": Outlook.REPEATED,
}


@router.get("/office/intake/{digest}")
def preview_page(request: Request, digest: str, caller: Office) -> Response:
    """Show what would become of the rows, page by page."""
    staged = staged_of(request, digest)
    if staged.read_as is None:
        return RedirectResponse(f"/office/intake/{digest}/columns", status_code=303)
    return _preview(request, digest, caller)


@router.post("/office/intake/{digest}/take-in")
def take_in(request: Request, digest: str, caller: Office, form: Posted) -> Response:
    """Take in what was previewed, if nobody took it in and nothing of it changed meanwhile."""
    staged = staged_of(request, digest)
    try:
        previewed(request, staged, caller.name).refuse_unsettled(seen=form.text("seen"))
        source = source_of(staged, decoded_of(request, staged).encoding)
        stated = staged.read_as
        with writing(request) as register:
            intake_once(
                register,
                (read for _, read in read_rows(request, staged)),
                source=source
                | (
                    {"stated": {"frame": stated.frame, "permit": stated.permit, "zone": stated.zone}}
                    if stated
                    else {}
                ),
                actor=caller.name,
                seen=form.every("intake"),
            )
    except LeadlineError as error:
        return _preview(request, digest, caller, fault=error)
    return RedirectResponse(f"/office/intake/{digest}/taken", status_code=303)


@router.get("/office/intake/{digest}/taken")
def taken_page(request: Request, digest: str, caller: Office) -> Response:
    """Show what became of the rows when the file was taken in last."""
    del caller
    staged = staged_of(request, digest)
    with reading(request) as register:
        entries = earlier_intakes(register, digest)
    if not entries:
        raise NotFoundError(
            f"{staged.file} was not taken in yet.", remedy="Look at its rows, and take it in."
        )
    last = entries[-1]
    return page(
        request, "office_intake_taken.html", staged=staged, entry=last, told=last.content(), many=len(entries)
    )


@router.get("/office/intake/{digest}/rejected.csv")
def rejected_file(request: Request, digest: str, caller: Office) -> Response:
    """Give the rows that were rejected when the file was taken in last, with the reasons, to be mended."""
    del caller
    staged = staged_of(request, digest)
    with reading(request) as register:
        entries = earlier_intakes(register, digest)
    if not entries:
        raise NotFoundError(
            f"{staged.file} was not taken in yet.", remedy="Look at its rows, and take it in."
        )
    reasons = {each["row"]: each["reason"] for each in entries[-1].content()["rejected"]}
    table = table_of(request, staged)
    rows = [(row, reasons[row.number]) for row in table.rows() if row.number in reasons]
    return Response(
        write_reject_table(table, rows).encode(),
        media_type="text/csv; charset=utf-8",
        headers={"content-disposition": f'attachment; filename="rejected-{digest[:8]}.csv"'},
    )


def _preview(request: Request, digest: str, caller: Caller, fault: LeadlineError | None = None) -> Response:
    staged = staged_of(request, digest)
    try:
        view = previewed(request, staged, caller.name)
    except LeadlineError as error:
        # What was said of the columns cannot be: it is said again.
        if fault is None and staged.read_as is not None:
            return page(
                request, "fault.html", status_of(error), what=error.what, remedy=error.remedy, readings=()
            )
        raise
    with reading(request) as register:
        intakes = earlier_intakes(register, digest)
    of = {name: view.of(outlook) for name, outlook in _SHOWN.items()}
    show = request.query_params.get("show", "")
    if show not in {*of, "all"}:
        show = "doubtful" if of["doubtful"] else "all"
    rows = view.rows if show == "all" else of[show]
    asked = request.query_params.get("page", "1")
    pages = max(1, -(-len(rows) // ROWS_A_PAGE))
    here = min(max(1, int(asked) if asked.isdecimal() and len(asked) < 7 else 1), pages)
    waiting = {row.number for row in of["doubtful"]}
    return page(
        request,
        "office_intake_preview.html",
        status_of(fault) if fault else 200,
        staged=staged,
        counts={"all": len(view.rows), **{name: len(found) for name, found in of.items()}},
        show=show,
        rows=rows[(here - 1) * ROWS_A_PAGE : here * ROWS_A_PAGE],
        waiting=waiting,
        number=here,
        pages=pages,
        nothing_new=not of["accepted"] and not of["doubtful"],
        intakes=[(entry.reference, entry.actor, entry.time, entry.content()) for entry in intakes],
        note=decoded_of(request, staged).note,
        fault=fault,
    )
