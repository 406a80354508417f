"""
What a reader chooses on the public pages, and what a page does for one who sees or points less.

Outside checks: axe-core (accessibility) and html-validate (the HTML living standard), where npm installed them; the
lightness of colours by the formula of relative luminance of WCAG 2.2 (from memory).
"""

from datetime import date
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import expect
from pyproj import Geod

from registry.documents.map import render_map
from tests.documents.browser import needs_chromium, open_chromium, open_page
from tests.documents.map_sites import a_hostile_site, a_module, a_site, an_area, map_assets
from tests.documents.page_checks import barriers, complaints, needs_npm
from tests.documents.site_files import served, written

pytestmark = [pytest.mark.browser, needs_chromium]

ASSETS = map_assets()
DESKTOP = {"viewport": {"width": 1280, "height": 900}}
PHONE = {"viewport": {"width": 390, "height": 844}, "has_touch": True, "is_mobile": True}
WGS84 = Geod(ellps="WGS84")
DEPTHS_M = (4.0, 12.0, 22.0, 33.0, 47.0, None)


HOLDS_THE_THIRD = """async () => { const kept = await caches.match('index.html');
  return (await caches.keys()).length === 1 && (await kept.text()).includes('MC-0003'); }"""


def of_all_depths():
    """One module for each band, well apart."""
    return a_site(
        0,
        areas=(),
        keep_outs=(),
        modules=tuple(
            a_module(
                tag=f"MC-{i:04d}",
                lat_deg=34.02 + 0.0006 * i,
                charted_depth_m=depth_m,
                depth_u95_m=None if depth_m is None else 0.4,
            )
            for i, depth_m in enumerate(DEPTHS_M)
        ),
    )


@pytest.fixture(scope="module")
def chromium():
    with open_chromium() as browser:
        yield browser


@pytest.fixture
def show(chromium, tmp_path):
    """Open the map of a site from a file; nothing may be asked of a network or go wrong."""
    opened: list[Any] = []

    def opens(site, **context):
        file = tmp_path / f"map{len(opened)}.html"
        file.write_text(render_map(site, ASSETS), encoding="utf-8", newline="")
        manager = open_page(chromium, file, **(DESKTOP | context))
        page, wrong = manager.__enter__()
        opened.append((manager, wrong))
        return page

    yield opens
    for manager, wrong in opened:
        manager.__exit__(None, None, None)
        assert wrong.requests == []
        assert wrong.errors == []


def test_the_page_speaks_the_reader_s_language_and_keeps_the_choice(show):
    page = show(a_site(3), locale="fr-CA")
    assert page.evaluate("document.documentElement.lang") == "fr"
    assert page.locator("#count").inner_text() == "3 modules"
    assert "19,68 m ± 0,31 m sous MLLW (64,6 ft)" in page.locator("#rows").inner_text()
    page.select_option("#language", "vi")
    assert page.locator("#count").inner_text() == "3 khối"
    assert page.locator("#legend-title").inner_text() == "Chú giải"
    page.reload()
    assert page.evaluate("document.documentElement.lang") == "vi"
    assert page.title() == "Marram Coast Memorial Reefs: bản đồ rạn tưởng niệm"


@pytest.mark.parametrize("language", ["en", "es", "fr", "de", "vi"])
def test_nothing_breaks_or_overflows_in_any_language(show, language):
    page = show(a_site(40), **PHONE, locale=language)
    page.locator("#rows a").first.click()
    page.click("#measure")
    page.click("#add-centre")
    page.click("#done")
    assert page.evaluate("document.documentElement.scrollWidth") == 390
    assert page.evaluate("document.querySelectorAll('[data-word]:empty').length") == 0


def test_a_language_that_nobody_speaks_here_is_answered_in_english(show):
    page = show(a_site(1), locale="fi-FI")
    assert page.evaluate("document.documentElement.lang") == "en"


@pytest.mark.parametrize(
    ("notation", "written", "pointed"),
    [
        ("ddm", "34 01.250 N 077 20.110 W", "34 01.2"),
        ("dd", "34.02083, -77.33517", "34.02"),
        ("dms", "34 01 15.00 N 077 20 06.60 W", "34 01 1"),
    ],
)
def test_coordinates_are_written_in_the_reader_s_notation_and_stay_so(show, notation, written, pointed):
    page = show(a_site(0, areas=(), keep_outs=(), modules=(a_module(),)))
    page.select_option("#notation", notation)
    assert written in page.locator("#rows").inner_text()
    box = page.locator("#map_reef").bounding_box()
    page.mouse.move(box["x"] + box["width"] / 2 + 3, box["y"] + box["height"] / 2)
    assert f"Pointer {pointed}" in page.locator(".whereis").inner_text()
    page.reload()
    page.locator(".module").click()
    assert written in page.locator(".about-module").inner_text()


def lightness(page, name):
    """Relative luminance of a colour of the page."""
    code = page.evaluate(
        "name => { const it = document.createElement('i'); it.style.color = `var(${name})`; document.body.append(it);"
        "return getComputedStyle(it).color; }",
        name,
    )
    linear = [
        each / 12.92 if each <= 0.04045 else ((each + 0.055) / 1.055) ** 2.4
        for each in (int(part) / 255 for part in code.removeprefix("rgb(").rstrip(")").split(","))
    ]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


