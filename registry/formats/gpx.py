"""
GPX 1.1 for plotters and phones: one waypoint for each module, one track for each outline.

Depth below chart datum has no element in GPX and is never written as a negative elevation: it stands in the
description, and in an extension of our own beside R95. The day of placement stands there too, since the time
of a waypoint would claim an instant.

Sources
-------
GPX 1.1 schema (http://www.topografix.com/GPX/1/1/gpx.xsd): order of elements, longitude in [-180, 180).
"""

import math
from collections.abc import Iterator
from datetime import UTC, datetime, time
from itertools import pairwise
from xml.etree import ElementTree as ET

from shapely import Point, Polygon
from shapely.geometry.base import BaseGeometry

from registry.errors import RequestError
from registry.formats.gpx_element import EXTENSION, LonLat, add_point, add_text, gpx_root
from registry.measure.antimeridian_cut import single_parts
from registry.records.public_site import PublicModule, PublicSite
from registry.records.public_wording import (
    CAUTIONS,
    coordinate_decimals,
    frame_words,
    module_facts,
    module_name,
    rounded_depth,
    rounded_position,
    rounded_u95,
    short_facts,
    xml_text,
)

__all__ = ["EXTENSION", "write_gpx"]

#: The easternmost longitude that the schema admits at 7 decimals.
EASTERNMOST_DEG = 179.9999999


def write_gpx(site: PublicSite, *, longest_name: int | None = None) -> bytes:
    """
    Write a public site as GPX 1.1.

    Parameters
    ----------
    site : PublicSite
        What the public may see; WGS 84.
    longest_name : int, optional
        Cut names of waypoints to this many characters, for plotters that do so anyhow but less well: a cut
        name begins with the tag, and two that would become equal are told apart by a number.

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
    add_text(metadata, "desc", " ".join([f"Coordinates: {frame_words(site)}.", *CAUTIONS]))
    issued = datetime.combine(site.issued_on, time(), tzinfo=UTC)
    add_text(metadata, "time", issued.strftime("%Y-%m-%dT%H:%M:%SZ"))
    names = [module_name(module) for module in site.modules]
    if longest_name is not None:
        names = _cut(names, longest_name)
    for module, name in zip(site.modules, names, strict=True):
        _waypoint(root, site, module, name)
    for keep_out in site.keep_outs:
        for part in single_parts(keep_out.shape):
            if isinstance(part, Point):
                point = add_point(root, "wpt", (part.x, part.y))
                add_text(point, "name", f"Keep clear: {keep_out.name}")
                add_text(point, "desc", f"{keep_out.kind}, setback {keep_out.setback_m:g} m")
                add_text(point, "type", "keep-out")
    for area in site.areas:
        desc = f"Permit {area.permit}. Placement is allowed inside this outline only."
        _track(root, f"Permit area {area.area_id}", desc, "permit area", area.shape)
    for keep_out in site.keep_outs:
        desc = f"{keep_out.kind}, setback {keep_out.setback_m:g} m"
        _track(root, f"Keep clear: {keep_out.name}", desc, "keep-out", keep_out.shape)
    ET.indent(root)
    text: bytes = ET.tostring(root, encoding="UTF-8", xml_declaration=True)
    return text + b"\n"


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
        element.set("datum", xml_text(site.chart_datum))
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


def _cut(names: list[str], longest: int) -> list[str]:
    """Cut names so that they still differ."""
    taken: set[str] = set()
    short = []
    for name in names:
        cut, number = name[:longest].rstrip(), 1
        while cut in taken or not cut:
            number += 1
            mark = f"~{number}"
            if len(mark) >= longest:
                what = f"{len(names)} names cannot be told apart within {longest} characters."
                raise RequestError(what, remedy="Allow longer names.")
            cut = name[: longest - len(mark)].rstrip() + mark
        taken.add(cut)
        short.append(cut)
    return short
