"""One row of a spreadsheet on its way in: why it is doubtful, and what is to become of it."""

from typing import Annotated

from fastapi import APIRouter, Depends, Request
from fastapi.responses import RedirectResponse, Response

from registry.actions.preview_intake import Outlook, Previewed, RowOutlook
from registry.actions.settle_row import ask_again, confirm_rows, leave_out_row, mend_row, row_version
from registry.errors import LeadlineError, NotFoundError, RequestError
from registry.formats.written_position import read_position
from registry.records.staged_intake import StagedIntake
from registry.web.faults import status_of
from registry.web.forms import Form, posted
from registry.web.identity import Caller, needs
from registry.web.opened import settings_of
from registry.web.pages import page
from registry.web.staged_log import changed, columns_of, previewed, staged_of, table_of

__all__ = ["router"]

router = APIRouter(include_in_schema=False)
Office = Annotated[Caller, Depends(needs("office"))]
Posted = Annotated[Form, Depends(posted)]


@router.get("/office/intake/{digest}/rows/{number}")
def row_page(request: Request, digest: str, number: int, caller: Office) -> Response:
    """Show a row with its reasons, and what can be said of it."""
    return _row_page(request, digest, number, caller)


@router.post("/office/intake/{digest}/rows/{number}")
def settle(request: Request, digest: str, number: int, caller: Office, form: Posted) -> Response:
    """Say what is to become of a row, and go on to the next that waits."""
    clock, seen = settings_of(request).clock, form.text("seen")
    before = staged_of(request, digest)
    _row_of(previewed(request, before, caller.name), number)
    mend = _mend(request, before, number, form)
    how = form.text("how")

    def settled(known: StagedIntake) -> StagedIntake:
        if how == "keep":
            return confirm_rows(known, [number], clock=clock, actor=caller.name)
        if how == "leave out":
            return leave_out_row(
                known, number, form.text("reason"), seen=seen, clock=clock, actor=caller.name
            )
        if how == "ask again":
            return ask_again(known, number, seen=seen)
        if how == "mend":
            return mend_row(known, number, mend, seen=seen, clock=clock, actor=caller.name)
        raise RequestError("Nothing was said of the row.", remedy="Choose what is to become of it.")

    try:
        after = changed(request, digest, settled)
    except LeadlineError as error:
        return _row_page(request, digest, number, caller, fault=error)
    onward = previewed(request, after, caller.name)
    here = _row_of(onward, number)
    waiting = [row.number for row in onward.waiting()]
    # A row that was mended is looked at again before the next one.
    if how == "mend" and (number in waiting or here.outlook is Outlook.REJECTED):
        following = number
    else:
        following = next((n for n in waiting if n > number), waiting[0] if waiting else 0)
    path = f"/office/intake/{digest}"
    return RedirectResponse(f"{path}/rows/{following}" if following else path, status_code=303)


@router.post("/office/intake/{digest}/settle")
def settle_all(request: Request, digest: str, caller: Office, form: Posted) -> Response:
    """Keep as they are written the rows of a page that a person has just looked at."""
    clock = settings_of(request).clock
    numbers = [int(text) for text in form.every("row") if text.isdecimal() and len(text) < 9]
    view = previewed(request, staged_of(request, digest), caller.name)
    readable = {row.number for row in view.waiting() if row.can_go_in}
    chosen = [number for number in numbers if number in readable]
    changed(request, digest, lambda known: confirm_rows(known, chosen, clock=clock, actor=caller.name))
    return RedirectResponse(f"/office/intake/{digest}?show=doubtful", status_code=303)


def _mend(request: Request, staged: StagedIntake, number: int, form: Form) -> dict[str, str]:
    """Give what was typed otherwise than the row says; a chosen reading is a position."""
    said = staged.settlements.get(number)
    mend = dict(said.mend) if said else {}
    reading = form.text("reading")
    if reading:
        return mend | {"position": reading}
    for meaning, cell in _cells(request, staged, number).items():
        typed = form.fields.get(f"cell-{meaning}")
        if not isinstance(typed, str):
            continue
        if typed.strip() != cell.strip():
            mend[meaning] = typed.strip()
        else:
            mend.pop(meaning, None)
    return mend


def _cells(request: Request, staged: StagedIntake, number: int) -> dict[str, str]:
    """Give what a row says by meaning, as the file has it; empty for a row that cannot be cut into cells."""
    table = table_of(request, staged)
    columns = columns_of(table, staged)
    for row in table.rows():
        if row.number == number and row.problem is None:
            cells = table.by_name(row)
            return {meaning: cells[name] for meaning, name in columns.by_meaning.items()}
    return {}


def _row_of(view: Previewed, number: int) -> RowOutlook:
    found = next((row for row in view.rows if row.number == number), None)
    if found is None:
        raise NotFoundError(f"The spreadsheet has no row {number}.", remedy="Choose one of its rows.")
    return found


def _row_page(
    request: Request, digest: str, number: int, caller: Caller, fault: LeadlineError | None = None
) -> Response:
    staged = staged_of(request, digest)
    view = previewed(request, staged, caller.name)
    row = _row_of(view, number)
    table = table_of(request, staged)
    columns = columns_of(table, staged)
    said = staged.settlements.get(number)
    cells = _cells(request, staged, number)
    written = dict(zip(table.header, table.written_header, strict=True))
    waiting = view.waiting()
    return page(
        request,
        "office_intake_row.html",
        status_of(fault) if fault else 200,
        staged=staged,
        row=row,
        said=said,
        seen=row_version(staged, number),
        settled=staged.is_settled(number),
        waiting=len(waiting),
        waits=row in waiting,
        readings=[(text, _readable(text)) for text in row.readings],
        cells=[
            (meaning, written[name], cells[meaning], (said.mend.get(meaning) if said else None))
            for meaning, name in columns.by_meaning.items()
            if meaning in cells
        ],
        beside=[
            (meaning, text) for meaning, text in (said.mend if said else {}).items() if meaning not in cells
        ],
        fault=fault,
    )


def _readable(text: str) -> bool:
    """Tell whether a reading can be taken as it stands; some only say what the source must tell."""
    try:
        read_position(text)
    except LeadlineError:
        return False
    return True
