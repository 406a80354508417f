"""Over TLS a tablet gives its own position, and the pages of the boat open without the network."""

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from tests.documents.browser import needs_chromium
from tests.web.boat_tablet import Boat, fill_in, press_record, wait_for
from tests.web.conftest import copied, sign_in
from tests.web.test_boat_pages import journal

pytestmark = [needs_chromium, pytest.mark.browser]


@pytest.fixture
def boat(served_template: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Boat]:
    made = Boat(copied(served_template, tmp_path, monkeypatch), tls=True).start()
    yield made
    made.stop()


@pytest.fixture
def secure_chromium() -> Iterator[Any]:
    """A browser that was told to trust this machine's own certificates, as a crew tells its tablet."""
    from playwright.sync_api import sync_playwright

    from tests.documents.browser import EXECUTABLE, QUIET

    with sync_playwright() as playwright:
        # A page may be trusted by hand; the script of a service worker needs a certificate that is.
        args = [*QUIET, "--ignore-certificate-errors"]
        opened = playwright.chromium.launch(executable_path=str(EXECUTABLE), args=args)
        yield opened
        opened.close()


@pytest.fixture
def tablet(secure_chromium: Any) -> Iterator[Any]:
    context = secure_chromium.new_context(
        ignore_https_errors=True,
        viewport={"width": 820, "height": 1180},
        permissions=["geolocation"],
        geolocation={"latitude": 34.002, "longitude": -77.0, "accuracy": 4.0},
    )
    yield context
    context.close()


def test_a_reload_without_the_network_brings_the_page_and_its_entries_back(tablet, boat):
    page = tablet.new_page()
    sign_in(page, boat.url, "Bo")
    page.goto(f"{boat.url}/boat/MC-0003")
    page.wait_for_function(
        """async () => {
            const kept = await caches.open("leadline-boat-1");
            const paths = (await kept.keys()).map((each) => new URL(each.url).pathname);
            return ["/boat", "/boat/MC-0003", "/static/boat_module.js", "/static/boat_store.js", "/static/boat.css"].every((path) => paths.includes(path));
        }"""
    )
    boat.stop()
    page.reload()
    assert page.locator("h1.tag").inner_text() == "MC-0003"
    fill_in(page, "MC-0003")
    press_record(page)
    wait_for(page, "1 waiting")
    page.reload()
    wait_for(page, "1 waiting")
    page.goto(f"{boat.url}/boat")
    wait_for(page, "1 waiting")
    boat.start()
    wait_for(page, "All sent")
    assert [body["tag"] for body in journal(boat.registry)][2:] == ["MC-0003"]


def test_nothing_that_is_kept_tells_of_a_session_after_sign_out(tablet, boat):
    page = tablet.new_page()
    sign_in(page, boat.url, "Bo")
    page.goto(f"{boat.url}/boat/MC-0003")
    page.wait_for_function("async () => (await (await caches.open('leadline-boat-1')).keys()).length > 3")
    page.locator("text=Sign out").click()
    page.wait_for_url(f"{boat.url}/")
    page.wait_for_timeout(500)
    assert page.evaluate("async () => (await caches.keys())") == []


def test_the_tablets_own_position_comes_with_its_accuracy(tablet, boat):
    page = tablet.new_page()
    sign_in(page, boat.url, "Bo")
    page.goto(f"{boat.url}/boat/MC-0003")
    fill_in(page, "MC-0003")
    page.locator("input[name=how][value=tablet]").check()
    page.locator("#tablet-take").click()
    page.wait_for_function("() => document.getElementById('tablet-r95').textContent === '4 m'")
    page.locator("button.check").click()
    page.locator(".advice").wait_for()
    press_record(page)
    wait_for(page, "All sent")
    body = journal(boat.registry)[-1]
    assert body["observed"]["frame"] == "EPSG:4326"
    assert body["observed"]["r95_m"] == 4.0
    assert body["observed"]["lat_deg"] == pytest.approx(34.002)
    assert body["observed"]["epoch"] == pytest.approx(2026.45, abs=0.01)  # of touch-down


def test_a_tablet_that_gives_no_position_says_so(tablet, boat):
    tablet.set_geolocation(None)
    page = tablet.new_page()
    sign_in(page, boat.url, "Bo")
    page.goto(f"{boat.url}/boat/MC-0003")
    page.locator("input[name=how][value=tablet]").check()
    page.locator("#tablet-take").click()
    page.locator("text=The tablet gives no position").wait_for()
