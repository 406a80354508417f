"""The map's page as text: nothing typed is ever markup, nothing random, nothing from outside, honest digits."""

import base64
import hashlib
import json
import re
from dataclasses import replace
from html.parser import HTMLParser

import folium
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import Polygon

from registry.documents.map import TABLE_ROWS, render_map
from registry.documents.map_coast import COAST_BYTES
from registry.errors import QuantityError, UnreadableFileError
from registry.records.public_site import PublicArea
from registry.storage.shipped import shipped_path, shipped_text
from tests.documents.map_sites import HOSTILE, a_hostile_site, a_module, a_site, map_assets

ASSETS = map_assets()


class Page(HTMLParser):
    """Elements, attributes and texts of a page, as a browser would part them."""

    def __init__(self, html):
        super().__init__(convert_charrefs=True)
        self.elements, self.texts, self.inside = [], [], ""
        self.feed(html)
        self.close()

    def handle_starttag(self, tag, attrs):
        self.elements.append((tag, dict(attrs)))
        self.inside = tag

    def handle_endtag(self, tag):
        self.inside = ""

    def handle_data(self, data):
        if self.inside not in ("script", "style"):
            self.texts.append(data)

    @property
    def text(self):
        return "".join(self.texts)


def between(pattern, html):
    """What one group of a pattern finds, which must be there."""
    found = re.search(pattern, html, re.DOTALL)
    assert found, pattern
    return found[1]


def site_data(html):
    return json.loads(between(r'<script type="application/json" id="site">(.*?)</script>', html))


def layer(html, name):
    """The GeoJSON of one layer, out of the script that makes it."""
    return json.loads(between(rf"geo_json_{name}_add\((\{{.*?\}})\);\n", html))


def column(html, name):
    return site_data(html)["modules"][name]


@pytest.fixture(scope="module")
def html():
    return render_map(a_site(), ASSETS)


def test_same_input_gives_same_bytes(html):
    assert render_map(a_site(), ASSETS) == html


def test_other_maps_keep_their_own_links_and_names(html):
    links, styles = list(folium.Map.default_js), list(folium.Map.default_css)
    render_map(a_site(2), ASSETS)
    assert (folium.Map.default_js, folium.Map.default_css) == (links, styles)
    assert folium.Map().get_name() != folium.Map().get_name()
    assert folium.Map().get_name() != "map_reef"


def test_page_says_what_a_reader_must_know(html):
    page = Page(html)
    elements = page.elements
    assert ("html", {"lang": "en", "data-root": ""}) in elements
    assert "<title>Marram Coast Memorial Reefs: map of the memorial reef</title>" in html
    viewport = next(attrs for tag, attrs in elements if attrs.get("name") == "viewport")
    assert viewport["content"] == "width=device-width, initial-scale=1"
    for words in (
        "Not for navigation",
        "Use official charts",
        "Dive and fish by local rules",
        "WGS 84 (ITRF2020), epoch 2026.9",
        "Issued 2026-11-25",
        "Seabed below MLLW",
        "Natural Earth, public domain",
        "Gannet Patch",
        "permit HB-0417, 20 modules",
        "keep-out, hard bottom, setback 30 m",
    ):
        assert words in page.text


def test_no_verdict_is_shown(html):
    shown = Page(html).text.lower() + json.dumps(site_data(html)).lower()
    assert "conforming" not in shown
    assert "inconclusive" not in shown


def test_nothing_is_asked_of_a_network(html):
    asks = ("src", "srcset", "action", "poster", "data", "background", "ping")
    for tag, attrs in Page(html).elements:
        assert not any(name in attrs for name in asks), (tag, attrs)
        assert tag not in ("link", "iframe", "img", "base", "object", "embed")
        assert attrs.get("href", "#").startswith(("#", "geo:"))
    assert "sourceMappingURL" not in html
    assert "@import" not in html


def test_policy_lets_only_the_page_s_own_scripts_run(html):
    policy = between(r'Content-Security-Policy" content="([^"]*)"', html)
    assert policy.startswith("default-src 'none'")
    allowed = between(r"script-src ([^;]*)", policy).split()
    scripts = re.findall(r"<script>(.*?)</script>", html, re.DOTALL)
    assert len(scripts) == 7
    digests = [base64.b64encode(hashlib.sha256(s.encode()).digest()).decode() for s in scripts]
    assert allowed == [f"'sha256-{digest}'" for digest in digests]


