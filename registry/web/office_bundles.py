"""Bundles in the office: entries for other machines, those that others bring, what is open between."""

from typing import Annotated
from zoneinfo import ZoneInfo

from fastapi import APIRouter, Depends, Request
from fastapi.responses import RedirectResponse, Response

from registry.actions.import_bundle import Imported
from registry.errors import LeadlineError, RequestError
from registry.web.faults import status_of
from registry.web.forms import Form, posted
from registry.web.identity import Caller, needs
from registry.web.opened import reading, settings_of, writing
from registry.web.pages import page

__all__ = ["router"]

router = APIRouter(include_in_schema=False)
Office = Annotated[Caller, Depends(needs("office"))]
Posted = Annotated[Form, Depends(posted)]
BUNDLES = "/office/bundles"


@router.get(BUNDLES)
def bundles_page(request: Request, caller: Office) -> Response:
    """Show the machines, the bundles taken in, and what is open for decision."""
    del caller
    return _bundles(request)


@router.get(f"{BUNDLES}/export")
def export(request: Request, caller: Office, to: str = "") -> Response:
    """Give the entries that another machine lacks, or all, signed."""
    del caller
    from registry.actions.export_bundle import export_bundle
    from registry.formats.bundle_file import write_bundle
    from registry.storage.bundle_key import bundle_key
    from registry.storage.exchange import RegisterExchange

    with reading(request) as register:
        exchange = RegisterExchange(register)
        key = bundle_key(register, exchange)
        now = settings_of(request).clock.now()
        bundle = export_bundle(
            register, exchange, key_id=key.key_id, public_key=key.public_key, now=now, to=to or None
        )
        zone = ZoneInfo(register.programme().zone)
    name = f"leadline-{now.astimezone(zone):%Y-%m-%dT%H%M}.bundle"
    given = {"content-disposition": f'attachment; filename="{name}"'}
    return Response(write_bundle(bundle, key), media_type="application/octet-stream", headers=given)


@router.post(f"{BUNDLES}/import")
def take_in(request: Request, caller: Office, form: Posted) -> Response:
    """Take in what another machine wrote: all of it or nothing."""
    from registry.actions.import_bundle import import_bundle
    from registry.formats.bundle_file import read_bundle
    from registry.formats.signed_statement import verify
    from registry.storage.exchange import RegisterExchange

    try:
        file = form.upload("file")
        if file is None:
            raise RequestError("No file was chosen.", remedy="Choose the bundle that the other machine made.")
        bundle = read_bundle(file.file.read())
        with writing(request) as register:
            done = import_bundle(
                register,
                RegisterExchange(register),
                bundle,
                actor=caller.name,
                verify=verify,
                compared=form.text("compared"),
            )
    except LeadlineError as fault:
        return _bundles(request, fault=fault)
    return _bundles(request, done=done)


@router.post(f"{BUNDLES}/decide")
def decide(request: Request, caller: Office, form: Posted) -> Response:
    """Let the facts of one of two entries stand; the other stays in the journal."""
    from registry.actions.decide_contest import decide_contest
    from registry.storage.exchange import RegisterExchange

    try:
        with writing(request) as register:
            decide_contest(
                register,
                RegisterExchange(register),
                form.needed("entry", "The entry"),
                reason=form.text("reason"),
                actor=caller.name,
            )
    except RequestError as fault:
        return _bundles(request, fault=fault)
    return RedirectResponse(BUNDLES, status_code=303)


def _bundles(
    request: Request, *, fault: LeadlineError | None = None, done: Imported | None = None
) -> Response:
    from registry.storage.exchange import RegisterExchange

    with reading(request) as register, register.reading():
        exchange = RegisterExchange(register)
        told = {
            "registry": exchange.registry()[0],
            "own": exchange.writes_as(),
            "held": dict(exchange.held()),
            "devices": exchange.devices(),
            "receipts": exchange.receipts()[::-1],
            "contests": exchange.contests(),
            "twice": exchange.placed_twice(),
        }
    status = status_of(fault) if fault else 200
    return page(request, "office_bundles.html", status, fault=fault, done=done, **told)
