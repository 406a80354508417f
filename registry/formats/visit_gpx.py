"""
GPX 1.1 for one visit: the module as a waypoint, and the place from which the boat leaves.

No route between them: a straight line may cross land and shoals, and a plotter would steer it.
"""

from datetime import UTC, datetime, time
from xml.etree import ElementTree as ET

from registry.formats.gpx_element import add_point, add_text, gpx_root
from registry.records.public_wording import CAUTIONS, coordinate_decimals, rounded_u95
from registry.records.visit import Visit

__all__ = ["write_visit_gpx"]


def write_visit_gpx(visit: Visit) -> bytes:
    """
    Write the waypoints of a visit.

    Parameters
    ----------
    visit : Visit
        Its coordinates are WGS 84 of the day.

    Returns
    -------
    bytes
        UTF-8 XML, the same bytes for the same visit.
    """
    root = gpx_root()
    metadata = ET.SubElement(root, "metadata")
    add_text(metadata, "name", f"Visit to {visit.tag} on {visit.day.isoformat()}")
    add_text(metadata, "desc", CAUTIONS[0])
    day = datetime.combine(visit.day, time(), tzinfo=UTC)
    add_text(metadata, "time", day.strftime("%Y-%m-%dT%H:%M:%SZ"))
    epoch = f"WGS 84 (G2296) at epoch {visit.position.epoch:.1f}"
    module = f"{visit.tag}: {visit.name}" if visit.name else visit.tag
    for name, place, kind in (
        (module, visit.position, "memorial reef module"),
        (visit.course.name, visit.course.start, "place of departure"),
    ):
        lon_lat = (place.lon_deg, place.lat_deg)
        point = add_point(root, "wpt", lon_lat, coordinate_decimals(place.r95_m))
        add_text(point, "name", name)
        add_text(point, "desc", f"Within {rounded_u95(place.r95_m):g} m (95 %), {epoch}. {CAUTIONS[0]}")
        add_text(point, "src", visit.programme)
        add_text(point, "type", kind)
    ET.indent(root)
    text: bytes = ET.tostring(root, encoding="UTF-8", xml_declaration=True)
    return text + b"\n"
