"""
The public layers for a desktop GIS that connects live: OGC API - Features.

Sources
-------
OGC 17-069r4 (Part 1: Core 1.0.1): requirements classes Core and GeoJSON.
"""

import json
from collections.abc import Mapping
from typing import Annotated, Any
from urllib.parse import urlencode

from fastapi import APIRouter, Depends, Query, Request
from fastapi.responses import Response

from registry.errors import NotFoundError, RequestError
from registry.formats.feature_layers import Layer, public_layers
from registry.formats.feature_query import FeatureQuery, read_box, read_period
from registry.records.public_wording import CAUTIONS, frame_words
from registry.web.published import made_once, published_site
from registry.web.tagged import tagged

__all__ = ["router"]

router = APIRouter(prefix="/features", tags=["Public layers (OGC API - Features)"])
CRS84 = "http://www.opengis.net/def/crs/OGC/1.3/CRS84"
CONFORMS_TO = (
    "http://www.opengis.net/spec/ogcapi-features-1/1.0/conf/core",
    "http://www.opengis.net/spec/ogcapi-features-1/1.0/conf/geojson",
)
_JSON, _GEOJSON = "application/json", "application/geo+json"
_MOST = 10_000
_FAULTS: dict[int | str, dict[str, Any]] = {
    400: {"description": "A parameter that cannot be used; the answer says which and what to give."},
    404: {"description": "No such collection or feature."},
}


class _Page:
    """Which page of what is found."""

    def __init__(
        self,
        limit: Annotated[int, Query(ge=1, description="At most so many; over 10,000 gives 10,000.")] = 100,
        offset: Annotated[int, Query(ge=0, le=2**53, description="How many to leave out before.")] = 0,
    ) -> None:
        self.limit, self.offset = limit, offset


class _Which:
    """Which features are looked for."""

    def __init__(
        self,
        bbox: Annotated[str | None, Query(description="west,south,east,north in degrees (CRS84).")] = None,
        datetime: Annotated[str | None, Query(description="RFC 3339 instant, or two with a slash.")] = None,
    ) -> None:
        self.bbox, self.datetime = bbox, datetime


@router.get("", summary="Where to begin", response_class=Response)
def landing(request: Request) -> Response:
    """Tell what is here, with links."""
    _refuse_others(request)
    links = [
        _link(request, "/features", "self", _JSON, "This page"),
        _link(
            request, "/openapi.json", "service-desc", "application/vnd.oai.openapi+json;version=3.1", "API"
        ),
        _link(request, "/features/conformance", "conformance", _JSON, "What it conforms to"),
        _link(request, "/features/collections", "data", _JSON, "The layers"),
    ]
    site = published_site(request)
    about = " ".join((f"Public layers of {site.programme}, in {frame_words(site)}.", *CAUTIONS))
    return _answer(request, {"title": site.programme, "description": about, "links": links})


@router.get("/conformance", summary="What it conforms to", response_class=Response)
def conformance(request: Request) -> Response:
    """Give the requirements classes that are kept."""
    _refuse_others(request)
    return _answer(request, {"conformsTo": CONFORMS_TO})


@router.get("/collections", summary="The layers", response_class=Response)
def collections(request: Request) -> Response:
    """Give every layer."""
    _refuse_others(request)
    links = [_link(request, "/features/collections", "self", _JSON, "The layers")]
    told = [_collection(request, layer) for layer in _layers(request)]
    return _answer(request, {"links": links, "collections": told})


@router.get("/collections/{layer_id}", summary="One layer", response_class=Response, responses=_FAULTS)
def collection(request: Request, layer_id: str) -> Response:
    """Describe one layer."""
    _refuse_others(request)
    return _answer(request, _collection(request, _layer(request, layer_id)))