def test_typed_words_are_text_wherever_they_stand():
    plain, hostile = Page(render_map(a_site(), ASSETS)), render_map(a_hostile_site(), ASSETS)
    page = Page(hostile)
    assert {tag for tag, _ in page.elements} == {tag for tag, _ in plain.elements} - {"b"}
    assert sum(tag == "script" for tag, _ in page.elements) == sum(
        tag == "script" for tag, _ in plain.elements
    )
    assert not any(name.startswith("on") for _, attrs in page.elements for name in attrs)
    data = site_data(hostile)
    assert sorted(data["modules"]["name"]) == sorted(HOSTILE)
    for text in HOSTILE:
        assert text in page.text
    block = between(r'id="site">(.*?)</script>', hostile)
    assert not re.search("[<>&\u2028\u2029]", block)
    # Templates inside typed words stay words: 49 would be the answer.
    assert "{{ 7 * 7 }}" in page.text
    assert not re.search(r"\b49\b", page.text)


@given(st.text(max_size=60))
@settings(max_examples=40, deadline=None)
def test_any_name_comes_back_as_it_was_typed(name):
    site = a_site(0, areas=(), keep_outs=(), modules=(a_module(name=name or None),))
    html = render_map(site, replace(ASSETS, coast=NO_LAND, coast_world=NO_LAND))
    assert column(html, "name")[0] == name
    assert sum(tag == "script" for tag, _ in Page(html).elements) == 9


NO_LAND = '{"type": "FeatureCollection", "features": []}'


def test_text_that_no_file_can_hold_does_not_stop_the_map():
    site = a_site(0, modules=(a_module(name="half a letter \ud800"),))
    render_map(site, ASSETS).encode("utf-8")


@pytest.mark.parametrize(
    ("lat_deg", "lon_deg", "r95_m", "decimal", "written"),
    [
        # 34 01.250 is 34.0208333, 77 20.110 is 77.3351667: worked by hand.
        (34.0208333, -77.3351667, 6.0, ("34.02083", "-77.33517"), "34 01.250 N 077 20.110 W"),
        (34.0208333, -77.3351667, 2.0, ("34.020833", "-77.335167"), "34 01.2500 N 077 20.1100 W"),
        (34.0208333, -77.3351667, 400.0, ("34.021", "-77.335"), "34 01.25 N 077 20.11 W"),
        (-0.0000001, 0.0000001, 6.0, ("0.00000", "0.00000"), "00 00.000 N 000 00.000 E"),
        (33.99999999, -76.99999999, 6.0, ("34.00000", "-77.00000"), "34 00.000 N 077 00.000 W"),
        (-17.5, 179.999999, 6.0, ("-17.50000", "-180.00000"), "17 30.000 S 180 00.000 W"),
        (-17.5, -180.0, 6.0, ("-17.50000", "-180.00000"), "17 30.000 S 180 00.000 W"),
    ],
)
def test_coordinates_carry_the_digits_that_are_known(lat_deg, lon_deg, r95_m, decimal, written):
    site = a_site(
        0, areas=(), keep_outs=(), modules=(a_module(lat_deg=lat_deg, lon_deg=lon_deg, r95_m=r95_m),)
    )
    html = render_map(site, ASSETS)
    assert f"<td>{written}</td><td>{decimal[0]}, {decimal[1]}</td>" in html
    # The page keeps a tenth of a millimetre and writes the digits itself: see the tests in a browser.
    assert column(html, "lat")[0] == pytest.approx(lat_deg, abs=1e-9)
    assert column(html, "lon")[0] == pytest.approx(lon_deg, abs=1e-9)


