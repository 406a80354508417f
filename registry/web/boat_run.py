"""The day's run: under which permit, which modules are aboard, and how the plotter shows positions."""

import base64
import json
from dataclasses import dataclass
from typing import Annotated, Any

from fastapi import APIRouter, Depends, Request
from fastapi.responses import RedirectResponse, Response

from registry.errors import LeadlineError
from registry.records.target import Target
from registry.web.forms import Form, posted
from registry.web.frame_choice import frame_choices
from registry.web.identity import Caller, needs
from registry.web.opened import reading, settings_of
from registry.web.pages import page

__all__ = ["NOTATIONS", "Crew", "Run", "Shown", "router", "run_of", "shown_target"]

router = APIRouter(include_in_schema=False)
Crew = Annotated[Caller, Depends(needs("dive team"))]

_COOKIE = "leadline_run"
_KEPT_S = 14 * 24 * 3600
#: Modules of a run at most: more than any deck holds.
MOST_ABOARD = 60
#: Modules that are offered for ticking at most.
MOST_OFFERED = 200
NOTATIONS = {
    "ddm": "34 01.2500 N 077 20.1100 W",
    "dd": "34.02083 N 77.33517 W",
    "dms": "34 01 15.0 N 077 20 06.6 W",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Run:
    """What this tablet was told of the day; no record, and no secret."""

    permit: str = ""
    tags: tuple[str, ...] = ()
    notation: str = "ddm"
    #: Of the plotter; empty for the programme's own.
    frame: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Shown:
    """A position as the crew reads it."""

    text: str
    frame: str
    #: As the plan writes it.
    written: str = ""


def run_of(request: Request) -> Run:
    """Give what this tablet was told; nothing where its cookie is absent or unreadable."""
    try:
        told = json.loads(base64.urlsafe_b64decode(request.cookies.get(_COOKIE, "")))
        return Run(
            permit=str(told["permit"]),
            tags=tuple(map(str, told["tags"][:MOST_ABOARD])),
            notation=told["notation"] if told["notation"] in NOTATIONS else "ddm",
            frame=str(told["frame"]),
        )
    except (ValueError, KeyError, TypeError):
        return Run()


def shown_target(request: Request, target: Target, run: Run, home: str) -> Shown:
    """Give a target in the crew's notation and in the frame of its plotter."""
    from registry.actions.locate_target import locate_target
    from registry.formats.printed_notation import write_in_notation
    from registry.measure.datum import resolve

    now = settings_of(request).clock.now()
    place = locate_target(target, home=home, frame=run.frame or home, on=now)
    frame = resolve(place.frame)
    notation: Any = run.notation
    text = write_in_notation(
        place.lat_deg, place.lon_deg, notation=notation, r95_m=place.r95_m, frame=frame, say_radius=False
    )
    return Shown(text=text, frame=frame.name, written=target.written)


@router.get("/boat")
def run_page(request: Request, caller: Crew, permit: str = "") -> Response:
    """Show the modules aboard, each the way to its own page; or ask which they are."""
    del caller
    from registry.actions.list_aboard import list_aboard

    run = run_of(request)
    with reading(request) as register, register.reading():
        home = register.programme().frame
        permits = register.permits()
        chosen = permit[:200] or run.permit
        if chosen not in {each.number for each in permits}:
            chosen = permits[0].number if len(permits) == 1 else ""
        listed = list_aboard(register, chosen) if chosen else ()
        placed = set(register.placements_tagged(run.tags).tag.tolist())
    told = bool(run.tags) and run.permit == chosen
    offered = listed[:MOST_OFFERED]
    ticked = {each.tag for each in offered if (each.tag in run.tags if told else each.expected)}
    targets = {each.tag: each.target for each in listed if each.target is not None}
    cards = [(tag, targets.get(tag), tag in placed) for tag in run.tags] if told else []
    return page(
        request,
        "boat_run.html",
        permits=permits,
        chosen=chosen,
        run=run,
        cards=[
            (tag, _shown(request, target, run, home) if target else None, down) for tag, target, down in cards
        ],
        listed=offered,
        more=len(listed) - len(offered),
        ticked=ticked,
        notations=NOTATIONS,
        frames=frame_choices(home),
        home=home,
    )


@router.post("/boat/run")
def choose_run(request: Request, caller: Crew, form: Annotated[Form, Depends(posted)]) -> Response:
    """Keep on this tablet what the crew said of the day."""
    del caller
    typed = tuple(tag.strip() for tag in form.text("more").split(",") if tag.strip())
    run = Run(
        permit=form.needed("permit", "The permit"),
        tags=tuple(dict.fromkeys((*form.every("aboard"), *typed)))[:MOST_ABOARD],
        notation=form.text("notation"),
        frame=form.text("frame"),
    )
    with reading(request) as register:
        register.permit(run.permit)
        for tag in run.tags:
            register.module(tag)
    told = {"permit": run.permit, "tags": run.tags, "notation": run.notation, "frame": run.frame}
    answer = RedirectResponse("/boat", status_code=303)
    answer.set_cookie(
        _COOKIE,
        base64.urlsafe_b64encode(json.dumps(told, ensure_ascii=False).encode()).decode(),
        max_age=_KEPT_S,
        httponly=True,
        samesite="strict",
        secure=settings_of(request).secure,
        path="/boat",
    )
    return answer


def _shown(request: Request, target: Target, run: Run, home: str) -> Shown | LeadlineError:
    try:
        return shown_target(request, target, run, home)
    except LeadlineError as error:
        return error
