"""
GeoJSON as RFC 7946 has it, for web maps and desktop GIS.

Coordinates are WGS 84 longitude and latitude without a height, since a height there is one above the
ellipsoid: the depth below chart datum is a property. There is no ``crs`` member. Shapes across the 180th
meridian are split; the western edge of the box of such a file is a greater number than its eastern one.

Sources
-------
RFC 7946, sections 3.1.6 (rings), 3.1.9 (antimeridian), 4 (reference system), 5 (box), 6.1 (foreign members),
11.2 (precision).
"""

import json
from collections.abc import Iterable, Iterator, Mapping
from typing import Any

import shapely
from shapely.geometry import mapping
from shapely.geometry.base import BaseGeometry

from registry.measure.antimeridian_cut import cut_at_antimeridian
from registry.records.public_site import PublicSite
from registry.records.public_wording import (
    CAUTIONS,
    area_properties,
    frame_words,
    module_properties,
    publication_words,
    rounded_position,
)

__all__ = ["public_features", "write_geojson"]

OUTLINE_DECIMALS = 7

Span = tuple[float, float]


def write_geojson(site: PublicSite) -> str:
    """
    Write a public site as one FeatureCollection, one feature to a line.

    Parameters
    ----------
    site : PublicSite
        What the public may see; WGS 84.

    Returns
    -------
    str
        JSON, the same text for the same site. Coordinates of a module have the digits that its R95 supports,
        those of an outline 7 decimals; ``feature`` tells permit areas, keep-outs and modules apart.
    """
    features = list(public_features(site))
    members: dict[str, Any] = {
        "type": "FeatureCollection",
        "programme": site.programme,
        "issued_on": site.issued_on.isoformat(),
        "coordinates_are": frame_words(site),
        "cautions": list(CAUTIONS),
    }
    if publication_words(site):
        members["published"] = publication_words(site)
    box = _box(site)
    if box is not None:
        members["bbox"] = box
    head = ",\n".join(f"{_json(name)}: {_json(value)}" for name, value in members.items())
    lines = ",\n".join(_json(feature) for feature in features)
    return f'{{{head},\n"features": [\n{lines}\n]}}\n'


def public_features(site: PublicSite) -> Iterator[dict[str, Any]]:
    """Give every feature: permit areas, keep-outs, then modules; its ``feature`` tells which it is."""
    for area in site.areas:
        yield _feature(
            cut_at_antimeridian(area.shape),
            {"feature": "permit area", **area_properties(area, site)},
        )
    for keep_out in site.keep_outs:
        yield _feature(
            cut_at_antimeridian(keep_out.shape),
            {
                "feature": "keep-out",
                "name": keep_out.name,
                "kind": keep_out.kind,
                "setback_m": keep_out.setback_m,
            },
        )
    for module in site.modules:
        point = {"type": "Point", "coordinates": list(rounded_position(module))}
        yield {
            "type": "Feature",
            "properties": {"feature": "module", **module_properties(module, site)},
            "geometry": point,
        }


def _feature(shape: BaseGeometry, properties: Mapping[str, Any]) -> dict[str, Any]:
    return {
        "type": "Feature",
        "properties": properties,
        "geometry": _rounded(mapping(shapely.orient_polygons(shape))),
    }


def _rounded(value: Any) -> Any:
    if isinstance(value, float):
        return round(value, OUTLINE_DECIMALS) + 0.0
    if isinstance(value, Mapping):
        return {name: _rounded(part) for name, part in value.items()}
    if isinstance(value, list | tuple):
        return [_rounded(part) for part in value]
    return value


def _box(site: PublicSite) -> list[float] | None:
    """Give west, south, east, north of everything; west > east where that spans the antimeridian."""
    shapes = [area.shape for area in site.areas] + [keep_out.shape for keep_out in site.keep_outs]
    bounds = [part.bounds for shape in shapes for part in getattr(shape, "geoms", [shape])]
    for module in site.modules:
        lon_deg, lat_deg = rounded_position(module)
        bounds.append((lon_deg, lat_deg, lon_deg, lat_deg))
    if not bounds:
        return None
    west, east = _span((box[0], box[2]) for box in bounds)
    box = [west, min(box[1] for box in bounds), east, max(box[3] for box in bounds)]
    return [round(number, OUTLINE_DECIMALS) + 0.0 for number in box]


def _span(spans: Iterable[Span]) -> Span:
    """Give the shortest stretch of longitude that holds every stretch given, both ends in [-180, 180]."""
    starts = sorted(((west + 180) % 360, east - west) for west, east in spans)
    # The answer leaves out the widest gap between the farthest end so far and the next start; the first start
    # comes after the ends of the round before.
    reach = max(start + width for start, width in starts) - 360
    gaps = []
    for start, width in starts:
        gaps.append((start - reach, start, reach))
        reach = max(reach, start + width)
    gap, start, end = max(gaps)
    if gap <= 0:
        return -180.0, 180.0
    west, east = start % 360 - 180, end % 360 - 180
    return west, (180.0 if east == -180 else east)


def _json(value: Any) -> str:
    return json.dumps(value, ensure_ascii=False, allow_nan=False)
