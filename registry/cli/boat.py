"""``leadline boat``: how a crew comes in at sea."""

import click

from registry.cli.answer import print_json
from registry.cli.options import actor_name, actor_option, json_option, open_accounts, registry_option
from registry.cli.secrets_asked import asked_secret, stdin_option


@click.group("boat")
def command() -> None:
    """
    Let a crew come in by PIN on the boat's own network.

    \b
    Example:
      leadline boat pin
    """


@command.command("pin")
@click.option("--clear", is_flag=True, help="Let nobody in by PIN any more.")
@stdin_option("pin")
@actor_option
@json_option
@registry_option
@click.pass_context
def pin(ctx: click.Context, clear: bool, from_stdin: bool, actor: str | None, as_json: bool) -> None:
    """
    Set the PIN, six digits or more, or clear it; every session that the last one opened ends.

    It is taken from callers on the local network alone, and lets them do what the dive team does, under the
    name that they type. Behind a proxy on the same machine every caller looks local: let the proxy say who
    calls, or set no PIN.

    \b
    Example:
      leadline boat pin
    """
    from registry.actions.set_boat_pin import set_boat_pin
    from registry.storage.clock import SystemClock

    typed = None if clear else asked_secret("PIN", from_stdin=from_stdin)
    accounts = open_accounts(ctx, make=not clear)
    set_boat_pin(accounts, SystemClock(), pin=typed, actor=actor_name(actor))
    if as_json:
        print_json({"pin": "cleared" if clear else "set"})
    else:
        click.echo("Nobody comes in by PIN any more." if clear else "The crew may come in by this PIN.")
