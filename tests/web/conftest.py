"""A programme that is served: to a client in this process, or on a port of this machine to a browser."""

import shutil
import threading
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest
import uvicorn
from fastapi.routing import iter_route_contexts
from starlette.testclient import TestClient

from registry.actions.add_account import add_account
from registry.cli.main import run
from registry.storage.account_file import open_accounts
from registry.storage.clock import SystemClock
from registry.web.application import make_application
from registry.web.settings import Settings
from tests.cli.reef import GOOD, GOOD_DEPTH, PERMIT, WHEN
from tests.documents.browser import open_chromium

#: A pass phrase of the tests.
PASSWORD = "seven quiet gannets over the bar"
PEOPLE = {"Ada": "office", "Bo": "dive team", "Cy": "officer"}


@pytest.fixture(scope="session")
def served_template(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Make the programme that every test begins with: a permit, three modules, two on the seabed, three people."""
    folder = tmp_path_factory.mktemp("served")
    registry = folder / "leadline.gpkg"
    permit = folder / "hb-0417.toml"
    permit.write_text(PERMIT, encoding="utf-8")
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("LEADLINE_KEYS", str(folder / "keys"))
        patch.setenv("LEADLINE_REGISTRY", str(registry))
        patch.setenv("LEADLINE_ACTOR", "Ada")
        placed = ("--permit", "HB-0417", "--frame", "EPSG:6318", "--r95", "2 m", *GOOD_DEPTH)
        near = ("--at", "34 00.1015 N 077 00.0000 W", "--when", "2026-06-14T11:02-04:00")
        for line in (
            (
                "new",
                "--programme",
                "Marram Coast Memorial Reefs",
                "--frame",
                "EPSG:6318",
                "--zone",
                "America/New_York",
            ),
            ("permit", "add", str(permit)),
            ("module", "add", "MC-0001", "--type", "hump-90", "--memorial", "Ada Quill", "--consent-listed"),
            ("module", "add", "MC-0002", "--type", "hump-90", "--memorial", "Ben Marsh"),
            ("module", "add", "MC-0003", "--type", "hump-90"),
            ("place", "MC-0001", *GOOD, *GOOD_DEPTH, *WHEN),
        ):
            assert run(line) == 0
        assert run(("place", "MC-0002", *placed, *near)) == 1  # a near neighbour: nonconforming
    accounts = open_accounts(registry, make=True)
    for name, role in PEOPLE.items():
        add_account(accounts, SystemClock(), name=name, roles={role}, password=PASSWORD, actor="Ada")
    return folder


@dataclass
class Site:
    """A programme that is served."""

    folder: Path
    registry: Path
    make: Callable[..., TestClient]

    def client(self, name: str | None = None) -> TestClient:
        """Give a client, signed in as one of the people, or as nobody."""
        client = self.make()
        if name is not None:
            answer = client.post("/sign-in", data={"how": "password", "name": name, "password": PASSWORD})
            assert answer.status_code == 303, answer.text
        return client


@pytest.fixture
def site(served_template: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Site]:
    """Serve a copy of that programme to clients in this process."""
    registry = copied(served_template, tmp_path, monkeypatch)
    opened: list[TestClient] = []

    def make(**settings: Any) -> TestClient:
        app = make_application(Settings(registry=registry, clock=SystemClock(), **settings))
        client = TestClient(app, follow_redirects=False, raise_server_exceptions=False)
        opened.append(client)
        return client

    yield Site(tmp_path, registry, make)
    for client in opened:
        client.close()


def copied(template: Path, folder: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Copy the programme into a folder, and stand there."""
    for file in template.iterdir():
        if file.is_file():
            shutil.copy(file, folder)
    shutil.copytree(template / "keys", folder / "keys")
    monkeypatch.setenv("LEADLINE_KEYS", str(folder / "keys"))
    monkeypatch.chdir(folder)
    return folder / "leadline.gpkg"


def routes_of(client: TestClient) -> list[tuple[str, frozenset[str]]]:
    """Give path and methods of every address that is served, those of included routers among them."""
    found = [
        (each.path, frozenset(each.methods or ()))
        for each in iter_route_contexts(client.app.routes)  # type: ignore[attr-defined]
        if isinstance(each.path, str)
    ]
    assert len(found) > 20
    return found


def form_token(client: TestClient, path: str) -> str:
    """Give the token that the forms of a page bring."""
    text = client.get(path).text
    return text.split('name="form_token" value="', 1)[1].split('"', 1)[0]


@dataclass
class Served:
    """A programme that listens on a port of this machine."""

    url: str
    registry: Path
    server: uvicorn.Server


@pytest.fixture
def served(served_template: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Served]:
    """Serve a copy of that programme on a port, boat mode open."""
    registry = copied(served_template, tmp_path, monkeypatch)
    app = make_application(Settings(registry=registry, clock=SystemClock(), boat=True))
    server = uvicorn.Server(uvicorn.Config(app, host="127.0.0.1", port=0, log_level="error", lifespan="off"))
    thread = threading.Thread(target=server.run, daemon=True)
    thread.start()
    for _ in range(500):
        if server.started:
            break
        time.sleep(0.02)
    assert server.started
    port = server.servers[0].sockets[0].getsockname()[1]
    yield Served(f"http://127.0.0.1:{port}", registry, server)
    server.should_exit = True
    thread.join(timeout=10)


@pytest.fixture(scope="module")
def chromium() -> Iterator[Any]:
    """One browser for the tests of a file."""
    with open_chromium() as browser:
        yield browser


def sign_in(page: Any, url: str, name: str) -> None:
    """Sign in as one of the people in a browser."""
    page.goto(f"{url}/sign-in")
    form = page.locator("form", has=page.locator("input[name=how][value=password]"))
    form.locator("input[name=name]").fill(name)
    form.locator("input[name=password]").fill(PASSWORD)
    form.locator("button").click()
    page.wait_for_url(lambda address: "/sign-in" not in address)
