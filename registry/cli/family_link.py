"""``leadline family link`` and ``unlink``: the private address under which a family sees its own module."""

import click

from registry.cli.answer import print_json
from registry.cli.options import (
    actor_name,
    actor_option,
    json_option,
    open_accounts,
    open_for_reading,
    registry_option,
)

__all__ = ["link", "unlink"]


@click.command("link")
@click.argument("tag")
@click.option("--expires", metavar="DATE", help="The last day on which it opens; else until it is ended.")
@actor_option
@json_option
@registry_option
@click.pass_context
def link(ctx: click.Context, tag: str, expires: str | None, actor: str | None, as_json: bool) -> None:
    """
    Make a private link, under which the family of TAG sees its own module without an account.

    Whoever has the link sees what it shows: send it to the family alone. It is shown this once; only its
    digest is kept, and not for whom it was made. It goes with `leadline family erase`.

    \b
    Example:
      leadline family link MC-0017 --expires 2036-12-31
    """
    from registry.actions.open_family_link import open_family_link
    from registry.formats.written_instant import end_of
    from registry.storage.clock import SystemClock

    register = open_for_reading(ctx)
    ends = None if expires is None else end_of(expires, register.programme().zone)
    made = open_family_link(
        register,
        open_accounts(ctx, make=True),
        SystemClock(),
        tag=tag,
        actor=actor_name(actor),
        expires_at=ends,
    )
    if as_json:
        print_json({"tag": tag, "path": made.path, "expires_at": ends.isoformat() if ends else None})
        return
    click.echo(made.path)
    until = f"until {ends:%Y-%m-%d %H:%M}Z" if ends else f"until: leadline family unlink {tag}"
    click.echo(f"Opens for the family of {tag} {until}. It is not shown again.")


@click.command("unlink")
@click.argument("tag")
@actor_option
@json_option
@registry_option
@click.pass_context
def unlink(ctx: click.Context, tag: str, actor: str | None, as_json: bool) -> None:
    """
    End every private link of the family of TAG, from this moment on.

    \b
    Example:
      leadline family unlink MC-0017
    """
    from registry.actions.revoke_family_link import revoke_family_link
    from registry.storage.clock import SystemClock

    count = revoke_family_link(open_accounts(ctx), SystemClock(), tag=tag, actor=actor_name(actor))
    if as_json:
        print_json({"tag": tag, "revoked": count})
    else:
        click.echo(f"Ended {count} link{'' if count == 1 else 's'} of the family of {tag}.")
