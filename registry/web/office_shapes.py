"""Keep-outs and baselines: what is recorded, on the map; and new ones, looked at before they are added."""

from collections.abc import Sequence
from typing import Annotated, Any

from fastapi import APIRouter, Depends, Request
from fastapi.responses import RedirectResponse, Response
from markupsafe import Markup

from registry.actions.add_baselines import add_baselines
from registry.actions.add_keep_outs import add_keep_outs
from registry.documents.permit_plan import draw_shapes
from registry.errors import LeadlineError
from registry.formats.written_epoch import read_epoch
from registry.formats.written_quantity import read_length
from registry.records.baseline import Baseline
from registry.records.permit import KeepOut
from registry.web.drawn_files import DrawnFiles, drawn_files
from registry.web.faults import status_of
from registry.web.forms import Form, posted
from registry.web.frame_choice import choice_of, frame_choices
from registry.web.identity import Caller, needs
from registry.web.opened import reading, settings_of, writing
from registry.web.pages import page

__all__ = ["router"]

router = APIRouter(include_in_schema=False)
Office = Annotated[Caller, Depends(needs("office"))]
Posted = Annotated[Form, Depends(posted)]
Made = Sequence[KeepOut] | Sequence[Baseline]
#: What a form of shapes says, and is asked again on the page that shows them.
_SAID = ("what", "kind", "setback", "name", "frame", "other_frame", "epoch", "layer")


@router.get("/office/keep-outs")
def keep_outs_page(request: Request, caller: Office) -> Response:
    """List keep-outs and baselines, and show where to add some."""
    del caller
    return _list(request)


@router.post("/office/keep-outs")
def look_at_new(request: Request, caller: Office, form: Posted) -> Response:
    """Show what a file of shapes would add, before it is added."""
    try:
        files = drawn_files(request, form, "file")
        made = _added(request, caller, form, files, write=False)
    except LeadlineError as error:
        return _list(request, fault=error)
    keep_outs = [each for each in made if isinstance(each, KeepOut)]
    baselines = [each for each in made if isinstance(each, Baseline)]
    return page(
        request,
        "office_shapes_new.html",
        files=files,
        made=made,
        setback=form.text("setback"),
        said=[(name, form.text(name)) for name in _SAID],
        plan=Markup(draw_shapes(keep_outs, baselines, name="new")),
    )


@router.post("/office/keep-outs/add")
def add(request: Request, caller: Office, form: Posted) -> Response:
    """Add what was looked at."""
    try:
        _added(request, caller, form, drawn_files(request, form), write=True)
    except LeadlineError as error:
        return _list(request, fault=error)
    return RedirectResponse("/office/keep-outs", status_code=303)


def _added(request: Request, caller: Caller, form: Form, files: DrawnFiles, *, write: bool) -> Made:
    shapes, written = files.shapes(form.stated("layer"))
    frame = choice_of(form.needed("frame", "The frame"), form.text("other_frame"))
    stated: dict[str, Any] = {
        "frame": frame,
        "epoch": read_epoch(form.text("epoch")),
        "written": written,
        "at": settings_of(request).clock.now(),
        "actor": caller.name,
        "write": write,
    }
    with (writing if write else reading)(request) as register:
        if form.text("what") == "baseline":
            return add_baselines(register, shapes, name=form.needed("name", "The name"), **stated)
        kind = form.needed("kind", "The kind of the keep-out")
        setback = read_length(form.needed("setback", "The setback"))
        return add_keep_outs(register, shapes, kind=kind, setback=setback, **stated)


def _list(request: Request, fault: LeadlineError | None = None) -> Response:
    with reading(request) as register, register.reading():
        keep_outs, baselines = register.keep_outs(), register.baselines()
        frames = frame_choices(register.programme().frame)
    return page(
        request,
        "office_shapes.html",
        status_of(fault) if fault else 200,
        keep_outs=keep_outs,
        baselines=baselines,
        frames=frames,
        plan=Markup(draw_shapes(keep_outs, baselines, name="all")),
        fault=fault,
    )
