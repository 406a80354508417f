"""
The map in a browser without a network: what a person sees, presses, hears and takes away.

Outside checks: PROJ's geodesics (through pyproj), the GPX 1.1 schema of Topografix, gpxpy as a reader, and the
form of RFC 5870 for geo links (read from memory).
"""

import io
import math
from pathlib import Path
from typing import Any

import gpxpy
import numpy as np
import pytest
import xmlschema
from playwright.sync_api import expect
from pyproj import Geod

from registry.documents.map import render_map
from registry.documents.public_values import decimal_pair, plotter_text
from registry.measure.digits import Notation, coordinate_decimals
from tests.documents.browser import needs_chromium, open_chromium, open_page
from tests.documents.map_sites import HOSTILE, a_hostile_site, a_module, a_site, map_assets

pytestmark = [pytest.mark.browser, needs_chromium]

ASSETS = map_assets()
DESKTOP = {"viewport": {"width": 1440, "height": 900}}
PHONE = {"viewport": {"width": 375, "height": 812}, "has_touch": True, "is_mobile": True}
SCHEMA = Path(__file__).parents[1] / "published" / "schemas" / "gpx-1.1.xsd"
WGS84 = Geod(ellps="WGS84")


@pytest.fixture(scope="module")
def chromium():
    with open_chromium() as browser:
        yield browser


@pytest.fixture
def show(chromium, tmp_path):
    """Open the map of a site; after the test nothing may have been asked of a network or gone wrong."""
    opened: list[Any] = []

    def opens(site, **context):
        file = tmp_path / f"map{len(opened)}.html"
        file.write_text(render_map(site, ASSETS), encoding="utf-8", newline="")
        manager = open_page(chromium, file, **(context or DESKTOP))
        page, complaints = manager.__enter__()
        opened.append((manager, complaints))
        return page

    yield opens
    for manager, complaints in opened:
        manager.__exit__(None, None, None)
        assert complaints.requests == []
        assert complaints.errors == []


def find(page, words):
    page.fill("#find", words)
    expect(page.locator("#find")).to_have_value(words)
    page.wait_for_timeout(150)


def take_gpx(page):
    with page.expect_download() as taking:
        page.click("#gpx")
    return taking.value


def test_modules_are_drawn_and_counted(show):
    page = show(a_site())
    page.wait_for_selector("#map_reef .cluster")
    singles, groups = page.locator(".module").count(), page.locator(".cluster").all_inner_texts()
    assert singles + sum(int(text) for text in groups) == 40
    assert page.locator("#count").inner_text() == "40 modules"
    assert page.locator("path.area").count() == 2
    assert page.locator("path.keepout").count() == 2
    assert page.locator("path.keepout-line").count() == 1
    assert "hatch" in page.locator("path.keepout").first.evaluate("path => getComputedStyle(path).fill")


def test_a_press_on_a_group_opens_it_until_modules_stand_apart(show):
    page = show(a_site(6))
    for _ in range(12):
        if not page.locator(".cluster").count():
            break
        page.locator(".cluster").first.click()
        page.wait_for_timeout(400)
    assert page.locator(".module").count() >= 2
    page.locator(".module").first.click()
    assert "within" in page.locator(".leaflet-popup").inner_text()


def test_popup_tells_one_module(show):
    page = show(a_site(0, modules=(a_module(),)))
    page.locator(".module").click()
    text = page.locator(".about-module").inner_text()
    for words in (
        "Ada Brightwater",
        "MC-0001",
        "34 01.250 N 077 20.110 W",
        "within 6.0 m (95 %)",
        "19.68 m ± 0.31 m below MLLW (64.6 ft)",
        "2026-05-04",
        "Gannet Patch",
        "Not for navigation.",
    ):
        assert words in text
    # RFC 5870: u is the uncertainty in metres, WGS 84 is the default.
    assert page.locator(".about-module .open").get_attribute("href") == "geo:34.02083,-77.33517;u=6.0"
    assert page.locator("path.within").count() == 1
    page.keyboard.press("Escape")
    page.wait_for_selector(".about-module", state="detached")
    assert page.locator("path.within").count() == 0


def test_popup_of_a_keep_out_tells_kind_and_setback(show):
    page = show(a_site())
    page.locator(".areas a", has_text="Pale ledge").click()
    text = page.locator(".leaflet-popup").inner_text()
    assert "hard bottom" in text
    assert "at least 30 m away" in text


