"""The fuzz script itself: it runs, and it would notice."""

import importlib.machinery
import importlib.util
import subprocess
import sys
from collections import Counter
from pathlib import Path
from random import Random

import pytest

SCRIPT = Path(__file__).resolve().parents[2] / "scripts" / "fuzz"


@pytest.fixture(scope="module")
def fuzz():
    loader = importlib.machinery.SourceFileLoader("fuzz_script", str(SCRIPT))
    spec = importlib.util.spec_from_loader("fuzz_script", loader)
    assert spec is not None
    module = importlib.util.module_from_spec(spec)
    loader.exec_module(module)
    return module


def test_it_runs():
    done = subprocess.run(
        [sys.executable, str(SCRIPT), "--inputs", "4000", "--jobs", "1", "--seed", "3"],
        capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stdout + done.stderr
    assert "4,000 inputs" in done.stdout
    assert "fixes derived again" in done.stdout
    assert "texts derived again" in done.stdout


def test_it_would_notice_a_silent_acceptance(fuzz, monkeypatch):
    honest = fuzz.read_position

    def drops_a_digit(text):
        return honest(text.replace("7", "", 1))

    monkeypatch.setattr(fuzz, "read_position", drops_a_digit)
    seen: Counter[str] = Counter()
    fuzz.fuzz_notation(Random(1), 300, seen)
    assert any("left over or invented" in what for what in seen)


def test_it_would_notice_a_crash(fuzz, monkeypatch):
    def crashes(text):
        raise ZeroDivisionError

    monkeypatch.setattr(fuzz, "read_position", crashes)
    seen: Counter[str] = Counter()
    fuzz.fuzz_notation(Random(1), 3, seen)
    assert any("ZeroDivisionError" in what for what in seen)


def test_it_would_notice_a_log_reader_that_believes_anything(fuzz, monkeypatch):
    honest = fuzz.read_nmea_logs

    def believes(files):
        """Mend every checksum first."""
        mended = b""
        for line in files[0].splitlines(keepends=True):
            body, star, _ = line.partition(b"*")
            body = body[body.find(b"$") + 1 :]
            mended += b"$%s*%02X\r\n" % (body, fuzz.checksum(body)) if star else line
        return honest([mended])

    monkeypatch.setattr(fuzz, "read_nmea_logs", believes)
    seen: Counter[str] = Counter()
    fuzz.fuzz_logs(Random(1), 800, seen)
    assert any(what.startswith("FAULT") for what in seen)
