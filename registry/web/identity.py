"""Who asks: the account behind a session, and what it may see."""

import ipaddress
from dataclasses import dataclass

from fastapi import Request
from starlette.responses import Response

from registry.errors import AccessDeniedError
from registry.web.opened import accounts_of, settings_of

__all__ = ["COOKIE", "Caller", "address_of", "begin", "caller_of", "end", "needs", "optional_caller"]

#: The cookie that holds the secret of a session.
COOKIE = "leadline"
#: When a browser forgets; the account file says when a session ends. Units: s.
_KEPT_S = 14 * 24 * 3600


@dataclass(frozen=True, slots=True)
class Caller:
    """Who is signed in."""

    #: As it goes into the journal.
    name: str
    #: "office", "dive team", "officer".
    roles: frozenset[str]
    #: What every form of this session must bring.
    csrf: str

    def may(self, *roles: str) -> bool:
        """Tell whether one of the roles is held; the office may do what the dive team and the officer may."""
        return "office" in self.roles or not self.roles.isdisjoint(roles)


def address_of(request: Request) -> str:
    """Give the address from which a request came; a proxy's word is taken only as the server was told to."""
    host = request.client.host if request.client else ""
    try:
        return str(ipaddress.ip_address(host))
    except ValueError:
        return "127.0.0.1" if host in {"testclient", ""} else host


def optional_caller(request: Request) -> Caller | None:
    """Give who is signed in, or None."""
    if not hasattr(request.state, "caller"):
        request.state.caller = _recalled(request)
    caller: Caller | None = request.state.caller
    return caller


def caller_of(request: Request, *roles: str) -> Caller:
    """
    Give who is signed in and holds one of the roles.

    Raises
    ------
    AccessDeniedError
        If nobody is signed in, or whoever is may not see this.
    """
    caller = optional_caller(request)
    if caller is None:
        raise AccessDeniedError("This page is for those who are signed in.", remedy="Sign in.")
    if roles and not caller.may(*roles):
        what = f"{caller.name} is signed in as {', '.join(sorted(caller.roles))}; this page is for others."
        raise AccessDeniedError(what, remedy="Ask the office for the role, or sign in as somebody else.")
    return caller


class needs:  # noqa: N801 - reads as a word where routes are declared
    """A dependency of a route: somebody with one of the roles is signed in."""

    def __init__(self, *roles: str) -> None:
        self.roles = roles

    def __call__(self, request: Request) -> Caller:
        """Give who that is; AccessDeniedError where there is nobody."""
        return caller_of(request, *self.roles)


def begin(request: Request, response: Response, secret: str) -> None:
    """Let the browser keep the secret of a session."""
    response.set_cookie(
        COOKIE,
        secret,
        max_age=_KEPT_S,
        httponly=True,
        samesite="strict",
        secure=settings_of(request).secure,
    )


def end(request: Request, response: Response) -> None:
    """Let the browser forget the session."""
    secure = settings_of(request).secure
    response.delete_cookie(COOKIE, httponly=True, samesite="strict", secure=secure)


def _recalled(request: Request) -> Caller | None:
    from registry.actions.recall_session import recall_session

    secret = request.cookies.get(COOKIE)
    if not secret:
        return None
    recalled = recall_session(accounts_of(request), settings_of(request).clock, secret)
    if recalled is None:
        return None
    return Caller(recalled.account.name, frozenset(recalled.account.roles), recalled.session.csrf)
