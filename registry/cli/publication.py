"""``leadline publication``: how much of its sites the programme shows the public."""

from typing import TYPE_CHECKING

import click

from registry.cli.answer import print_json
from registry.cli.options import (
    actor_name,
    actor_option,
    json_option,
    open_for_reading,
    open_for_writing,
    registry_option,
)
from registry.cli.publication_options import asked_publication, publication_options

if TYPE_CHECKING:
    from registry.records.publication import Publication


@click.group("publication", invoke_without_command=True)
@json_option
@registry_option
@click.pass_context
def command(ctx: click.Context, as_json: bool) -> None:
    """
    Show how much of its sites the programme publishes; every map and file keeps to it.

    \b
    Example:
      leadline publication
    """
    if ctx.invoked_subcommand is not None:
        return
    from registry.actions.choose_publication import declared_publication

    _tell(declared_publication(open_for_reading(ctx)), as_json=as_json)


@command.command("declare")
@publication_options
@click.option("--as-known", is_flag=True, help="Show every position as it is known.")
@actor_option
@json_option
@registry_option
@click.pass_context
def declare(
    ctx: click.Context,
    sites_only: bool,
    rounded: str | None,
    as_known: bool,
    actor: str | None,
    as_json: bool,
) -> None:
    """
    Declare it once: sites only, positions of modules rounded, or everything as it is known.

    A rounded position is the middle of a square that holds the true one, with R95 widened by as much; no
    digit beyond that is written anywhere. What was published before is not taken back by this: files that
    others keep stay with them. Papers of families, the audit and the as-built list are not touched.

    \b
    Example:
      leadline publication declare --rounded "100 m"
    """
    from registry.actions.choose_publication import declare_publication
    from registry.errors import RequestError
    from registry.records.publication import Publication

    asked = asked_publication(sites_only=sites_only, rounded=rounded)
    if (asked is None) != as_known:
        what = "Nothing is chosen." if asked is None else "Two choices are made at once."
        raise RequestError(what, remedy="Give one of --sites-only, --rounded and --as-known.")
    choice = declare_publication(open_for_writing(ctx), asked or Publication(), actor=actor_name(actor))
    _tell(choice, as_json=as_json)


def _tell(choice: "Publication", *, as_json: bool) -> None:
    from registry.records.publication import publication_body

    if as_json:
        print_json(publication_body(choice) | {"told": choice.told or None})
        return
    click.echo(choice.words or "Positions of modules are published as they are known.")
    if choice.told:
        click.echo(f"  Declared by {choice.told}")