@pytest.mark.parametrize(
    ("changes", "depth"),
    [
        # 19.684 m is 64.58 ft, 0.305 m is 1.0007 ft: worked by hand with 0.3048 m to the foot.
        ({}, "19.68 m ± 0.31 m below MLLW (64.6 ft)"),
        ({"charted_depth_m": None, "depth_u95_m": None}, "not measured"),
        ({"depth_u95_m": None}, "about 20 m below MLLW, uncertainty unknown"),
        ({"depth_u95_m": 2.5}, "19.7 m ± 2.5 m below MLLW (64.6 ft)"),
        ({"depth_u95_m": 12.0}, "20 m ± 12 m below MLLW (65 ft)"),
    ],
)
def test_depths_carry_datum_and_doubt(changes, depth):
    html = render_map(a_site(0, areas=(), keep_outs=(), modules=(a_module(**changes),)), ASSETS)
    assert f"<td>{depth}</td>" in html


def test_radius_is_rounded_up_never_down():
    radii = (1.3201, 0.999, 6.0, 12.01)
    site = a_site(0, areas=(), keep_outs=(), modules=tuple(a_module(tag=str(r), r95_m=r) for r in radii))
    html = render_map(site, ASSETS)
    shown = dict(zip(column(html, "tag"), column(html, "r95"), strict=True))
    assert shown == {"1.3201": "1.4", "0.999": "1.0", "6.0": "6.0", "12.01": "13"}


def test_a_module_without_radius_is_refused():
    with pytest.raises(QuantityError):
        render_map(a_site(0, areas=(), keep_outs=(), modules=(a_module(r95_m=0.0),)), ASSETS)


def test_an_area_across_the_180th_meridian_is_drawn_whole_with_its_modules():
    html = render_map(a_site(west_deg=179.997, south_deg=-17.0), ASSETS)
    (gannet, tern) = layer(html, "areas")["features"]
    shapes = [shapely.from_geojson(json.dumps(f["geometry"])) for f in (gannet, tern)]
    west, _, east, _ = shapes[0].bounds
    assert east - west == pytest.approx(0.0062, abs=1e-6)
    lats, lons = column(html, "lat"), column(html, "lon")
    assert len(lats) == 40
    middle = site_data(html)["middle"]
    for lat, lon in zip(lats, lons, strict=True):
        assert -180 <= lon < 180
        assert any(
            shape.buffer(1e-4).contains(shapely.Point(lon + 360 * round((middle - lon) / 360), lat))
            for shape in shapes
        )
    (south, west), (north, east) = site_data(html)["bounds"]
    assert east - west < 0.1
    assert north - south < 0.1


def test_an_area_written_west_of_minus_180_joins_the_others():
    east_side = PublicArea(area_id="E", permit="P", shape=shapely.box(179.9, -17.0, 179.95, -16.9))
    west_side = PublicArea(area_id="W", permit="P", shape=shapely.box(-179.95, -17.0, -179.9, -16.9))
    html = render_map(a_site(0, areas=(east_side, west_side), keep_outs=()), ASSETS)
    (_, west), (_, east) = site_data(html)["bounds"]
    assert east - west == pytest.approx(0.2)


def test_coast_near_the_site_is_detailed_and_bounded(html):
    coast = layer(html, "coast")
    assert [f["properties"]["kind"] for f in coast["features"]] == ["land", "land", "shore"]
    shapes = [shapely.from_geojson(json.dumps(f["geometry"])) for f in coast["features"]]
    land = shapely.union_all(shapes[:2])
    # Inland and at sea, both well known: the middle of Bohemia and of the Sargasso Sea; and near the site.
    for lon, lat, dry in (
        (14.5, 50.0, True),
        (-60.0, 30.0, False),
        (-78.5, 34.6, True),
        (-77.3, 34.0, False),
    ):
        assert land.covers(shapely.Point(lon, lat)) is dry
    assert len(json.dumps(coast, separators=(",", ":"))) < COAST_BYTES + 1000


def test_coast_runs_on_across_the_180th_meridian():
    html = render_map(
        a_site(0, areas=(PublicArea(area_id="F", permit="P", shape=patch_at(179.9)),), keep_outs=()), ASSETS
    )
    land = shapely.union_all(
        [shapely.from_geojson(json.dumps(f["geometry"])) for f in layer(html, "coast")["features"][:2]]
    )
    # Taveuni, Fiji, stands on the meridian: land on both sides of 180, in one run of longitudes.
    assert land.intersects(shapely.box(179.85, -17.1, 179.99, -16.7))
    assert land.bounds[2] > 190
    assert land.bounds[0] < 0.5


