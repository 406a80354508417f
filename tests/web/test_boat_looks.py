"""Every state of the boat's pages at three sizes: no barrier, nothing beyond the edge, targets for gloves."""

import os
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from registry.cli.main import run
from tests.documents.browser import needs_chromium
from tests.documents.page_checks import barriers, needs_npm
from tests.web.boat_tablet import Boat, fill_in, press_record, wait_for
from tests.web.conftest import copied, sign_in

pytestmark = [needs_chromium, needs_npm, pytest.mark.browser]
SIZES = [(360, 740), (820, 1180), (1280, 800)]
#: Where pictures are kept, if anybody wants to look at them.
PICTURES = os.environ.get("LEADLINE_PICTURES")


class Deaf:
    """A receiver of which nothing is heard yet."""

    source, fault, silent_s = "192.168.8.20:10110", "192.168.8.20:10110 cannot be listened to.", float("inf")

    def tail(self, _size: int) -> tuple[()]:
        return ()


@pytest.fixture
def boat(served_template: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Boat]:
    from registry.desk.live_position import LiveSource

    registry = copied(served_template, tmp_path, monkeypatch)
    at = ("--permit", "HB-0417", "--frame", "EPSG:6318")
    assert run(("module", "add", "MC-0004", "--type", "hump-90")) == 0
    assert run(("target", "add", "MC-0003", "--at", "34 00.1020 N 077 00.0000 W", *at)) == 0
    deaf: Any = Deaf()
    made = Boat(registry, live=LiveSource(receiver=deaf, kind="sbas", frame="EPSG:4326")).start()
    yield made
    made.stop()


def seen(page: Any, name: str, size: tuple[int, int]) -> list[str]:
    """Say what is wrong with a page as it stands; keep a picture where somebody wants one."""
    page.wait_for_timeout(150)
    if PICTURES:
        page.screenshot(path=f"{PICTURES}/boat-{name}-{size[0]}.png", full_page=True)
    wrong = [f"{name}: {each}" for each in barriers(page)]
    wide = page.evaluate("document.documentElement.scrollWidth - document.documentElement.clientWidth")
    if wide > 0:
        wrong.append(f"{name}: {wide} px beyond the edge")
    small = page.evaluate(
        """() => [...document.querySelectorAll("main button, main a.button, main select, main summary, main input:not([type=hidden]):not([type=checkbox]):not([type=radio]), main .choice > label, main label.tick")]
            .filter((each) => each.offsetParent && each.getBoundingClientRect().height < 63.5)
            .map((each) => each.outerHTML.slice(0, 80) + " " + each.getBoundingClientRect().height)"""
    )
    return wrong + [f"{name}: too small for gloves: {each}" for each in small]


@pytest.mark.parametrize("size", SIZES)
def test_every_state_is_seen_at_every_size(chromium, boat, size):
    context = chromium.new_context(viewport={"width": size[0], "height": size[1]}, service_workers="block")
    page = context.new_page()
    wrong: list[str] = []
    try:
        sign_in(page, boat.url, "Bo")
        page.goto(f"{boat.url}/boat")
        wrong += seen(page, "run-choose", size)
        page.locator("input[name=aboard][value=MC-0004]").check()
        page.locator("button", has_text="Keep this run").click()
        page.locator("#run").wait_for()
        wrong += seen(page, "run", size)
        page.locator("#run a", has_text="MC-0003").click()
        page.locator("#drop").wait_for()
        wrong += seen(page, "module", size)
        page.locator("input[name=how][value=receiver]").check()
        page.locator("input[name=depth_kind][value=echo]").check()
        page.locator("#live-trouble", has_text="cannot").wait_for()
        wrong += seen(page, "module-receiver-echo", size)
        for light, at in (
            ("green", "34 00.1200 N 077 00.0000 W"),
            ("red", "34 00.1016 N 077 00.0000 W"),
            ("amber", "34 00.1048 N 077 00.0000 W"),
        ):
            if light == "green":
                fill_in(page, "MC-0003", at=at)
            page.locator("[name=at]").fill(at)
            page.locator("button.check").click()
            page.locator(f".advice.{light}").wait_for()
            wrong += seen(page, f"check-{light}", size)
        page.locator("[name=at]").fill("34.00200, 77.00000")
        page.locator("button.check").click()
        page.locator("#answer .note.bad").wait_for()
        wrong += seen(page, "check-asked", size)
        context.set_offline(True)
        page.locator("button.check").click()
        page.locator("text=Not checked").wait_for()
        wrong += seen(page, "check-offline", size)
        press_record(page)
        wait_for(page, "1 waiting. ")
        wrong += seen(page, "waiting", size)
        context.set_offline(False)
        wait_for(page, "1 needs you")
        wrong += seen(page, "needs-you", size)
        page.locator("#queue-list a", has_text="Mend it").click()
        page.locator("text=You mend an entry").wait_for()
        page.locator("[name=at]").fill("34 00.1016 N 077 00.0000 W")
        press_record(page)
        wait_for(page, "All sent")
        wrong += seen(page, "sent", size)
        page.locator("#queue-list a", has_text="recorded as").click()
        page.locator("text=MC-0003 is recorded").wait_for()
        wrong += seen(page, "recorded", size)
    finally:
        context.close()
    assert not wrong, "\n".join(wrong)
