"""Options of maps and files that show the public less than the programme declared, this once."""

from collections.abc import Callable
from typing import TYPE_CHECKING, Any, TypeVar

import click

from registry.cli.options import length

if TYPE_CHECKING:
    from registry.records.publication import Publication

__all__ = ["asked_publication", "publication_options"]

F = TypeVar("F", bound=Callable[..., Any])


def publication_options(function: F) -> F:
    """Accept ``--sites-only`` and ``--rounded LENGTH``."""
    options = (
        click.option("--sites-only", is_flag=True, help="Show the sites, and no module's own position."),
        click.option(
            "--rounded", metavar="LENGTH", help='Round positions of modules to so much, as "100 m".'
        ),
    )
    for option in reversed(options):
        function = option(function)
    return function


def asked_publication(*, sites_only: bool, rounded: str | None) -> "Publication | None":
    """
    Read both options, None where neither is given.

    Raises
    ------
    LeadlineError
        If the length cannot be read, or both are given.
    """
    if not sites_only and rounded is None:
        return None
    from registry.records.publication import Publication

    step = length(rounded)
    return Publication(
        sites_only=sites_only,
        rounded_m=step.value if step else None,
        rounded=step.written if step else "",
    )