@pytest.mark.parametrize("theme", ["day", "night"])
def test_depths_are_told_apart_without_any_colour(show, theme):
    page = show(of_all_depths())
    page.select_option("#theme", theme)
    light = [lightness(page, f"--band-{band}") for band in range(5)]
    # Deeper is darker, each by a ratio of 1.3 at least; and fuller, which needs no colour at all.
    contrasts = [(a + 0.05) / (b + 0.05) for a, b in pairwise(light)]
    assert min(contrasts) > 1.3
    heights = page.evaluate(
        "[...document.querySelectorAll('#bands [class^=band-]')].map((it) => it.getBBox().height)"
    )
    assert len(heights) == 5
    assert heights == sorted(heights)
    assert heights[0] < heights[-1] / 4
    marks = page.locator(".module").evaluate_all(
        "all => all.map((it) => it.querySelector('[class^=band-], .unknown').getAttribute('class'))"
    )
    assert sorted(marks) == [*(f"band-{band}" for band in range(5)), "unknown"]
    told = page.locator("#bands li").all_inner_texts()
    assert [text.split()[-1] for text in told] == ["1"] * 6
    assert told[1].startswith("10 to 20 m (33 to 66 ft)")


def test_light_follows_the_device_until_the_reader_chooses(show):
    page = show(a_site(1), color_scheme="dark")
    assert page.evaluate("document.documentElement.dataset.theme") == "night"
    page.emulate_media(color_scheme="light")
    expect(page.locator("html")).to_have_attribute("data-theme", "day")
    page.select_option("#theme", "night")
    page.reload()
    assert page.evaluate("document.documentElement.dataset.theme") == "night"
    # Paper is white, whatever the screen was.
    page.emulate_media(media="print")
    assert lightness(page, "--paper") > 0.9


def test_a_typed_position_gives_distance_bearing_and_order(show):
    page = show(a_site(40))
    page.locator("#typed summary").click()
    page.fill("#from", "34 77")
    page.press("#from", "Enter")
    assert "read in one way only" in page.locator("#say").inner_text()
    assert page.get_attribute("#from", "aria-invalid") == "true"
    page.fill("#from", "34 00.000 N 077 20.000 W")
    page.press("#from", "Enter")
    assert "34 00.000 N 077 20.000 W" in page.locator("#say").inner_text()
    assert page.locator("#sort").input_value() == "near"
    distances = []
    for row in page.locator("#rows tr").all():
        tag, text = row.locator("th").inner_text(), row.locator(".of-from-you").inner_text()
        module = next(module for module in a_site(40).modules if module.tag == tag)
        azimuth, _, distance_m = WGS84.inv(-77 - 20 / 60, 34.0, module.lon_deg, module.lat_deg)
        assert text.startswith(f"{distance_m / 1000:.2f} km ({distance_m / 1852:.2f} NM), ")
        assert text.endswith(f"{round(azimuth % 360) % 360:03d}° true")
        distances.append(distance_m)
    assert distances == sorted(distances)
    page.locator("#rows a").first.click()
    assert "From you" in page.locator(".about-module").inner_text()


def test_the_own_position_is_followed_until_told_otherwise(show):
    page = show(
        a_site(0, modules=(a_module(),)),
        geolocation={"latitude": 34.0, "longitude": -77.3351667, "accuracy": 8},
        permissions=["geolocation"],
    )
    page.click("#locate")
    expect(page.locator("#say")).to_contain_text("nearest")
    assert page.get_attribute("#locate", "aria-pressed") == "true"
    page.wait_for_timeout(3200)
    page.context.set_geolocation({"latitude": 34.01, "longitude": -77.3351667, "accuracy": 8})
    _, _, distance_m = WGS84.inv(-77.3351667, 34.01, -77.3351667, 34.0208333)
    expect(page.locator("#say")).to_contain_text(f"{distance_m / 1000:.2f} km")
    page.click("#locate")
    assert page.get_attribute("#locate", "aria-pressed") == "false"
    assert "no longer followed" in page.locator("#say").inner_text()


def test_the_list_is_walked_by_keyboard_alone_and_reaches_every_module(show):
    page = show(a_site(60))
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.className") == "skip"
    page.keyboard.press("Enter")
    assert page.evaluate("document.activeElement.id") == "positions"
    for _ in range(3):
        page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.textContent") == "MC-0001"
    page.keyboard.press("ArrowDown")
    assert page.evaluate("document.activeElement.textContent") == "MC-0002"
    page.keyboard.press("End")
    assert page.evaluate("document.activeElement.textContent") == "MC-0025"
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.id") == "later"
    page.keyboard.press("Enter")
    page.keyboard.press("Enter")
    assert page.locator("#list-range").inner_text() == "51 to 60 of 60"
    # The button that has nothing more to give leaves the focus to the list.
    assert page.evaluate("document.activeElement.textContent") == "MC-0051"
    page.keyboard.press("Enter")
    assert "MC-0051" in page.locator(".about-module").inner_text()
    page.fill("#find", "tomas")
    expect(page.locator("#list-range")).to_have_text("1 to 12 of 12")


