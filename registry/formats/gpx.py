"""
GPX 1.1 for plotters and phones: a waypoint for each module, a route for each site, a track for each outline.

Where the programme publishes sites alone, there is a waypoint for each site and no route. Where it rounds
positions there is no route either: one through rounded places would lead past everything that it names.

Depth below chart datum has no element in GPX and is never written as a negative elevation: it stands in the
description, and in an extension of our own beside R95. The day of placement stands there too, since the time
of a waypoint would claim an instant.

Sources
-------
GPX 1.1 schema (http://www.topografix.com/GPX/1/1/gpx.xsd): order of elements, longitude in [-180, 180).
"""

import math
from collections.abc import Iterator, Sequence
from datetime import UTC, datetime, time
from itertools import pairwise
from xml.etree import ElementTree as ET

import numpy as np
import shapely
from shapely import Point, Polygon
from shapely.geometry.base import BaseGeometry

from registry.formats.gpx_element import EXTENSION, LonLat, add_point, add_text, gpx_root
from registry.measure.antimeridian_cut import single_parts
from registry.measure.boat_order import boat_order
from registry.measure.site_circle import site_circle
from registry.records.public_site import PublicArea, PublicModule, PublicSite
from registry.records.public_wording import (
    CAUTIONS,
    area_facts,
    coordinate_decimals,
    datum_of,
    frame_words,
    module_facts,
    module_names,
    publication_words,
    rounded_depth,
    rounded_position,
    rounded_u95,
    short_area_facts,
    short_facts,
    shown_sites,
    xml_text,
)
from registry.records.short_names import LongName, short_names

__all__ = ["EXTENSION", "write_gpx"]

#: The easternmost longitude that the schema admits at 7 decimals.
EASTERNMOST_DEG = 179.9999999
#: What a route says of itself: it is drawn by straight legs.
LEGS = "In an order without detours, by straight legs that know no shoal and no traffic"


def write_gpx(site: PublicSite, *, longest_name: int | None = None) -> bytes:
    """
    Write a public site as GPX 1.1.

    Parameters
    ----------
    site : PublicSite
        What the public may see; WGS 84.
    longest_name : int, optional
        Cut names to this many characters, for plotters that do so anyhow but less well. No two waypoints are
        named alike, and neither are two routes or two tracks.

    Returns
    -------
    bytes
        UTF-8 XML, the same bytes for the same site.

    Raises
    ------
    RequestError
        If names cannot be told apart within `longest_name` characters.
    """
    root = gpx_root()
    metadata = ET.SubElement(root, "metadata")
    add_text(metadata, "name", f"{site.programme}: memorial reef modules")
    frame = f"Coordinates: {frame_words(site)}."
    add_text(metadata, "desc", " ".join(filter(None, [frame, publication_words(site), *CAUTIONS])))
    issued = datetime.combine(site.issued_on, time(), tzinfo=UTC)
    add_text(metadata, "time", issued.strftime("%Y-%m-%dT%H:%M:%SZ"))
    names = module_names(site, longest_name)
    for module, name in zip(site.modules, names, strict=True):
        _waypoint(root, site, module, name)
    sites = shown_sites(site)
    for area, name in zip(sites, _cut([(each.area_id,) for each in sites], longest_name), strict=True):
        names.append(name)
        _site_waypoint(root, site, area, name)
    marks = [
        (keep_out, part)
        for keep_out in site.keep_outs
        for part in single_parts(keep_out.shape)
        if isinstance(part, Point)
    ]
    cut = _cut([(f"Keep clear: {each.name}", each.name) for each, _ in marks], longest_name, besides=names)
    for (keep_out, part), name in zip(marks, cut, strict=True):
        point = add_point(root, "wpt", (part.x, part.y))
        add_text(point, "name", name)
        add_text(point, "desc", f"{keep_out.kind}, setback {keep_out.setback_m:g} m")
        add_text(point, "type", "keep-out")
    _routes(root, site, names, longest_name)
    _tracks(root, site, longest_name)
    ET.indent(root)
    text: bytes = ET.tostring(root, encoding="UTF-8", xml_declaration=True)
    return text + b"\n"


def _cut(names: Sequence[tuple[str, ...]], longest: int | None, *, besides: Sequence[str] = ()) -> list[str]:
    """Cut names that are words, each given by its spellings; where no length is asked for, keep the first."""
    if longest is None:
        return [spellings[0] for spellings in names]
    return short_names([LongName(spellings) for spellings in names], longest, besides=besides)


def _site_waypoint(root: ET.Element, site: PublicSite, area: PublicArea, name: str) -> None:
    circle = site_circle(area.shape)
    reach = f"The whole permit area lies within {rounded_u95(circle.radius_m):g} m of this point."
    point = add_point(root, "wpt", (circle.lon_deg, circle.lat_deg), circle.decimals)
    add_text(point, "name", name)
    add_text(point, "cmt", short_area_facts(area, site))
    frame = f"Coordinates: {frame_words(site)}."
    add_text(point, "desc", " ".join([*area_facts(area, site), reach, frame, CAUTIONS[0]]))
    add_text(point, "src", site.programme)
    add_text(point, "type", "memorial reef site")
    own = ET.SubElement(point, "extensions")
    add_text(own, "leadline:whole_area_within_m", f"{rounded_u95(circle.radius_m):g}")
    add_text(own, "leadline:epoch", f"{site.epoch:.1f}")


