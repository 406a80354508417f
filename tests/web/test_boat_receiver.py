"""A receiver on the boat's network: listened to in the background, averaged on screen, kept and recorded."""

import math
import socket
import threading
import time
from collections.abc import Iterator
from datetime import UTC, datetime
from functools import reduce
from hashlib import sha256
from pathlib import Path
from typing import Any

import pytest
from starlette.testclient import TestClient

from registry.desk.live_position import LiveSource, watch_live
from registry.storage.clock import SystemClock
from registry.storage.live_receiver import LiveReceiver
from registry.web.application import make_application
from registry.web.settings import Settings
from tests.documents.browser import needs_chromium
from tests.web.boat_tablet import Boat, fill_in, press_record, wait_for
from tests.web.conftest import PASSWORD, copied, form_token, sign_in
from tests.web.test_boat_pages import GOOD_DROP, entry_of, journal


def sentence(body: str) -> bytes:
    """Frame a sentence of NMEA 0183: its checksum is the exclusive or of what stands between $ and *."""
    return f"${body}*{reduce(lambda a, b: a ^ b, body.encode()):02X}\r\n".encode()


def fix(at: datetime, number: int) -> bytes:
    """Give one fix near 34 00.12 N 77 W, wobbling by a metre, with its day."""
    north, east = 0.12 + 0.0004 * math.sin(number), 0.0004 * math.cos(1.7 * number)
    clock = f"{at:%H%M%S}.{at.microsecond // 10000:02d}"
    west = ("077", -east, "W") if east <= 0 else ("076", 60 - east, "W")
    where = f"34{north:08.5f},N,{west[0]}{west[1]:08.5f},{west[2]}"
    return sentence(f"GPGGA,{clock},{where},2,11,0.8,2.0,M,-33.0,M,,0000") + sentence(
        f"GPRMC,{clock},A,{where},0.0,0.0,{at:%d%m%y},,,D"
    )


class Receiver:
    """Sends a fix ten times a second to whoever connects, until it is unplugged."""

    def __init__(self, port: int = 0) -> None:
        self.socket = socket.create_server(("127.0.0.1", port), reuse_port=True)
        self.port = self.socket.getsockname()[1]
        self.plugged = True
        self._threads = [threading.Thread(target=self._serve, daemon=True)]
        self._threads[0].start()

    def _serve(self) -> None:
        self.socket.settimeout(0.2)
        while self.plugged:
            try:
                caller, _ = self.socket.accept()
            except TimeoutError:
                continue
            except OSError:
                return
            with caller:
                number = 0
                while self.plugged:
                    number += 1
                    try:
                        caller.sendall(fix(datetime.now(UTC), number))
                    except OSError:
                        break
                    time.sleep(0.1)

    def unplug(self) -> None:
        self.plugged = False
        for thread in self._threads:
            thread.join(timeout=5)
        self.socket.close()


@pytest.fixture
def receiver() -> Iterator[Receiver]:
    made = Receiver()
    yield made
    made.unplug()


@pytest.fixture
def live(
    served_template: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, receiver: Receiver
) -> Iterator[Any]:
    registry = copied(served_template, tmp_path, monkeypatch)
    listener = LiveReceiver(f"127.0.0.1:{receiver.port}", registry, clock=SystemClock())
    listener.start()
    yield LiveSource(receiver=listener, kind="sbas", frame="EPSG:4326")
    listener.stop()


def until(true: Any, seconds: float = 20.0) -> None:
    ends = time.monotonic() + seconds
    while not true():
        assert time.monotonic() < ends
        time.sleep(0.05)


def test_what_comes_is_kept_as_it_comes_and_averaged(live, tmp_path):
    until(lambda: watch_live(live, start_s=None).n == 1)
    start_s = watch_live(live, start_s=None).last_s
    until(lambda: watch_live(live, start_s=start_s).n >= 8)
    found = watch_live(live, start_s=start_s)
    assert found.derivation is not None
    assert found.derivation.position.lat_deg == pytest.approx(34.002, abs=2e-5)
    assert found.derivation.position.r95_m >= 3.0  # no averaging is better than the class
    assert found.quality == "differential"
    assert not found.trouble
    (kept,) = tmp_path.glob("leadline-received-*.nmea")
    assert kept.read_bytes().startswith(b"$GPGGA")


