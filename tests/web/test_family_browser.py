"""A family's journey in a browser: open the link, read, approve the plaque, consent, change a contact, erase."""

import os
from pathlib import Path
from typing import Any

import pytest

from registry.actions.open_family_link import open_family_link
from registry.cli.main import run
from registry.storage.account_file import open_accounts
from registry.storage.clock import SystemClock
from registry.storage.geopackage import open_register
from tests.documents.browser import needs_chromium
from tests.documents.page_checks import barriers, complaints, needs_npm
from tests.web.conftest import Served, sign_in

pytestmark = needs_chromium

SIZES = ((360, 740), (820, 1180), (1280, 800))
PAGES = ("", "/plaque", "/visit", "/listing", "/contact", "/erasure")
#: Where pictures of the pages go, for whoever wants to look at them.
PICTURES = os.environ.get("LEADLINE_PICTURES")


@pytest.fixture
def home(served: Served) -> str:
    """Give the address of the page of the family of MC-0001, whose certificate was issued."""
    for name, email in (("Ida Quill", "ida@quill.example"), ("Tom Quill", "tom@quill.example")):
        assert run(("family", "add", "MC-0001", "--name", name, "--email", email, "--relation", "child")) == 0
    seen = ("--despite", "both seen by divers", "--actor", "Ada")
    assert run(("certificate", "MC-0001", "--out", "papers", *seen)) == 0
    assert run(("visitors", "tell", "--rules", "No anchoring on the reef.", "--actor", "Ada")) == 0
    clock = SystemClock()
    with open_register(served.registry, clock=clock, writable=False) as register:
        accounts = open_accounts(served.registry)
        return served.url + open_family_link(register, accounts, clock, tag="MC-0001", actor="Ada").path


@pytest.fixture
def page(chromium: Any) -> Any:
    """Open a page that complains of nothing."""
    context = chromium.new_context(viewport={"width": 360, "height": 740}, accept_downloads=True)
    opened = context.new_page()
    faults: list[str] = []
    opened.on("pageerror", lambda error: faults.append(str(error)))
    opened.on("console", lambda said: faults.append(said.text) if said.type in ("error", "warning") else None)
    yield opened
    context.close()
    assert not faults


def kinds(registry: Path) -> list[str]:
    with open_register(registry, clock=SystemClock(), writable=False) as register:
        return [entry.kind for entry in register.journal()]


def test_a_family_reads_approves_consents_changes_and_erases(served, home, page, tmp_path):
    before = len(kinds(served.registry))
    page.goto(home)
    assert page.locator("h1").inner_text() == "Ada Quill"
    assert "within" in page.locator("section", has=page.locator("#sure")).inner_text()
    assert page.evaluate("document.querySelector('figure.plan img').naturalWidth") > 0
    with page.expect_download() as got:
        page.get_by_role("link", name="Keep the certificate").click()
    assert Path(got.value.path()).read_bytes().startswith(b"%PDF")
    assert len(kinds(served.registry)) == before

    page.get_by_role("link", name="The plaque").click()
    page.get_by_label("Dates").fill("1941 – 2024")
    page.get_by_role("button", name="Draw it with these words").click()
    drawn = page.locator("figure.plaque img")
    assert "1941 – 2024" in drawn.get_attribute("alt")
    assert drawn.evaluate("(image) => image.decode().then(() => image.naturalWidth)") > 0
    page.get_by_role("button", name="It is right").click()
    page.get_by_text("You approved this plaque").wait_for()
    assert kinds(served.registry)[-1] == "plaque.approved"
    page.get_by_role("link", name="Back to the first page").click()

    page.get_by_role("link", name="The name in public").click()
    page.get_by_label("No, show the tag alone").check()
    page.get_by_role("button", name="Record this").click()
    page.get_by_text("shown to nobody but you").wait_for()
    assert kinds(served.registry)[-1] == "module.amended"
    page.get_by_role("link", name="Back to the first page").click()

    page.get_by_role("link", name="Visit").click()
    page.get_by_label("From where the boat leaves").fill("Harbour Inlet")
    page.get_by_label("Its position").fill("33 53.100 N 077 30.500 W")
    page.get_by_label("The day").fill("2026-12-05")
    with page.expect_download() as got:
        page.get_by_role("button", name="The sheet").click()
    assert got.value.suggested_filename == "visit-MC-0001-2026-12-05.pdf"
    page.get_by_role("link", name="Back to the first page").click()

    page.get_by_role("link", name="How we reach you").click()
    card = page.locator("section.card", has=page.get_by_role("heading", name="Ida Quill"))
    card.get_by_text("Change", exact=True).click()
    card.get_by_label("Telephone").fill("+1 910 555 0999")
    card.get_by_role("button", name="Keep this").click()
    page.get_by_text("+1 910 555 0999").wait_for()
    page.get_by_role("link", name="Back to the first page").click()

    page.get_by_role("link", name="Erase what is held of you").click()
    page.get_by_label("Type MC-0001").fill("MC-0001")
    page.get_by_role("button", name="Erase all of it").click()
    page.get_by_role("heading", name="Your receipt").wait_for()
    assert kinds(served.registry)[-1] == "family.erased"
    assert not served.registry.with_name(f"{served.registry.name}.families").exists()
    answer = page.request.get(home)
    assert answer.status == 404
    assert run(("journal", "verify")) == 0


def test_an_office_session_in_the_same_browser_stands_in_no_way(served, home, page):
    sign_in(page, served.url, "Ada")
    page.goto(f"{home}/listing")
    page.get_by_label("No, show the tag alone").check()
    page.get_by_role("button", name="Record this").click()
    page.get_by_text("shown to nobody but you").wait_for()


@needs_npm
def test_pages_have_no_barriers_and_fit_every_screen(home, chromium, tmp_path):
    for width, height in SIZES:
        context = chromium.new_context(viewport={"width": width, "height": height}, bypass_csp=True)
        page = context.new_page()
        for path in PAGES:
            page.goto(home + path)
            if PICTURES:
                name = f"family{path.replace('/', '-')}-{width}.png"
                page.screenshot(path=str(Path(PICTURES) / name), full_page=True)
            assert barriers(page) == [], (path, width)
            wide = page.evaluate("document.documentElement.scrollWidth - innerWidth")
            assert wide <= 0, (path, width)
            assert too_small(page) == [], (path, width)
            if width == SIZES[0][0]:
                file = tmp_path / f"page{path.replace('/', '-')}.html"
                file.write_text(page.request.get(home + path).text(), encoding="utf-8")
        context.close()
    assert complaints(*sorted(tmp_path.glob("page*.html"))) == []


def too_small(page: Any) -> list[str]:
    """Name buttons and fields that a finger misses: less than 44 pixels high."""
    found: list[str] = page.evaluate(
        """[...document.querySelectorAll("button, .button, input:not([type=hidden]):not([type=radio]), textarea, .choice")]
        .filter((each) => each.checkVisibility() && each.getBoundingClientRect().height < 44)
        .map((each) => each.outerHTML.slice(0, 80))"""
    )
    return found


@needs_npm
def test_without_scripts_nothing_is_missing(home, chromium):
    context = chromium.new_context(java_script_enabled=False)
    page = context.new_page()
    for path in PAGES:
        page.goto(home + path)
        assert page.locator("script").count() == 0, path
    context.close()
