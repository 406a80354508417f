"""The office: its first page, and every part of it."""

import threading
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

from fastapi import APIRouter, Depends, Request
from fastapi.responses import Response

from registry.records.duty import DutyState
from registry.web import (
    office_batch,
    office_bundles,
    office_certificates,
    office_corrections,
    office_custody,
    office_families,
    office_intake,
    office_modules,
    office_permits,
    office_resurveys,
    office_users,
)
from registry.web.identity import Caller, needs
from registry.web.opened import reading, settings_of
from registry.web.pages import page

if TYPE_CHECKING:
    from registry.actions.list_work import Work

__all__ = ["router"]

router = APIRouter(include_in_schema=False)
router.include_router(office_batch.router)
router.include_router(office_bundles.router)
router.include_router(office_certificates.router)
router.include_router(office_corrections.router)
router.include_router(office_custody.router)
router.include_router(office_families.router)
router.include_router(office_intake.router)
router.include_router(office_modules.router)
router.include_router(office_permits.router)
router.include_router(office_resurveys.router)
router.include_router(office_users.router)
Office = Annotated[Caller, Depends(needs("office"))]


@router.get("/office")
def office_page(request: Request, caller: Office) -> Response:
    """Show what needs doing, and the way to every part of the office."""
    del caller
    work = _work(request)
    overdue = sum(each.state is DutyState.OVERDUE for each in work.duties)
    return page(request, "office.html", work=work, overdue=overdue)


_LOCK = threading.Lock()
#: The work of each registry, with the head of its journal and the day of which it is: it follows from both.
_KNOWN: "dict[Path, tuple[tuple[str, date], Work]]" = {}


def _work(request: Request) -> "Work":
    """List the work, anew only where something was recorded since or another day has come."""
    from registry.actions.list_work import list_work
    from registry.storage.exchange import RegisterExchange

    place = settings_of(request).registry.resolve()
    with reading(request) as register, register.reading():
        of = (register.head(), register.today())
        with _LOCK:
            known = _KNOWN.get(place)
        if known is not None and known[0] == of:
            return known[1]
        work = list_work(register, RegisterExchange(register))
    with _LOCK:
        _KNOWN[place] = (of, work)
    return work