def test_a_cable_that_comes_off_is_said_and_taken_up_again(live, receiver):
    until(lambda: watch_live(live, start_s=None).n == 1)
    port = receiver.port
    receiver.unplug()
    until(lambda: live.receiver.fault)
    assert str(port) in live.receiver.fault
    again = Receiver(port)
    try:
        until(lambda: not live.receiver.fault and live.receiver.silent_s < 1.0)
        assert watch_live(live, start_s=None).n == 1
    finally:
        again.unplug()


def test_what_an_earlier_run_kept_is_found_by_the_next(live, tmp_path, served_template):
    until(lambda: watch_live(live, start_s=None).n == 1)
    first_s = watch_live(live, start_s=None).last_s
    until(lambda: watch_live(live, start_s=first_s).n >= 5)
    live.receiver.stop()
    later = LiveReceiver("127.0.0.1:9", tmp_path / "leadline.gpkg", clock=SystemClock())
    assert watch_live(LiveSource(receiver=later, kind="sbas", frame="EPSG:4326"), start_s=first_s).n >= 5


@needs_chromium
@pytest.mark.browser
def test_it_is_averaged_on_screen_held_and_recorded_with_the_part_of_its_log(live, tmp_path, chromium):
    boat = Boat(tmp_path / "leadline.gpkg", live=live).start()
    context = chromium.new_context(viewport={"width": 820, "height": 1180}, service_workers="block")
    try:
        page = context.new_page()
        sign_in(page, boat.url, "Bo")
        page.goto(f"{boat.url}/boat/MC-0003")
        fill_in(page, "MC-0003")
        page.locator("input[name=how][value=receiver]").check()
        page.wait_for_function("() => document.getElementById('live-r95').textContent.endsWith(' m')")
        assert "the last one alone" in page.locator("#live-more").inner_text()
        page.locator("#live-begin").click()
        page.wait_for_function(
            "() => /^([5-9]|[1-9][0-9]+) fixes/.test(document.getElementById('live-more').textContent)"
        )
        assert "differential" in page.locator("#live-more").inner_text()
        page.locator("#live-hold").click()
        shown = page.locator("#live-r95").inner_text()
        page.locator("button.check").click()
        page.locator(".advice").wait_for()
        press_record(page)
        wait_for(page, "All sent")
        body = journal(boat.registry)[-1]
        logged = body["survey"]["inputs"]["logged"]
        kept = boat.registry.with_name("leadline.gpkg.received") / logged["files"][0]["sha256"]
        assert sha256(kept.read_bytes()).hexdigest() == kept.name
        assert kept.read_bytes().count(b"GPGGA") >= 5
        assert body["observed"]["r95_m"] >= 3.0
        assert abs(float(shown.split()[0]) - body["observed"]["r95_m"]) < 1.0
        assert body["source"]["said"]["fixes_from"] < body["source"]["said"]["fixes_to"]
    finally:
        context.close()
        boat.stop()


def test_without_scripts_the_fixes_around_touch_down_count(live, tmp_path):

    until(lambda: watch_live(live, start_s=None).n == 1)
    registry = tmp_path / "leadline.gpkg"
    app = make_application(Settings(registry=registry, clock=SystemClock(), live=live))
    client = TestClient(app, follow_redirects=False)
    client.post("/sign-in", data={"how": "password", "name": "Bo", "password": PASSWORD})
    token, entry = form_token(client, "/boat/MC-0003"), entry_of(client.get("/boat/MC-0003").text)
    when = datetime.now(UTC).isoformat(timespec="seconds")
    said = GOOD_DROP | {"form_token": token, "entry": entry, "how": "receiver", "when": when}
    answer = client.post("/boat/MC-0003", data=said)
    assert answer.status_code == 303, answer.text
    assert "60 s before and after touch-down" in journal(registry)[-1]["position_text"]
    told = client.get("/boat/receiver.json").json()
    assert told["fixes"] == 1
    assert told["place"]["frame"] == "WGS 84"
    never = said | {"entry": "a" * 32, "when": "2026-06-14T12:30-04:00"}
    answer = client.post("/boat/MC-0003", data=never)
    assert answer.status_code == 404
    assert "gave no usable fix" in answer.text