def test_keyboard_alone_opens_a_module_and_closes_it(show):
    page = show(a_site(0, modules=(a_module(),)))
    page.locator(".module").focus()
    page.keyboard.press("Enter")
    assert page.locator(".about-module").evaluate("it => it === document.activeElement")
    page.keyboard.press("Escape")
    assert page.locator(".module").evaluate("it => it === document.activeElement")
    names = page.locator(".module").evaluate("it => it.getAttribute('title') + it.getAttribute('alt')")
    assert "MC-0001, Ada Brightwater" in names


def test_search_by_tag_and_by_name_narrows_the_map(show):
    page = show(a_site())
    find(page, "tomas")
    assert page.locator("#count").inner_text() == "8 of 40 modules match"
    assert page.locator("#found li").count() == 8
    find(page, "mc-0017")
    page.locator("#found button").click()
    assert "MC-0017" in page.locator(".about-module").inner_text()
    assert page.locator(".module").count() == 1
    find(page, "nobody of that name")
    assert "Try fewer letters" in page.locator("#count").inner_text()
    find(page, "")
    assert page.locator("#count").inner_text() == "40 modules"


def test_search_is_answered_by_the_keyboard_alone(show):
    page = show(a_site())
    page.locator("#find").focus()
    page.keyboard.type("tomas")
    page.keyboard.press("Enter")
    first = page.evaluate("site.modules.tag[site.modules.name.findIndex((name) => name.includes('Tom'))]")
    assert first in page.locator(".about-module").inner_text()
    assert page.locator(".about-module").evaluate("it => it === document.activeElement")
    assert page.locator("#found li").count() == 0
    page.keyboard.press("Escape")
    page.locator("#find").focus()
    page.keyboard.press("ArrowDown")
    page.keyboard.press("ArrowUp")
    assert page.evaluate("document.activeElement.id") == "find"
    page.keyboard.press("ArrowDown")
    page.keyboard.press("ArrowDown")
    second = page.evaluate("document.activeElement.textContent")
    assert second == page.locator("#found li").nth(1).inner_text().replace("\n", "")
    page.keyboard.press("Enter")
    assert second[:7] in page.locator(".about-module").inner_text()


def test_enter_opens_nothing_where_nothing_is_found_or_asked(show):
    page = show(a_site())
    for words in ("", "nobody of that name"):
        page.fill("#find", words)
        page.keyboard.press("Enter")
        assert page.locator(".about-module").count() == 0
    assert "Try fewer letters" in page.locator("#count").inner_text()


def test_a_tag_in_the_table_leads_to_its_place(show):
    page = show(a_site())
    page.locator("#rows a", has_text="MC-0023").click()
    assert "MC-0023" in page.locator(".about-module").inner_text()


@pytest.mark.parametrize("clipboard", ["allowed", "absent", "forbidden"])
def test_copy_works_with_and_without_a_clipboard(show, clipboard):
    page = show(a_site(0, modules=(a_module(),)))
    page.evaluate(
        """way => {
          window.kept = [];
          document.addEventListener("copy", () => window.kept.push(document.activeElement.value));
          const value = { allowed: { writeText: async (text) => { window.kept.push(text); } }, absent: undefined,
            forbidden: { writeText: () => Promise.reject(new Error("no")) } }[way];
          Object.defineProperty(navigator, "clipboard", { value, configurable: true });
        }""",
        clipboard,
    )
    page.locator(".module").click()
    page.locator(".about-module button", has_text="Copy position").click()
    expect(page.locator("#say")).to_contain_text("Copied")
    assert page.evaluate("window.kept") == ["34 01.250 N 077 20.110 W"]
    assert "Copied: 34 01.250 N 077 20.110 W" in page.locator("#say").inner_text()


def test_measuring_between_two_modules_is_the_geodesic(show):
    near, far = a_module(r95_m=3.0), a_module(tag="MC-0002", lat_deg=34.0308333, r95_m=4.0)
    page = show(a_site(0, modules=(near, far)))
    page.click("#measure")
    for marker in page.locator(".module").all():
        marker.click()
    text = page.locator("#legs li").inner_text()
    _, _, distance_m = WGS84.inv(near.lon_deg, near.lat_deg, far.lon_deg, far.lat_deg)
    assert f"{distance_m / 1000:.2f} km ({distance_m / 1852:.2f} NM)" in text
    assert "000° true" in text or "180° true" in text
    # 3 m and 4 m, independent: 5 m.
    assert "known within 5.0 m (95 %)" in text
    page.click("#done")
    assert page.locator("#measuring").is_hidden()
    assert page.locator("path.measured").count() == 0


