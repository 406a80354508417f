"""Two machines through the office's pages: what the boat recorded is taken in, and contradictions are decided."""

import re

import pytest

from registry.cli.main import run
from registry.formats.bundle_file import read_bundle
from registry.storage.clock import SystemClock
from registry.storage.exchange import RegisterExchange
from registry.storage.geopackage import open_register
from tests.web.conftest import form_token

BUNDLES = "/office/bundles"


@pytest.fixture
def ada(site):
    return site.client("Ada")


@pytest.fixture
def typed(site, monkeypatch):
    """Type commands on the boat's machine: a copy of the registry in a folder of its own, with a key of its own."""
    boat = site.folder / "boat"
    boat.mkdir()

    def type_(*line, here=True):
        with monkeypatch.context() as patch:
            if here:
                patch.setenv("LEADLINE_KEYS", str(boat / "keys"))
            registry = boat / "leadline.gpkg" if here else site.registry
            assert run((*line, "--registry", str(registry))) == 0, line

    type_("backup", str(boat / "leadline.gpkg"), here=False)
    type_("bundle", "device", "Petrel, wheelhouse")
    with open_register(boat / "leadline.gpkg", clock=SystemClock(), writable=False) as register:
        (device,) = RegisterExchange(register).devices()
    type_("bundle", "export", str(boat / "first.bundle"))
    type_("bundle", "trust", str(boat / "first.bundle"), "--key", device.key_id, here=False)
    return type_


def take_in(client, content):
    token = form_token(client, BUNDLES)
    files = {"file": ("petrel.bundle", content, "application/octet-stream")}
    return client.post(f"{BUNDLES}/import", data={"form_token": token}, files=files)


def test_what_the_boat_recorded_is_taken_in_and_a_contradiction_decided(site, ada, typed):
    typed("module", "add", "MC-0500", "--type", "hump-90", "--mass", "610 kg")
    typed("module", "add", "MC-0500", "--type", "hump-90", "--mass", "600 kg", here=False)
    typed("bundle", "export", str(site.folder / "boat" / "second.bundle"))
    content = (site.folder / "boat" / "second.bundle").read_bytes()
    told = take_in(ada, content).text
    assert "taken in from Petrel, wheelhouse" in told
    assert "Something contradicts what was here" in told
    assert "Petrel, wheelhouse" in told
    assert "contradiction between machines is open" in ada.get("/office").text
    against = re.findall(r'name="entry" value="([^"]+)"', told)[1]
    token = form_token(ada, BUNDLES)
    unreasoned = ada.post(f"{BUNDLES}/decide", data={"form_token": token, "entry": against})
    assert unreasoned.status_code == 400
    said = {"form_token": token, "entry": against, "reason": "weighed again ashore"}
    assert ada.post(f"{BUNDLES}/decide", data=said).status_code == 303
    assert "Nothing is open" in ada.get(BUNDLES).text
    assert "Nothing new" in take_in(ada, content).text
    with open_register(site.registry, clock=SystemClock(), writable=False) as register:
        *_, last = register.journal()
    assert last.actor == "Ada"


def test_a_bundle_is_given_to_other_machines(site, ada, typed):
    take_in(ada, (site.folder / "boat" / "first.bundle").read_bytes())
    every = read_bundle(ada.get(f"{BUNDLES}/export").content)
    lacking = read_bundle(ada.get(f"{BUNDLES}/export?to=Petrel, wheelhouse").content)
    assert len(every.entries) >= len(lacking.entries) > 0
    assert ada.get(f"{BUNDLES}/export?to=Nobody").status_code == 404


@pytest.mark.parametrize("content", [b"", b"PK\x03\x04", b"{}", b"\x00" * 100])
def test_what_is_no_bundle_is_told_and_nothing_taken_in(site, ada, content):
    answer = take_in(ada, content)
    assert 400 <= answer.status_code < 504
    assert "foresaw" not in answer.text
    assert 'role="alert"' in answer.text


def test_a_bundle_that_was_changed_is_refused(site, ada, typed):
    content = bytearray((site.folder / "boat" / "first.bundle").read_bytes())
    content[len(content) // 2] ^= 1
    answer = take_in(ada, bytes(content))
    assert answer.status_code >= 400
    assert "foresaw" not in answer.text
