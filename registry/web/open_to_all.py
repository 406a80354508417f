"""Pages that are open to everybody, where this server shows them at all: a boat serves its crew alone."""

from fastapi import Request

from registry.errors import NotFoundError
from registry.web.opened import settings_of

__all__ = ["open_to_all"]


def open_to_all(request: Request) -> None:
    """Let nothing of families and the public through where the server is for the crew; NotFoundError."""
    if not settings_of(request).public:
        what = "This server is for the crew; maps, papers and families' pages are elsewhere."
        raise NotFoundError(what, remedy="Ask the programme's office for their address.")
