"""Coming in and going out: by password, or on a boat by PIN."""

from typing import Annotated

from fastapi import APIRouter, Depends, Request
from fastapi.responses import RedirectResponse, Response

from registry.errors import AccessDeniedError, NotFoundError, TooManyAttemptsError
from registry.web.faults import status_of
from registry.web.forms import Form, posted
from registry.web.identity import COOKIE, Caller, address_of, begin, end, optional_caller
from registry.web.opened import accounts_of, settings_of
from registry.web.pages import page

__all__ = ["router"]

router = APIRouter(include_in_schema=False)
Posted = Annotated[Form, Depends(posted)]
_FIRST_PAGE = (("office", "/office"), ("dive team", "/boat"), ("officer", "/officer"))


@router.get("/sign-in")
def sign_in_page(request: Request) -> Response:
    """Show where to sign in."""
    return page(request, "sign_in.html", next=_own_path(request.query_params.get("next", "")), fault=None)


@router.post("/sign-in")
def sign_in(request: Request, form: Posted) -> Response:
    """Open a session for an account, or for a crew by PIN."""
    from registry.actions.sign_in import sign_in as by_password
    from registry.actions.sign_in import sign_in_by_pin

    settings = settings_of(request)
    accounts, address = accounts_of(request), address_of(request)
    onward = _own_path(form.text("next"))
    try:
        if form.text("how") == "pin":
            if not settings.boat:
                raise NotFoundError("Coming in by PIN is not open here.", remedy="Sign in by password.")
            opened = sign_in_by_pin(
                accounts, settings.clock, name=form.text("name"), pin=form.raw("pin"), address=address
            )
        else:
            opened = by_password(
                accounts,
                settings.clock,
                name=form.text("name"),
                password=form.raw("password"),
                address=address,
            )
    except (AccessDeniedError, TooManyAttemptsError) as error:
        return page(request, "sign_in.html", status_of(error), next=onward, fault=error)
    roles = opened.account.roles
    answer = RedirectResponse(
        onward or next((first for role, first in _FIRST_PAGE if role in roles), "/"), status_code=303
    )
    _end_old(request)
    begin(request, answer, opened.secret)
    return answer


@router.post("/sign-out")
def sign_out(request: Request, form: Posted) -> Response:
    """End the session."""
    del form
    _end_old(request)
    answer = RedirectResponse("/", status_code=303)
    end(request, answer)
    return answer


def _end_old(request: Request) -> None:
    from registry.actions.end_session import end_session

    caller: Caller | None = optional_caller(request)
    if caller is not None:
        end_session(accounts_of(request), request.cookies[COOKIE])


def _own_path(text: str) -> str:
    """Give a path of this site, or nothing: nobody is led elsewhere after signing in."""
    plain = text.startswith("/") and not text.startswith(("//", "/\\")) and text.isprintable()
    return text if plain and "\\" not in text else ""
