"""The public map and the pages of its sites, as a web host would serve their folder."""

import mimetypes
import re
from pathlib import PurePosixPath
from typing import TYPE_CHECKING
from urllib.parse import quote

from fastapi import APIRouter, Depends, Request
from fastapi.responses import RedirectResponse, Response

from registry.errors import NotFoundError
from registry.web.headers import PAGE_POLICY
from registry.web.open_to_all import open_to_all
from registry.web.published import made_once, published_site
from registry.web.tagged import tagged

if TYPE_CHECKING:
    from registry.documents.offline_site import SiteFile
    from registry.records.public_site import PublicSite

__all__ = ["router", "site_paths"]

router = APIRouter(include_in_schema=False, dependencies=[Depends(open_to_all)])

_POLICY = re.compile(rb'http-equiv="Content-Security-Policy" content="([^"]+)"')
_TYPES = {
    ".html": "text/html; charset=utf-8",
    ".js": "text/javascript; charset=utf-8",
    ".webmanifest": "application/manifest+json",
    ".gpx": "application/gpx+xml",
    ".kml": "application/vnd.google-earth.kml+xml",
    ".geojson": "application/geo+json",
    ".csv": "text/csv; charset=utf-8",
}


@router.get("/map")
def to_map(request: Request) -> Response:
    """Lead to the folder: the map's own addresses begin there."""
    return RedirectResponse(f"/map/{_asked(request)}", status_code=308)


@router.get("/map/{path:path}")
def map_file(request: Request, path: str) -> Response:
    """Give a file of the folder; there are no others, whatever the path says."""
    file = _folder(request).get(path or "index.html")
    if file is None:
        raise NotFoundError("There is no such page of the map.", remedy="Begin at the map: /map/")
    said = {"content-security-policy": PAGE_POLICY}
    own = _POLICY.search(file.content[:100_000])
    if own is not None:
        # The page runs the scripts that it was made with, and allows them by their digests.
        said["content-security-policy"] = f"{own[1].decode()}; frame-ancestors 'none'"
    return tagged(request, file.content, media_type=_type_of(path or "index.html"), headers=said)


@router.get("/sites/{name}")
def site_page(request: Request, name: str) -> Response:
    """Lead to the page of a site by the name of its area, or that of its page."""
    paths = site_paths(published_site(request))
    sought = name.casefold()
    for (area, _), path in paths.items():
        if sought in (area.casefold(), PurePosixPath(path).stem):
            return RedirectResponse(f"/map/{quote(path)}", status_code=303)
    raise NotFoundError("There is no such site.", remedy="See the sites on the first page.")


def site_paths(site: "PublicSite") -> "dict[tuple[str, str], str]":
    """Give the page of each area below the map, by area and permit."""
    from registry.documents.offline_site import area_pages

    named = [(area.area_id, area.permit) for area in site.areas]
    return dict(zip(named, area_pages(site), strict=True))


def _folder(request: Request) -> "dict[str, SiteFile]":
    from registry.desk.public_files import site_files

    def make() -> "dict[str, SiteFile]":
        return {file.path: file for file in site_files(published_site(request))}

    return made_once(request, "map", make)


def _type_of(path: str) -> str:
    suffix = PurePosixPath(path).suffix
    return _TYPES.get(suffix) or mimetypes.guess_type(path)[0] or "application/octet-stream"


def _asked(request: Request) -> str:
    return f"?{request.url.query}" if request.url.query else ""
