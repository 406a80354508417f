"""A boat with a server that can be stopped and started on one port, and a tablet in the hands of its crew."""

import asyncio
import threading
import time
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import uvicorn

from registry.storage.boat_certificate import boat_certificate
from registry.storage.clock import SystemClock
from registry.web.application import make_application
from registry.web.settings import Settings
from tests.web.test_boat_pages import GOOD_DROP

#: A name that Chromium is told to look for on this machine: to the browser it is no secure context.
PLAIN_HOST = "boat.example"


@dataclass
class Boat:
    """The machine aboard that serves the registry."""

    registry: Path
    tls: bool = False
    live: Any = None
    port: int = 0
    #: Whether replies to entries are lost on their way, and the statuses of those that were.
    loses_replies: bool = False
    lost: list[int] = field(default_factory=list)
    _server: Any = field(default=None, repr=False)
    _thread: Any = field(default=None, repr=False)

    def start(self) -> "Boat":
        clock = SystemClock()
        settings = Settings(registry=self.registry, clock=clock, boat=True, secure=self.tls, live=self.live)
        options: dict[str, Any] = {}
        if self.tls:
            made = boat_certificate(self.registry, host="127.0.0.1", clock=clock)
            options = {"ssl_certfile": str(made.certificate), "ssl_keyfile": str(made.key)}
        config = uvicorn.Config(
            self._through_the_air(make_application(settings)), host="127.0.0.1", port=self.port, log_level="error", lifespan="off",
            timeout_graceful_shutdown=1, **options,
        )  # fmt: skip
        self._server = uvicorn.Server(config)
        self._thread = threading.Thread(target=self._run, daemon=True)
        self._thread.start()
        for _ in range(1000):
            if self._server.started:
                break
            time.sleep(0.02)
        assert self._server.started
        self.port = self._server.servers[0].sockets[0].getsockname()[1]
        return self

    def _run(self) -> None:
        server = self._server

        async def serve() -> None:
            await server.serve()
            # The wifi is gone, not only the server: what tablets hold open ends here and now.
            for connection in list(server.server_state.connections):
                connection.transport.abort()
            await asyncio.sleep(0.05)

        asyncio.run(serve())

    def _through_the_air(self, application: Any) -> Any:
        """Let the server do everything, and break the connection off before its reply is out."""

        async def app(scope: Any, receive: Any, send: Any) -> None:
            if scope["type"] != "http" or scope["path"] != "/boat/entries" or not self.loses_replies:
                await application(scope, receive, send)
                return

            async def lose(message: Any) -> None:
                if message["type"] == "http.response.start":
                    self.lost.append(message["status"])
                    await send({**message, "headers": [(b"content-length", b"9000")]})

            await application(scope, receive, lose)

        return app

    def stop(self) -> None:
        if self._server is not None:
            self._server.should_exit = True
            self._server.force_exit = True
            self._thread.join(timeout=15)
            assert not self._thread.is_alive()
            self._server = None

    @property
    def url(self) -> str:
        """As a browser that trusts it sees it."""
        return f"{'https' if self.tls else 'http'}://127.0.0.1:{self.port}"

    @property
    def plain_url(self) -> str:
        """As a tablet on plain HTTP sees it: no secure context."""
        return f"http://{PLAIN_HOST}:{self.port}"


def fill_in(page: Any, tag: str, **changes: str) -> None:
    """Key in a drop that conforms."""
    said = GOOD_DROP | {"tag_read": tag} | changes
    page.locator(f"input[name=how][value={said.pop('how')}]").check()
    page.locator(f"input[name=depth_kind][value={said.pop('depth_kind')}]").check()
    for name, text in said.items():
        part = page.locator(f"[name={name}]")
        if part.evaluate("e => e.tagName") == "SELECT":
            part.select_option(text)
        elif part.is_visible():
            part.fill(text)


def press_record(page: Any) -> None:
    page.locator("#drop > button.main").click()


def wait_for(page: Any, words: str, timeout: float = 30_000) -> None:
    """Wait until the queue says something."""
    page.wait_for_function(
        "words => document.getElementById('queue-state')?.textContent.includes(words)",
        arg=words,
        timeout=timeout,
    )


def states(page: Any) -> list[str]:
    """Give tag and state of every entry that the tablet keeps, oldest first."""
    script = """() => new Promise((done, failed) => {
        const asked = indexedDB.open("leadline-boat", 1);
        asked.onerror = () => failed(asked.error);
        asked.onsuccess = () => {
            const all = asked.result.transaction("entries").objectStore("entries").getAll();
            all.onsuccess = () => { asked.result.close(); done(all.result.map((e) => e.tag + " " + e.state)); };
        };
    })"""
    found: list[str] = page.evaluate(script)
    return found


__all__ = ["PLAIN_HOST", "Boat", "fill_in", "press_record", "states", "wait_for"]
