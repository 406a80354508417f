from typing import Any
from xml.etree import ElementTree as ET

import pyogrio
import pytest

from registry.errors import RequestError
from registry.formats.gpx import EXTENSION, write_gpx
from tests.formats.public_sites import (
    ANTIMERIDIAN_SITE,
    EVERY_SITE,
    HOSTILE,
    HOSTILE_SITE,
    ROUNDED_SITE,
    SITES_ONLY,
    module,
    site,
)

NS = {"g": "http://www.topografix.com/GPX/1/1", "l": EXTENSION}


def parsed(content) -> Any:
    return ET.fromstring(content)


def waypoints(content):
    return parsed(content).findall("g:wpt", NS)


@pytest.mark.parametrize("name", EVERY_SITE)
def test_the_same_site_gives_the_same_bytes(name):
    assert write_gpx(EVERY_SITE[name]) == write_gpx(EVERY_SITE[name])


def test_says_who_made_it_and_when():
    root = parsed(write_gpx(site()))
    assert root.get("creator") == "Leadline"
    assert root.findtext("g:metadata/g:time", namespaces=NS) == "2026-11-20T00:00:00Z"
    desc = root.findtext("g:metadata/g:desc", namespaces=NS)
    assert "WGS 84 (G2296)" in desc
    assert "epoch 2026.9" in desc
    assert "Not for navigation" in desc


def test_waypoints_have_the_digits_that_r95_supports():
    first, second = waypoints(write_gpx(site()))
    assert (first.get("lat"), first.get("lon")) == ("34.012346", "-77.012346")
    assert (second.get("lat"), second.get("lon")) == ("34.01100", "-77.01100")


def test_depth_is_no_elevation():
    first = waypoints(write_gpx(site()))[0]
    assert first.find("g:ele", NS) is None
    depth = first.find("g:extensions/l:depth_below_datum_m", NS)
    assert (depth.text, depth.attrib) == ("18.28", {"datum": "MLLW", "u95_m": "0.41"})
    assert first.findtext("g:extensions/l:r95_m", namespaces=NS) == "2.7"
    assert "18.28 m ± 0.41 m (95 %) below MLLW" in first.findtext("g:desc", namespaces=NS)


def test_a_plotter_that_shows_comments_shows_depth_and_doubt():
    known, _ = waypoints(write_gpx(site()))
    assert known.findtext("g:cmt", namespaces=NS) == "18.28 m below MLLW, position ± 2.7 m"
    assert waypoints(write_gpx(HOSTILE_SITE))[1].findtext("g:cmt", namespaces=NS).startswith("depth unknown")


def test_an_unknown_depth_is_said_and_not_written_as_a_number():
    unknown = waypoints(write_gpx(HOSTILE_SITE))[1]
    assert unknown.find("g:extensions/l:depth_below_datum_m", NS) is None
    assert "not measured" in unknown.findtext("g:desc", namespaces=NS)


def test_typed_text_comes_back_as_it_was_typed_but_for_what_xml_forbids():
    first = waypoints(write_gpx(HOSTILE_SITE))[0]
    assert first.findtext("g:src", namespaces=NS) == HOSTILE.replace("\x07", "\ufffd")


def test_outlines_are_cut_at_the_180th_meridian():
    root = parsed(write_gpx(ANTIMERIDIAN_SITE))
    longitudes = [
        [float(point.get("lon")) for point in segment] for segment in root.iterfind("g:trk/g:trkseg", NS)
    ]
    assert all(-180 <= lon < 180 for line in longitudes for lon in line)
    assert all(max(line) - min(line) < 2 for line in longitudes)
    cable = longitudes[-3:]
    assert [(line[0], line[-1]) for line in cable] == [
        (179.0, 179.9999999),
        (-180.0, -180.0),
        (179.9999999, 179.5),
    ]


def test_a_rounding_that_reaches_180_goes_on_at_minus_180():
    assert waypoints(write_gpx(ANTIMERIDIAN_SITE))[0].get("lon") == "-180.00000"


def test_names_are_whole_unless_asked():
    assert waypoints(write_gpx(site()))[1].findtext("g:name", namespaces=NS) == "MC-0002: Ada Quill"


def test_cut_names_still_differ():
    same = site(modules=tuple(module(tag=f"MEMORIAL-{number}") for number in range(12)))
    names = [p.findtext("g:name", namespaces=NS) for p in waypoints(write_gpx(same, longest_name=6))]
    assert len(set(names)) == 12
    assert max(len(name) for name in names) == 6
    # A tag keeps its tail: that is what tells it from the others.
    assert (names[0], names[11]) == ("ORIAL0", "RIAL11")