def test_measuring_by_keyboard_adds_the_centre_and_sums_legs(show):
    page = show(a_site())
    page.locator("#measure").press("Enter")
    for lat in (34.00, 34.01, 34.03):
        page.evaluate("lat => map_reef.setView([lat, -77.3], 17, { animate: false })", lat)
        page.locator("#add-centre").press("Enter")
    lines = page.locator("#legs li").all_inner_texts()
    _, _, whole_m = WGS84.inv(-77.3, 34.00, -77.3, 34.03)
    assert len(lines) == 3
    assert lines[0].endswith("000° true")
    assert lines[2] == f"Total: {whole_m / 1000:.2f} km ({whole_m / 1852:.2f} NM)"
    page.locator("#undo").press("Enter")
    assert page.locator("#legs li").count() == 1


def test_geodesics_agree_with_pyproj(show):
    """PROJ's geodesics (Karney 2013) over the globe, short and long."""
    page = show(a_site(0))
    random = np.random.default_rng(20261125)
    lat1, lon1 = random.uniform(-89, 89, 2000), random.uniform(-180, 180, 2000)
    reach = 10.0 ** random.uniform(-5, 2.2, 2000)
    lat2 = np.clip(lat1 + reach * random.uniform(-1, 1, 2000), -89, 89)
    lon2 = lon1 + reach * random.uniform(-1, 1, 2000)
    pairs = np.column_stack((lat1, lon1, lat2, lon2))
    pairs = np.vstack(
        (pairs, [[0, 0, 0, 90], [0, 179.9, 0, -179.9], [89.9, 0, 89.9, 180], [10, 20, 10, 20.0000001]])
    )
    got = page.evaluate("pairs => pairs.map((pair) => geodesic(...pair))", pairs.tolist())
    azimuth, _, distance = WGS84.inv(pairs[:, 1], pairs[:, 0], pairs[:, 3], pairs[:, 2])
    worst = 0.0
    for answer, bearing, metres in zip(got, azimuth % 360, distance, strict=True):
        assert answer is not None
        assert answer["distance_m"] == pytest.approx(metres, abs=0.001)
        turn = (answer["bearing_deg"] - bearing + 180) % 360 - 180
        worst = max(worst, abs(math.radians(turn)) * min(metres, 6.4e6))
    assert worst < 0.001


def test_nearly_opposite_places_get_no_number(show):
    page = show(a_site(0))
    assert page.evaluate("geodesic(0, 0, 0.3, 179.7)") is None
    assert page.evaluate("geodesic(12.5, 7, 12.5, 367)") == {"distance_m": 0, "bearing_deg": None}


