"""``leadline serve`` as a process: it starts, answers, ends by Ctrl-C, and says plainly why it cannot start."""

import json
import os
import signal
import socket
import ssl
import subprocess
import sys
import urllib.request
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest

from tests.web.conftest import copied


@pytest.fixture
def registry(served_template: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    return copied(served_template, tmp_path, monkeypatch)


def started(registry: Path, *options: str) -> "subprocess.Popen[str]":
    return subprocess.Popen(
        [sys.executable, "-m", "registry", "serve", "--port", "0", *options],
        cwd=registry.parent,
        env={**os.environ, "LEADLINE_REGISTRY": str(registry), "PYTHONPATH": str(Path(__file__).parents[2])},
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )


@contextmanager
def serving(registry: Path, *options: str) -> Iterator[tuple[Any, dict[str, Any]]]:
    process = started(registry, "--json", *options)
    try:
        assert process.stdout is not None
        yield process, json.loads(process.stdout.readline())
    finally:
        process.kill()
        process.communicate(timeout=30)


def refused(registry: Path, *options: str) -> tuple[int, str]:
    process = started(registry, *options)
    _, told = process.communicate(timeout=60)
    assert "Traceback" not in told
    return process.returncode, told


def test_it_answers_and_ends_cleanly_by_ctrl_c(registry):
    with serving(registry, "--boat") as (process, told):
        with urllib.request.urlopen(f"{told['address']}sign-in", timeout=30) as answer:
            assert b"The boat's PIN" in answer.read()
        process.send_signal(signal.SIGINT)
        _, said = process.communicate(timeout=30)
        assert process.returncode in (0, 130)
        assert "Traceback" not in said


def test_over_tls_the_certificate_that_it_names_is_the_one_it_shows(registry):
    with serving(registry, "--tls") as (_, told):
        trusting = ssl.create_default_context(cafile=told["certificate"])
        with urllib.request.urlopen(f"{told['address']}sign-in", timeout=30, context=trusting) as answer:
            assert answer.status == 200
            assert "max-age" in answer.headers["strict-transport-security"]
        host, port = told["address"].removeprefix("https://").strip("/").split(":")
        pem = ssl.get_server_certificate((host, int(port)))
        assert pem.strip() == Path(told["certificate"]).read_text(encoding="ascii").strip()


def test_it_listens_to_the_receiver_while_it_serves(registry):
    with socket.create_server(("127.0.0.1", 0)) as receiver:
        receiver.settimeout(30)
        source = f"127.0.0.1:{receiver.getsockname()[1]}"
        options = (
            "--listen",
            source,
            "--receiver",
            "sbas",
            "--frame",
            "EPSG:4326",
            "--lever",
            "-4.2,1.5,3.0",
        )
        with serving(registry, *options) as (process, _):
            caller, _ = receiver.accept()
            with caller:
                caller.sendall(b"$GPGGA,kept as it comes\r\n")
                for _ in range(100):
                    kept = [f.read_bytes() for f in registry.parent.glob("leadline-received-*.nmea")]
                    if kept == [b"$GPGGA,kept as it comes\r\n"]:
                        break
                    signal.sigtimedwait([], 0.1)
                assert kept == [b"$GPGGA,kept as it comes\r\n"]
                process.send_signal(signal.SIGINT)
                process.communicate(timeout=30)
                assert process.returncode in (0, 130)


def test_a_port_that_is_taken_is_told(registry):
    with socket.create_server(("127.0.0.1", 0)) as taken:
        port = str(taken.getsockname()[1])
        code, told = refused(registry, "--port", port)
    assert code == 4
    assert port in told


@pytest.mark.parametrize(
    ("options", "code", "words"),
    [
        (("--registry", "nowhere.gpkg"), 4, "nowhere.gpkg"),
        (("--listen", "127.0.0.1:9"), 2, "--receiver CLASS and --frame CODE"),
        (("--receiver", "sbas"), 2, "Add --listen"),
        (
            ("--listen", "127.0.0.1:9", "--receiver", "good", "--frame", "EPSG:4326"),
            2,
            "no class of receiver",
        ),
        (("--listen", "127.0.0.1:9", "--receiver", "rtk", "--frame", "EPSG:0"), 2, "EPSG:0"),
        (("--host", "203.0.113.9"), 4, "203.0.113.9"),
    ],
)
def test_why_it_cannot_start_is_told_in_a_line_with_the_remedy(registry, options, code, words):
    found, told = refused(registry, *options)
    assert found == code, told
    assert words in told
    assert told.startswith("Error: ")
    assert not list(registry.parent.glob("*received*"))
