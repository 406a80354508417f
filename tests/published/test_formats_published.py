"""
What we write, against the published schemas and the words of the standards; and corners as notices print them.

Sources stand beside each check; the schemas and where they come from in ``schemas/SOURCES.md``.
"""

import json
from datetime import UTC, datetime
from itertools import pairwise
from pathlib import Path
from typing import Any
from xml.etree import ElementTree as ET

import gpxpy
import pytest
import xmlschema
from shapely.geometry import LineString, MultiPolygon, Polygon, mapping, shape

from registry.formats.geojson import write_geojson
from registry.formats.gpx import write_gpx
from registry.formats.kml import write_kml
from registry.measure.antimeridian_cut import cut_at_antimeridian
from tests.formats.public_sites import EVERY_SITE, module, site

SCHEMAS = Path(__file__).parent / "schemas"
GPX = {"g": "http://www.topografix.com/GPX/1/1"}
every_site = pytest.mark.parametrize("given", EVERY_SITE.values(), ids=EVERY_SITE)


@pytest.fixture(scope="module")
def gpx_schema():
    return xmlschema.XMLSchema(SCHEMAS / "gpx-1.1.xsd")


@pytest.fixture(scope="module")
def kml_schema():
    return xmlschema.XMLSchema(SCHEMAS / "ogckml22.xsd", defuse="never")


@every_site
def test_gpx_is_valid_by_its_schema(gpx_schema, given):
    """GPX 1.1 schema."""
    gpx_schema.validate(write_gpx(given).decode())


@pytest.mark.parametrize(
    ("good", "bad"),
    [
        ('lon="-77.012346"', 'lon="180.000000"'),
        ('lat="34.012346"', 'lat="90.000001"'),
        ("<time>2026-11-20T00:00:00Z</time>", "<time>20 November 2026</time>"),
        ('creator="Leadline"', ""),
        ("<src>", "<ele>-18.3</ele><src>"),
    ],
    ids=["longitude 180", "latitude beyond 90", "time in words", "no creator", "wrong order"],
)
def test_the_gpx_schema_bites(gpx_schema, good, bad):
    """GPX 1.1 schema: what the standard forbids is found, so its silence above means something."""
    text = write_gpx(site()).decode()
    assert good in text
    assert not gpx_schema.is_valid(text.replace(good, bad, 1))


@every_site
def test_gpxpy_reads_it_back(given):
    """gpxpy 1.6.2 as the reference reader."""
    read = gpxpy.parse(write_gpx(given).decode())
    modules = [point for point in read.waypoints if point.type == "memorial reef module"]
    assert len(modules) == len(given.modules)
    assert read.creator == "Leadline"
    assert read.time == datetime(2026, 11, 20, tzinfo=UTC)
    for point, one in zip(modules, given.modules, strict=True):
        assert point.elevation is None
        assert point.latitude == pytest.approx(one.lat_deg, abs=6e-6)
        assert abs((point.longitude - one.lon_deg + 180) % 360 - 180) < 6e-6


@every_site
def test_gpx_has_no_foreign_element_without_a_namespace_of_its_own(given):
    """GPX 1.1 schema, extensionsType: elements of any other namespace than the schema's."""
    for extensions in ET.fromstring(write_gpx(given)).iterfind(".//g:extensions", GPX):
        assert all(not child.tag.startswith("{http://www.topografix.com") for child in extensions)
        assert all(child.tag.startswith("{") for child in extensions)


@every_site
def test_kml_is_valid_by_its_schema(kml_schema, given):
    """OGC 07-147r2, ogckml22.xsd."""
    kml_schema.validate(write_kml(given).decode())


@pytest.mark.parametrize(
    ("good", "bad"),
    [("<name>Modules</name>", "<Name>Modules</Name>"), ("<color>ff7a5c12", "<color>teal")],
    ids=["unknown element", "colour in words"],
)
def test_the_kml_schema_bites(kml_schema, good, bad):
    """OGC 07-147r2, ogckml22.xsd: its silence above means something."""
    text = write_kml(site()).decode()
    assert good in text
    assert not kml_schema.is_valid(text.replace(good, bad, 1))


@every_site
def test_kml_outer_rings_are_closed(given):
    """OGC 07-147r2, LinearRing: four or more tuples, the first and the last the same."""
    ring = "{http://www.opengis.net/kml/2.2}LinearRing"
    for element in ET.fromstring(write_kml(given)).iter(ring):
        corners = str(element[0].text).split()
        assert len(corners) >= 4
        assert corners[0] == corners[-1]