@pytest.mark.parametrize(
    ("call", "text"),
    [
        ("plotterText(34.0208333, -77.3351667, 3)", "34 01.250 N 077 20.110 W"),
        ("plotterText(33.9999999, -76.9999999, 3)", "34 00.000 N 077 00.000 W"),
        ("plotterText(-0.00000001, 0.00000001, 3)", "00 00.000 N 000 00.000 E"),
        ("plotterText(-12.5, 181.5, 0)", "12 30 S 178 30 W"),
        ("plotterText(-12.5, 179.9999999, 2)", "12 30.00 S 180 00.00 W"),
        ("bearingText(359.7)", "000"),
        ("bearingText(7.2)", "007"),
        ("positionText(34.0208333, -77.3351667, 'dms', 1)", "34 01 15.0 N 077 20 06.6 W"),
        ("positionText(33.99999999, -76.99999999, 'dms', 1)", "34 00 00.0 N 077 00 00.0 W"),
        ("positionText(-12.5, 179.99999999, 'dd', 5)", "-12.50000, -180.00000"),
        ("positionText(-0.00000001, 0.00000001, 'dd', 5)", "0.00000, 0.00000"),
        ("lengthText(12.34, 0.5)", "12.3 m"),
        ("lengthText(12.34, 6)", "12 m"),
        ("lengthText(18520, 6)", "18.52 km (10.00 NM)"),
        ("pointedDecimals('ddm', 1.5)", 3),
        ("pointedDecimals('ddm', 5000)", 0),
        ("pointedDecimals('dd', 1.5)", 4),
        (
            "typedPosition('34 01.250 N 077 20.110 W').map((it) => it.toFixed(6)).join()",
            "34.020833,-77.335167",
        ),
        (
            "typedPosition('34°01′15″ S, 77°20′06.6″E').map((it) => it.toFixed(6)).join()",
            "-34.020833,77.335167",
        ),
        ("typedPosition(' -34.0208, 77.3352 ').join()", "-34.0208,77.3352"),
        # Read in two ways, or in none: nothing is guessed.
        ("typedPosition('34 77')", None),
        ("typedPosition('34,0208 N 77,3352 W')", None),
        ("typedPosition('34 61.0 N 077 20.1 W')", None),
        ("typedPosition('34 01.250 077 20.110')", None),
        ("typedPosition('34 01.250 N 077 20.110 O')", None),
        ("typedPosition('91.0, 12.0')", None),
        ("typedPosition('34.5 01 N 077 20.110 W')", None),
    ],
)
def test_written_numbers(show, call, text):
    assert show(a_site(0)).evaluate(call) == text


def test_coordinates_are_written_as_everywhere_else(show):
    """What the page writes by itself against `registry.measure.digits`, in the three notations."""
    page = show(a_site(0))
    random = np.random.default_rng(20261127)
    lats, lons = random.uniform(-90, 90, 3000).round(9), random.uniform(-180, 180, 3000).round(9)
    radii = (10.0 ** random.uniform(-1, 3, 3000)).round(1) + 0.1
    places = np.column_stack((lats, lons, radii)).tolist()
    written = page.evaluate(
        """places => places.map(([lat, lon, r95]) =>
          ["dd", "ddm"].map((form) => positionText(lat, lon, form, coordinateDecimals(form, r95))))""",
        places,
    )
    for (lat, lon, r95), (dd, ddm) in zip(places, written, strict=True):
        assert dd == ", ".join(decimal_pair(lat, lon, r95))
        # Exactly between two last digits, as a stored coordinate may be, either is as near.
        unit = 60 * 10 ** coordinate_decimals(Notation.MINUTES, r95)
        between = any(abs(abs(angle) * unit % 1 - 0.5) < 1e-3 for angle in (lat, lon))
        assert between or ddm == plotter_text(lat, lon, r95)
    # A second is a sixtieth of a minute, so it takes two decimals fewer to say as much, or one.
    decimals = page.evaluate("radii => radii.map((r95) => coordinateDecimals('dms', r95))", radii.tolist())
    assert decimals == [coordinate_decimals(Notation.SECONDS, r95) for r95 in radii.tolist()]


def test_minutes_never_read_sixty(show):
    page = show(a_site(0))
    assert (
        page.evaluate(
            """() => {
          for (let i = 0; i < 20000; i += 1) {
            const angle = Math.floor(i / 100) * 0.9 + 1 - 10 ** (-1 - (i % 100) / 10);
            for (let decimals = 0; decimals < 5; decimals += 1)
              if (/ 60/.test(degreesMinutes(angle, decimals, "NS", 2))) return angle;
          }
          return null;
        }"""
        )
        is None
    )


def test_gpx_holds_what_is_shown(show):
    page = show(a_site())
    download = take_gpx(page)
    assert download.suggested_filename == "marram-coast-memorial-reefs.gpx"
    text = download.path().read_text(encoding="utf-8")
    xmlschema.XMLSchema(str(SCHEMA)).validate(text)
    gpx = gpxpy.parse(io.StringIO(text))
    assert gpx.version == "1.1"
    assert [point.name for point in gpx.waypoints] == [f"MC-{i:04d}" for i in range(1, 41)]
    site = a_site()
    for point, module in zip(gpx.waypoints, site.modules, strict=True):
        _, _, off_m = WGS84.inv(point.longitude, point.latitude, module.lon_deg, module.lat_deg)
        assert off_m <= 0.25 * module.r95_m
    assert "below MLLW" in (gpx.waypoints[0].description or "")
    assert "WGS 84 (ITRF2020), epoch 2026.9" in (gpx.waypoints[0].description or "")
    assert [track.name for track in gpx.tracks] == [
        "Gannet Patch",
        "Tern Patch",
        "Keep clear: Old telegraph cable",
        "Keep clear: Pale ledge",
    ]
    find(page, "wren")
    page.uncheck("#show-areas")
    page.uncheck("#show-keepouts")
    fewer = gpxpy.parse(io.StringIO(take_gpx(page).path().read_text(encoding="utf-8")))
    assert len(fewer.waypoints) == 8
    assert fewer.tracks == []


