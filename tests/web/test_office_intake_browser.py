"""The office's journeys in a browser: intake without a script, permits on the map, resurveys; phone, tablet, desk."""

import json
from contextlib import contextmanager

import pytest

from tests.cli.reef import PERMIT, a_log, log_line
from tests.documents.browser import needs_chromium
from tests.documents.page_checks import AXE, barriers
from tests.web.conftest import sign_in

pytestmark = [pytest.mark.browser, needs_chromium]

SIZES = ((360, 740), (820, 1180), (1280, 800))
SHEET = a_log(1, log_line(1, position="33.9920 77.0070"), log_line(2, position="33.9920 N 77.007999 W"))
CABLE = {
    "type": "Feature",
    "properties": {"name": "north cable"},
    "geometry": {"type": "LineString", "coordinates": [[-77.02, 34.005], [-76.98, 34.006]]},
}


@contextmanager
def office(chromium, served, *, script=True):
    """Give a page of somebody of the office, and what the browser complained of."""
    context = chromium.new_context(java_script_enabled=script, viewport={"width": 360, "height": 740})
    said = []
    try:
        page = context.new_page()
        page.on("pageerror", lambda error: said.append(str(error)))
        page.on("console", lambda told: said.append(told.text) if told.type in ("error", "warning") else None)
        sign_in(page, served.url, "Ada")
        yield page, said
    finally:
        context.close()


def looked_at(page):
    """Insist that a page fits every size and that nobody is kept out of it."""
    page.wait_for_load_state("load")
    for width, height in SIZES:
        page.set_viewport_size({"width": width, "height": height})
        wide = page.evaluate(
            "[...document.querySelectorAll('main *')].filter(e => e.getBoundingClientRect().right > innerWidth"
            " && !e.closest('.scroll, .map')).map(e => e.outerHTML.slice(0, 90))"
        )
        assert page.evaluate("document.documentElement.scrollWidth") <= width, (page.url, width, wide)
    assert page.locator("h1").count() == 1
    small = page.evaluate(
        "[...document.querySelectorAll('main a.button, main button, main select, main summary,"
        " main input:not([type=hidden]):not([type=checkbox])')].filter(e => e.offsetParent"
        " && e.getBoundingClientRect().height < 43.5).map(e => e.outerHTML.slice(0, 90))"
    )
    assert small == []
    if AXE.exists():
        assert barriers(page) == []


def state_the_file(page):
    page.select_option("[name=frame]", "own")
    page.select_option("[name=permit]", "HB-0417")
    page.select_option("[name=zone]", "own")
    for length in ("depth", "r95"):
        page.select_option(f"[name=unit-{length}]", "own")
    page.click("text=Show what would become")


@pytest.mark.parametrize("script", [True, False])
def test_a_sheet_goes_in_from_the_first_page_to_the_last(chromium, served, tmp_path, script):
    sheet = tmp_path / "day.csv"
    sheet.write_text(SHEET, encoding="utf-8")
    with office(chromium, served, script=script) as (page, said):
        look = looked_at if script else lambda page: None
        page.goto(f"{served.url}/office")
        page.click("nav >> text=Intake")
        look(page)
        page.set_input_files("input[name=file]", str(sheet))
        page.click("text=Send it")
        look(page)
        state_the_file(page)
        path = page.url.split("?")[0]
        assert "3 doubtful rows wait" in page.inner_text("main")
        look(page)
        page.goto(f"{path}/rows/3")
        look(page)
        page.click("button:has-text('33.9920 N 77.0070 W')")
        page.goto(f"{path}?show=doubtful")
        if page.locator("text=Keep these as they are written").count():
            page.click("text=Keep these as they are written")
        page.click("button:has-text('Take in')")
        assert page.url.endswith("/taken")
        assert "3 placements" in page.inner_text("main")
        look(page)
        page.goto(path)
        assert "Nothing new" in page.inner_text("main")
        look(page)
        assert said == []


