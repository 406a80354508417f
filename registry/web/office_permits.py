"""The permits: which there are and what became of each; and a new one, looked at before it is added."""

from typing import Annotated

from fastapi import APIRouter, Depends, Request
from fastapi.responses import RedirectResponse, Response

from registry.actions.add_permit import add_permit
from registry.errors import LeadlineError, RequestError
from registry.formats.permit_file import read_permit_file
from registry.formats.written_position import read_position
from registry.records.permit_changes import holder_changes
from registry.web import office_map, office_permit, office_shapes
from registry.web.drawn_files import DrawnFiles, drawn_files
from registry.web.faults import status_of
from registry.web.forms import Form, posted
from registry.web.identity import Caller, needs
from registry.web.opened import reading, writing
from registry.web.pages import page
from registry.web.permit_shown import path_of as permit_path
from registry.web.permit_shown import said_by, toml_of

__all__ = ["router"]

router = APIRouter(include_in_schema=False)
Office = Annotated[Caller, Depends(needs("office"))]
Posted = Annotated[Form, Depends(posted)]


@router.get("/office/permits")
def permits_page(request: Request, caller: Office) -> Response:
    """List the permits, and show where to add one."""
    del caller
    return _list(request)


@router.post("/office/permits")
def look_at_new(request: Request, caller: Office, form: Posted) -> Response:
    """Show what the file of a permit says, before it is added."""
    try:
        files = drawn_files(request, form, "file", "areas")
        toml = toml_of(files)
        with reading(request) as register:
            permit = add_permit(
                register,
                read_permit_file(files.content(toml)),
                read_position=read_position,
                read_shapes=files.read_shapes(toml),
                actor=caller.name,
                write=False,
            )
            keep_outs, baselines = register.keep_outs(), register.baselines()
    except LeadlineError as error:
        return _list(request, fault=error)
    return page(
        request,
        "office_permit_new.html",
        files=files,
        said=said_by(permit, keep_outs, (), baselines),
    )


@router.post("/office/permits/add")
def add(request: Request, caller: Office, form: Posted) -> Response:
    """Add the permit that was looked at."""
    files: DrawnFiles = drawn_files(request, form)
    if not files.names:
        raise RequestError("No file was sent.", remedy="Begin with the file of the permit.")
    toml = toml_of(files)
    with writing(request) as register:
        permit = add_permit(
            register,
            read_permit_file(files.content(toml)),
            read_position=read_position,
            read_shapes=files.read_shapes(toml),
            actor=caller.name,
        )
    return RedirectResponse(permit_path(permit.number), status_code=303)


def _list(request: Request, fault: LeadlineError | None = None) -> Response:
    with reading(request) as register, register.reading():
        today = register.today()
        permits = [(permit, register.permit_versions(permit.number)) for permit in register.permits()]
    return page(
        request,
        "office_permits.html",
        status_of(fault) if fault else 200,
        permits=[
            {
                "path": permit_path(permit.number),
                "permit": permit,
                "standing": permit.standing_on(today),
                "versions": len(versions),
                "transfers": holder_changes(versions),
                "coming": [v.begins_on for v in versions if v.begins_on > today and len(versions) > 1],
            }
            for permit, versions in permits
        ],
        fault=fault,
    )


for part in (office_map, office_shapes, office_permit):
    router.include_router(part.router)
