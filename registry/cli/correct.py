"""``leadline correct``: a placement that was logged wrongly, set right by a new entry."""

from typing import Any

import click

from registry.cli.options import (
    actor_name,
    actor_option,
    json_option,
    open_for_writing,
    registry_option,
)
from registry.cli.place import log_options, log_row, tell_logged


@click.command("correct")
@click.argument("placement")
@click.option("--tag", required=True, help="Tag of the module that really lies there.")
@click.option("--reason", required=True, metavar="TEXT", help="Why, for the journal.")
@log_options
@actor_option
@json_option
@registry_option
@click.pass_context
def command(
    ctx: click.Context,
    /,
    placement: str,
    tag: str,
    reason: str,
    actor: str | None,
    as_json: bool,
    **line: Any,
) -> None:
    """
    Supersede PLACEMENT (as printed by place) with what is true, and say why. The old entry stays.

    \b
    Example:
      leadline correct 1a2b3c4d-17 --tag MC-0017 --reason "two digits swapped on the slate"
                     --permit HB-0417 --at "34 01.250 N 077 20.110 W" --when 2026-06-14T10:32-04:00
    """
    from registry.actions.log_placement import correct_placement

    register = open_for_writing(ctx)
    row = log_row(tag, zone=register.programme().zone, **line)
    logged = correct_placement(register, placement, row, reason=reason, actor=actor_name(actor))
    tell_logged(logged, as_json=as_json)
