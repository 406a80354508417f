"""
The pieces of a GPX 1.1 file: its root, points with as many digits as are known, and harmless texts.

Sources
-------
GPX 1.1 schema (http://www.topografix.com/GPX/1/1/gpx.xsd): longitude in [-180, 180).
"""

from xml.etree import ElementTree as ET

from registry.records.public_wording import xml_text

__all__ = ["EXTENSION", "LonLat", "add_point", "add_text", "gpx_root"]

#: Namespace of our own elements; a name only, under a domain that is reserved for examples (RFC 2606).
EXTENSION = "https://leadline.example/gpx/1"
GPX = "http://www.topografix.com/GPX/1/1"
OUTLINE_DECIMALS = 7

#: Longitude and latitude. Units: degrees.
LonLat = tuple[float, float]


def gpx_root() -> ET.Element:
    """Begin a file."""
    root = ET.Element("gpx", {"version": "1.1", "creator": "Leadline", "xmlns": GPX})
    root.set("xmlns:leadline", EXTENSION)
    return root


def add_text(parent: ET.Element, tag: str, text: str) -> ET.Element:
    """Add an element that holds a text."""
    element = ET.SubElement(parent, tag)
    element.text = xml_text(text)
    return element


def add_point(parent: ET.Element, tag: str, lon_lat: LonLat, decimals: int = OUTLINE_DECIMALS) -> ET.Element:
    """Add a point, its longitude brought into [-180, 180)."""
    lon_deg, lat_deg = lon_lat
    lon_deg = round(lon_deg, decimals) + 0.0
    lon_deg = (lon_deg + 180) % 360 - 180 if not -180 <= lon_deg < 180 else lon_deg
    where = {"lat": f"{round(lat_deg, decimals) + 0.0:.{decimals}f}", "lon": f"{lon_deg:.{decimals}f}"}
    return ET.SubElement(parent, tag, where)
