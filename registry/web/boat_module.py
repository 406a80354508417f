"""One module on its own large page: where it is to go, the check before the drop, the record after it."""

import secrets
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Annotated, Any
from urllib.parse import quote

from fastapi import APIRouter, Depends, Request
from fastapi.responses import RedirectResponse, Response
from markupsafe import Markup

from registry.errors import LeadlineError, NotFoundError
from registry.measure.receiver_class import CLASSES
from registry.web.boat_entry import DEPTH_WORDS, as_keyed, drop_row
from registry.web.boat_record import record_entry
from registry.web.boat_run import Crew, run_of, shown_target
from registry.web.faults import status_of
from registry.web.forms import Form, posted
from registry.web.frame_choice import frame_choices
from registry.web.opened import reading, settings_of
from registry.web.pages import page

__all__ = ["router"]

router = APIRouter(include_in_schema=False)
Posted = Annotated[Form, Depends(posted)]


@dataclass(frozen=True, slots=True, kw_only=True)
class Told:
    """What a check said, as its page shows it."""

    light: str
    advised: Any
    order: str
    place: str
    plan: Markup


@router.get("/boat/{tag}")
def module_page(request: Request, caller: Crew, tag: str) -> Response:
    """Show the page of a module."""
    del caller
    return _page(request, tag, {})


@router.post("/boat/{tag}/check")
def check(request: Request, caller: Crew, tag: str, form: Posted) -> Response:
    """Advise before the drop; nothing is written."""
    del caller
    from registry.actions.advise_drop import advise_drop

    said = as_keyed(form)
    now = settings_of(request).clock.now()
    try:
        row = drop_row(request, said, tag=tag, placed_at=now, source={})
        with reading(request) as register, register.reading():
            module = register.module(tag)
            advised = advise_drop(register, row, type_id=module.type_id, tag=tag)
            told = _told(register, advised, row.permit, tag)
    except LeadlineError as error:
        return _page(request, tag, said, fault=error)
    return _page(request, tag, said, told=told)


@router.post("/boat/{tag}")
def record(request: Request, caller: Crew, tag: str, form: Posted) -> Response:
    """Record the drop, where the browser runs no script; else the entry comes to ``/boat/entries``."""
    try:
        drop = record_entry(request, form, tag, actor=caller.name)
    except LeadlineError as error:
        return _page(request, tag, as_keyed(form), fault=error)
    return RedirectResponse(f"/boat/{quote(tag)}/recorded/{drop.placement_id}", status_code=303)


@router.get("/boat/{tag}/recorded/{placement_id}")
def recorded_page(request: Request, caller: Crew, tag: str, placement_id: str) -> Response:
    """Show what was recorded, with the verdict of that moment."""
    del caller
    from registry.actions.record_drop import find_drop

    with reading(request) as register:
        drop = find_drop(register, placement_id)
    if drop.tag != tag:
        raise NotFoundError(f"{placement_id} is no placement of {tag}.", remedy="Begin at the day's run.")
    return page(request, "boat_recorded.html", drop=drop, photo=drop.body["source"].get("photo"))


def _told(register: Any, advised: Any, permit: str, tag: str) -> Told:
    from registry.documents.drop_plan import PlanMark, draw_drop
    from registry.formats.printed_notation import write_in_notation
    from registry.measure.datum import resolve
    from registry.measure.decision import Verdict
    from registry.rules.wording import move_text

    advice, hook = advised.advice, advised.settled.home.position
    target = next((t for t in register.targets() if t.tag == tag and t.permit == permit), None)
    plan = draw_drop(
        hook,
        neighbours=[
            PlanMark(
                name=near.tag,
                distance_m=near.distance_m,
                bearing_deg=near.bearing_deg,
                radius_m=near.base_radius_m,
            )
            for near in advice.neighbours
        ],
        move=advice.move,
        target=target,
        areas=register.permit(permit).areas,
    )
    lights = {Verdict.CONFORMING: "green", Verdict.NONCONFORMING: "red"}
    frame = resolve(hook.frame)
    place = write_in_notation(
        hook.lat_deg, hook.lon_deg, notation="ddm", r95_m=hook.r95_m, frame=frame, say_radius=False
    )
    return Told(
        light=lights.get(advice.verdict, "amber"),
        advised=advised,
        order=move_text(advice.move) if advice.move else "",
        place=f"{place} in {frame.name}",
        plan=Markup(plan),
    )


def _page(
    request: Request,
    tag: str,
    said: Mapping[str, str],
    *,
    told: Told | None = None,
    fault: LeadlineError | None = None,
) -> Response:
    run, settings = run_of(request), settings_of(request)
    with reading(request) as register, register.reading():
        programme, permits = register.programme(), register.permits()
        module = register.module(tag)
        module_type = register.module_type(module.type_id)
        placed = register.placement_ids(tag)
        targets = [target for target in register.targets() if target.tag == tag]
    numbers = {permit.number for permit in permits}
    chosen = said.get("permit") or (run.permit if run.permit in numbers else "")
    target = next((each for each in targets if each.permit == chosen), None)
    place: Any = None
    if target is not None:
        try:
            place = shown_target(request, target, run, programme.frame)
        except LeadlineError as error:
            place = error
    at = run.tags.index(tag) if tag in run.tags else -1
    return page(
        request,
        "boat_module.html",
        status_of(fault) if fault is not None else 200,
        module=module,
        module_type=module_type,
        placed=placed,
        target=place,
        permits=permits,
        chosen=chosen,
        said=said,
        told=told,
        fault=fault,
        entry=secrets.token_hex(16),
        live=settings.live,
        frames=frame_choices(programme.frame),
        classes=CLASSES,
        depths=DEPTH_WORDS,
        zone=programme.zone,
        now=settings.clock.now(),
        after=run.tags[at + 1] if 0 <= at < len(run.tags) - 1 else "",
    )
