"""How an answer leaves: exit codes, JSON on standard output, words and marks for a person."""

import json
from collections.abc import Sequence
from typing import Any

import click

from registry.measure.decision import Verdict

__all__ = [
    "exit_code",
    "mark",
    "print_findings",
    "print_json",
    "print_lines",
]

_EXIT = {
    Verdict.NOT_APPLICABLE: 0,
    Verdict.CONFORMING: 0,
    Verdict.NONCONFORMING: 1,
    Verdict.INCONCLUSIVE: 3,
}
#: A word, a shape and a colour each: it reads without colour.
_MARKS = {
    Verdict.CONFORMING: ("+", "green"),
    Verdict.NONCONFORMING: ("x", "red"),
    Verdict.INCONCLUSIVE: ("?", "yellow"),
    Verdict.NOT_APPLICABLE: ("-", "bright_black"),
}


def exit_code(verdict: Verdict) -> int:
    """Give the exit code of a verdict."""
    return _EXIT[verdict]


def mark(verdict: Verdict) -> str:
    """Give a verdict as a shape and a word, coloured where the terminal can."""
    shape, colour = _MARKS[verdict]
    return click.style(f"{shape} {verdict.word}", fg=colour)


def print_json(answer: Any) -> None:
    """Print one JSON document."""
    click.echo(json.dumps(answer, ensure_ascii=False, indent=2, allow_nan=False))


def print_lines(title: str, lines: Sequence[str]) -> None:
    """Print sentences under a title; nothing where there are none."""
    if lines:
        click.echo(f"{title}:")
        for line in lines:
            click.echo(f"  {line}")


def print_findings(findings: Sequence[Any]) -> None:
    """Print findings as a list: shape, rule, sentence and citation."""
    for finding in findings:
        shape, colour = _MARKS[finding.verdict]
        name = click.style(f"{shape} {finding.rule:<17}", fg=colour)
        click.echo(f"  {name} {finding.message} [{finding.cite}]")
