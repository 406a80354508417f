"""The office: its first page, and every part of it."""

from typing import Annotated

from fastapi import APIRouter, Depends, Request
from fastapi.responses import Response

from registry.web import office_intake
from registry.web.identity import Caller, needs
from registry.web.pages import page

__all__ = ["router"]

router = APIRouter(include_in_schema=False)
router.include_router(office_intake.router)
Office = Annotated[Caller, Depends(needs("office"))]


@router.get("/office")
def office_page(request: Request, caller: Office) -> Response:
    """Show what needs doing, and the way to every part of the office."""
    del caller
    return page(request, "office.html")
