"""The map of a permit: its layers as data, and the script and style that draw them, where they ship."""

from collections.abc import Sequence
from typing import Annotated, Any

from fastapi import APIRouter, Depends, Request
from fastapi.responses import JSONResponse, Response

from registry.documents.permit_map import map_layers
from registry.errors import NotFoundError
from registry.records.baseline import Baseline
from registry.records.permit import KeepOut, Permit
from registry.records.target import Target
from registry.storage.shipped import shipped_path, shipped_text
from registry.web.identity import Caller, needs
from registry.web.officer_paths import text_of
from registry.web.opened import reading

__all__ = ["layers_of", "router"]

router = APIRouter(include_in_schema=False)
Office = Annotated[Caller, Depends(needs("office"))]
_SHIPPED = {"leaflet.js": "text/javascript; charset=utf-8", "leaflet.css": "text/css; charset=utf-8"}


@router.get("/vendor/{name}")
def vendored(name: str) -> Response:
    """Give a library that ships with us; there are no others, whatever the name says."""
    if name not in _SHIPPED:
        raise NotFoundError("There is no such file.", remedy="Begin at the first page.")
    return Response(
        shipped_path(f"vendor/{name}").read_bytes(),
        media_type=_SHIPPED[name],
        headers={"cache-control": "public, max-age=86400"},
    )


@router.get("/office/map/permit/{segment}")
def permit_layers(request: Request, segment: str, caller: Office) -> Response:
    """Give the layers of one permit."""
    del caller
    number = text_of(segment)
    with reading(request) as register, register.reading():
        permit = register.permit(number)
        targets = [target for target in register.targets() if target.permit == number]
        return layers_of([permit], register.keep_outs(), targets, register.baselines())


@router.get("/office/map/keep-outs")
def keep_out_layers(request: Request, caller: Office) -> Response:
    """Give every keep-out and baseline, with the areas of all permits."""
    del caller
    with reading(request) as register, register.reading():
        return layers_of(register.permits(), register.keep_outs(), (), register.baselines())


def layers_of(
    permits: Sequence[Permit],
    keep_outs: Sequence[KeepOut],
    targets: Sequence[Target],
    baselines: Sequence[Baseline],
) -> JSONResponse:
    """Give layers as an answer for the script of the map."""
    data: dict[str, Any] = map_layers(
        [area for permit in permits for area in permit.areas],
        keep_outs,
        targets,
        baselines,
        coast=shipped_text("coast.geojson"),
        coast_world=shipped_text("coast_world.geojson"),
    )
    return JSONResponse(data)