@router.get(
    "/collections/{layer_id}/items", summary="Features of a layer", response_class=Response, responses=_FAULTS
)
def items(
    request: Request, layer_id: str, page: Annotated[_Page, Depends()], which: Annotated[_Which, Depends()]
) -> Response:
    """Give one page of a layer."""
    _refuse_others(request, "limit", "offset", "bbox", "datetime")
    layer = _layer(request, layer_id)
    query = FeatureQuery(
        box=read_box(which.bbox) if which.bbox else None,
        period=read_period(which.datetime) if which.datetime else None,
        limit=min(page.limit, _MOST),
        offset=page.offset,
    )
    found, offset = layer.find(query), page.offset
    path = f"/features/collections/{layer_id}/items"
    asked = dict(request.query_params)
    links = [_link(request, path, "self", _GEOJSON, "This page", asked)]
    if offset + len(found.features) < found.matched and found.features:
        onward = asked | {"offset": str(offset + len(found.features))}
        links.append(_link(request, path, "next", _GEOJSON, "Next page", onward))
    if offset:
        back = asked | {"offset": str(max(0, offset - query.limit))}
        links.append(_link(request, path, "prev", _GEOJSON, "Page before", back))
    links.append(_link(request, f"/features/collections/{layer_id}", "collection", _JSON, layer.title))
    told = {
        "type": "FeatureCollection",
        "links": links,
        "numberMatched": found.matched,
        "numberReturned": len(found.features),
        "features": found.features,
    }
    return _answer(request, told, media_type=_GEOJSON)


@router.get(
    "/collections/{layer_id}/items/{feature_id}",
    summary="One feature",
    response_class=Response,
    responses=_FAULTS,
)
def item(request: Request, layer_id: str, feature_id: str) -> Response:
    """Give one feature."""
    _refuse_others(request)
    layer = _layer(request, layer_id)
    feature = layer.feature(feature_id)
    if feature is None:
        what = f"The layer {layer_id} has no feature {feature_id[:100]!r}."
        raise NotFoundError(what, remedy="Take an identifier from its items.")
    path = f"/features/collections/{layer_id}"
    links = [
        _link(request, f"{path}/items/{feature_id}", "self", _GEOJSON, "This feature"),
        _link(request, path, "collection", _JSON, layer.title),
    ]
    return _answer(request, {**feature, "links": links}, media_type=_GEOJSON)


def _layers(request: Request) -> tuple[Layer, ...]:
    site = published_site(request)
    return made_once(request, "layers", lambda: public_layers(site))


def _layer(request: Request, layer_id: str) -> Layer:
    layers = _layers(request)
    for layer in layers:
        if layer.layer_id == layer_id:
            return layer
    known = ", ".join(layer.layer_id for layer in layers)
    raise NotFoundError(f"There is no layer {layer_id[:100]!r}.", remedy=f"There are {known}.")


def _collection(request: Request, layer: Layer) -> dict[str, Any]:
    path = f"/features/collections/{layer.layer_id}"
    spatial = {"spatial": {"bbox": [layer.extent], "crs": CRS84}} if layer.extent else {}
    return {
        "id": layer.layer_id,
        "title": layer.title,
        "description": layer.description,
        "itemType": "feature",
        "crs": [CRS84],
        "extent": spatial,
        "links": [
            _link(request, path, "self", _JSON, layer.title),
            _link(request, f"{path}/items", "items", _GEOJSON, "Its features"),
        ],
    }


def _link(  # noqa: PLR0917 - the members of a link, in their order
    request: Request, path: str, rel: str, media_type: str, title: str, query: Mapping[str, str] | None = None
) -> dict[str, str]:
    base = str(request.base_url).rstrip("/")
    address = f"{base}{path}" + (f"?{urlencode(query)}" if query else "")
    return {"href": address, "rel": rel, "type": media_type, "title": title}


def _refuse_others(request: Request, *known: str) -> None:
    """Refuse parameters that mean nothing here (OGC 17-069r4, 7.14: a server answers 400)."""
    unknown = sorted(set(request.query_params) - set(known))
    if unknown:
        remedy = f"There are {', '.join(known)}." if known else "This address takes none."
        raise RequestError(f"There is no parameter {unknown[0][:100]!r}.", remedy=remedy)


def _answer(request: Request, told: Mapping[str, Any], *, media_type: str = _JSON) -> Response:
    body = json.dumps(told, ensure_ascii=False, allow_nan=False, separators=(",", ":")).encode()
    return tagged(request, body, media_type=media_type)
