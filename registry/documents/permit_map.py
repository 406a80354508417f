"""What lies under a permit as layers of a map: areas, keep-outs, setbacks, targets, baselines, coast."""

import json
from collections.abc import Sequence
from typing import Any

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from registry.documents.map_coast import coast_layer
from registry.measure.edges import densify
from registry.measure.geodesic import SitePlane
from registry.records.baseline import Baseline
from registry.records.permit import Area, KeepOut
from registry.records.target import Target

__all__ = ["map_layers"]

#: Corners of what is drawn, so that a line of one kind does not show as one of another. Units: m.
_STEP_M = 250.0
#: Degrees are written to about a centimetre.
_DECIMALS = 7


def map_layers(
    areas: Sequence[Area],
    keep_outs: Sequence[KeepOut],
    targets: Sequence[Target],
    baselines: Sequence[Baseline],
    *,
    coast: str,
    coast_world: str,
) -> dict[str, Any]:
    """
    Give GeoJSON for a map that is drawn by a script.

    Parameters
    ----------
    areas, keep_outs, targets, baselines : sequence
        In the home frame; longitudes may run past 180.
    coast, coast_world : str
        GeoJSON FeatureCollections of land, as ``coast_layer`` takes them.

    Returns
    -------
    dict
        ``bounds`` (south, west, north, east; None for nothing) and ``layers``: for each feature its ``kind``
        (area, keep-out, setback, target, baseline) and ``name`` as plain text. Nothing in it is markup.
    """
    features = [_feature("area", a.area_id, densify(a.shape, a.edges, _STEP_M)) for a in areas]
    features += [_feature("setback", _called(k), _zone(k)) for k in keep_outs if k.setback_m > 0]
    features += [_feature("keep-out", _called(k), densify(k.shape, "geodesic", _STEP_M)) for k in keep_outs]
    features += [_feature("baseline", b.name, b.shape) for b in baselines]
    features += [
        _feature("target", f"Target of {t.tag}", shapely.Point(t.lon_deg, t.lat_deg)) for t in targets
    ]
    shown: list[BaseGeometry] = [a.shape for a in areas] or [
        *(k.shape for k in keep_outs),
        *(b.shape for b in baselines),
    ]
    boxes = np.array([shape.bounds for shape in shown]) if shown else np.zeros((0, 4))
    bounds = None
    if len(boxes):
        west, south = boxes[:, 0].min(), boxes[:, 1].min()
        east, north = boxes[:, 2].max(), boxes[:, 3].max()
        bounds = (float(west), float(south), float(east), float(north))
    middle = (bounds[0] + bounds[2]) / 2 if bounds else 0.0
    return {
        "bounds": [bounds[1], bounds[0], bounds[3], bounds[2]] if bounds else None,
        "coast": coast_layer(coast, coast_world, bounds, middle),
        "layers": {"type": "FeatureCollection", "features": features},
    }


def _called(keep_out: KeepOut) -> str:
    return f"{keep_out.kind} {keep_out.name}, stay clear by {keep_out.setback_m:.4g} m".strip()


def _zone(keep_out: KeepOut) -> BaseGeometry:
    """Give the ground within the setback."""
    middle = keep_out.shape.centroid
    plane = SitePlane(middle.x, middle.y)
    there = shapely.transform(
        densify(keep_out.shape, "geodesic", _STEP_M),
        lambda xy: np.column_stack(plane.to_plane(xy[:, 0], xy[:, 1])),
    )
    return shapely.transform(
        there.buffer(keep_out.setback_m),
        lambda xy: np.column_stack(plane.from_plane(xy[:, 0], xy[:, 1])),
    )


def _feature(kind: str, name: str, shape: BaseGeometry) -> dict[str, Any]:
    rounded = shapely.transform(shape, lambda lonlat: np.round(lonlat, _DECIMALS))
    return {
        "type": "Feature",
        "properties": {"kind": kind, "name": name},
        "geometry": json.loads(shapely.to_geojson(rounded)),
    }
