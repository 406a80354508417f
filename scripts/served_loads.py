"""
What the web application bears: one program that checks drops, and many readers and writers at once.

``python scripts/served_loads.py ARCHIVE.gpkg [--seconds 120] [--readers 50] [--writers 5]`` serves a copy of
an archive, asks for it over HTTP, and prints one JSON document. Every placement that was acknowledged must
stand in the journal, once; any other answer than the one that is due is counted as a fault.
"""

import argparse
import http.client
import json
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import timedelta
from itertools import count, takewhile
from pathlib import Path
from statistics import median, quantiles
from typing import Any
from urllib.parse import urlsplit

from make_archive import FRAME, USUAL
from measured_runs import leadline, say
from warm_check import Place, places_of, text_of

from registry.actions.add_token import add_token
from registry.records.access_token import Scope
from registry.storage.account_file import open_accounts
from registry.storage.clock import SystemClock
from registry.storage.geopackage import open_register, snapshot

__all__ = ["LARGEST_PAGE", "Load", "checks_ms", "figures", "load", "served_copy"]

#: What readers look at, in turn; and what a page may weigh without a map. Units of the last: bytes.
PAGES = ("/", "/sign-in", "/features", "/features/collections", "/features/collections/areas/items?limit=20")
LARGEST_PAGE = 100_000
WARM_UP = 5


@dataclass(slots=True)
class Load:
    """What happened while many asked at once."""

    reads_s: list[float] = field(default_factory=list)
    writes_s: list[float] = field(default_factory=list)
    acknowledged: list[str] = field(default_factory=list)
    faults: list[str] = field(default_factory=list)


@dataclass(frozen=True, slots=True)
class ServedCopy:
    """A copy of an archive that is served, and a token for it."""

    registry: Path
    host: str
    token: str

    def ask(
        self, connection: http.client.HTTPConnection, method: str, path: str, body: Any = None
    ) -> tuple[int, bytes]:
        """Ask once over a connection that is kept."""
        headers = {"authorization": f"Bearer {self.token}", "content-type": "application/json"}
        sent = None if body is None else json.dumps(body)
        connection.request(method, path, body=sent, headers=headers)
        answer = connection.getresponse()
        return answer.status, answer.read()

    def connect(self) -> http.client.HTTPConnection:
        """Open a connection."""
        return http.client.HTTPConnection(self.host, timeout=60)


@contextmanager
def served_copy(archive: Path) -> Iterator[ServedCopy]:
    """Serve a copy of an archive by the command itself, as long as the block lasts."""
    with tempfile.TemporaryDirectory(prefix="leadline-served-") as folder:
        registry = Path(folder) / "leadline.gpkg"
        with open_register(archive, clock=SystemClock(), writable=False) as register:
            snapshot(register, registry)
        clock = SystemClock()
        accounts = open_accounts(registry, make=True)
        made = add_token(
            accounts,
            clock,
            label="bench",
            scopes=set(Scope),
            expires_at=clock.now() + timedelta(days=1),
            actor="bench",
        )
        command = leadline("serve", "--registry", str(registry), "--port", "0", "--json")
        server = subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)
        try:
            line = server.stdout.readline() if server.stdout else ""
            if not line:
                sys.exit(f"leadline serve did not start: {server.stderr.read() if server.stderr else ''}")
            yield ServedCopy(registry, urlsplit(json.loads(line)["address"]).netloc, made.secret)
        finally:
            server.terminate()
            server.wait(30)


def checks_ms(served: ServedCopy, places: Sequence[Place]) -> tuple[float, float]:
    """Give the median and the 99th percentile of a check over HTTP, one after the other. Units: ms."""
    taken: list[float] = []
    connection = served.connect()
    for turn, (permit, lon, lat) in enumerate((*places[:WARM_UP], *places)):
        drop = {"permit": permit, "type": USUAL, "at": text_of(lon, lat), "frame": FRAME, "r95": "0.2 m"}
        start = time.perf_counter()
        status, body = served.ask(connection, "POST", "/api/check", drop)
        if status != 200:
            sys.exit(f"A check was answered with {status}: {body.decode()[:500]}")
        if turn >= WARM_UP:
            taken.append((time.perf_counter() - start) * 1e3)
    connection.close()
    return median(taken), _p99(taken)


