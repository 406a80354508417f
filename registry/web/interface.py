"""The HTTP interface for the office's own systems: one JSON document an answer, as the commands print it."""

import json
import math
from collections.abc import Iterable, Mapping
from itertools import islice
from typing import Annotated, Any

from fastapi import APIRouter, Depends, Query, Request
from fastapi.responses import Response

from registry.records.access_token import Scope, Token
from registry.records.body import module_body, placement_body, type_body
from registry.web import interface_writing
from registry.web.opened import reading, settings_of
from registry.web.tagged import tagged
from registry.web.tokens import holding

__all__ = ["router"]

router = APIRouter(prefix="/api", tags=["Registry"])
router.include_router(interface_writing.router)
Reader = Annotated[Token, Depends(holding(Scope.REGISTER_READ))]
_FAULTS = {
    304: {"description": "The caller has it already (If-None-Match)."},
    **{status: told for status, told in interface_writing.FAULTS.items() if status not in {409, 413}},
}


class _Page:
    """Which page of a list."""

    def __init__(
        self,
        limit: Annotated[int, Query(ge=1, le=10_000, description="How many at most.")] = 100,
        offset: Annotated[int, Query(ge=0, le=2**53, description="How many to leave out before them.")] = 0,
    ) -> None:
        self.limit, self.offset = limit, offset

    def of(self, name: str, rows: Iterable[Mapping[str, Any]], total: int) -> dict[str, Any]:
        """Give one page, and how many there are in all."""
        page = list(islice(rows, self.offset, self.offset + self.limit))
        onward = self.offset + len(page)
        return {name: page, "total": total, "next_offset": onward if page and onward < total else None}


Paged = Annotated[_Page, Depends()]


@router.get("/programme", summary="Whose registry it is", responses=_FAULTS, response_class=Response)
def programme(request: Request, token: Reader) -> Response:
    """Give the programme, its frame, its module types and the head of the journal."""
    del token
    with reading(request) as register, register.reading():
        known = register.programme()
        told = {
            "programme": known.name,
            "frame": known.frame,
            "epoch": known.frame_epoch,
            "zone": known.zone,
            "journal_head": register.head(),
            "module_types": [type_body(each) for each in register.module_types()],
        }
    return _answer(request, told)


@router.get("/permits", summary="Every permit", responses=_FAULTS, response_class=Response)
def permits(request: Request, token: Reader) -> Response:
    """Give every permit in the version in force, with its versions."""
    from registry.formats.permit_answer import permit_answer

    del token
    with reading(request) as register, register.reading():
        today = register.today()
        told = [
            permit_answer(each, register.permit_versions(each.number), today) for each in register.permits()
        ]
    return _answer(request, {"permits": told})


@router.get("/permits/{number}", summary="One permit", responses=_FAULTS, response_class=Response)
def permit(request: Request, token: Reader, number: str) -> Response:
    """Give one permit in the version in force, with its versions."""
    from registry.formats.permit_answer import permit_answer

    del token
    with reading(request) as register, register.reading():
        versions = register.permit_versions(number)
        told = permit_answer(register.permit(number), versions, register.today())
    return _answer(request, told)


@router.get(
    "/permits/{number}/placements",
    summary="What lies under a permit",
    responses=_FAULTS,
    response_class=Response,
)
def placements(request: Request, token: Reader, number: str, page: Paged) -> Response:
    """Give the placements that stand under a permit, in the home frame, each with its uncertainty."""
    del token
    with reading(request) as register, register.reading():
        register.permit(number)
        known = register.programme()
        table = register.placements(permit=number)
    names = table.placement_id.tolist()

    def rows() -> Iterable[dict[str, Any]]:
        for row, name in enumerate(names):
            yield {
                "placement": name.decode() if isinstance(name, bytes) else name,
                "tag": str(table.tag[row]),
                "type": str(table.module_type[row]),
                "position": {
                    "lat": float(table.lat_deg[row]),
                    "lon": float(table.lon_deg[row]),
                    "frame": known.frame,
                    "r95_m": float(table.r95_m[row]),
                },
                "charted_depth_m": _measured(table.depth_m[row]),
                "depth_u95_m": _measured(table.depth_u95_m[row]),
            }

    return _answer(request, page.of("placements", rows(), len(table)))