def test_gpx_across_the_180th_meridian_keeps_to_its_range(show):
    page = show(a_site(west_deg=179.997, south_deg=-17.0))
    assert page.locator("path.area").count() == 2
    text = take_gpx(page).path().read_text(encoding="utf-8")
    xmlschema.XMLSchema(str(SCHEMA)).validate(text)
    gpx = gpxpy.parse(io.StringIO(text))
    points = [p for track in gpx.tracks for segment in track.segments for p in segment.points]
    assert all(-180 <= p.longitude < 180 for p in [*points, *gpx.waypoints])
    gannet = gpx.tracks[0].segments
    assert len(gannet) == 3
    for segment in gannet:
        lons = [p.longitude for p in segment.points]
        assert max(lons) - min(lons) < 0.01


def test_hostile_words_are_only_words(show):
    page = show(a_hostile_site())
    page.evaluate("() => { window.alert = () => { throw new Error('a typed word ran'); }; }")
    for i, text in enumerate(HOSTILE):
        find(page, f"T{i} ")
        page.locator("#found button").first.click()
        assert page.locator(".about-module h3").evaluate("it => it.textContent") == text
        page.keyboard.press("Escape")
    find(page, "")
    page.locator(".areas a").first.click()
    gpx = gpxpy.parse(io.StringIO(take_gpx(page).path().read_text(encoding="utf-8")))
    assert gpx.waypoints[0].name == f"T0 {HOSTILE[0]}"
    assert page.locator("img[src=x]").count() == 0


def test_device_position_finds_the_nearest_module(show):
    page = show(
        a_site(0, modules=(a_module(),)),
        **DESKTOP,
        geolocation={"latitude": 34.0, "longitude": -77.3351667, "accuracy": 8},
        permissions=["geolocation"],
    )
    page.click("#locate")
    expect(page.locator("#say")).to_contain_text("nearest")
    _, _, distance_m = WGS84.inv(-77.3351667, 34.0, -77.3351667, 34.0208333)
    text = page.locator("#say").inner_text()
    assert "your own position, good to about 8 m" in text
    assert f"MC-0001, is {distance_m / 1000:.2f} km" in text
    assert "000° true" in text


def test_on_a_phone_the_own_position_and_the_answer_are_seen(show):
    here = {"latitude": 34.0208333, "longitude": -77.3351667, "accuracy": 8}
    page = show(
        a_site(),
        **(PHONE | {"viewport": {"width": 390, "height": 844}}),
        geolocation=here,
        permissions=["geolocation"],
    )
    page.click("#locate")
    expect(page.locator("#say")).to_contain_text("nearest")
    for seen in (page.locator("#say"), page.locator("path.here-mark")):
        box = seen.bounding_box()
        assert box["y"] >= 0
        assert box["y"] + box["height"] <= 844
    order = page.evaluate(
        "['here', 'markerPane', 'popupPane'].map((name) => +getComputedStyle(map_reef.getPane(name)).zIndex)"
    )
    assert order[1] < order[0] < order[2]
    # What lies under the mark can still be pressed.
    box = page.locator("path.here-mark").bounding_box()
    under = page.evaluate(
        "([x, y]) => document.elementFromPoint(x, y).closest('.leaflet-here-pane')",
        [box["x"] + box["width"] / 2, box["y"] + box["height"] / 2],
    )
    assert under is None


@pytest.mark.parametrize(
    ("code", "words"),
    [(1, "keeps your position to itself"), (2, "cannot tell"), (3, "too long"), (0, "cannot tell a page")],
)
def test_a_device_that_cannot_tell_is_answered_politely(show, code, words):
    page = show(a_site(1))
    page.evaluate(
        """code => Object.defineProperty(navigator, "geolocation",
          { value: code ? { watchPosition: (good, bad) => { bad({ code }); return 1; }, clearWatch: () => {} } : undefined, configurable: true })""",
        code,
    )
    page.click("#locate")
    assert words in page.locator("#say").inner_text()


