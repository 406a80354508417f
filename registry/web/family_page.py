"""How a family's pages are answered: calm, kept by nobody on the way, found by no search engine."""

from typing import Any

from fastapi import Request
from fastapi.responses import Response

from registry.errors import LeadlineError
from registry.web.family_link import OwnFamily
from registry.web.faults import status_of
from registry.web.opened import reading
from registry.web.pages import page

__all__ = ["family_page", "image", "refused"]

_UNSEEN = {"x-robots-tag": "noindex, nofollow, noarchive"}
#: A drawing runs nothing and asks for nothing.
_STILL = "default-src 'none'; style-src 'unsafe-inline'; frame-ancestors 'self'; sandbox"


def family_page(
    request: Request, family: OwnFamily, template: str, /, status: int = 200, **values: Any
) -> Response:
    """Fill a template with what every page of the family shows, and more."""
    with reading(request) as register:
        memorial = register.module(family.tag).memorial
    name = memorial.name if memorial else family.tag
    answer = page(request, template, status, family=family, name=name, **values)
    answer.headers.update(_UNSEEN)
    return answer


def refused(error: LeadlineError) -> dict[str, Any]:
    """Give what a page shows of an error above its form: what, remedy and readings, and the status."""
    return {"fault": error, "readings": getattr(error, "readings", ()), "status": status_of(error)}


def image(svg: bytes) -> Response:
    """Give a drawing under a policy of its own."""
    said = _UNSEEN | {"content-security-policy": _STILL}
    return Response(svg, media_type="image/svg+xml", headers=said)
