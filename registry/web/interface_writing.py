"""The part of the HTTP interface that advises and records: one request, one action."""

import hashlib
import json
from typing import Annotated, Any

from fastapi import APIRouter, Body, Depends, Header, Request
from fastapi.responses import JSONResponse, Response

from registry.errors import LeadlineError, RequestError
from registry.records.access_token import Scope, Token
from registry.records.body import module_body
from registry.records.module import Module
from registry.web.interface_models import AmendedModule, IntendedDrop, LoggedPlacement, NewModule
from registry.web.opened import reading, settings_of, writing
from registry.web.tokens import holding

__all__ = ["FAULTS", "actor_of", "router"]

router = APIRouter()
#: What every route may answer besides what was asked for.
FAULTS: dict[int | str, dict[str, Any]] = {
    400: {"description": "What was asked is wrong; the answer says what, and how to mend it."},
    401: {"description": "No token, or one that does not hold."},
    403: {"description": "The token is for other things."},
    404: {"description": "There is no such thing."},
    409: {"description": "It exists already, or somebody else changed it meanwhile; the answer says what."},
    413: {"description": "More than one request may bring."},
    503: {"description": "The registry is damaged, out of reach or held by another writer."},
}


def actor_of(token: Token) -> str:
    """Give the name under which a program's deeds go into the journal."""
    return f"{token.label} (token {token.token_id})"


@router.post("/check", summary="Advice before a drop", responses=FAULTS, response_class=JSONResponse)
def check(
    request: Request,
    token: Annotated[Token, Depends(holding(Scope.REGISTER_READ))],
    drop: Annotated[IntendedDrop, Body()],
) -> Response:
    """Tell what each condition would say of a module set down here; nothing is written."""
    from registry.actions.advise_drop import advise_drop
    from registry.formats.advice_answer import advice_answer
    from registry.formats.log_entry import read_log_entry

    del token
    now = settings_of(request).clock.now()
    row = read_log_entry(drop.said(), tag="", permit=drop.permit, placed_at=now, source={})
    with reading(request) as register, register.reading():
        advised = advise_drop(register, row, type_id=drop.type, tag=drop.tag)
    return JSONResponse(advice_answer(advised))


@router.post("/placements", summary="Record a placement", status_code=201, responses=FAULTS)
def place(
    request: Request,
    token: Annotated[Token, Depends(holding(Scope.PLACEMENTS_WRITE))],
    placement: Annotated[LoggedPlacement, Body()],
) -> Response:
    """
    Record where a module lies. It is never refused for where that is: what is against it is kept beside it.

    The same document under the same key again is answered with 409 and records nothing.
    """
    from registry.actions.log_placement import log_placement
    from registry.formats.advice_answer import logged_answer
    from registry.formats.log_entry import read_log_entry
    from registry.formats.written_instant import read_instant

    sent = placement.model_dump(mode="json")
    key = hashlib.sha256(f"{token.token_id}\n{placement.key}".encode()).hexdigest()
    with writing(request) as register:
        row = read_log_entry(
            placement.said() | {"type_id": placement.type} | _as_typed(placement),
            tag=placement.tag,
            permit=placement.permit,
            placed_at=read_instant(placement.when, register.programme().zone),
            source={"command": "interface", "key": key, "sent": sent},
        )
        logged = log_placement(register, row, actor=actor_of(token))
    return JSONResponse(logged_answer(logged), status_code=201)


@router.post("/modules", summary="Record a module", status_code=201, responses=FAULTS)
def add(
    request: Request,
    token: Annotated[Token, Depends(holding(Scope.OFFICE_WRITE))],
    module: Annotated[NewModule, Body()],
) -> Response:
    """Record a module that is cast; whom it remembers is for the office to enter, not for a program."""
    from registry.actions.add_module import StoodAlready, add_modules

    new = Module(tag=module.tag, type_id=module.type, cast_on=module.cast_on, mass_kg=module.mass_kg)
    with writing(request) as register:
        (answer,) = add_modules(register, [new], actor=actor_of(token))
    if isinstance(answer, LeadlineError):
        raise answer
    stood = isinstance(answer, StoodAlready)
    return _module_answer(new, status=200 if stood else 201)


@router.patch("/modules/{tag}", summary="Mend what is recorded of a module", responses=FAULTS)
def amend(
    request: Request,
    token: Annotated[Token, Depends(holding(Scope.OFFICE_WRITE))],
    tag: str,
    amended: Annotated[AmendedModule, Body()],
    if_match: Annotated[
        str | None, Header(description="The version that was read, as its answer gave it.")
    ] = None,
) -> Response:
    """Record what a module is from now on, and why; 409 tells what somebody else changed meanwhile."""
    from registry.actions.amend_module import amend_module

    if not if_match:
        what = "The request does not say which version of the module it mends."
        raise RequestError(what, remedy='Read the module, and send If-Match with the "version" it gave.')
    with writing(request) as register:
        _, after = amend_module(
            register,
            tag,
            reason=amended.reason,
            actor=actor_of(token),
            type_id=amended.type,
            mass_kg=amended.mass_kg,
            cast_on=amended.cast_on,
            seen=if_match.strip('" '),
        )
    return _module_answer(after, status=200)


def _as_typed(placement: LoggedPlacement) -> dict[str, Any]:
    return {"crew": placement.crew, "vessel": placement.vessel, "note": placement.note}


def _module_answer(module: Module, *, status: int) -> Response:
    from registry.records.module_words import module_version

    told = {"module": module_body(module), "version": module_version(module)}
    return Response(json.dumps(told, ensure_ascii=False), status_code=status, media_type="application/json")
