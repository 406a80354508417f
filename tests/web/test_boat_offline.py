"""The wifi goes in the middle of each step: nothing is lost, nothing is recorded twice, and the order stays."""

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from registry.cli.main import run
from tests.documents.browser import EXECUTABLE, QUIET, needs_chromium
from tests.web.boat_tablet import PLAIN_HOST, Boat, fill_in, press_record, states, wait_for
from tests.web.conftest import copied, sign_in
from tests.web.test_boat_pages import JPEG, journal

pytestmark = [needs_chromium, pytest.mark.browser]
#: Between them 30 m, so that all conform.
PLACES = {
    "MC-0003": "34 00.1200 N 077 00.0000 W",
    "MC-0004": "34 00.1400 N 077 00.0000 W",
    "MC-0005": "34 00.1600 N 077 00.0000 W",
}


@pytest.fixture(scope="module")
def browser() -> Iterator[Any]:
    """A browser to which the name of the boat is a machine of its network, and no secure context."""
    from playwright.sync_api import sync_playwright

    with sync_playwright() as playwright:
        mapped = f"--host-resolver-rules=MAP {PLAIN_HOST} 127.0.0.1"
        opened = playwright.chromium.launch(executable_path=str(EXECUTABLE), args=[*QUIET, mapped])
        yield opened
        opened.close()


@pytest.fixture
def boat(served_template: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Boat]:
    registry = copied(served_template, tmp_path, monkeypatch)
    for tag in ("MC-0004", "MC-0005"):
        assert run(("module", "add", tag, "--type", "hump-90")) == 0
    made = Boat(registry).start()
    yield made
    made.stop()


@pytest.fixture
def tablet(browser: Any, boat: Boat) -> Iterator[Any]:
    """A tablet on plain HTTP, signed in as the dive team; what its pages complain of fails the test."""
    context = browser.new_context(viewport={"width": 820, "height": 1180})
    faults: list[str] = []
    context.on("weberror", lambda error: faults.append(str(error.error)))
    page = context.new_page()
    sign_in(page, boat.plain_url, "Bo")
    assert page.evaluate("isSecureContext") is False
    assert page.evaluate("'serviceWorker' in navigator") is False
    page.close()
    yield context
    context.close()
    assert not faults


def opened(tablet: Any, boat: Boat, tag: str, **changes: str) -> Any:
    """Open the page of a module and key in its drop."""
    page = tablet.new_page()
    page.goto(f"{boat.plain_url}/boat/{tag}")
    fill_in(page, tag, **({"at": PLACES[tag]} | changes))
    return page


def placed(boat: Boat) -> list[str]:
    """Give the tags that were recorded since the programme began, in order."""
    return [body["tag"] for body in journal(boat.registry)][2:]


def test_with_the_wifi_it_is_kept_first_and_sent_at_once(tablet, boat):
    page = opened(tablet, boat, "MC-0003")
    page.locator("input[name=photo]").set_input_files(
        {"name": "tag.jpg", "mimeType": "image/jpeg", "buffer": JPEG}
    )
    press_record(page)
    wait_for(page, "All sent")
    assert "recorded as" in page.locator("#queue-list").inner_text()
    assert "conforming" in page.locator("#kept-state").inner_text()
    assert placed(boat) == ["MC-0003"]
    (body,) = journal(boat.registry)[2:]
    assert body["source"]["photo"]["bytes"] == len(JPEG)
    assert body["source"]["keyed"]["entered_by"] == "Bo"
    assert (
        boat.registry.with_name("leadline.gpkg.received")
        .joinpath(body["source"]["photo"]["sha256"])
        .is_file()
    )


def test_lost_before_it_is_recorded_it_waits_and_is_sent_once(tablet, boat):
    page = opened(tablet, boat, "MC-0003")
    page.locator("input[name=photo]").set_input_files(
        {"name": "tag.jpg", "mimeType": "image/jpeg", "buffer": JPEG}
    )
    tablet.set_offline(True)
    press_record(page)
    wait_for(page, "1 waiting")
    wait_for(page, "cannot be reached")
    assert "You may close this page" in page.locator("#kept-state").inner_text()
    assert placed(boat) == []
    tablet.set_offline(False)
    wait_for(page, "All sent")
    assert placed(boat) == ["MC-0003"]
    assert journal(boat.registry)[2]["source"]["photo"]["bytes"] == len(JPEG)


