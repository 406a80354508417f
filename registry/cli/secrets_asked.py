"""Passwords and PINs as they are typed: never an argument, which every process of the machine could read."""

import sys
from collections.abc import Callable
from typing import Any, TypeVar

import click

from registry.errors import RequestError

__all__ = ["asked_secret", "stdin_option"]

F = TypeVar("F", bound=Callable[..., Any])


def stdin_option(what: str) -> Callable[[F], F]:
    """Accept ``--password-stdin`` or ``--pin-stdin``."""
    return click.option(
        f"--{what}-stdin", "from_stdin", is_flag=True, help=f"Read the {what} from standard input, one line."
    )


def asked_secret(label: str, *, from_stdin: bool) -> str:
    """
    Ask for a secret twice without showing it, or read it from standard input.

    Raises
    ------
    RequestError
        If standard input holds nothing, or more than one line.
    """
    if not from_stdin:
        typed: str = click.prompt(label, hide_input=True, confirmation_prompt="Once more", err=True)
        return typed
    text = sys.stdin.read(10_000)
    lines = text.splitlines()
    if len(lines) != 1:
        what = f"Standard input holds {len(lines)} lines, not the {label.lower()} alone."
        raise RequestError(what, remedy="Give it as one line.")
    return lines[0]