def _routes(root: ET.Element, site: PublicSite, names: Sequence[str], longest: int | None) -> None:
    """Lead through the modules of each site; none where what is published are no places to go to."""
    if site.published.rounded_m is not None:
        return
    found = [(area, _rows_inside(site, area)) for area in site.areas]
    routes = [(area, inside, near) for area, (inside, near) in found if len(inside) > 1]
    cut = _cut([(area.area_id,) for area, *_ in routes], longest)
    for (area, inside, near), name in zip(routes, cut, strict=True):
        places = [rounded_position(site.modules[row]) for row in inside]
        order, _ = boat_order([lon for lon, _ in places], [lat for _, lat in places])
        route = ET.SubElement(root, "rte")
        add_text(route, "name", name)
        what = f"The {len(inside)} modules within {area.area_id}, permit {area.permit}. {LEGS}"
        left = f" Left out, since outside the area: {near}." if near else ""
        add_text(route, "desc", f"{what}: plan the passage on official charts.{left} {CAUTIONS[0]}")
        add_text(route, "type", "memorial reef site")
        for stop in order:
            decimals = coordinate_decimals(site.modules[inside[stop]].r95_m)
            add_text(add_point(route, "rtept", places[stop], decimals), "name", names[inside[stop]])


def _rows_inside(site: PublicSite, area: PublicArea) -> tuple[list[int], int]:
    """Give the modules of an area that lie in it, and how many lie outside."""
    rows = [
        row
        for row, module in enumerate(site.modules)
        if module.area_id == area.area_id and module.permit in ("", area.permit)
    ]
    if not rows:
        return [], 0
    # The ring of an area may run on past 180.
    west = area.shape.bounds[0]
    lon = np.array([(site.modules[row].lon_deg - west + 1.0) % 360.0 + west - 1.0 for row in rows])
    lat = np.array([site.modules[row].lat_deg for row in rows])
    inside = shapely.contains_xy(area.shape, lon, lat)
    return [row for row, held in zip(rows, inside.tolist(), strict=True) if held], int((~inside).sum())


def _tracks(root: ET.Element, site: PublicSite, longest: int | None) -> None:
    outlines = [
        (
            (f"Permit area {area.area_id}", area.area_id),
            " ".join(["Placement is allowed inside this outline only.", *area_facts(area, site)]),
            "permit area",
            area.shape,
        )
        for area in site.areas
    ] + [
        (
            (f"Keep clear: {keep_out.name}", keep_out.name),
            f"{keep_out.kind}, setback {keep_out.setback_m:g} m",
            "keep-out",
            keep_out.shape,
        )
        for keep_out in site.keep_outs
    ]
    names = _cut([spellings for spellings, *_ in outlines], longest)
    for (_, desc, kind, shape), name in zip(outlines, names, strict=True):
        _track(root, name, desc, kind, shape)


def _waypoint(root: ET.Element, site: PublicSite, module: PublicModule, name: str) -> None:
    lon_lat = rounded_position(module)
    point = add_point(root, "wpt", lon_lat, coordinate_decimals(module.r95_m))
    add_text(point, "name", name)
    add_text(point, "cmt", short_facts(module, site))
    add_text(point, "desc", " ".join([*module_facts(module, site), CAUTIONS[0]]))
    add_text(point, "src", site.programme)
    add_text(point, "type", "memorial reef module")
    own = ET.SubElement(point, "extensions")
    add_text(own, "leadline:tag", module.tag)
    add_text(own, "leadline:r95_m", f"{rounded_u95(module.r95_m):g}")
    depth = rounded_depth(module)
    if depth is not None:
        element = add_text(own, "leadline:depth_below_datum_m", f"{depth:g}")
        element.set("datum", xml_text(datum_of(module, site)))
        if module.depth_u95_m is not None:
            element.set("u95_m", f"{rounded_u95(module.depth_u95_m):g}")
    add_text(own, "leadline:placed_on", module.placed_on.isoformat())
    add_text(own, "leadline:epoch", f"{site.epoch:.1f}")


def _track(root: ET.Element, name: str, desc: str, kind: str, shape: BaseGeometry) -> None:
    lines = list(_outlines(shape))
    if not lines:
        return
    track = ET.SubElement(root, "trk")
    add_text(track, "name", name)
    add_text(track, "desc", desc)
    add_text(track, "type", kind)
    for line in lines:
        segment = ET.SubElement(track, "trkseg")
        for lon_lat in line:
            add_point(segment, "trkpt", lon_lat)


def _outlines(shape: BaseGeometry) -> Iterator[list[LonLat]]:
    for part in single_parts(shape):
        if isinstance(part, Polygon):
            for ring in (part.exterior, *part.interiors):
                yield from _within_the_map([(x, y) for x, y, *_ in ring.coords])
        elif not isinstance(part, Point):
            yield from _within_the_map([(x, y) for x, y, *_ in part.coords])


def _turn(lon_deg: float) -> int:
    return math.floor((lon_deg + 180) / 360)


def _within_the_map(line: list[LonLat]) -> Iterator[list[LonLat]]:
    """Cut a line, whose longitudes may run on past 180, where it crosses the 180th meridian."""
    segment = [line[0]]
    for (x0, y0), (x1, y1) in pairwise(line):
        eastward = x1 > x0
        first, last = _turn(x0), _turn(x1)
        for turn in range(first, last, 1 if eastward else -1):
            meridian = turn * 360 + (180 if eastward else -180)
            lat_deg = y0 + (y1 - y0) * (meridian - x0) / (x1 - x0)
            before, after = (EASTERNMOST_DEG, -180.0) if eastward else (-180.0, EASTERNMOST_DEG)
            yield [*segment, (before, lat_deg)]
            segment = [(after, lat_deg)]
        segment.append((x1, y1))
    if len(segment) > 1:
        yield segment
