"""Placements set right in the office: corrected by a new entry, or withdrawn; what stood is kept."""

import math
from typing import Annotated

from fastapi import APIRouter, Depends, Request
from fastapi.responses import RedirectResponse, Response

from registry.errors import LeadlineError, NotFoundError, RequestError
from registry.records.placement import Placement
from registry.web.faults import status_of
from registry.web.forms import Form, posted
from registry.web.identity import Caller, needs
from registry.web.office_addresses import module_address
from registry.web.opened import reading, writing
from registry.web.pages import page

__all__ = ["router"]

router = APIRouter(include_in_schema=False)
Office = Annotated[Caller, Depends(needs("office"))]
Posted = Annotated[Form, Depends(posted)]

#: What a log line says, under the names of ``formats/log_entry``, beside tag, permit and time.
_SAID = ("text", "frame", "r95", "receiver", "depth", "depth_u95", "tide", "crew", "vessel", "note")
_FIELDS = ("tag", "permit", "when", *_SAID, "reason")


@router.get("/office/placement")
def placement_page(request: Request, caller: Office, placement: str) -> Response:
    """Show the form that corrects a placement, filled with what was logged, and the one that withdraws it."""
    del caller
    return _form(request, placement)


@router.post("/office/placement/correct")
def correct(request: Request, caller: Office, form: Posted) -> Response:
    """Supersede a placement with what is true."""
    from registry.actions.log_placement import correct_placement
    from registry.formats.log_entry import nothing_assumed, read_log_entry
    from registry.formats.written_instant import read_instant

    placement = form.needed("placement", "The placement")
    try:
        with writing(request) as register:
            row = read_log_entry(
                {name: form.stated(name) for name in _SAID},
                tag=form.needed("tag", "The tag"),
                permit=form.needed("permit", "The permit"),
                placed_at=read_instant(form.needed("when", "The time"), register.programme().zone),
                source={"form": "office", "when": form.text("when")},
            )
            logged = correct_placement(
                register, placement, nothing_assumed(row), reason=form.text("reason"), actor=caller.name
            )
    except RequestError as fault:
        return _form(request, placement, fault, {name: form.text(name) for name in _FIELDS})
    return RedirectResponse(module_address(logged.placement.tag), status_code=303)


@router.post("/office/placement/withdraw")
def withdraw(request: Request, caller: Office, form: Posted) -> Response:
    """Withdraw a placement that never was."""
    from registry.actions.withdraw_placement import withdraw_placement

    placement = form.needed("placement", "The placement")
    with writing(request) as register:
        withdrawn = withdraw_placement(
            register, placement, reason=form.needed("reason", "The reason"), actor=caller.name
        )
    return RedirectResponse(module_address(withdrawn.tag), status_code=303)


def _form(
    request: Request,
    placement_id: str,
    fault: LeadlineError | None = None,
    typed: dict[str, str] | None = None,
) -> Response:
    with reading(request) as register:
        placement = register.placement(placement_id)
        if placement_id not in register.placement_ids(placement.tag):
            what = f"Placement {placement_id} of {placement.tag} does not stand any more."
            raise NotFoundError(what, remedy="Open the page of the module: it names what stands.")
        permits = [each.number for each in register.permits()]
    return page(
        request,
        "office_placement.html",
        status_of(fault) if fault else 200,
        placement_id=placement_id,
        placement=placement,
        permits=permits,
        said=_logged(placement) | (typed or {}),
        fault=fault,
    )


def _logged(placement: Placement) -> dict[str, str]:
    """Give what was logged, as it can be typed again; the depth as it was derived, with all its doubt."""
    depth, u95 = placement.charted_depth_m, placement.depth_u95_m
    return {
        "tag": placement.tag,
        "permit": placement.permit,
        "when": placement.placed_at.isoformat(),
        "text": placement.position_text,
        "frame": placement.observed.frame,
        "r95": f"{_upward(placement.observed.r95_m)} m",
        "receiver": "",
        "depth": f"{depth:.2f} m" if depth is not None else "",
        "depth_u95": f"{_upward(u95)} m" if u95 is not None else "",
        "tide": "",
        "crew": placement.crew,
        "vessel": placement.vessel,
        "note": placement.note,
        "reason": "",
    }


def _upward(doubt_m: float) -> str:
    """Write a doubt to the centimetre, never smaller than it is."""
    return f"{math.ceil(doubt_m * 100 - 1e-9) / 100:.2f}"
