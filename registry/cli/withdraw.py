"""``leadline withdraw``: a placement that never was, taken out of what stands by a new entry."""

from dataclasses import asdict

import click

from registry.cli.answer import print_json
from registry.cli.options import actor_name, actor_option, json_option, open_for_writing, registry_option


@click.command("withdraw")
@click.argument("placement")
@click.option("--reason", required=True, metavar="TEXT", help="Why, for the journal.")
@actor_option
@json_option
@registry_option
@click.pass_context
def command(ctx: click.Context, placement: str, reason: str, actor: str | None, as_json: bool) -> None:
    """
    Withdraw PLACEMENT (as printed by place): it was logged twice, or nothing lies there.

    It no longer stands and nothing takes its place. The journal keeps it, with the reason.
    Something that was logged wrongly but does lie there is set right with: leadline correct.

    \b
    Example:
      leadline withdraw 1a2b3c4d-17 --reason "Enter pressed twice; 1a2b3c4d-16 is the same drop"
    """
    from registry.actions.withdraw_placement import withdraw_placement

    register = open_for_writing(ctx)
    withdrawn = withdraw_placement(register, placement, reason=reason, actor=actor_name(actor))
    if as_json:
        answer = asdict(withdrawn)
        print_json({"placement": answer.pop("placement_id"), **answer})
        return
    click.echo(f"Withdrew placement {placement} of {withdrawn.tag}, by entry {withdrawn.reference}.")
    if withdrawn.standing:
        click.echo(f"Of {withdrawn.tag} there stands: {', '.join(withdrawn.standing)}.")
    else:
        click.echo(f"No placement of {withdrawn.tag} stands now.")
    for number in withdrawn.certificates:
        click.echo(f"! Certificate {number} rests on what was withdrawn: tell the family and issue it anew.")