def test_a_permit_is_added_amended_and_seen_on_the_map(chromium, served, tmp_path):
    new, amended, cable = (tmp_path / name for name in ("new.toml", "amended.toml", "cable.geojson"))
    new.write_text(PERMIT.replace("HB-0417", "TP-22"), encoding="utf-8")
    amended.write_text(PERMIT.replace("least_m = 6.0", "least_m = 9.0"), encoding="utf-8")
    cable.write_text(json.dumps(CABLE), encoding="utf-8")
    with office(chromium, served) as (page, said):
        page.goto(f"{served.url}/office/keep-outs")
        form = page.locator("form", has=page.locator("[name=kind]"))
        form.locator("[name=file]").set_input_files(str(cable))
        form.locator("[name=kind]").fill("cable")
        form.locator("[name=setback]").fill("200 ft")
        form.locator("[name=frame]").select_option("own")
        form.locator("button").click()
        looked_at(page)
        page.click("button:has-text('Add 1 shape')")
        page.wait_for_selector("[data-drawn]")
        looked_at(page)
        page.goto(f"{served.url}/office/permits")
        looked_at(page)
        page.set_input_files("input[name=file]", str(new))
        page.click("text=Look at what it says")
        looked_at(page)
        page.click("button:has-text('Add permit TP-22')")
        page.goto(f"{served.url}/office/permits/HB-0417")
        # An area, a keep-out and its setback.
        page.wait_for_selector("[data-drawn='3']")
        assert page.locator(".map path.keep-out").count() == 1
        page.locator(".map path.keep-out").hover()
        assert "north cable, stay clear by 60.96 m" in page.inner_text(".leaflet-tooltip")
        looked_at(page)
        form = page.locator("form[action$=amendment]")
        form.locator("[name=file]").set_input_files(str(amended))
        form.locator("[name=effective]").fill("2026-05-01")
        form.locator("[name=why]").fill("Amendment 1")
        form.locator("button").click()
        looked_at(page)
        page.click("text=Record this amendment")
        assert "Amendment 1" in page.inner_text(".versions")
        assert said == []


def test_without_a_script_the_plan_shows_what_the_map_would(chromium, served):
    with office(chromium, served, script=False) as (page, _):
        page.goto(f"{served.url}/office/permits/HB-0417")
        assert page.locator("svg.plan").is_visible()
        assert not page.locator(".map").is_visible()


def test_has_it_moved_is_answered_before_it_is_recorded(chromium, served, tmp_path):
    sheet = tmp_path / "storm.csv"
    sheet.write_text("tag,position,when\nMC-0002,34 00.1015 N 077 00.0000 W,2026-09-01\n", encoding="utf-8")
    with office(chromium, served) as (page, said):
        page.goto(f"{served.url}/office/resurveys")
        looked_at(page)
        form = page.locator("form[action='/office/resurveys']")
        for name, text in (
            ("tag", "MC-0001"),
            ("at", "34 00.1200 N 077 00.0000 W"),
            ("when", "2026-09-01"),
            ("r95", "2 m"),
        ):
            form.locator(f"[name={name}]").fill(text)
        form.locator("[name=frame]").select_option("EPSG:6318")
        form.locator("button").click()
        assert "MC-0001 moved 37.0 ± 2.9 m" in page.inner_text("main")
        looked_at(page)
        page.click("text=Record this observation")
        assert "MC-0001 moved 37.0 ± 2.9 m" in page.inner_text("main")
        form = page.locator("form[action='/office/resurveys/list']")
        form.locator("[name=file]").set_input_files(str(sheet))
        form.locator("[name=frame]").select_option("EPSG:6318")
        form.locator("[name=r95]").fill("2 m")
        form.locator("button").click()
        looked_at(page)
        page.click("button:has-text('Record 1 observation')")
        assert "1 observation is recorded" in page.inner_text("main")
        assert said == []