def positions(coordinates: Any):
    if isinstance(coordinates[0], int | float):
        yield coordinates
    else:
        for part in coordinates:
            yield from positions(part)


def polygons(document: Any):
    for feature in document["features"]:
        geometry = feature["geometry"]
        if geometry["type"] == "Polygon":
            yield geometry["coordinates"]
        elif geometry["type"] == "MultiPolygon":
            yield from geometry["coordinates"]


def signed_area(ring: Any):
    """Shoelace formula, positive counter-clockwise; written here so that the check stands on its own."""
    return sum(x0 * y1 - x1 * y0 for (x0, y0), (x1, y1) in pairwise(ring)) / 2


@every_site
def test_geojson_rings_follow_the_right_hand_rule(given):
    """RFC 7946 section 3.1.6: exterior counter-clockwise, holes clockwise, closed, four positions or more."""
    for exterior, *holes in polygons(json.loads(write_geojson(given))):
        assert signed_area(exterior) > 0
        assert all(signed_area(hole) < 0 for hole in holes)
        for ring in (exterior, *holes):
            assert ring[0] == ring[-1]
            assert len(ring) >= 4


@every_site
def test_geojson_members(given):
    """RFC 7946 sections 3.2, 3.3 (type, geometry, properties), 4 (no crs), 7.1 (no other type's members)."""
    document = json.loads(write_geojson(given))
    assert document["type"] == "FeatureCollection"
    assert not {"crs", "coordinates", "geometries", "geometry", "properties"} & set(document)
    for feature in document["features"]:
        assert set(feature) == {"type", "geometry", "properties"}
        assert feature["type"] == "Feature"
        assert not {"geometry", "properties", "features"} & set(feature["geometry"])


@every_site
def test_geojson_positions(given):
    """RFC 7946 sections 3.1.1 (longitude, latitude, no height here), 3.1.9, 11.2 (7 decimals are ample)."""
    for feature in json.loads(write_geojson(given))["features"]:
        for lon, lat in positions(feature["geometry"]["coordinates"]):
            assert -180 <= lon <= 180
            assert -90 <= lat <= 90
            assert round(lon, 7) == lon
            assert round(lat, 7) == lat


def test_geojson_antimeridian_line():
    """RFC 7946 section 3.1.9, the example of a line from 45 N 170 E to 45 N 170 W."""
    cut = cut_at_antimeridian(LineString([(170.0, 45.0), (-170.0, 45.0)]))
    expected = [[[170.0, 45.0], [180.0, 45.0]], [[-180.0, 45.0], [-170.0, 45.0]]]
    assert json.loads(json.dumps(mapping(cut)))["coordinates"] == expected


def test_geojson_antimeridian_polygon():
    """RFC 7946 section 3.1.9, the example of a box from 170 E to 170 W and 40 N to 50 N."""
    cut = cut_at_antimeridian(Polygon([(170.0, 40.0), (-170.0, 40.0), (-170.0, 50.0), (170.0, 50.0)]))
    expected = MultiPolygon(
        [
            Polygon([(180.0, 40.0), (180.0, 50.0), (170.0, 50.0), (170.0, 40.0)]),
            Polygon([(-170.0, 40.0), (-170.0, 50.0), (-180.0, 50.0), (-180.0, 40.0)]),
        ]
    )
    assert isinstance(cut, MultiPolygon)
    assert cut.equals(expected)


def test_geojson_box_of_fiji():
    """RFC 7946 section 5.2: points from 177 E to 178 W and 20 S to 16 S have [177, -20, -178, -16]."""
    fiji = site(
        areas=(),
        keep_outs=(),
        modules=(module(lon_deg=177.0, lat_deg=-20.0), module(tag="E", lon_deg=-178.0, lat_deg=-16.0)),
    )
    assert json.loads(write_geojson(fiji))["bbox"] == [177.0, -20.0, -178.0, -16.0]


def test_geojson_digits():
    """Seventh decimal: 1e-5 degree of latitude is 1.108 m at 27.5 N (worked out on the ellipsoid)."""
    known_to_a_metre = site(modules=(module(lat_deg=27.123456789, lon_deg=-80.123456789, r95_m=1.0),))
    point = json.loads(write_geojson(known_to_a_metre))["features"][-1]["geometry"]
    assert point["coordinates"] == [-80.123457, 27.123457]
    assert (
        shape(point).distance(shape({"type": "Point", "coordinates": [-80.123456789, 27.123456789]})) < 1e-6
    )
