"""How far a long command has come: on a terminal only, after a while only, and never where a program reads."""

import os
import re
import subprocess
import sys

import pytest

from registry.cli import progress
from registry.cli.progress import Watch, watched
from tests.cli.reef import GOOD, GOOD_DEPTH, WHEN

PLACE = ("place", "MC-0001", *GOOD, *GOOD_DEPTH, *WHEN)
#: With what draws the bar loaded beforehand: else the command may be further on when it is drawn first.
AT_ONCE = """
import rich.console, rich.progress
from registry.cli import progress
progress.PATIENCE_S = {patience}
from registry.__main__ import main
main()
"""

pty = pytest.importorskip("pty", reason="there are no pseudo-terminals on this system")


def on_a_terminal(reef, *line: str, patience: float) -> tuple[int, str, str]:
    """Run a command whose standard error alone is a terminal; give exit code, output and what was shown."""
    own, terminal = pty.openpty()
    process = subprocess.Popen(
        [sys.executable, "-c", AT_ONCE.format(patience=patience), *line],
        cwd=reef.folder,
        env={**os.environ, "TERM": "xterm", "COLUMNS": "100"},
        stdout=subprocess.PIPE,
        stderr=terminal,
    )
    os.close(terminal)
    shown = b""
    while True:
        try:
            part = os.read(own, 65_536)
        except OSError:
            break
        if not part:
            break
        shown += part
    out, _ = process.communicate(timeout=60)
    os.close(own)
    return process.returncode, out.decode(), shown.decode()


def test_a_long_audit_shows_what_it_does_and_how_far_it_is(reef):
    reef.good(*PLACE)
    code, out, shown = on_a_terminal(reef, "audit", "--out", "audit", patience=0.0)
    assert code == 0
    assert "\x1b" not in out
    assert re.search(r"(Proving the registry|Asking every condition|Summing up)[^\r\n]*\d+%", shown)
    assert "Writing report.pdf" in shown
    # A step of which nobody knows how long it takes claims no share.
    assert not re.search(r"Writing report\.pdf[^\r\n]*%", shown)
    assert shown.rindex("\x1b[?25h") > shown.rindex("\x1b[?25l")


def test_a_run_of_certificates_shows_how_far_it_is(reef):
    reef.good(*PLACE)
    code, out, shown = on_a_terminal(reef, "certificate", "--all", "--out", "papers", patience=0.0)
    assert (code, "1 issued now" in out) == (0, True)
    assert re.search(r"(Proving the registry|Issuing certificates)[^\r\n]*\d+%", shown)
    assert "Issuing certificates" in shown


@pytest.mark.parametrize(("line", "patience"), [(("audit", "--json"), 0.0), (("audit",), 600.0)])
def test_nothing_is_shown_to_a_program_or_before_two_seconds(reef, line, patience):
    reef.good(*PLACE)
    code, out, shown = on_a_terminal(reef, *line, patience=patience)
    assert (code, shown) == (0, "")
    assert out


def test_two_seconds_are_the_patience():
    assert progress.PATIENCE_S == 2.0


def test_it_may_be_told_of_anything_where_nobody_watches():
    with watched(shown=False) as watch:
        watch.begin("a", total=3)
        watch.advance(2)
        watch.say("b")
    Watch().hide()
