"""The public's journeys in a browser: search, site, files; and a certificate proved by its file."""

import os
from pathlib import Path
from typing import Any

import pytest

from registry.cli.main import run
from tests.documents.browser import needs_chromium
from tests.documents.page_checks import barriers, complaints, needs_npm
from tests.web.conftest import Served

pytestmark = needs_chromium

SIZES = ((360, 740), (820, 1180), (1280, 800))
PAGES = ("/", "/search?q=MC", "/search?q=nobody", "/downloads/", "/authenticate", "/authenticate?number=X")
PICTURES = os.environ.get("LEADLINE_PICTURES")


@pytest.fixture
def page(chromium: Any) -> Any:
    """Open a page that complains of nothing."""
    context = chromium.new_context(viewport={"width": 820, "height": 1180}, accept_downloads=True)
    opened = context.new_page()
    faults: list[str] = []
    opened.on("pageerror", lambda error: faults.append(str(error)))
    opened.on("console", lambda said: faults.append(said.text) if said.type in ("error", "warning") else None)
    yield opened
    context.close()
    assert not faults


def test_an_angler_searches_reads_the_site_and_takes_its_file(served: Served, page: Any) -> None:
    page.goto(served.url)
    page.get_by_label("Find a reef").fill("quill")
    page.get_by_role("button", name="Search").click()
    page.get_by_role("heading", name="Ada Quill").wait_for()
    page.get_by_role("link", name="gannet-patch").first.click()
    page.get_by_role("heading", level=1).wait_for()
    assert page.url == f"{served.url}/map/areas/gannet-patch.html"
    with page.expect_download() as got:
        page.locator("a[download][href$='.gpx']").first.click()
    assert b"<gpx" in Path(got.value.path()).read_bytes()
    page.goto(f"{served.url}/downloads/")
    with page.expect_download() as got:
        page.get_by_role("link", name="PDF").click()
    assert got.value.suggested_filename == "reef.pdf"


def test_a_search_leads_to_the_module_on_the_map(served: Served, page: Any) -> None:
    page.goto(f"{served.url}/search?q=MC-0001")
    page.get_by_role("link", name="Show MC-0001 on the map").click()
    page.locator(".leaflet-popup", has_text="MC-0001").wait_for()


def test_the_map_works_under_its_address_and_stays_without_a_network(served: Served, chromium: Any) -> None:
    context = chromium.new_context()
    page = context.new_page()
    faults: list[str] = []
    page.on("pageerror", lambda error: faults.append(str(error)))
    page.on("console", lambda said: faults.append(said.text) if said.type == "error" else None)
    page.goto(f"{served.url}/map/")
    page.evaluate("navigator.serviceWorker.ready.then((ready) => ready.scope)")
    scope = page.evaluate("navigator.serviceWorker.ready.then((ready) => ready.scope)")
    assert scope == f"{served.url}/map/"
    assert page.locator(".leaflet-container").count() == 1
    page.wait_for_function("navigator.serviceWorker.controller !== null")
    assert not faults
    context.set_offline(True)
    page.goto(f"{served.url}/map/areas/gannet-patch.html")
    assert "gannet-patch" in page.locator("h1").inner_text()
    context.close()


def test_a_certificate_is_proved_by_its_file(served: Served, page: Any) -> None:
    seen = ("--despite", "both seen by divers", "--actor", "Ada")
    assert run(("certificate", "MC-0001", "--out", "papers", *seen)) == 0
    (paper,) = Path("papers").glob("*.pdf")
    page.goto(served.url)
    page.get_by_role("link", name="Is a certificate genuine?").click()
    page.locator("input[type=file]").set_input_files(str(paper))
    page.get_by_role("button", name="Prove the file").click()
    page.get_by_role("heading", name="Genuine", exact=True).wait_for()
    assert "Ada Quill" in page.locator(".proof").inner_text()
    if PICTURES:
        page.screenshot(path=str(Path(PICTURES) / "public-genuine-820.png"), full_page=True)
    changed = bytearray(paper.read_bytes())
    changed[len(changed) // 2] ^= 1
    file = {"name": "paper.pdf", "mimeType": "application/pdf", "buffer": bytes(changed)}
    page.locator("input[type=file]").set_input_files(file)
    page.get_by_role("button", name="Prove the file").click()
    page.get_by_role("heading", name="Not genuine").wait_for()


@needs_npm
def test_pages_have_no_barriers_and_fit_every_screen(served: Served, chromium: Any, tmp_path: Path) -> None:
    for width, height in SIZES:
        context = chromium.new_context(viewport={"width": width, "height": height}, bypass_csp=True)
        page = context.new_page()
        for number, path in enumerate(PAGES):
            page.goto(served.url + path)
            if PICTURES:
                page.screenshot(path=str(Path(PICTURES) / f"public-{number}-{width}.png"), full_page=True)
            assert barriers(page) == [], (path, width)
            wide = page.evaluate("document.documentElement.scrollWidth - innerWidth")
            assert wide <= 0, (path, width)
            if width == SIZES[0][0]:
                file = tmp_path / f"page-{number}.html"
                file.write_text(page.request.get(served.url + path).text(), encoding="utf-8")
        context.close()
    assert complaints(*sorted(tmp_path.glob("page*.html"))) == []
