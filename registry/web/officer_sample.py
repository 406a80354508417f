"""A sample of modules to be looked at again: drawn by the officer's seed, listed and taken along."""

from datetime import datetime

from fastapi import APIRouter, Request
from fastapi.responses import Response

from registry.actions.draw_sample import draw_sample
from registry.desk.sample_files import sample_files
from registry.errors import NotFoundError, RequestError
from registry.formats.sample_words import depth_words, drawn_lines, position_words, radius_words
from registry.records.inspection_sample import InspectionSample
from registry.web.officer_audit import Asked, asked_of, reading_as_of
from registry.web.officer_page import Officer, download, officer_page
from registry.web.opened import settings_of

__all__ = ["router"]

router = APIRouter(include_in_schema=False)
_SIZE = "20"
_KINDS = {
    "sample.gpx": "application/gpx+xml",
    "sample.csv": "text/csv; charset=utf-8",
    "sample.txt": "text/plain; charset=utf-8",
}


@router.get("/officer/sample")
def sample_page(request: Request, caller: Officer) -> Response:
    """Ask for a sample, and list the one that was asked for."""
    del caller
    asked = asked_of(request)
    typed = {name: request.query_params.get(name, "").strip()[:200] for name in ("permit", "size", "seed")}
    with reading_as_of(request, asked.dates) as register:
        numbers = [permit.number for permit in register.permits()]
    drawn = _drawn(request, asked) if typed["permit"] and typed["seed"] else None
    return officer_page(
        request,
        "officer_sample.html",
        asked,
        typed=typed | {"size": typed["size"] or _SIZE},
        numbers=numbers,
        sample=drawn,
        rows=[
            {
                "tag": module.tag,
                "position": position_words(module),
                "r95": radius_words(module.r95_m),
                "depth": depth_words(module, drawn.chart_datum),
                "verdict": module.verdict,
                "chance": f"{module.chance:.2f}",
            }
            for module in drawn.modules
        ]
        if drawn
        else [],
        told=drawn_lines(drawn) if drawn else (),
    )


@router.get("/officer/sample/{file}")
def sample_file(request: Request, caller: Officer, file: str) -> Response:
    """Give the sample as waypoints, as a table to fill in, or as a list to print."""
    del caller
    if file not in _KINDS:
        what = f"A sample has no file {file}."
        raise NotFoundError(what, remedy="Ask for sample.gpx, sample.csv or sample.txt.")
    files = sample_files(_drawn(request, asked_of(request)))
    name = f"sample-{request.query_params.get('permit', '')}{file.removeprefix('sample')}"
    return download(request, files[file], name, _KINDS[file])


def _drawn(request: Request, asked: Asked) -> InspectionSample:
    typed = request.query_params
    size = typed.get("size", "").strip() or _SIZE
    if not (size.isascii() and size.isdigit() and len(size) < 7):
        raise RequestError(f"{size!r} is no number of modules.", remedy="Write it in digits, as 20.")
    now: datetime = settings_of(request).clock.now()
    with reading_as_of(request, asked.dates) as register:
        return draw_sample(
            register,
            typed.get("permit", ""),
            size=int(size),
            seed=typed.get("seed", ""),
            now=now,
            as_of=asked.dates.known,
        )
