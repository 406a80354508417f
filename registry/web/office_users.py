"""Who may come in: accounts, the boat's PIN, tokens of programs, and who tried; and one's own password."""

from datetime import timedelta
from typing import Annotated
from zoneinfo import ZoneInfo

from fastapi import APIRouter, Depends, Request
from fastapi.responses import RedirectResponse, Response

from registry.errors import AccessDeniedError, RequestError
from registry.records.access_token import SCOPES
from registry.records.account import ROLES
from registry.records.new_password import SHORTEST_PASSWORD, SHORTEST_PIN
from registry.web.faults import status_of
from registry.web.forms import Form, posted
from registry.web.identity import COOKIE, Caller, address_of, needs
from registry.web.opened import accounts_of, reading, settings_of
from registry.web.pages import page

__all__ = ["router"]

router = APIRouter(include_in_schema=False)
Office = Annotated[Caller, Depends(needs("office"))]
Anybody = Annotated[Caller, Depends(needs())]
Posted = Annotated[Form, Depends(posted)]
USERS = "/office/users"

#: How far back attempts to come in are listed, and how many of them and of deeds at most.
SINCE = timedelta(days=30)
LISTED = 200


@router.get(USERS)
def users_page(request: Request, caller: Office) -> Response:
    """List accounts, tokens and attempts to come in."""
    return _users(request, caller)


@router.post(f"{USERS}/add")
def add(request: Request, caller: Office, form: Posted) -> Response:
    """Let somebody sign in."""
    from registry.actions.add_account import add_account

    try:
        add_account(
            accounts_of(request),
            settings_of(request).clock,
            name=form.needed("name", "The name"),
            roles=form.every("role"),
            password=form.raw("password"),
            actor=caller.name,
        )
    except RequestError as fault:
        return _users(request, caller, fault, name=form.text("name"), roles=form.every("role"))
    return RedirectResponse(USERS, status_code=303)


@router.post(f"{USERS}/roles")
def change_roles(request: Request, caller: Office, form: Posted) -> Response:
    """Change what somebody may do."""
    return _amended(request, caller, form, roles=form.every("role"))


@router.post(f"{USERS}/disable")
def disable(request: Request, caller: Office, form: Posted) -> Response:
    """Let somebody come in no more."""
    return _amended(request, caller, form, disabled=True)


@router.post(f"{USERS}/enable")
def enable(request: Request, caller: Office, form: Posted) -> Response:
    """Let somebody come in again."""
    return _amended(request, caller, form, disabled=False)


@router.post(f"{USERS}/password")
def set_password(request: Request, caller: Office, form: Posted) -> Response:
    """Give an account another password."""
    from registry.actions.change_password import change_password

    try:
        change_password(
            accounts_of(request),
            settings_of(request).clock,
            name=form.needed("name", "The name"),
            password=form.raw("password"),
            actor=caller.name,
        )
    except RequestError as fault:
        return _users(request, caller, fault)
    return RedirectResponse(USERS, status_code=303)


@router.post(f"{USERS}/pin")
def set_pin(request: Request, caller: Office, form: Posted) -> Response:
    """Set the PIN of the boat, or none."""
    from registry.actions.set_boat_pin import set_boat_pin

    pin = None if form.ticked("clear") else form.raw("pin")
    try:
        set_boat_pin(accounts_of(request), settings_of(request).clock, pin=pin, actor=caller.name)
    except RequestError as fault:
        return _users(request, caller, fault)
    return RedirectResponse(USERS, status_code=303)


@router.post(f"{USERS}/token")
def add_token(request: Request, caller: Office, form: Posted) -> Response:
    """Make a token for another program, and show it this once."""
    from registry.actions.add_token import add_token as make_token
    from registry.formats.written_instant import end_of

    try:
        with reading(request) as register:
            zone = register.programme().zone
        made = make_token(
            accounts_of(request),
            settings_of(request).clock,
            label=form.needed("label", "What it is for"),
            scopes=form.every("scope"),
            expires_at=end_of(form.needed("expires", "The last day"), zone),
            actor=caller.name,
        )
    except RequestError as fault:
        return _users(request, caller, fault)
    return page(request, "office_token.html", made=made, zone=ZoneInfo(zone))


@router.post(f"{USERS}/token/revoke")
def revoke_token(request: Request, caller: Office, form: Posted) -> Response:
    """End a token."""
    from registry.actions.revoke_token import revoke_token as end_token

    end_token(
        accounts_of(request),
        settings_of(request).clock,
        token=form.needed("token", "The token"),
        actor=caller.name,
    )
    return RedirectResponse(USERS, status_code=303)


@router.get("/account")
def account_page(request: Request, caller: Anybody) -> Response:
    """Show the form that changes one's own password."""
    return _account(request, caller)


@router.post("/account/password")
def change_own(request: Request, caller: Anybody, form: Posted) -> Response:
    """Change one's own password; other sessions of the account end."""
    from registry.actions.change_password import change_own_password

    try:
        if form.raw("new") != form.raw("again"):
            raise RequestError("The new password was typed in two ways.", remedy="Type it twice alike.")
        change_own_password(
            accounts_of(request),
            settings_of(request).clock,
            name=caller.name,
            old=form.raw("old"),
            new=form.raw("new"),
            address=address_of(request),
            keep=request.cookies.get(COOKIE),
        )
    except RequestError as fault:
        return _account(request, caller, fault)
    return RedirectResponse("/account?changed=yes", status_code=303)


def _amended(
    request: Request,
    caller: Caller,
    form: Form,
    *,
    roles: tuple[str, ...] | None = None,
    disabled: bool | None = None,
) -> Response:
    from registry.actions.amend_account import amend_account

    try:
        amend_account(
            accounts_of(request),
            settings_of(request).clock,
            name=form.needed("name", "The name"),
            actor=caller.name,
            roles=roles,
            disabled=disabled,
        )
    except RequestError as fault:
        return _users(request, caller, fault)
    return RedirectResponse(USERS, status_code=303)


def _users(
    request: Request,
    caller: Caller,
    fault: RequestError | None = None,
    *,
    name: str = "",
    roles: tuple[str, ...] = (),
) -> Response:
    accounts, now = accounts_of(request), settings_of(request).clock.now()
    with reading(request) as register:
        zone = ZoneInfo(register.programme().zone)
    return page(
        request,
        "office_users.html",
        status_of(fault) if fault else 200,
        accounts=accounts.accounts(),
        pin=accounts.boat_pin(),
        tokens=accounts.tokens()[::-1],
        sign_ins=accounts.sign_ins(since=now - SINCE)[: -LISTED - 1 : -1],
        deeds=accounts.deeds()[: -LISTED - 1 : -1],
        roles=ROLES,
        scopes=SCOPES,
        now=now,
        zone=zone,
        own=caller.name,
        shortest=SHORTEST_PASSWORD,
        shortest_pin=SHORTEST_PIN,
        said_name=name,
        said_roles=roles,
        fault=fault,
    )


def _account(request: Request, caller: Caller, fault: RequestError | None = None) -> Response:
    # A wrong old password is no reason to be shown the door.
    status = 400 if isinstance(fault, AccessDeniedError) else status_of(fault) if fault else 200
    by_password = accounts_of(request).account(caller.name) is not None
    return page(
        request,
        "account.html",
        status,
        by_password=by_password,
        roles=sorted(caller.roles),
        shortest=SHORTEST_PASSWORD,
        changed=request.query_params.get("changed") == "yes",
        fault=fault,
    )