def test_names_that_cannot_be_told_apart_are_refused():
    same = site(modules=tuple(module(tag=f"MEMORIAL-{number}") for number in range(12)))
    with pytest.raises(RequestError, match="12 names cannot be told apart within 1"):
        write_gpx(same, longest_name=1)


def test_a_route_leads_through_the_modules_of_a_site():
    content = write_gpx(site(), longest_name=8)
    (route,) = parsed(content).findall("g:rte", NS)
    stops = route.findall("g:rtept", NS)
    points = {p.findtext("g:name", namespaces=NS): p.attrib for p in waypoints(content)}
    assert route.findtext("g:name", namespaces=NS) == "gannet-p"
    assert sorted(stop.findtext("g:name", namespaces=NS) for stop in stops) == ["MC-0001", "MC-0002"]
    for stop in stops:
        assert stop.attrib == points[stop.findtext("g:name", namespaces=NS)]
    assert "know no shoal" in route.findtext("g:desc", namespaces=NS)


def test_a_route_leaves_out_what_lies_outside_and_says_so():
    far = module(tag="MC-0003", lat_deg=34.2)
    (route,) = parsed(write_gpx(site(modules=(*site().modules, far)))).findall("g:rte", NS)
    assert len(route.findall("g:rtept", NS)) == 2
    assert "Left out, since outside the area: 1." in route.findtext("g:desc", namespaces=NS)


def test_a_route_across_the_180th_meridian_has_both_modules():
    (route,) = parsed(write_gpx(ANTIMERIDIAN_SITE)).findall("g:rte", NS)
    assert len(route.findall("g:rtept", NS)) == 2


def test_no_route_leads_through_rounded_places():
    root = parsed(write_gpx(ROUNDED_SITE))
    assert root.findall("g:rte", NS) == []
    first = root.find("g:wpt", NS)
    assert (first.get("lat"), first.get("lon")) == ("34.0123", "-77.0121")
    assert "rounded to 100 m" in first.findtext("g:desc", namespaces=NS)
    assert "rounded to 100 m" in root.findtext("g:metadata/g:desc", namespaces=NS)


def test_with_sites_alone_a_waypoint_stands_for_each_site_that_has_modules():
    content = write_gpx(SITES_ONLY, longest_name=8)
    first, second = waypoints(content)
    assert first.findtext("g:name", namespaces=NS) == "gannet-p"
    assert (first.get("lat"), first.get("lon")) == ("34.0100", "-77.0100")
    said = first.findtext("g:desc", namespaces=NS)
    for words in (
        "2 memorial reef modules",
        "17.08 ± 0.41 m",
        "from 2026-05-14 to 2026-06-01",
        "within 1444 m",
    ):
        assert words in said
    assert second.findtext("g:type", namespaces=NS) == "memorial reef site"
    assert parsed(content).findall("g:rte", NS) == []


@pytest.mark.parametrize("name", EVERY_SITE)
@pytest.mark.parametrize("longest", [6, 20])
def test_no_two_waypoints_routes_or_tracks_are_named_alike(name, longest):
    root = parsed(write_gpx(EVERY_SITE[name], longest_name=longest))
    for kind in ("wpt", "rte", "trk"):
        names = [each.findtext("g:name", namespaces=NS) for each in root.findall(f"g:{kind}", NS)]
        assert len({each.upper() for each in names}) == len(names)
        assert all(0 < len(each) <= longest for each in names)


@pytest.mark.parametrize("name", ["ordinary", "hostile", "antimeridian", "sites only", "rounded"])
def test_gdal_reads_waypoints_routes_and_tracks(tmp_path, name):
    given = EVERY_SITE[name]
    path = tmp_path / "site.gpx"
    path.write_bytes(write_gpx(given, longest_name=12))
    points = pyogrio.read_dataframe(path, layer="waypoints")
    assert len(points) == len(waypoints(path.read_bytes()))
    assert all(len(name) <= 12 for name in points["name"])
    assert points.crs.to_epsg() == 4326
    for one, point in zip(given.modules, points.geometry, strict=False):
        assert point.y == pytest.approx(one.lat_deg, abs=6e-5)
    routes = pyogrio.read_dataframe(path, layer="routes")
    assert len(routes) == len(parsed(path.read_bytes()).findall("g:rte", NS))
    tracks = pyogrio.read_dataframe(path, layer="tracks")
    assert len(tracks) == len(parsed(path.read_bytes()).findall("g:trk", NS))
