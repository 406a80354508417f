"""What everybody may see: the first page, the search, the ways to the map, the files and the proofs."""

from fastapi import APIRouter, Depends, Request
from fastapi.responses import RedirectResponse, Response

from registry.web import public_authenticate, public_downloads, public_map
from registry.web.open_to_all import open_to_all
from registry.web.opened import settings_of
from registry.web.pages import page
from registry.web.public_map import site_paths
from registry.web.published import published_site

__all__ = ["router"]

router = APIRouter(include_in_schema=False)
#: What is typed into a search. Units: characters.
_LONGEST = 200


@router.get("/")
def first_page(request: Request) -> Response:
    """Say what this is, and lead on; a boat's server leads its crew in."""
    if not settings_of(request).public:
        return RedirectResponse("/sign-in", status_code=303)
    site = published_site(request)
    return page(request, "public_first.html", site=site, paths=site_paths(site))


@router.get("/search", dependencies=[Depends(open_to_all)])
def search_page(request: Request) -> Response:
    """Find modules and sites among what is published."""
    from registry.actions.search_site import search_site
    from registry.documents.public_values import depth_text, measured, plotter_text

    asked = request.query_params.get("q", "").strip()[:_LONGEST]
    site = published_site(request)
    found = search_site(site, asked)
    return page(
        request,
        "public_search.html",
        site=site,
        asked=asked,
        found=found,
        paths=site_paths(site),
        plotter_text=plotter_text,
        measured=measured,
        depth_text=depth_text,
    )


for part in (public_map, public_downloads, public_authenticate):
    router.include_router(part.router)
