"""``leadline token``: which programs may ask through the HTTP interface."""

from datetime import timedelta
from typing import TYPE_CHECKING, Any

import click

from registry.cli.answer import print_json
from registry.cli.options import (
    actor_name,
    actor_option,
    json_option,
    now,
    open_accounts,
    programme_zone,
    registry_option,
)

if TYPE_CHECKING:
    from registry.records.access_token import Token

_SCOPE = click.Choice(["public:read", "register:read", "placements:write", "office:write"])
_LASTS = timedelta(days=365)


@click.group("token")
def command() -> None:
    """
    Keep which programs may ask through the HTTP interface of `leadline serve`, and for what.

    A token is shown once, when it is made; only its digest is kept.

    \b
    Scopes:
      public:read        what anybody sees
      register:read      permits, placements as they were measured, findings
      placements:write   log placements and later observations
      office:write       add permits, modules and targets

    \b
    Example:
      leadline token list
    """


@command.command("add")
@click.argument("label")
@click.option(
    "--scope", "scopes", multiple=True, required=True, type=_SCOPE, help="For what; again for each."
)
@click.option("--expires", metavar="DATE", help="The last day on which it is heard; else a year from now.")
@actor_option
@json_option
@registry_option
@click.pass_context
def add(
    ctx: click.Context,
    label: str,
    scopes: tuple[str, ...],
    expires: str | None,
    actor: str | None,
    as_json: bool,
) -> None:
    """
    Make a token for what LABEL says, as "chart office", and show it: this once.

    \b
    Example:
      leadline token add "chart office" --scope public:read --expires 2027-06-30
    """
    from registry.actions.add_token import add_token
    from registry.formats.written_instant import end_of
    from registry.storage.clock import SystemClock

    ends = now() + _LASTS if expires is None else end_of(expires, programme_zone(ctx))
    made = add_token(
        open_accounts(ctx, make=True),
        SystemClock(),
        label=label.strip(),
        scopes=scopes,
        expires_at=ends,
        actor=actor_name(actor),
    )
    if as_json:
        print_json(_data(made.token) | {"secret": made.secret})
        return
    click.echo(made.secret)
    until = f"{ends:%Y-%m-%d %H:%M}Z"
    click.echo(f"Token {made.token.token_id} for {made.token.label}, until {until}. It is not shown again.")


@command.command("list")
@json_option
@registry_option
@click.pass_context
def show(ctx: click.Context, as_json: bool) -> None:
    """
    List every token, with what it is for and whether it is still heard.

    \b
    Example:
      leadline token list
    """
    tokens = open_accounts(ctx).tokens()
    if as_json:
        print_json({"tokens": [_data(token) for token in tokens]})
        return
    for token in tokens:
        click.echo(
            f"  {token.token_id}  {token.label:<24} {', '.join(sorted(token.scopes)):<28} {_state(token)}"
        )
    if not tokens:
        click.echo("There are no tokens.")


@command.command("revoke")
@click.argument("token")
@actor_option
@json_option
@registry_option
@click.pass_context
def revoke(ctx: click.Context, token: str, actor: str | None, as_json: bool) -> None:
    """
    End a token, named by its identifier or its label; it is not heard from this moment on.

    \b
    Example:
      leadline token revoke "chart office"
    """
    from registry.actions.revoke_token import revoke_token
    from registry.storage.clock import SystemClock

    made = revoke_token(open_accounts(ctx), SystemClock(), token=token, actor=actor_name(actor))
    if as_json:
        print_json(_data(made))
    else:
        click.echo(f"Token {made.token_id} for {made.label} is {_state(made)}.")


def _state(token: "Token") -> str:
    if token.revoked_at is not None:
        return f"revoked at {token.revoked_at:%Y-%m-%d %H:%M}Z"
    return f"{'heard until' if token.valid(now()) else 'ended at'} {token.expires_at:%Y-%m-%d %H:%M}Z"


def _data(token: "Token") -> dict[str, Any]:
    return {
        "id": token.token_id,
        "label": token.label,
        "scopes": sorted(token.scopes),
        "made_by": token.made_by,
        "made_at": token.made_at.isoformat(),
        "expires_at": token.expires_at.isoformat(),
        "revoked_at": token.revoked_at.isoformat() if token.revoked_at else None,
        "valid": token.valid(now()),
    }
