"""The entry of a drop as it comes in: at once from a form, or later from the queue of a tablet."""

from typing import TYPE_CHECKING, Annotated, Any
from urllib.parse import quote

from fastapi import APIRouter, Depends, Request
from fastapi.responses import JSONResponse, Response

from registry.errors import LeadlineError, NotFoundError
from registry.web.boat_entry import drop_row, entry_source, tag_reading
from registry.web.boat_run import Crew
from registry.web.forms import Form, posted
from registry.web.opened import reading, settings_of, writing
from registry.web.received import received

if TYPE_CHECKING:
    from registry.actions.record_drop import RecordedDrop

__all__ = ["record_entry", "router"]

router = APIRouter(include_in_schema=False)
_KINDS = {"jpg": "image/jpeg", "png": "image/png"}


def record_entry(request: Request, form: Form, tag: str, *, actor: str) -> "RecordedDrop":
    """
    Record what a form brings, once however often it comes.

    Raises
    ------
    LeadlineError
        If it cannot be recorded; then nothing was.
    """
    from registry.actions.record_drop import earlier_drop, record_drop
    from registry.formats.written_instant import read_instant

    source = entry_source(request, form)
    with reading(request) as register:
        # First of all: what was recorded needs no receiver to be read again.
        earlier = earlier_drop(register, tag, source)
        zone = register.programme().zone
    if earlier is not None:
        return earlier
    reading_of_tag = tag_reading(form)
    placed_at = read_instant(form.needed("when", "The time of touch-down"), zone)
    confirmed = (
        {"diver": reading_of_tag.diver, "tag_read": reading_of_tag.tag}
        if reading_of_tag is not None
        else {"unread": True}
    )
    row = drop_row(
        request, source["said"], tag=tag, placed_at=placed_at, source=source | {"confirmation": confirmed}
    )
    with writing(request) as register:
        return record_drop(register, row, reading=reading_of_tag, actor=actor)


@router.post("/boat/entries")
def take_entry(request: Request, caller: Crew, form: Annotated[Form, Depends(posted)]) -> Response:
    """Record an entry that waited on a tablet; the same answer to each sending of it."""
    tag = form.needed("tag", "The tag of the module")
    drop = record_entry(request, form, tag, actor=caller.name)
    return JSONResponse(_answer(drop))


@router.get("/boat/session.json")
def session(request: Request, caller: Crew) -> Response:
    """Tell a page that may be older than the session what its forms must bring, and what time it is here."""
    now = settings_of(request).clock.now()
    return JSONResponse({"name": caller.name, "form_token": caller.csrf, "now": now.isoformat()})


@router.get("/boat/photographs/{digest}")
def photograph(request: Request, caller: Crew, digest: str) -> Response:
    """Give a photograph of a tag by its digest."""
    del caller
    from registry.formats.photograph import photograph_ending

    data = received(request).read(digest)
    try:
        kind = _KINDS[photograph_ending(data)]
    except LeadlineError as error:
        raise NotFoundError("There is no such photograph.", remedy="Begin at the day's run.") from error
    return Response(data, media_type=kind)


def _answer(drop: "RecordedDrop") -> dict[str, Any]:
    return {
        "placement": drop.placement_id,
        "tag": drop.tag,
        "verdict": drop.verdict,
        "warnings": list(drop.warnings),
        "findings": [
            {"rule": each["rule"], "verdict": each["verdict"], "message": each["message"]}
            for each in drop.findings
        ],
        "page": f"/boat/{quote(drop.tag)}/recorded/{drop.placement_id}",
    }