@pytest.mark.parametrize(
    ("order", "first"),
    [("tag", "MC-9"), ("name", "MC-10"), ("depth", "MC-12"), ("placed", "MC-11")],
)
def test_the_list_is_ordered_as_asked(show, order, first):
    page = show(
        a_site(
            0,
            modules=(
                a_module(tag="MC-12", name="Óscar", charted_depth_m=8.0),
                a_module(tag="MC-10", name="Ada"),
                a_module(tag="MC-9", name=None, charted_depth_m=None, depth_u95_m=None),
                a_module(tag="MC-11", name="Zoë", placed_on=date(2020, 1, 1)),
            ),
        )
    )
    page.select_option("#sort", order)
    assert page.locator("#rows th").first.inner_text() == first


@needs_npm
@pytest.mark.parametrize(
    "site", [a_site(), a_hostile_site(), a_site(0, areas=(), keep_outs=())], ids=["usual", "hostile", "empty"]
)
def test_every_page_is_valid_html(tmp_path, site):
    pages = sorted(written(tmp_path, site).rglob("*.html"))
    alone = tmp_path / "alone.html"
    alone.write_text(render_map(site, ASSETS, language="de"), encoding="utf-8")
    assert complaints(alone, *pages) == []


@needs_npm
def test_the_validator_would_complain(tmp_path):
    (tmp_path / "wrong.html").write_text("<!DOCTYPE html><title>x</title><p><b></p>", encoding="utf-8")
    assert complaints(tmp_path / "wrong.html")


@needs_npm
@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("device", [DESKTOP, PHONE], ids=["desktop", "phone"])
def test_axe_finds_no_barrier(chromium, tmp_path, scheme, device):
    folder = written(tmp_path, a_site(3, areas=(an_area(),)))
    for file in (folder / "index.html", folder / "areas" / "gannet-patch.html"):
        with open_page(chromium, file, color_scheme=scheme, reduced_motion="reduce", **device) as (
            page,
            wrong,
        ):
            assert barriers(page) == []
            if file.name == "index.html":
                page.locator("#rows a").first.click()
                page.locator("#typed summary").click()
                assert barriers(page) == []
                page.keyboard.press("Escape")
                page.click("#measure")
                assert barriers(page) == []
            assert wrong.errors == []


def test_a_map_that_was_served_once_opens_without_any_network(chromium, tmp_path):
    folder = written(tmp_path, a_site())
    context = chromium.new_context(**PHONE)
    errors: list[str] = []
    try:
        page = context.new_page()
        page.on("pageerror", lambda error: errors.append(str(error)))
        with served(folder) as address:
            page.goto(address)
            expect(page.locator("#news")).to_contain_text("kept on this device")
            manifest = page.evaluate("document.querySelector('link[rel=manifest]').href")
            assert manifest == f"{address}manifest.webmanifest"
            installed = context.new_cdp_session(page).send("Page.getInstallabilityErrors")
            assert [each["errorId"] for each in installed["installabilityErrors"]] in ([], ["in-incognito"])
        # The server is gone; the device still believes in a network.
        page.reload()
        expect(page.locator("#news")).to_contain_text("this is the copy that was issued 2026-11-25")
        assert page.locator("#count").inner_text() == "40 modules"
        assert page.evaluate("async () => (await caches.match('files/reef.gpx')).status") == 200
        for place in ("areas/gannet-patch.html", ""):
            assert page.goto(address + place).status == 200
        assert errors == []
    finally:
        context.close()


def test_a_newer_issue_is_shown_at_once_and_kept(chromium, tmp_path):
    folder = written(tmp_path, a_site(2))
    context = chromium.new_context(**DESKTOP)
    try:
        page = context.new_page()
        with served(folder) as address:
            page.goto(address)
            expect(page.locator("#news")).to_contain_text("kept on this device")
            written(folder, a_site(3))
            page.reload()
            # The network goes before the copy.
            assert page.locator("#count").inner_text() == "3 modules"
            for _ in range(100):
                if page.evaluate(HOLDS_THE_THIRD):
                    break
                page.wait_for_timeout(100)
        page.reload()
        assert page.locator("#count").inner_text() == "3 modules"
    finally:
        context.close()


def test_a_folder_opened_from_disk_is_a_plain_map(chromium, tmp_path):
    folder = written(tmp_path, a_site())
    with open_page(chromium, folder / "areas" / "gannet-patch.html", **DESKTOP) as (page, wrong):
        page.locator(".back").click()
        page.wait_for_selector(".leaflet-popup")
        assert "Gannet Patch" in page.locator(".leaflet-popup").inner_text()
        page.locator(".leaflet-popup a.open").click()
        expect(page.locator("h1")).to_have_text("Gannet Patch")
        assert wrong.errors == []
        assert {Path(each).name for each in wrong.requests if each.startswith("http")} == set()