def test_pointer_and_scale_are_told(show):
    page = show(a_site())
    box = page.locator("#map_reef").bounding_box()
    page.mouse.move(box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)
    assert page.locator(".whereis").inner_text().startswith("Pointer 34 0")
    metric, nautical = page.locator(".bar-scale div").all_inner_texts()
    assert metric.endswith("m")
    assert nautical.endswith("NM")
    width = page.locator(".bar-scale div").first.evaluate("bar => parseFloat(bar.style.width)")
    told_m = float(metric.split()[0]) * (1000 if metric.endswith("km") else 1)
    ends = page.evaluate(
        """width => { const y = map_reef.getSize().y / 2, x = map_reef.getSize().x / 2;
          return [[x, y], [x + width, y]].map((p) => map_reef.containerPointToLatLng(p)).map((p) => [p.lng, p.lat]); }""",
        width,
    )
    assert WGS84.inv(*ends[0], *ends[1])[2] == pytest.approx(told_m, rel=0.01)


@pytest.mark.parametrize(
    "site", [a_site(), a_hostile_site(), a_site(0, areas=(), keep_outs=())], ids=["usual", "hostile", "empty"]
)
def test_a_phone_needs_no_sideways_scroll_and_has_large_targets(show, site):
    page = show(site, **PHONE)
    assert page.evaluate("document.documentElement.scrollWidth") == 375
    small = page.evaluate(
        """() => [...document.querySelectorAll("button, select, input[type=search], .legend label, .leaflet-bar a, .areas a")]
          .filter((it) => it.offsetParent && (it.offsetHeight < 44 || it.offsetWidth < 44)).map((it) => it.outerHTML)"""
    )
    assert small == []


def test_popup_fits_a_phone(show):
    page = show(
        a_site(0, modules=(a_module(name="Maria Bartholomea Quillfeather-Oakenshaw of the Long Sands"),)),
        **PHONE,
    )
    page.locator(".module").click()
    page.wait_for_timeout(500)
    popup, chart = page.locator(".leaflet-popup").bounding_box(), page.locator("#map_reef").bounding_box()
    assert popup["x"] >= chart["x"]
    assert popup["x"] + popup["width"] <= chart["x"] + chart["width"] + 1
    assert popup["y"] >= chart["y"]


def test_without_scripts_the_table_still_tells_everything(show):
    page = show(a_site(3), **DESKTOP, java_script_enabled=False)
    assert "Every position is in the list below" in page.locator("#map_reef noscript").inner_text()
    assert page.locator("table.plain tbody tr").count() == 3
    assert page.locator("#list-box").is_hidden()
    assert page.locator("#tools").is_hidden()


def test_paper_gets_the_whole_view_and_the_table_and_no_buttons(show):
    page = show(a_site(201))
    assert page.locator("#rows tr").count() == 25
    before = page.evaluate("[map_reef.getCenter(), map_reef.getZoom()]")
    page.evaluate("""() => { window.addEventListener("beforeprint", () => {
      window.paper = [map_reef.getBounds().contains(site.bounds), byId("rows").children.length]; }); }""")
    assert page.pdf(format="A4").startswith(b"%PDF")
    assert page.evaluate("window.paper") == [True, 201]
    assert page.evaluate("[map_reef.getCenter(), map_reef.getZoom()]") == before
    assert page.locator("#rows tr").count() == 25
    page.emulate_media(media="print")
    assert page.locator("#rows tr").first.is_visible()
    assert page.locator("#gpx").is_hidden()


@pytest.mark.slow
def test_a_hundred_thousand_modules_still_open(show):
    page = show(a_site(100_000))
    page.wait_for_selector(".cluster", timeout=60_000)
    assert page.locator("#count").inner_text() == "100,000 modules"
    # What is out of sight is not drawn.
    assert page.locator(".cluster, .module").count() < 1000
    find(page, "MC-99999")
    page.wait_for_selector("#found li", timeout=20_000)
    page.locator("#found button").first.click()
    assert "MC-99999" in page.locator(".about-module").inner_text()
