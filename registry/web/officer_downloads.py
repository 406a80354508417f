"""What an officer takes away: the folder of an audit, and the list of what was built."""

from collections.abc import Iterator
from typing import BinaryIO

from fastapi import APIRouter, Request
from fastapi.responses import Response, StreamingResponse

from registry.errors import RequestError
from registry.web.officer_audit import Asked, asked_of, reading_as_of
from registry.web.officer_page import Officer, download
from registry.web.opened import reading, settings_of

__all__ = ["router"]

router = APIRouter(include_in_schema=False)
_PIECE = 256 * 1024


@router.get("/officer/downloads/audit.zip")
def audit_folder(request: Request, caller: Officer) -> Response:
    """Give the folder that ``leadline audit --out`` writes; nothing of it stays on the server."""
    from registry.desk.archive import audit_archive

    del caller
    asked = asked_of(request)
    permit = request.query_params.get("permit") or None
    with reading(request) as register:
        archive = audit_archive(
            register, asked.dates, permit=permit, audited_at=settings_of(request).clock.now()
        )
    headers = {"content-disposition": f'attachment; filename="{_name("audit", permit, asked)}"'}
    return StreamingResponse(_pieces(archive), media_type="application/zip", headers=headers)


def _pieces(archive: BinaryIO) -> Iterator[bytes]:
    with archive:
        while piece := archive.read(_PIECE):
            yield piece


@router.get("/officer/downloads/as-built.zip")
def as_built(request: Request, caller: Officer) -> Response:
    """Give the list of what was built under a permit: PDF and CSV."""
    from registry.desk.archive import archive_of
    from registry.desk.as_built_files import as_built_files, list_as_built

    del caller
    asked = asked_of(request)
    permit = request.query_params.get("permit", "")
    if not permit:
        raise RequestError("No permit is named.", remedy="Choose one of the dashboard.")
    now = settings_of(request).clock.now()
    with reading_as_of(request, asked.dates) as register:
        built = list_as_built(register, permit, now=now, as_of=asked.dates.known)
        files = as_built_files(built)
    return download(request, archive_of(files), _name("as-built", permit, asked), "application/zip")


def _name(what: str, permit: str | None, asked: Asked) -> str:
    parts = [what, permit or "", asked.as_of]
    text = "-".join(part for part in parts if part)
    return "".join(c if c.isascii() and (c.isalnum() or c in "-_") else "-" for c in text) + ".zip"
