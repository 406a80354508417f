"""What went wrong, told on a page or as JSON: what, and how to mend it; never a traceback."""

import logging

from fastapi import FastAPI, Request
from fastapi.exceptions import RequestValidationError
from fastapi.responses import JSONResponse, RedirectResponse, Response
from starlette.exceptions import HTTPException

from registry.errors import (
    AccessDeniedError,
    AmbiguousPositionError,
    BusyError,
    ConflictError,
    LeadlineError,
    NotFoundError,
    TooManyAttemptsError,
    UnavailableError,
    UnreadableFileError,
)
from registry.web.identity import optional_caller
from registry.web.pages import page

__all__ = ["INTERFACE", "status_of", "tell_faults", "unforeseen"]

_LOG = logging.getLogger("leadline")
#: Where programs ask, and are answered in JSON.
INTERFACE = ("/api/", "/features", "/openapi.json")
_STATUS = (
    (TooManyAttemptsError, 429),
    (AccessDeniedError, 403),
    (NotFoundError, 404),
    (ConflictError, 409),
    (BusyError, 503),
    (UnavailableError, 503),
    (LeadlineError, 400),
)
_PLAIN = {
    404: ("There is no such page.", "Begin at the first page."),
    405: ("This address does not take that kind of request.", "Begin at the first page."),
    413: ("This is more than one request may bring.", "Send less at once."),
}


def status_of(error: LeadlineError) -> int:
    """Give the HTTP status of an error."""
    return next(status for kind, status in _STATUS if isinstance(error, kind))


def _status_for(request: Request, error: LeadlineError) -> int:
    """Tell a file that was sent and cannot be read from one of ours that is out of reach."""
    sent = request.headers.get("content-type", "").startswith("multipart/form-data")
    return 400 if sent and isinstance(error, UnreadableFileError) else status_of(error)


def tell_faults(app: FastAPI) -> None:
    """Let an application tell every fault in our own words."""

    async def known(request: Request, error: Exception) -> Response:
        assert isinstance(error, LeadlineError)
        if isinstance(error, AccessDeniedError) and request.method == "GET" and not _by_program(request):
            if not hasattr(request.state, "caller"):
                request.state.caller = None
            if optional_caller(request) is None and not request.url.path.startswith("/family/"):
                return RedirectResponse(f"/sign-in?next={request.url.path}", status_code=303)
        readings = error.readings if isinstance(error, AmbiguousPositionError) else ()
        answer = _told(request, _status_for(request, error), error.what, error.remedy, readings)
        if isinstance(error, TooManyAttemptsError):
            answer.headers["retry-after"] = str(int(error.retry_after_s) + 1)
        return answer

    async def plain(request: Request, error: Exception) -> Response:
        assert isinstance(error, HTTPException)
        what, remedy = _PLAIN.get(error.status_code, (str(error.detail), ""))
        answer = _told(request, error.status_code, what, remedy)
        answer.headers.update(error.headers or {})
        return answer

    async def unreadable(request: Request, error: Exception) -> Response:
        assert isinstance(error, RequestValidationError)
        first = error.errors()[0]
        where = " ".join(str(part) for part in first["loc"][1:]) or "The request"
        return _told(request, 422, f"{where}: {first['msg']}.", "Mend it, and send it again.")

    app.add_exception_handler(LeadlineError, known)
    app.add_exception_handler(HTTPException, plain)
    app.add_exception_handler(RequestValidationError, unreadable)


async def unforeseen(request: Request, error: Exception) -> Response:
    """Tell what nobody foresaw; whoever keeps the server finds the trace in its log."""
    path = request.url.path
    if not hasattr(request.state, "caller"):
        request.state.caller = None
    # The private link of a family is in its path, and stands in no log.
    _LOG.error("Unforeseen, at %s", "/family/..." if path.startswith("/family/") else path, exc_info=error)
    what = "Something went wrong that nobody foresaw. What was recorded before stands."
    return _told(request, 500, what, "Try again; if it happens again, tell whoever keeps this server.")


def _by_program(request: Request) -> bool:
    asks_json = "application/json" in request.headers.get("accept", "")
    return request.url.path.startswith(INTERFACE) or asks_json


def _told(request: Request, status: int, what: str, remedy: str, readings: tuple[str, ...] = ()) -> Response:
    if _by_program(request):
        told = {"error": what, "remedy": remedy} | ({"readings": list(readings)} if readings else {})
        return JSONResponse(told, status_code=status)
    try:
        optional_caller(request)
    except LeadlineError:
        # Where accounts are out of reach too, the page is that of nobody.
        request.state.caller = None
    return page(request, "fault.html", status, what=what, remedy=remedy, readings=readings)
