"""
A sample of modules as GPX 1.1 for the officer's boat: a waypoint for each and one route through all of them.

Sources
-------
GPX 1.1 schema (http://www.topografix.com/GPX/1/1/gpx.xsd): order of elements; waypoints stand before routes.
"""

from xml.etree import ElementTree as ET

from registry.formats.gpx_element import add_point, add_text, gpx_root
from registry.formats.sample_words import depth_words, drawn_lines, radius_words
from registry.records.entry import instant_text
from registry.records.inspection_sample import InspectionSample, SampledModule
from registry.records.public_wording import CAUTIONS, FRAME, coordinate_decimals

__all__ = ["write_sample_gpx"]


def write_sample_gpx(sample: InspectionSample) -> bytes:
    """
    Write a sample.

    Returns
    -------
    bytes
        UTF-8 XML, WGS 84 at the epoch of the sample; the same bytes for the same sample.
    """
    root = gpx_root()
    name = f"Re-inspection of permit {sample.permit}"
    metadata = ET.SubElement(root, "metadata")
    add_text(metadata, "name", name)
    frame = f"{FRAME}, the same as ITRF2020, at epoch {sample.epoch:.1f}."
    add_text(metadata, "desc", " ".join([*drawn_lines(sample), f"Coordinates: {frame}", CAUTIONS[0]]))
    add_text(metadata, "time", instant_text(sample.drawn_at))
    for visit, module in enumerate(sample.modules, start=1):
        point = _point(root, "wpt", module)
        add_text(point, "cmt", f"Stop {visit}; ± {radius_words(module.r95_m)}; {module.verdict.word}")
        add_text(point, "desc", _facts(sample, module, frame))
        add_text(point, "src", sample.programme)
        add_text(point, "type", "module to re-inspect")
    if sample.modules and sample.course_m is not None:
        route = ET.SubElement(root, "rte")
        add_text(route, "name", name)
        add_text(
            route,
            "desc",
            "In an order without detours, by straight legs that know no shoal and no traffic: plan the "
            f"passage on official charts. {CAUTIONS[0]}",
        )
        for module in sample.modules:
            _point(route, "rtept", module)
    ET.indent(root)
    text: bytes = ET.tostring(root, encoding="UTF-8", xml_declaration=True)
    return text + b"\n"


def _point(parent: ET.Element, kind: str, module: SampledModule) -> ET.Element:
    point = add_point(parent, kind, (module.lon_deg, module.lat_deg), coordinate_decimals(module.r95_m))
    add_text(point, "name", module.tag)
    return point


def _facts(sample: InspectionSample, module: SampledModule, frame: str) -> str:
    return (
        f"Module {module.tag}, placed on {module.placed_on.isoformat()} at or near {module.area_id}. "
        f"Position within {radius_words(module.r95_m)} (95 %), {frame} "
        f"Depth of the seabed: {depth_words(module, sample.chart_datum)}. "
        f"Verdict of the audit: {module.verdict.word}. {CAUTIONS[0]}"
    )
