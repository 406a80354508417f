"""Pages of the boat: the day's run, one large page for each module, the entries that tablets kept."""

from fastapi import APIRouter
from fastapi.responses import FileResponse, Response

from registry.web import boat_module, boat_receiver, boat_record, boat_run
from registry.web.pages import STATIC

__all__ = ["router"]

router = APIRouter(include_in_schema=False)


@router.get("/boat/sw.js")
def worker() -> Response:
    """Give the script that keeps the pages of the boat on a tablet; browsers take it over TLS alone."""
    return FileResponse(
        STATIC / "boat_worker.js",
        media_type="text/javascript",
        headers={"service-worker-allowed": "/boat", "cache-control": "no-cache"},
    )


for part in (boat_run, boat_record, boat_receiver, boat_module):
    # The pages of modules come last: a tag may be any word.
    router.include_router(part.router)
