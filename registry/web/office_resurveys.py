"""Modules observed again: which there are, one more, and whether it moved."""

import hashlib
from collections.abc import Mapping
from typing import Annotated, Any

from fastapi import APIRouter, Depends, Request
from fastapi.responses import RedirectResponse, Response

from registry.actions.record_resurvey import ASSUMPTION, Resurveyed, record_resurvey
from registry.documents.movement_words import movement_sentence
from registry.errors import LeadlineError
from registry.formats.check_survey import read_time
from registry.formats.written_position import read_position_in
from registry.formats.written_quantity import read_length
from registry.measure.movement import Motion
from registry.measure.receiver_class import CLASSES
from registry.ports import Register
from registry.records.entry import canonical_json
from registry.records.log_row import LogRow
from registry.records.resurvey import resurvey_from_body
from registry.web import office_survey
from registry.web.faults import status_of
from registry.web.forms import Form, posted
from registry.web.frame_choice import choice_of, frame_choices
from registry.web.identity import Caller, needs
from registry.web.opened import reading, writing
from registry.web.pages import page

__all__ = ["router"]

router = APIRouter(include_in_schema=False)
Office = Annotated[Caller, Depends(needs("office"))]
Posted = Annotated[Form, Depends(posted)]
ROWS_A_PAGE = 50
#: What is typed of one module that was observed again.
_TYPED = ("tag", "at", "when", "frame", "other_frame", "r95", "receiver", "crew", "vessel", "note")


@router.get("/office/resurveys")
def resurveys_page(request: Request, caller: Office) -> Response:
    """List what was observed again, and show where to record more."""
    del caller
    return _list(request)


@router.post("/office/resurveys")
def look_at_one(request: Request, caller: Office, form: Posted) -> Response:
    """Tell whether a module moved, before the observation is recorded."""
    typed = {name: form.text(name) for name in _TYPED}
    try:
        with reading(request) as register:
            done = _recorded(register, form, typed, caller, write=False)
    except LeadlineError as error:
        return _list(request, fault=error, typed=typed)
    return page(
        request,
        "office_resurvey_new.html",
        done=done,
        sentence=movement_sentence(done.resurvey),
        typed=typed,
        assumption=ASSUMPTION,
    )


@router.post("/office/resurveys/record")
def record(request: Request, caller: Office, form: Posted) -> Response:
    """Record that a module was observed again; the placement stays as it is."""
    typed = {name: form.text(name) for name in _TYPED}
    try:
        with writing(request) as register:
            _recorded(register, form, typed, caller, write=True)
    except LeadlineError as error:
        return _list(request, fault=error, typed=typed)
    return RedirectResponse("/office/resurveys", status_code=303)


def _recorded(
    register: Register, form: Form, typed: Mapping[str, str], caller: Caller, *, write: bool
) -> Resurveyed:
    """Parse what was typed, and record it or only tell."""
    frame = choice_of(form.needed("frame", "The frame of the position"), typed["other_frame"])
    when = form.needed("when", "The day")
    row = LogRow(
        tag=form.needed("tag", "The tag"),
        permit="",
        placed_at=read_time(when, register.programme().zone),
        position=read_position_in(form.needed("at", "Where it was found"), frame),
        frame=frame,
        r95=read_length(typed["r95"]) if typed["r95"] else None,
        receiver=typed["receiver"],
        crew=typed["crew"],
        vessel=typed["vessel"],
        note=typed["note"],
        # Pressed twice, or by two people, the same words are one observation.
        source={"form": "resurvey", "when": when, "key": _key(typed)},
    )
    return record_resurvey(register, row, actor=caller.name, write=write)


def _key(typed: Mapping[str, str]) -> str:
    said = ["observed again", "by form", {name: text for name, text in typed.items() if text}]
    return hashlib.sha256(canonical_json(said).encode()).hexdigest()


def _list(
    request: Request, fault: LeadlineError | None = None, typed: Mapping[str, str] | None = None
) -> Response:
    with reading(request) as register, register.reading():
        found = [resurvey_from_body(body) for body in reversed(register.resurveys())]
        frames = frame_choices(register.programme().frame)
    show = request.query_params.get("show", "")
    of_kind = [each for each in found if show in {"", each.movement.verdict.name}]
    pages = max(1, -(-len(of_kind) // ROWS_A_PAGE))
    asked = request.query_params.get("page", "1")
    here = min(max(1, int(asked) if asked.isdecimal() and len(asked) < 7 else 1), pages)
    shown = of_kind[(here - 1) * ROWS_A_PAGE : here * ROWS_A_PAGE]
    counts: dict[str, Any] = {
        motion.name: sum(each.movement.verdict == motion for each in found) for motion in Motion
    }
    return page(
        request,
        "office_resurveys.html",
        status_of(fault) if fault else 200,
        rows=[(each, movement_sentence(each)) for each in shown],
        counts=counts,
        total=len(found),
        show=show if show in counts else "",
        number=here,
        pages=pages,
        frames=frames,
        receivers=[kind.name for kind in CLASSES],
        typed=typed or dict.fromkeys(_TYPED, ""),
        assumption=ASSUMPTION,
        fault=fault,
    )


router.include_router(office_survey.router)
