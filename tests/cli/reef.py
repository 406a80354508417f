"""A programme to type commands at: a folder, a registry in it, and what the command answers."""

import json
import os
import subprocess
import sys
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import pytest

from registry.cli.main import run

#: A square of two hundredths of a degree around 34 N 77 W; invented.
PERMIT = """
[permit]
number = "HB-0417"
authority = "Harbour Bay Coastal Office"
valid_from = 2024-05-01
valid_to = 2034-04-30
chart_datum = "MLLW"

[[area]]
id = "gannet-patch"
corners = ["34 00.600 N 077 00.600 W", "34 00.600 N 076 59.400 W",
           "33 59.400 N 076 59.400 W", "33 59.400 N 077 00.600 W"]
frame = "EPSG:6318"
edges = "geodesic"

[[condition]]
rule = "spacing"
least_m = 6.0
cite = "Special condition 4"

[[condition]]
rule = "clearance"
least = "50 ft"
cite = "Special condition 2"
"""

#: Something that conforms, said as the options of check, place and correct.
GOOD = ("--permit", "HB-0417", "--at", "34 00.1000 N 077 00.0000 W", "--frame", "EPSG:6318", "--r95", "2 m")
GOOD_DEPTH = ("--depth", "70 ft", "--depth-u95", "1 ft")
WHEN = ("--when", "2026-06-14T10:32-04:00")

HEADER = "tag,type,position,frame,when,depth,r95"


def log_line(number: int, **changes: str) -> str:
    """Give one line of a log that conforms: modules in rows of a hundred, 15 m apart."""
    east, north = number % 100, number // 100
    cells = {
        "tag": f"LN-{number:05d}",
        "type": "hump-60",
        "position": f"{33.9920 + north * 0.00015:.6f} N {77.0080 - east * 0.00016:.6f} W",
        "frame": "EPSG:6318",
        "when": f"2026-06-14T{10 + number // 3600 % 12:02d}:{number // 60 % 60:02d}:{number % 60:02d}Z",
        "depth": "70 ft",
        "r95": "2 m",
    } | changes
    return ",".join(f'"{cell}"' if "," in cell else cell for cell in cells.values())


def a_log(count: int, *more: str) -> str:
    """Give a log of so many good lines, and others behind them."""
    return "\n".join([HEADER, *(log_line(number) for number in range(count)), *more, ""])


@dataclass
class Answer:
    """What one command said."""

    code: int
    out: str
    err: str

    @property
    def json(self) -> Any:
        """Standard output as the one JSON document that it must be."""
        return json.loads(self.out)

    def is_told(self, *words: str, code: int) -> "Answer":
        """Insist on an error of one or two lines that holds some words, and on its exit code."""
        assert self.code == code, (self.code, self.out, self.err)
        lines = self.err.splitlines()
        assert 1 <= len(lines) <= 2, self.err
        assert lines[0].startswith("Error: ")
        assert all(line.startswith("Remedy: ") for line in lines[1:])
        assert "Traceback" not in self.err
        assert "Leadline itself failed" not in self.err
        for word in words:
            assert word in self.err, (word, self.err)
        return self


@dataclass
class Reef:
    """The folder in which commands are typed."""

    folder: Path
    capsys: pytest.CaptureFixture[str]
    environment: dict[str, str] = field(default_factory=dict)

    @property
    def registry(self) -> Path:
        return self.folder / "leadline.gpkg"

    def __call__(self, *arguments: object) -> Answer:
        """Run a command in this process."""
        self.capsys.readouterr()
        code = run([str(argument) for argument in arguments])
        said = self.capsys.readouterr()
        return Answer(code, said.out, said.err)

    def good(self, *arguments: object) -> Answer:
        """Run a command that has to do what it is told, without a word of complaint."""
        answer = self(*arguments)
        assert (answer.code, answer.err) == (0, ""), (answer.code, answer.out, answer.err)
        return answer

    def write(self, name: str, content: str | bytes) -> Path:
        path = self.folder / name
        path.write_bytes(content.encode() if isinstance(content, str) else content)
        return path

    def tags(self) -> list[str]:
        """Give the tags of every placement in the journal."""
        entries = self.good("journal", "show", "--json").json["entries"]
        return [e["body"]["tag"] for e in entries if e["kind"].startswith("placement.")]

    def is_sound(self) -> None:
        """Insist that the journal proves itself."""
        assert self.good("journal", "verify", "--json").json["sound"] is True

    def process(self, *arguments: object, **options: Any) -> "subprocess.Popen[str]":
        """Start a command in a process of its own; `batch` makes the transactions of intake that small."""
        batch = options.pop("batch", None)
        main = ["-m", "registry"]
        if batch is not None:
            main = ["-c", f"from registry.actions import intake_log; intake_log.BATCH = {batch};"
                    " from registry.__main__ import main; main()"]  # fmt: skip
        environment = {**os.environ, **self.environment, **options.pop("env", {})}
        for name in options.pop("without", ()):
            environment.pop(name, None)
        return subprocess.Popen(
            [sys.executable, *main, *map(str, arguments)],
            cwd=options.pop("cwd", self.folder),
            env=environment,
            stdout=options.pop("stdout", subprocess.PIPE),
            stderr=subprocess.PIPE,
            text=True,
            **options,
        )

    def apart(self, *arguments: object, **options: Any) -> Answer:
        """Run a command in a process of its own, to its end."""
        process = self.process(*arguments, **options)
        out, err = process.communicate(timeout=600)
        return Answer(process.returncode, out or "", err)
