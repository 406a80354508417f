"""Chromium without a network: whatever a page asks for over it, and whatever it complains of, is kept and shown."""

import os
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import pytest

EXECUTABLE = Path(os.environ.get("CHROMIUM", "/usr/bin/chromium"))
QUIET = (
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
)

needs_chromium = pytest.mark.skipif(
    not EXECUTABLE.exists(), reason=f"no Chromium at {EXECUTABLE}: install it, or name another in $CHROMIUM"
)


@dataclass
class Complaints:
    """What a page did that it must not."""

    requests: list[str] = field(default_factory=list)
    errors: list[str] = field(default_factory=list)


@contextmanager
def open_chromium() -> Iterator[Any]:
    """One browser for many pages."""
    from playwright.sync_api import sync_playwright

    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=str(EXECUTABLE), args=list(QUIET))
        try:
            yield browser
        finally:
            browser.close()


@contextmanager
def open_page(browser: Any, file: Path, **context: Any) -> Iterator[tuple[Any, Complaints]]:
    """Open a file of this disk, with the network cut; the page and what it did wrong."""
    complaints = Complaints()
    opened = browser.new_context(accept_downloads=True, **context)

    def seen(request: Any) -> None:
        if request.url != file.as_uri() and not request.url.startswith(("data:", "blob:")):
            complaints.requests.append(request.url)

    def refuse(route: Any) -> None:
        complaints.requests.append(route.request.url)
        route.abort()

    try:
        opened.set_offline(True)
        opened.route("http*://**", refuse)
        page = opened.new_page()
        page.on("request", seen)
        page.on("pageerror", lambda error: complaints.errors.append(str(error)))
        page.on(
            "console",
            lambda said: complaints.errors.append(said.text) if said.type in ("error", "warning") else None,
        )
        page.goto(file.as_uri())
        yield page, complaints
    finally:
        opened.close()