def load(
    served: ServedCopy,
    places: Sequence[Place],
    *,
    readers: int,
    writers: int,
    seconds: float,
) -> Load:
    """Let readers look at pages and writers record placements for so long, all at once."""
    seen, until = Load(), time.monotonic() + seconds

    def turns() -> Iterator[int]:
        return takewhile(lambda _turn: time.monotonic() < until, count())

    def read(which: int) -> None:
        connection = served.connect()
        for turn in turns():
            _read(served, connection, PAGES[(which + turn) % len(PAGES)], seen)

    def write(which: int) -> None:
        connection = served.connect()
        for turn in turns():
            place = places[(which + turn * writers) % len(places)]
            _write(served, connection, f"LOAD-{which}-{turn:05d}", place, seen)

    def told(work: Callable[[int], None], which: int) -> None:
        try:
            work(which)
        except (OSError, http.client.HTTPException) as error:
            seen.faults.append(f"{type(error).__name__}: {error}")

    threads = [threading.Thread(target=told, args=(read, which)) for which in range(readers)]
    threads += [threading.Thread(target=told, args=(write, which)) for which in range(writers)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    _insist_on_nothing_lost(served.registry, seen)
    return seen


def _read(served: ServedCopy, connection: http.client.HTTPConnection, page: str, seen: Load) -> None:
    start = time.perf_counter()
    status, body = served.ask(connection, "GET", page)
    seen.reads_s.append(time.perf_counter() - start)
    if status != 200 or len(body) > LARGEST_PAGE:
        seen.faults.append(f"{page}: {status}, {len(body)} bytes")


def _write(
    served: ServedCopy, connection: http.client.HTTPConnection, tag: str, place: Place, seen: Load
) -> None:
    permit, lon, lat = place
    sent = {"tag": tag, "type": USUAL, "permit": permit, "at": text_of(lon, lat), "frame": FRAME}
    sent |= {"r95": "2 m", "when": "2026-06-14T10:32Z", "key": f"key-{tag}"}
    start = time.perf_counter()
    status, body = served.ask(connection, "POST", "/api/placements", sent)
    seen.writes_s.append(time.perf_counter() - start)
    if status == 201:
        seen.acknowledged.append(tag)
    else:
        seen.faults.append(f"{tag}: {status} {body.decode()[:200]}")


def _insist_on_nothing_lost(registry: Path, seen: Load) -> None:
    with open_register(registry, clock=SystemClock(), writable=False) as register:
        found = [
            entry.content()["tag"]
            for entry in register.journal(kind="placement.logged")
            if entry.content()["tag"].startswith("LOAD-")
        ]
    if sorted(found) != sorted(seen.acknowledged):
        sys.exit(f"{len(seen.acknowledged)} placements were acknowledged, {len(found)} stand in the journal.")


def _p99(taken: Sequence[float]) -> float:
    return quantiles(taken, n=100, method="inclusive")[98] if len(taken) > 1 else taken[0]


def figures(seen: Load, seconds: float) -> dict[str, Any]:
    """Give what is told of a load."""
    return {
        "reads_per_s": len(seen.reads_s) / seconds,
        "read_p50_ms": median(seen.reads_s) * 1e3,
        "read_p99_ms": _p99(seen.reads_s) * 1e3,
        "writes": len(seen.acknowledged),
        "write_p50_ms": median(seen.writes_s) * 1e3,
        "write_p99_ms": _p99(seen.writes_s) * 1e3,
        "faults": len(seen.faults),
    }


def main() -> None:
    """Read the command line, measure, print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("archive", type=Path)
    parser.add_argument("--seconds", type=float, default=120.0)
    parser.add_argument("--readers", type=int, default=50)
    parser.add_argument("--writers", type=int, default=5)
    asked = parser.parse_args()
    places = places_of(asked.archive, count=100, seed=1)
    with served_copy(asked.archive) as served:
        p50_ms, p99_ms = checks_ms(served, places)
        say(f"{asked.readers} readers and {asked.writers} writers for {asked.seconds:g} s")
        seen = load(served, places, readers=asked.readers, writers=asked.writers, seconds=asked.seconds)
    for fault in seen.faults[:10]:
        say(fault)
    told = {"check_p50_ms": p50_ms, "check_p99_ms": p99_ms, **figures(seen, asked.seconds)}
    print(json.dumps(told))


if __name__ == "__main__":
    main()