def patch_at(lon_deg):
    return Polygon([(lon_deg, -16.4), (lon_deg + 0.2, -16.4), (lon_deg + 0.2, -16.3), (lon_deg, -16.3)])


def test_the_densest_coast_stays_within_its_share():
    wide = PublicArea(area_id="wide", permit="P", shape=shapely.box(4.0, 58.0, 25.0, 70.0))
    coast = layer(render_map(a_site(0, areas=(wide,), keep_outs=()), ASSETS), "coast")
    assert len(json.dumps(coast, separators=(",", ":"))) < COAST_BYTES + 1000


def test_three_thousand_modules_stay_under_two_megabytes():
    assert len(render_map(a_site(3000), ASSETS).encode()) < 2_000_000


def test_a_great_many_modules_leave_the_table_short_and_say_so():
    site = a_site(TABLE_ROWS + 2)
    html = render_map(site, ASSETS)
    assert html.count('<tr><th scope="row">') == TABLE_ROWS
    assert len(column(html, "tag")) == TABLE_ROWS + 2
    assert "only the first 5,000 stand here" in html


def test_table_tells_every_module_without_any_script(html):
    assert html.count('<tr><th scope="row">') == 40
    assert '<th scope="row">MC-0001</th><td>Ada Brightwater</td>' in html
    # No consent, no name: the cell is empty.
    assert '<th scope="row">MC-0005</th><td></td>' in html


def test_an_empty_site_is_still_a_page():
    html = render_map(a_site(0, areas=(), keep_outs=()), ASSETS)
    assert site_data(html)["bounds"] is None
    assert "0 modules" in html


def test_shipped_files_are_found_or_missed_with_a_remedy():
    assert shipped_path("vendor/leaflet.js").is_file()
    for name in ("vendor/none.js", "../pyproject.toml"):
        with pytest.raises(UnreadableFileError, match=r"missing.*Install Leadline again"):
            shipped_path(name)


def test_vendored_files_are_the_published_ones():
    """Digests written down in geodata/SOURCES.md when the files were fetched from npm."""
    lines = re.findall(r"^([0-9a-f]{64})  (vendor/\S+)$", shipped_text("SOURCES.md"), re.MULTILINE)
    assert len(lines) == 3
    for digest, name in lines:
        assert hashlib.sha256(shipped_path(name).read_bytes()).hexdigest() == digest


@pytest.mark.parametrize("name", ["coast.geojson", "coast_world.geojson"])
def test_shipped_coast_is_valid_and_inside_its_boxes(name):
    for feature in json.loads(shipped_text(name))["features"]:
        tile = shapely.from_geojson(json.dumps(feature["geometry"]))
        assert tile.is_valid, feature["bbox"]
        assert shapely.box(*feature["bbox"]).covers(tile)


@pytest.mark.parametrize("name", ["coast.geojson", "coast_world.geojson"])
@pytest.mark.parametrize(
    ("lon_deg", "lat_deg", "dry"),
    [
        # School geography, well away from any shore: Bohemia, Kansas, the Pole, Chukotka on both sides of 180.
        (14.5, 50.0, True),
        (-98.0, 38.5, True),
        (10.0, -89.0, True),
        (178.0, 67.5, True),
        (-179.0, 67.0, True),
        # Open water, at the latitudes of lands that the 180th meridian cuts: Fiji, Chukotka, Wrangel.
        (-30.0, -16.6, False),
        (-170.0, -16.6, False),
        (0.0, 67.5, False),
        (0.0, 71.2, False),
        (-77.3, 34.0, False),
        (-40.0, -60.0, False),
    ],
)
def test_shipped_coast_tells_land_from_sea(name, lon_deg, lat_deg, dry):
    point = shapely.Point(lon_deg, lat_deg)
    tiles = [f["geometry"] for f in json.loads(shipped_text(name))["features"] if around(f["bbox"], point)]
    assert any(shapely.from_geojson(json.dumps(tile)).covers(point) for tile in tiles) is dry


def around(box, point):
    return box[0] <= point.x <= box[2] and box[1] <= point.y <= box[3]
