"""One permit: what it says now and said before, on the map; amended and transferred."""

from itertools import pairwise
from typing import Annotated

from fastapi import APIRouter, Depends, Request
from fastapi.responses import RedirectResponse, Response

from registry.actions.amend_permit import Amended, amend_permit, transfer_permit
from registry.actions.permit_since import permit_version
from registry.errors import LeadlineError
from registry.formats.permit_file import read_permit_file
from registry.formats.written_instant import read_day
from registry.formats.written_position import read_position
from registry.records.permit_changes import holder_changes, permit_changes
from registry.web.drawn_files import DrawnFiles, drawn_files
from registry.web.faults import status_of
from registry.web.forms import Form, posted
from registry.web.identity import Caller, needs
from registry.web.officer_paths import text_of
from registry.web.opened import reading, writing
from registry.web.pages import page
from registry.web.permit_shown import path_of, said_by, toml_of

__all__ = ["router"]

router = APIRouter(include_in_schema=False)
Office = Annotated[Caller, Depends(needs("office"))]
Posted = Annotated[Form, Depends(posted)]


@router.post("/office/permits/{segment}/amendment")
def look_at_amendment(request: Request, segment: str, caller: Office, form: Posted) -> Response:
    """Show what an amendment would change, before it is recorded."""
    number = text_of(segment)
    try:
        files = drawn_files(request, form, "file", "areas")
        amended = _amended(request, number, caller, form, files, write=False)
        with reading(request) as register, register.reading():
            targets = [target for target in register.targets() if target.permit == number]
            said = said_by(amended.after, register.keep_outs(), targets, register.baselines())
    except LeadlineError as error:
        return _page(request, number, fault=error)
    return page(
        request,
        "office_permit_amended.html",
        path=path_of(number),
        files=files,
        amended=amended,
        said=said,
        seen=form.text("seen"),
        effective=form.text("effective"),
        why=form.text("why"),
    )


@router.post("/office/permits/{segment}/amend")
def amend(request: Request, segment: str, caller: Office, form: Posted) -> Response:
    """Record the amendment that was looked at."""
    number = text_of(segment)
    try:
        _amended(request, number, caller, form, drawn_files(request, form), write=True)
    except LeadlineError as error:
        return _page(request, number, fault=error)
    return RedirectResponse(path_of(number), status_code=303)


@router.post("/office/permits/{segment}/transfer")
def transfer(request: Request, segment: str, caller: Office, form: Posted) -> Response:
    """Record that a permit has another holder from a day on."""
    number = text_of(segment)
    try:
        with writing(request) as register:
            transfer_permit(
                register,
                number,
                holder=form.text("holder"),
                effective=read_day(form.needed("effective", "The first day")),
                why=form.text("why"),
                actor=caller.name,
                seen=form.text("seen"),
            )
    except LeadlineError as error:
        return _page(request, number, fault=error)
    return RedirectResponse(path_of(number), status_code=303)


@router.get("/office/permits/{segment}")
def permit_page(request: Request, segment: str, caller: Office) -> Response:
    """Show a permit."""
    del caller
    return _page(request, text_of(segment))


def _amended(
    request: Request, number: str, caller: Caller, form: Form, files: DrawnFiles, *, write: bool
) -> Amended:
    toml = toml_of(files)
    draft = read_permit_file(files.content(toml))
    effective = read_day(form.needed("effective", "The first day"))
    with (writing if write else reading)(request) as register:
        return amend_permit(
            register,
            number,
            draft,
            effective=effective,
            why=form.text("why"),
            read_position=read_position,
            read_shapes=files.read_shapes(toml),
            actor=caller.name,
            seen=form.text("seen"),
            write=write,
        )


def _page(request: Request, number: str, fault: LeadlineError | None = None) -> Response:
    with reading(request) as register, register.reading():
        today = register.today()
        permit, versions = register.permit(number), register.permit_versions(number)
        targets = [target for target in register.targets() if target.permit == number]
        placed = register.placement_count(permit=number)
        said = said_by(permit, register.keep_outs(), targets, register.baselines())
    changes = [(), *(permit_changes(before, after) for before, after in pairwise(versions))]
    return page(
        request,
        "office_permit.html",
        status_of(fault) if fault else 200,
        path=path_of(number),
        map_path=path_of(number).replace("/office/permits/", "/office/map/permit/"),
        said=said,
        permit=permit,
        standing=permit.standing_on(today),
        today=today,
        versions=list(zip(versions, changes, strict=True)),
        transfers=holder_changes(versions),
        targets=targets,
        placed=placed,
        seen=permit_version(versions),
        fault=fault,
    )
