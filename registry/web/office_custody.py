"""Keepers' chains in the office: those that are broken, one of them whole, and a hand-over recorded."""

from typing import Annotated
from zoneinfo import ZoneInfo

from fastapi import APIRouter, Depends, Request
from fastapi.responses import RedirectResponse, Response

from registry.errors import LeadlineError, RequestError
from registry.records.custody import HandOverDraft, Step, WrittenSide
from registry.records.custody_chain import FaultKind
from registry.web.faults import status_of
from registry.web.forms import Form, posted
from registry.web.identity import Caller, needs
from registry.web.office_addresses import custody_address
from registry.web.opened import families_of, reading, writing
from registry.web.pages import page

__all__ = ["router"]

router = APIRouter(include_in_schema=False)
Office = Annotated[Caller, Depends(needs("office"))]
Posted = Annotated[Form, Depends(posted)]

#: So many chains are listed of each kind; the others are counted.
LISTED = 200
_FIELDS = (
    "step",
    "when",
    "giver",
    "giver_tag",
    "giver_id",
    "taker",
    "taker_tag",
    "taker_id",
    "note",
    "corrects",
    "reason",
)


@router.get("/office/custody")
def custody_page(request: Request, caller: Office) -> Response:
    """List the chains that are broken, where, and those that are under way."""
    del caller
    from registry.actions.list_custody import list_custody

    with reading(request) as register:
        chains = list_custody(register)
        keeps = register.keeps_custody()
    broken = [each for each in chains if each.has(*_BROKEN)]
    return page(
        request,
        "office_custody.html",
        broken=broken if keeps else [],
        whole=sum(each.whole for each in chains),
        under_way=[each for each in chains if not each.whole and not each.has(*_BROKEN)],
        keeps=keeps,
        listed=LISTED,
    )


_BROKEN = (FaultKind.GAP, FaultKind.MISMATCH, FaultKind.NOT_COMPARABLE)


@router.get("/office/custody/of")
def chain_page(request: Request, caller: Office, tag: str, corrects: str = "") -> Response:
    """Show the chain of one module, and the form of its next hand-over."""
    del caller
    return _chain(request, tag, {"corrects": corrects})


@router.post("/office/custody/record")
def record(request: Request, caller: Office, form: Posted) -> Response:
    """Record a hand-over as both sides read it."""
    from registry.actions.record_hand_over import record_hand_overs
    from registry.formats.custody_table import read_step
    from registry.formats.written_instant import read_instant

    tag, said = form.needed("tag", "The tag"), {name: form.text(name) for name in _FIELDS}
    try:
        with writing(request) as register:
            draft = HandOverDraft(
                tag=tag,
                step=read_step(said["step"]),
                at=read_instant(form.needed("when", "The time"), register.programme().zone),
                at_text=said["when"],
                giver=_side(said, "giver"),
                taker=_side(said, "taker"),
                note=said["note"],
                source={"form": "office"},
            )
            (done,) = record_hand_overs(
                register,
                families_of(request, register),
                [draft],
                actor=caller.name,
                corrects=said["corrects"],
                reason=said["reason"],
            )
        if isinstance(done, LeadlineError):
            raise done
    except RequestError as fault:
        return _chain(request, tag, said, fault)
    return RedirectResponse(custody_address(tag), status_code=303)


@router.post("/office/custody/withdraw")
def withdraw(request: Request, caller: Office, form: Posted) -> Response:
    """Withdraw a hand-over that never was."""
    from registry.actions.record_hand_over import withdraw_hand_over

    tag = form.needed("tag", "The tag")
    try:
        with writing(request) as register:
            withdraw_hand_over(
                register,
                tag,
                form.needed("entry", "The entry"),
                reason=form.text("reason"),
                actor=caller.name,
            )
    except RequestError as fault:
        return _chain(request, tag, {}, fault)
    return RedirectResponse(custody_address(tag), status_code=303)


def _side(said: dict[str, str], side: str) -> WrittenSide:
    return WrittenSide(name=said[side], tag=said[f"{side}_tag"], identification=said[f"{side}_id"])


def _chain(request: Request, tag: str, said: dict[str, str], fault: RequestError | None = None) -> Response:
    from registry.actions.follow_custody import follow_custody, untold_custody
    from registry.records.custody import numbers_by_digest

    with reading(request) as register:
        chain = follow_custody(register, tag)
        if not chain.hand_overs and not register.placement_ids(tag):
            register.module(tag)  # an error that names the tags near it, where there is no such module
        families = families_of(request, register)
        held = families.held().get(tag)
        zone, untold = register.programme().zone, untold_custody(register)
    return page(
        request,
        "office_chain.html",
        status_of(fault) if fault else 200,
        chain=chain,
        numbers=numbers_by_digest(held) if held else {},
        zone=ZoneInfo(zone),
        zone_name=zone,
        steps=[step.value for step in Step],
        notes=(*families.notes, *untold),
        said=dict.fromkeys(_FIELDS, "") | said,
        fault=fault,
    )
