"""What every answer says to the browser, and how much one request may bring."""

from collections.abc import Awaitable, Callable

from starlette.datastructures import MutableHeaders
from starlette.requests import ClientDisconnect, Request
from starlette.responses import PlainTextResponse, Response
from starlette.types import ASGIApp, Message, Receive, Scope, Send

__all__ = ["PAGE_POLICY", "AnsweredHeads", "GuardedApplication"]

#: Tells what nobody foresaw.
Tell = Callable[[Request, Exception], Awaitable[Response]]
#: Nothing from elsewhere, no script or style inside a page, no frame around one.
PAGE_POLICY = "; ".join(
    (
        "default-src 'none'",
        "script-src 'self'",
        "style-src 'self'",
        "img-src 'self' data: blob:",
        "font-src 'self'",
        "connect-src 'self'",
        "manifest-src 'self'",
        "worker-src 'self'",
        "frame-src 'self'",
        "object-src 'none'",
        "base-uri 'none'",
        "form-action 'self'",
        "frame-ancestors 'none'",
    )
)
_HEADERS = {
    "content-security-policy": PAGE_POLICY,
    "x-content-type-options": "nosniff",
    "referrer-policy": "same-origin",
    "x-frame-options": "DENY",
    "cross-origin-resource-policy": "same-origin",
    "permissions-policy": "geolocation=(self), camera=(self), microphone=(), payment=(), usb=()",
    "cache-control": "no-store",
}
#: One day: a boat-local certificate must not lock a tablet out for a year.
_OVER_TLS = {"strict-transport-security": "max-age=86400", "cross-origin-opener-policy": "same-origin"}
#: The largest request: a spreadsheet or a photograph. Units: bytes.
LARGEST = 32 * 1024 * 1024


class GuardedApplication:
    """
    An application whose every answer bears the headers, and which reads no request larger than allowed.

    What nobody foresaw is told here too: farther out the headers would be missing.
    """

    def __init__(self, app: ASGIApp, *, secure: bool, tell: Tell) -> None:
        self.app = app
        self.tell = tell
        self.more = _OVER_TLS if secure else {}

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Serve one request."""
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return

        begun = False

        async def answered(message: Message) -> None:
            nonlocal begun
            begun = True
            if message["type"] == "http.response.start":
                headers = MutableHeaders(scope=message)
                for name, value in (_HEADERS | self.more).items():
                    headers.setdefault(name, value)
            await send(message)

        length = dict(scope["headers"]).get(b"content-length", b"0")
        if not length.isdigit() or int(length) > LARGEST:
            await _too_large()(scope, receive, answered)
            return
        counted = _Counted(receive)
        try:
            await self.app(scope, counted, answered)
        except ClientDisconnect:
            # Whoever went away hears nothing, and nothing is amiss here.
            if counted.too_large and not begun:
                await _too_large()(scope, receive, answered)
        except Exception as error:
            if begun:
                raise
            answer = await self.tell(Request(scope), error)
            await answer(scope, receive, answered)


class AnsweredHeads:
    """An application that answers who asks for the head of a page by that of the page (RFC 9110, 9.3.2)."""

    def __init__(self, app: ASGIApp) -> None:
        self.app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Serve one request."""
        if scope["type"] != "http" or scope["method"] != "HEAD":
            await self.app(scope, receive, send)
            return

        async def without_body(message: Message) -> None:
            empty = {"body": b""} if message["type"] == "http.response.body" else {}
            await send({**message, **empty})

        await self.app({**scope, "method": "GET"}, receive, without_body)


def _too_large() -> Response:
    return PlainTextResponse("This is larger than 32 MiB; nothing was kept.", status_code=413)


class _Counted:
    """Stops reading a request that brings more than it may, whatever it said of its length."""

    def __init__(self, receive: Receive) -> None:
        self.receive = receive
        self.came = 0

    @property
    def too_large(self) -> bool:
        return self.came > LARGEST

    async def __call__(self) -> Message:
        message = await self.receive()
        if message["type"] == "http.request":
            self.came += len(message.get("body", b""))
            if self.too_large:
                return {"type": "http.disconnect"}
        return message
