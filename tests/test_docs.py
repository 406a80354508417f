"""The README tells the truth: every command and rule stands in it, and its sessions run as printed."""

import re
import shlex
import shutil
from dataclasses import dataclass, field
from pathlib import Path

import pytest

from registry.cli.main import COMMANDS, run
from registry.rules.catalogue import CATALOGUE

ROOT = Path(__file__).parents[1]
README = (ROOT / "README.md").read_text(encoding="utf-8")
DEMONSTRATION = ROOT / "geodata" / "demonstration"

#: What differs from one run to the next: instants, days, digests and names made of them, epochs of today.
VARIES = [
    (re.compile(r"\d{4}-\d{2}-\d{2}T[\d:.]+(?:Z|[+-]\d{2}:\d{2})"), "<instant>"),
    (re.compile(r"\b[0-9a-f]{8}-\d+\b"), "<entry>"),
    (re.compile(r"\b[A-Za-z0-9_-]{43}\b"), "<key>"),
    (re.compile(r"\b[0-9a-f]{12,64}\b"), "<digest>"),
    (re.compile(r"Placed on \d{4}-\d{2}-\d{2}"), "Placed on <day>"),
    (re.compile(r"\bepoch \d{4}\.\d+"), "epoch <year>"),
    (re.compile(r"\b([A-Z]{2,6})-\d{4}-(\d{6})-\d{2}\b"), r"\1-<year>-\2"),
    (re.compile(r"\(\d+\.\d+ MB\)"), "(<size>)"),
]


@dataclass
class Step:
    """One command of a session and what the README prints below it."""

    command: str
    expected: list[str] = field(default_factory=list)


def steps_of(block: str) -> list[Step]:
    """Cut a session into commands; a line that ends with a backslash goes on."""
    steps: list[Step] = []
    continued = False
    for line in block.splitlines():
        if continued:
            steps[-1].command += " " + line.strip()
        elif line.startswith("$ "):
            steps.append(Step(line.removeprefix("$ ").strip()))
        elif steps:
            steps[-1].expected.append(line)
            continue
        continued = bool(steps) and steps[-1].command.endswith("\\")
        if continued:
            steps[-1].command = steps[-1].command.removesuffix("\\").rstrip()
    return [step for step in steps if step.command.startswith("leadline ")]


def session() -> list[Step]:
    """Give every command of the README in order; what stands above the first heading is an excerpt of its end."""
    first_heading = README.find("\n## ")
    early: list[Step] = []
    late: list[Step] = []
    for found in re.finditer(r"^```console\n(.*?)^```", README, re.MULTILINE | re.DOTALL):
        (late if found.start() < first_heading else early).extend(steps_of(found[1]))
    for step in late:
        step.expected = [line for printed in step.expected for line in (printed, "...")]
    return early + late


def plain(line: str) -> str:
    for pattern, word in VARIES:
        line = pattern.sub(word, line)
    return line.rstrip()


def matches(expected: list[str], told: list[str]) -> bool:
    """Compare line by line; a line "..." stands for any lines, and "..." within a line for any text."""
    while expected and not expected[-1].strip():
        expected = expected[:-1]
    if not expected:
        return True
    pattern = "".join(
        r"(?:.*\n)*" if line.strip() in ("...", "…") else _one_line(plain(line)) + r"\n" for line in expected
    )
    return re.fullmatch(pattern, "".join(f"{plain(line)}\n" for line in told)) is not None


def _one_line(line: str) -> str:
    return ".*".join(re.escape(part) for part in re.split(r"\.\.\.", line))


def test_the_comparison_forgives_only_what_varies():
    assert matches(["a", "...", "d"], ["a", "b", "c", "d"])
    assert matches(["...", "d"], ["d"])
    assert matches(["head 0123456789abcdef"], ["head fedcba9876543210"])
    assert matches(["Issued MCMR-... for X"], ["Issued MCMR-2026-000001-36 for X"])
    assert not matches(["a", "c"], ["a", "b", "c"])
    assert not matches(["2.4 m"], ["2.5 m"])
    assert not matches(["a"], [])


@pytest.mark.parametrize("command", COMMANDS)
def test_every_command_stands_in_the_readme(command):
    assert re.search(rf"\bleadline {command}\b|`{command}\b", README), command


@pytest.mark.parametrize("rule", [rule.rule_id for rule in CATALOGUE])
def test_every_rule_stands_in_the_readme(rule):
    assert re.search(rf"(?<![\w-]){rule}(?![\w-])", README), rule


def test_no_command_of_the_readme_is_invented():
    for name in re.findall(r"\bleadline ([a-z]+)\b", README):
        assert name in COMMANDS, name


def test_the_readme_has_a_session():
    assert len(session()) >= 5


def test_the_sessions_of_the_readme_run_as_printed(tmp_path, monkeypatch, capsys):
    if not DEMONSTRATION.is_dir():
        pytest.skip("the demonstration is not here yet")
    folder = tmp_path / "programme"
    shutil.copytree(DEMONSTRATION, folder)
    monkeypatch.chdir(folder)
    monkeypatch.setenv("LEADLINE_KEYS", str(tmp_path / "keys"))
    for name in ("LEADLINE_REGISTRY", "LEADLINE_ACTOR"):
        monkeypatch.delenv(name, raising=False)
    wrong = []
    for step in session():
        capsys.readouterr()
        run(shlex.split(step.command.removeprefix("leadline "), comments=True))
        said = capsys.readouterr()
        told = [*said.out.splitlines(), *said.err.splitlines()]
        if not matches(step.expected, told):
            printed = "\n".join(step.expected)
            found = "\n".join(told)
            wrong.append(f"$ {step.command}\n--- printed\n{printed}\n--- told\n{found}")
    assert not wrong, "\n\n".join(wrong)