@router.get(
    "/permits/{number}/audit", summary="Every condition asked", responses=_FAULTS, response_class=Response
)
def audit(request: Request, token: Reader, number: str) -> Response:
    """Ask every condition of every placement under a permit, as of now."""
    from registry.actions.audit_registry import audit_registry
    from registry.actions.summarise_audit import summarise_audit
    from registry.formats.audit_answer import audit_answer

    del token
    now = settings_of(request).clock.now()
    with reading(request) as register, register.reading():
        found = audit_registry(register, permit=number)
        told = audit_answer(
            summarise_audit(register, found, audited_at=now, in_full=False), proved=False, as_of=False
        )
    return _answer(request, told)


@router.get("/placements/{placement}", summary="One placement", responses=_FAULTS, response_class=Response)
def one_placement(request: Request, token: Reader, placement: str) -> Response:
    """Give one placement as it went into the journal: raw text, derivation, position, depth."""
    del token
    with reading(request) as register:
        return _answer(request, {"placement": placement, **placement_body(register.placement(placement))})


@router.get("/modules", summary="Every module", responses=_FAULTS, response_class=Response)
def modules(request: Request, token: Reader, page: Paged) -> Response:
    """Give the modules in order of tag; no contact of a family is ever among what is told."""
    del token
    with reading(request) as register:
        known = register.modules()
    return _answer(request, page.of("modules", (module_body(each) for each in known), len(known)))


@router.get("/modules/{tag}", summary="One module", responses=_FAULTS, response_class=Response)
def module(request: Request, token: Reader, tag: str) -> Response:
    """Give one module, its version for whoever wants to mend it, and the placements that stand for it."""
    from registry.records.module_words import module_version

    del token
    with reading(request) as register, register.reading():
        known = register.module(tag)
        told = {
            "module": module_body(known),
            "version": module_version(known),
            "placements": list(register.placement_ids(tag)),
        }
    return _answer(request, told)


@router.get("/duties", summary="What is owed", responses=_FAULTS, response_class=Response)
def duties(request: Request, token: Reader) -> Response:
    """Give notices, reports, ends of seasons and of permits, each with its day and state."""
    from registry.actions.list_duties import list_duties
    from registry.formats.duties_answer import duties_answer

    del token
    with reading(request) as register, register.reading():
        return _answer(request, duties_answer(list_duties(register)))


@router.get("/journal", summary="The record itself", responses=_FAULTS, response_class=Response)
def journal(
    request: Request,
    token: Reader,
    after: Annotated[int, Query(ge=0, le=2**53, description="Entries up to this one are left out.")] = 0,
    limit: Annotated[int, Query(ge=1, le=10_000, description="How many at most.")] = 100,
) -> Response:
    """Give entries of the journal, oldest first; `next_after` asks for those that follow."""
    from registry.formats.entry_answer import entry_answer

    del token
    with reading(request) as register, register.reading():
        page = [entry_answer(entry) for entry in islice(register.journal(after=after), limit)]
        told = {
            "entries": page,
            "head": register.head(),
            "next_after": after + len(page) if len(page) == limit else None,
        }
    return _answer(request, told)


def _measured(value: float) -> float | None:
    """Give a number, or None where nobody measured it."""
    return None if math.isnan(value) else float(value)


def _answer(request: Request, told: Mapping[str, Any]) -> Response:
    body = json.dumps(told, ensure_ascii=False, allow_nan=False).encode()
    return tagged(request, body, media_type="application/json", public=False)
