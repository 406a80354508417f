"""Files for plotters, phones and desktop GIS, and a list to print, as ``leadline export`` writes them."""

from datetime import UTC, datetime, time
from typing import TYPE_CHECKING

from fastapi import APIRouter, Depends, Request
from fastapi.responses import RedirectResponse, Response

from registry.errors import NotFoundError
from registry.web.open_to_all import open_to_all
from registry.web.opened import reading, settings_of
from registry.web.pages import page
from registry.web.published import made_once, published_site
from registry.web.tagged import tagged

if TYPE_CHECKING:
    pass

__all__ = ["FILES", "router"]

router = APIRouter(include_in_schema=False, dependencies=[Depends(open_to_all)])

#: Ending, media type, and what each is for.
FILES = (
    ("gpx", "application/gpx+xml", "GPX", "for a chart plotter or a phone"),
    ("kml", "application/vnd.google-earth.kml+xml", "KML", "for a globe on a screen"),
    ("geojson", "application/geo+json", "GeoJSON", "for a desktop GIS"),
    ("csv", "text/csv; charset=utf-8", "CSV", "for a spreadsheet"),
    ("pdf", "application/pdf", "PDF", "a list to print, A4"),
)


@router.get("/downloads")
def to_downloads() -> Response:
    """Lead to the list."""
    return RedirectResponse("/downloads/", status_code=308)


@router.get("/downloads/")
def downloads_page(request: Request) -> Response:
    """List the files."""
    return page(request, "public_downloads.html", site=published_site(request), files=FILES)


@router.get("/downloads/{name}")
def download(request: Request, name: str) -> Response:
    """Give a file; who has it already is told so."""
    found = next((row for row in FILES if name == f"reef.{row[0]}"), None)
    if found is None:
        raise NotFoundError("There is no such file.", remedy="See those there are: /downloads/")
    form, media_type = found[0], found[1]
    now = settings_of(request).clock.now()

    def make() -> tuple[bytes, datetime]:
        from registry.desk.public_files import public_file

        return public_file(form, published_site(request)), _changed(request, now)

    content, changed = made_once(request, f"download {form}", make)
    said = {"content-disposition": f'attachment; filename="{name}"'}
    return tagged(request, content, media_type=media_type, headers=said, changed=changed)


def _changed(request: Request, now: datetime) -> datetime:
    """Tell when the files changed last: with the journal's last entry, or with the day that they speak of."""
    with reading(request) as register, register.reading():
        last = next(register.journal(after=register.journal_length() - 1), None)
    midnight = datetime.combine(now.astimezone(UTC).date(), time(), UTC)
    return max(midnight, last.time) if last is not None else midnight
