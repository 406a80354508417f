"""The coast around a site, for the map: in detail near it, in outline over the rest of the world."""

import json
import math
from typing import Any

import numpy as np
import shapely
from shapely import affinity
from shapely.geometry.base import BaseGeometry

__all__ = ["COAST_BYTES", "Box", "coast_layer"]

#: Bytes of coast that a page may carry.
COAST_BYTES = 400_000
#: Least distance from the site to the edge of the detailed coast. Units: degrees of latitude.
COAST_MARGIN_DEG = 2.0

#: West, south, east and north; longitudes may run past 180. Units: degrees.
Box = tuple[float, float, float, float]


def coast_layer(detailed: str, outlined: str, bounds: Box | None, middle_deg: float) -> dict[str, Any]:
    """
    Give the land as GeoJSON.

    Parameters
    ----------
    detailed, outlined : str
        GeoJSON FeatureCollections of land, each feature with its bbox: in detail, and the world in outline.
    bounds : Box, optional
        Of the site; None for an empty one.
    middle_deg : float
        Longitude around which the site lies. Units: degrees.

    Returns
    -------
    dict
        At most :data:`COAST_BYTES` of it, coarser where a coast is dense.
    """
    west, south, east, north = bounds or (middle_deg, 0.0, middle_deg, 0.0)
    margin = max(COAST_MARGIN_DEG, (north - south) / 2, (east - west) / 2)
    margin_lon = min(margin / max(math.cos(math.radians((south + north) / 2)), 0.1), 30.0)
    near = (
        max(west - margin_lon, middle_deg - 180.0),
        max(south - margin, -90.0),
        min(east + margin_lon, middle_deg + 180.0),
        min(north + margin, 90.0),
    )
    detail = _land(detailed, near)
    world = _land(outlined, (middle_deg - 180.0, -90.0, middle_deg + 180.0, 90.0))
    world = shapely.difference(world, shapely.box(*near))
    shore = shapely.difference(detail.boundary, shapely.box(*near).boundary.buffer(1e-6))
    tolerance_deg = 0.001
    while True:
        shapes = (world, shapely.simplify(detail, tolerance_deg), shapely.simplify(shore, tolerance_deg))
        text = [
            shapely.to_geojson(shapely.transform(shape, lambda lonlat: np.round(lonlat, 3)))
            for shape in shapes
        ]
        if sum(map(len, text)) <= COAST_BYTES or tolerance_deg > 1.0:
            break
        tolerance_deg *= 2
    return {
        "type": "FeatureCollection",
        "features": [
            {"type": "Feature", "id": str(i), "properties": {"kind": kind}, "geometry": json.loads(geometry)}
            for i, (kind, geometry) in enumerate(zip(("land", "land", "shore"), text, strict=True))
            if json.loads(geometry)["coordinates"]
        ],
    }


def _land(collection: str, box: Box) -> BaseGeometry:
    """The land of a collection inside a box, whose longitudes may run past 180."""
    west, south, east, north = box
    pieces = []
    for feature in json.loads(collection)["features"]:
        left, bottom, right, top = feature["bbox"]
        for turn in (-360, 0, 360):
            if left + turn < east and right + turn > west and bottom < north and top > south:
                tile = shapely.from_geojson(json.dumps(feature["geometry"]))
                moved = affinity.translate(tile, xoff=turn)
                pieces.append(shapely.clip_by_rect(moved, *box))
    land = shapely.union_all(pieces) if pieces else shapely.MultiPolygon()
    return shapely.MultiPolygon([part for part in shapely.get_parts(land) if part.geom_type == "Polygon"])