def test_a_reply_that_is_lost_leads_to_no_second_record(browser, boat):
    context = browser.new_context(service_workers="block")
    try:
        page = context.new_page()
        sign_in(page, boat.url, "Bo")
        page.goto(f"{boat.url}/boat/MC-0003")
        fill_in(page, "MC-0003", at=PLACES["MC-0003"])
        came: list[int] = []

        def lose(route: Any) -> None:
            came.append(route.fetch().status)  # the server has it, the tablet never hears of it
            route.abort()

        page.route("**/boat/entries", lose)
        press_record(page)
        wait_for(page, "1 waiting. The boat")
        assert set(came) == {200}
        assert placed(boat) == ["MC-0003"]
        page.unroute("**/boat/entries")
        wait_for(page, "All sent")
        assert placed(boat) == ["MC-0003"]
        assert states(page) == ["MC-0003 sent"]
    finally:
        context.close()


def test_a_reply_that_breaks_off_in_its_middle_leads_to_no_second_record(tablet, boat):
    page = opened(tablet, boat, "MC-0003")
    boat.loses_replies = True
    press_record(page)
    wait_for(page, "1 waiting. The boat")
    assert set(boat.lost) == {200}
    assert placed(boat) == ["MC-0003"]
    assert states(page) == ["MC-0003 waiting"]
    boat.loses_replies = False
    wait_for(page, "All sent")
    assert placed(boat) == ["MC-0003"]
    assert states(page) == ["MC-0003 sent"]


def test_a_request_that_never_arrives_is_sent_again(tablet, boat):
    page = opened(tablet, boat, "MC-0003")
    page.route("**/boat/entries", lambda route: route.abort("connectionreset"))
    press_record(page)
    wait_for(page, "1 waiting")
    assert placed(boat) == []
    page.unroute("**/boat/entries")
    wait_for(page, "All sent")
    assert placed(boat) == ["MC-0003"]


def test_a_strange_network_that_answers_everything_takes_nothing_away(tablet, boat):
    page = opened(tablet, boat, "MC-0003")
    page.route(
        "**/boat/entries", lambda route: route.fulfill(status=200, content_type="text/html", body="Welcome")
    )
    press_record(page)
    wait_for(page, "does not answer as it should")
    assert states(page) == ["MC-0003 waiting"]
    page.unroute("**/boat/entries")
    wait_for(page, "All sent")
    assert placed(boat) == ["MC-0003"]


def test_the_server_goes_in_the_middle_and_comes_back(tablet, boat):
    page = opened(tablet, boat, "MC-0003")
    boat.stop()
    press_record(page)
    wait_for(page, "1 waiting")
    assert placed(boat) == []
    boat.start()
    wait_for(page, "All sent")
    assert placed(boat) == ["MC-0003"]


def test_a_page_that_is_closed_with_entries_waiting_sends_them_when_it_is_opened_again(tablet, boat):
    page = opened(tablet, boat, "MC-0003")
    tablet.set_offline(True)
    press_record(page)
    wait_for(page, "1 waiting")
    page.close()
    tablet.set_offline(False)
    assert placed(boat) == []
    page = tablet.new_page()
    page.goto(f"{boat.plain_url}/boat")
    wait_for(page, "All sent")
    assert placed(boat) == ["MC-0003"]


def test_two_and_three_go_in_the_order_in_which_they_were_recorded(tablet, boat):
    order = ["MC-0005", "MC-0003", "MC-0004"]
    pages = [opened(tablet, boat, tag) for tag in order]
    tablet.set_offline(True)
    for number, page in enumerate(pages, start=1):
        press_record(page)
        wait_for(page, f"{number} waiting")
    tablet.set_offline(False)  # three pages of one tablet try at once
    for page in pages:
        wait_for(page, "All sent")
    assert placed(boat) == order


def test_the_record_pressed_twice_is_one_record(tablet, boat):
    page = opened(tablet, boat, "MC-0003")
    page.locator("#drop > button.main").dblclick()
    wait_for(page, "All sent")
    page.wait_for_timeout(300)
    assert placed(boat) == ["MC-0003"]
    assert states(page) == ["MC-0003 sent"]


def test_the_form_is_submitted_twice_in_one_breath(tablet, boat):
    page = opened(tablet, boat, "MC-0003")
    page.evaluate(
        "() => { const f = document.getElementById('drop'); for (let i = 0; i < 4; i++) f.requestSubmit(); }"
    )
    wait_for(page, "All sent")
    assert placed(boat) == ["MC-0003"]


def test_a_session_that_ended_leaves_the_entry_waiting_until_somebody_signs_in(tablet, boat):
    page = opened(tablet, boat, "MC-0003")
    held = tablet.cookies()
    tablet.clear_cookies()
    press_record(page)
    wait_for(page, "Sign in")
    assert states(page) == ["MC-0003 waiting"]
    other = tablet.new_page()
    sign_in(other, boat.plain_url, "Bo")
    assert {c["name"]: c["value"] for c in held}["leadline"] != {
        c["name"]: c["value"] for c in tablet.cookies()
    }["leadline"]
    other.goto(f"{boat.plain_url}/boat")
    wait_for(other, "All sent")
    assert placed(boat) == ["MC-0003"]


