import html
from typing import Any
from xml.etree import ElementTree as ET

import fiona
import pyogrio
import pytest
from shapely.geometry import shape

from registry.formats.kml import write_kml
from tests.formats.public_sites import ANTIMERIDIAN_SITE, EVERY_SITE, HOSTILE, HOSTILE_SITE, site

NS = {"k": "http://www.opengis.net/kml/2.2"}


def parsed(content) -> Any:
    return ET.fromstring(content)


@pytest.mark.parametrize("name", EVERY_SITE)
def test_the_same_site_gives_the_same_bytes(name):
    assert write_kml(EVERY_SITE[name]) == write_kml(EVERY_SITE[name])


def test_a_module_tells_all_that_is_known():
    root = parsed(write_kml(site()))
    mark = root.findall(".//k:Folder[3]/k:Placemark", NS)[1]
    assert mark.findtext("k:name", namespaces=NS) == "MC-0002: Ada Quill"
    assert mark.findtext("k:Point/k:coordinates", namespaces=NS) == "-77.01100,34.01100"
    said = mark.findtext("k:description", namespaces=NS)
    for words in (
        "18.28 m ± 0.41 m",
        "MLLW",
        "within 12 m (95 %)",
        "2026-05-14",
        "Not for navigation",
        "G2296",
    ):
        assert words in said


def test_typed_text_is_escaped_for_html_within_xml():
    root = parsed(write_kml(HOSTILE_SITE))
    mark = root.find(".//k:Folder[3]/k:Placemark", NS)
    typed = HOSTILE.replace("\x07", "\ufffd")
    assert html.escape(f"In memory of {typed}.") in mark.findtext("k:description", namespaces=NS)
    assert "<b>" not in mark.findtext("k:description", namespaces=NS)
    assert mark.findtext("k:name", namespaces=NS) == f"=CMD|'/c'!A1: {typed}"


def test_no_altitude_is_written():
    root = parsed(write_kml(site()))
    for element in root.iter("{http://www.opengis.net/kml/2.2}coordinates"):
        assert all(point.count(",") == 1 for point in element.text.split())


def test_fiona_reads_it_back(tmp_path):
    path = tmp_path / "site.kml"
    path.write_bytes(write_kml(HOSTILE_SITE))
    options = {"driver": "KML", "allow_unsupported_drivers": True}
    with fiona.open(path, layer="Permit areas", **options) as layer:
        (area,) = [shape(feature.geometry) for feature in layer]
    assert area.symmetric_difference(HOSTILE_SITE.areas[0].shape).area < 1e-12
    with fiona.open(path, layer="Modules", **options) as layer:
        points = [feature.geometry.coordinates[:2] for feature in layer]
    assert points[0] == (-77.012346, 34.012346)


def test_pyogrio_reads_it_back(tmp_path):
    path = tmp_path / "site.kml"
    path.write_bytes(write_kml(site()))
    modules = pyogrio.read_dataframe(path, layer="Modules")
    assert list(modules["Name"]) == ["MC-0001", "MC-0002: Ada Quill"]
    assert modules.crs.to_epsg() in {4326, 4979}


def test_areas_across_the_180th_meridian_are_split():
    root = parsed(write_kml(ANTIMERIDIAN_SITE))
    numbers = [
        float(point.split(",")[0])
        for element in root.iter("{http://www.opengis.net/kml/2.2}coordinates")
        for point in element.text.split()
    ]
    assert min(numbers) == -180
    assert max(numbers) == 180
    assert len(root.findall(".//k:Folder[1]/k:Placemark/k:MultiGeometry/k:Polygon", NS)) == 2
