"""
KML 2.2 for globes and phones: a folder each of permit areas, keep-outs and modules, or sites in their place.

Depth stands in the description and in the extended data; no altitude is written, so that every viewer lays
the placemark on its own surface instead of guessing what a negative height is measured from. A description is
read as HTML, so what was typed is escaped for HTML before it is escaped for XML.

Sources
-------
OGC 07-147r2, KML 2.2: order of elements, longitude before latitude, WGS 84.
"""

import html
from collections.abc import Mapping, Sequence
from xml.etree import ElementTree as ET

from shapely import Polygon
from shapely.geometry.base import BaseGeometry
from shapely.geometry.polygon import orient

from registry.measure.antimeridian_cut import cut_at_antimeridian
from registry.measure.site_circle import site_circle
from registry.records.public_site import PublicSite
from registry.records.public_wording import (
    CAUTIONS,
    area_facts,
    area_properties,
    coordinate_decimals,
    frame_words,
    module_facts,
    module_names,
    module_properties,
    publication_words,
    rounded_position,
    rounded_u95,
    shown_sites,
    xml_text,
)

__all__ = ["write_kml"]

KML = "http://www.opengis.net/kml/2.2"
OUTLINE_DECIMALS = 7
#: aabbggrr: an outline with a faint fill.
STYLES = {
    "area": {"line": "ff7a5c12", "fill": "337a5c12"},
    "keep-out": {"line": "ff2a2ad0", "fill": "332a2ad0"},
}


def write_kml(site: PublicSite, *, longest_name: int | None = None) -> bytes:
    """
    Write a public site as KML 2.2.

    Parameters
    ----------
    site : PublicSite
        What the public may see; WGS 84. Shapes across the 180th meridian are split.
    longest_name : int, optional
        Cut names of modules to this many characters, no two alike.

    Returns
    -------
    bytes
        UTF-8 XML, the same bytes for the same site.

    Raises
    ------
    RequestError
        If names cannot be told apart within `longest_name` characters.
    """
    root = ET.Element("kml", {"xmlns": KML})
    document = ET.SubElement(root, "Document")
    _text(document, "name", f"{site.programme}: memorial reef modules")
    issued = f"Issued on {site.issued_on.isoformat()}. Coordinates: {frame_words(site)}."
    said = filter(None, [issued, publication_words(site), *CAUTIONS])
    _text(document, "description", _as_html(list(said)))
    for name, colours in STYLES.items():
        style = ET.SubElement(document, "Style", {"id": name})
        line = ET.SubElement(style, "LineStyle")
        _text(line, "color", colours["line"])
        _text(line, "width", "2")
        _text(ET.SubElement(style, "PolyStyle"), "color", colours["fill"])
    folder = _folder(document, "Permit areas")
    for area in site.areas:
        lines = ["Placement is allowed inside this outline only.", *area_facts(area, site)]
        mark = _placemark(folder, f"Permit area {area.area_id}", lines, style="area")
        _data(mark, area_properties(area, site))
        _geometry(mark, cut_at_antimeridian(area.shape))
    folder = _folder(document, "Keep-outs")
    for keep_out in site.keep_outs:
        lines = [f"Keep clear: {keep_out.kind}, setback {keep_out.setback_m:g} m."]
        mark = _placemark(folder, keep_out.name, lines, style="keep-out")
        _data(mark, {"kind": keep_out.kind, "setback_m": f"{keep_out.setback_m:g}"})
        _geometry(mark, cut_at_antimeridian(keep_out.shape))
    if site.published.sites_only:
        _sites(_folder(document, "Sites"), site)
    else:
        _modules(_folder(document, "Modules"), site, longest_name)
    ET.indent(root)
    text: bytes = ET.tostring(root, encoding="UTF-8", xml_declaration=True)
    return text + b"\n"


def _sites(folder: ET.Element, site: PublicSite) -> None:
    for area in shown_sites(site):
        circle = site_circle(area.shape)
        reach = f"The whole permit area lies within {rounded_u95(circle.radius_m):g} m of this point."
        mark = _placemark(folder, area.area_id, [*area_facts(area, site), reach, *CAUTIONS])
        _data(mark, area_properties(area, site))
        point = ET.SubElement(mark, "Point")
        _text(point, "coordinates", _tuple((circle.lon_deg, circle.lat_deg), circle.decimals))


def _modules(folder: ET.Element, site: PublicSite, longest_name: int | None) -> None:
    for module, name in zip(site.modules, module_names(site, longest_name), strict=True):
        mark = _placemark(folder, name, [*module_facts(module, site), *CAUTIONS])
        _data(mark, module_properties(module, site))
        point = ET.SubElement(mark, "Point")
        _text(point, "coordinates", _tuple(rounded_position(module), coordinate_decimals(module.r95_m)))


def _folder(parent: ET.Element, name: str) -> ET.Element:
    folder = ET.SubElement(parent, "Folder")
    _text(folder, "name", name)
    return folder


def _placemark(parent: ET.Element, name: str, lines: Sequence[str], *, style: str = "") -> ET.Element:
    mark = ET.SubElement(parent, "Placemark")
    _text(mark, "name", name)
    _text(mark, "description", _as_html(lines))
    if style:
        _text(mark, "styleUrl", f"#{style}")
    return mark


def _data(mark: ET.Element, values: Mapping[str, object]) -> None:
    extended = ET.SubElement(mark, "ExtendedData")
    for name, value in values.items():
        if value is not None:
            text = f"{value:g}" if isinstance(value, float) else str(value)
            _text(ET.SubElement(extended, "Data", {"name": name}), "value", text)


def _geometry(parent: ET.Element, shape: BaseGeometry) -> None:
    parts = getattr(shape, "geoms", None)
    if parts is not None:
        many = ET.SubElement(parent, "MultiGeometry")
        for part in parts:
            _geometry(many, part)
    elif isinstance(shape, Polygon):
        polygon = ET.SubElement(parent, "Polygon")
        turned = orient(shape)
        _ring(polygon, "outerBoundaryIs", turned.exterior)
        for hole in turned.interiors:
            _ring(polygon, "innerBoundaryIs", hole)
    else:
        element = ET.SubElement(parent, "Point" if shape.geom_type == "Point" else "LineString")
        _text(element, "coordinates", _tuples(shape))


def _ring(polygon: ET.Element, boundary: str, ring: BaseGeometry) -> None:
    linear = ET.SubElement(ET.SubElement(polygon, boundary), "LinearRing")
    _text(linear, "coordinates", _tuples(ring))


def _tuples(line: BaseGeometry) -> str:
    return " ".join(_tuple((x, y), OUTLINE_DECIMALS) for x, y, *_ in line.coords)


def _tuple(lon_lat: tuple[float, float], decimals: int) -> str:
    return ",".join(f"{round(number, decimals) + 0.0:.{decimals}f}" for number in lon_lat)


def _as_html(lines: Sequence[str]) -> str:
    return "<br/>".join(html.escape(line) for line in lines)


def _text(parent: ET.Element, tag: str, text: str) -> None:
    ET.SubElement(parent, tag).text = xml_text(text)