def test_what_the_server_refuses_is_kept_told_and_does_not_hold_up_the_rest(tablet, boat):
    wrong = opened(tablet, boat, "MC-0003", at="34.00200, 77.00000")
    right = opened(tablet, boat, "MC-0004")
    tablet.set_offline(True)
    press_record(wrong)
    wait_for(wrong, "1 waiting")
    press_record(right)
    wait_for(right, "2 waiting")
    tablet.set_offline(False)
    wait_for(right, "1 needs you")
    right.wait_for_function(
        "() => document.querySelector('#queue-list [data-tag=\"MC-0004\"]')?.dataset.state === 'sent'"
    )
    assert placed(boat) == ["MC-0004"]
    assert "hemisphere" in right.locator("#queue-list [data-state=needs]").inner_text()
    right.locator("#queue-list a", has_text="Mend it").click()
    right.wait_for_url("**/boat/MC-0003#mend=*")
    right.locator("text=You mend an entry").wait_for()
    assert right.locator("[name=at]").input_value() == "34.00200, 77.00000"
    assert right.locator("[name=tag_read]").input_value() == "MC-0003"
    right.locator("[name=at]").fill(PLACES["MC-0003"])
    press_record(right)
    wait_for(right, "All sent")
    assert placed(boat) == ["MC-0004", "MC-0003"]
    assert states(right) == ["MC-0003 sent", "MC-0004 sent"]


def test_what_is_set_aside_takes_two_taps_and_is_still_kept(tablet, boat):
    page = opened(tablet, boat, "MC-0003", at="34.00200, 77.00000")
    press_record(page)
    wait_for(page, "1 needs you")
    page.locator("#queue-list button", has_text="Set it aside").click()
    assert states(page) == ["MC-0003 needs"]
    page.locator("#queue-list button", has_text="Tap again").click()
    page.locator("#queue-list [data-state=aside]").wait_for()
    assert states(page) == ["MC-0003 aside"]
    assert placed(boat) == []


def test_a_mixed_up_tag_is_said_at_once_without_the_server(tablet, boat):
    page = opened(tablet, boat, "MC-0003", tag_read="MC-0004")
    tablet.set_offline(True)
    press_record(page)
    page.wait_for_function("() => document.getElementById('differs').textContent.includes('MC-0004')")
    assert states(page) == []
    page.locator("[name=tag_read]").fill("mc-0003")
    press_record(page)
    wait_for(page, "1 waiting")


def test_the_check_says_plainly_that_it_needs_the_server_and_the_record_goes_on(tablet, boat):
    page = opened(tablet, boat, "MC-0003")
    page.locator("button.check").click()
    page.locator(".advice.green").wait_for()
    assert page.locator("svg.plan").is_visible()
    tablet.set_offline(True)
    page.locator("button.check").click()
    page.locator("text=Not checked").wait_for()
    assert page.locator(".advice").count() == 0  # an old green is not left standing
    press_record(page)
    wait_for(page, "1 waiting")
    tablet.set_offline(False)
    wait_for(page, "All sent")
    assert placed(boat) == ["MC-0003"]


def test_the_check_in_place_asks_where_a_text_could_mean_two_things(tablet, boat):
    page = opened(tablet, boat, "MC-0003", at="34.00200, 77.00000")
    page.locator("button.check").click()
    page.locator("#answer .note.bad li").first.wait_for()
    assert page.locator("#answer .note.bad li").count() >= 2
    assert page.locator("[name=at]").input_value() == "34.00200, 77.00000"


def test_the_tablets_own_position_is_absent_on_plain_http_and_says_why(tablet, boat):
    page = tablet.new_page()
    page.goto(f"{boat.plain_url}/boat/MC-0003")
    assert page.locator("input[name=how][value=tablet]").is_disabled()
    assert "only over TLS" in page.locator("#tablet-none").text_content()


def test_now_is_written_in_the_programmes_zone_with_its_offset(tablet, boat):
    from datetime import datetime

    page = tablet.new_page()
    page.goto(f"{boat.plain_url}/boat/MC-0003")
    page.locator("#now").click()
    typed = datetime.fromisoformat(page.locator("[name=when]").input_value())
    offset = typed.utcoffset()
    assert offset is not None
    assert offset.total_seconds() in (-4 * 3600, -5 * 3600)  # New York
    seen = datetime.fromtimestamp(page.evaluate("Date.now()") / 1000, tz=typed.tzinfo)
    assert abs((seen - typed).total_seconds()) < 5
