"""``leadline visitors``: what the programme tells visitors, in its own words."""

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

if TYPE_CHECKING:
    from registry.records.visitor_words import VisitorWords


@click.group("visitors", invoke_without_command=True)
@json_option
@registry_option
@click.pass_context
def command(ctx: click.Context, as_json: bool) -> None:
    """
    Show what the programme tells visitors of its reefs; visit sheets print it as it stands.

    \b
    Example:
      leadline visitors
    """
    if ctx.invoked_subcommand is not None:
        return
    from registry.actions.tell_visitors import told_visitors
    from registry.records.visitor_words import visitor_words_body

    told = told_visitors(open_for_reading(ctx))
    if as_json:
        print_json(
            {"visitors": [visitor_words_body(words) | {"told": words.told} for words in told.values()]}
        )
        return
    if not told:
        click.echo("Nothing is told to visitors yet: leadline visitors tell --young-reef ... --rules ...")
    for words in told.values():
        _show(words)


@command.command("tell")
@click.option(
    "--permit", metavar="N", help="For the reefs of this permit; else for all without a word of their own."
)
@click.option("--young-reef", metavar="TEXT", help="When a young reef is worth a visit.")
@click.option("--rules", metavar="TEXT", help="The rules of the place.")
@actor_option
@json_option
@registry_option
@click.pass_context
def tell(
    ctx: click.Context,
    permit: str | None,
    young_reef: str | None,
    rules: str | None,
    actor: str | None,
    as_json: bool,
) -> None:
    """
    Tell visitors when a young reef is worth a visit, and the rules of the place.

    Leadline knows nothing of what grows on a reef and says nothing of it: these are the programme's words,
    and are printed as such. What is left out stays as it was told before; an empty text takes it back.

    \b
    Example:
      leadline visitors tell --rules "No anchoring. Ask the harbour office before a dive."
    """
    from registry.actions.tell_visitors import tell_visitors
    from registry.records.visitor_words import visitor_words_body

    words = tell_visitors(
        open_for_writing(ctx), permit=permit, young_reef=young_reef, rules=rules, actor=actor_name(actor)
    )
    if as_json:
        print_json(visitor_words_body(words))
        return
    _show(words)
    click.echo("Recorded as the programme's own word.")


def _show(words: "VisitorWords") -> None:
    click.echo(f"To visitors of {f'permit {words.permit}' if words.permit else 'every other reef'}:")
    for label, text in (("Young reef", words.young_reef), ("Rules", words.rules)):
        click.echo(f"  {label:<10}  {text or '(nothing)'}")
    if words.told:
        click.echo(f"  {'Told by':<10}  {words.told}")
