"""``leadline user``: who may sign in, and who tried to."""

from datetime import timedelta
from typing import TYPE_CHECKING, Any

import click

from registry.cli.answer import print_json, print_lines
from registry.cli.options import (
    actor_name,
    actor_option,
    json_option,
    now,
    open_accounts,
    registry_option,
)
from registry.cli.secrets_asked import asked_secret, stdin_option

if TYPE_CHECKING:
    from registry.records.account import Account

_ROLE = click.Choice(["office", "dive-team", "officer"])


@click.group("user")
def command() -> None:
    """
    Keep who may sign in to the pages of `leadline serve`, and as what.

    Accounts lie in one file beside the registry, leadline.gpkg.accounts, readable by its owner alone; no
    backup, export or journal holds any of it. Names stand in the journal only as those who did something.

    \b
    Roles:
      office      runs the programme: everything
      dive-team   logs placements and observations
      officer     reads findings and the evidence behind them, changes nothing

    \b
    Example:
      leadline user list
    """


@command.command("add")
@click.argument("name")
@click.option("--role", "roles", multiple=True, required=True, type=_ROLE, help="As what; again for each.")
@stdin_option("password")
@actor_option
@json_option
@registry_option
@click.pass_context
def add(
    ctx: click.Context, name: str, roles: tuple[str, ...], from_stdin: bool, actor: str | None, as_json: bool
) -> None:
    """
    Let somebody sign in, as NAME; the journal will name them so.

    The password is asked for twice, or read from standard input. At least 12 characters of any kind: a few
    words in a row are good. It never runs out.

    \b
    Example:
      leadline user add "Ada Quill" --role dive-team
    """
    from registry.actions.add_account import add_account
    from registry.storage.clock import SystemClock

    password = asked_secret("Password", from_stdin=from_stdin)
    made = add_account(
        open_accounts(ctx, make=True),
        SystemClock(),
        name=name.strip(),
        roles=roles,
        password=password,
        actor=actor_name(actor),
    )
    _tell(made, f"{made.name} may sign in as {_roles(made)}.", as_json=as_json)


@command.command("list")
@json_option
@registry_option
@click.pass_context
def show(ctx: click.Context, as_json: bool) -> None:
    """
    List every account, with who is signed in now.

    \b
    Example:
      leadline user list
    """
    accounts = open_accounts(ctx)
    held = accounts.accounts()
    roles = {account.name: account.roles for account in held}
    alive = [
        each for each in accounts.sessions() if each.alive(now(), roles.get(each.account, {"dive team"}))
    ]
    pin = accounts.boat_pin()
    if as_json:
        counted = [
            _data(account) | {"sessions": sum(1 for each in alive if _own(each, account))} for account in held
        ]
        boat = {"pin_set_at": pin.set_at.isoformat() if pin else None}
        crew = [each.account for each in alive if each.boat]
        print_json({"accounts": counted, "boat": boat | {"sessions": crew}, "notes": list(accounts.notes)})
        return
    for account in held:
        count = sum(1 for each in alive if _own(each, account))
        state = "disabled" if account.disabled else f"{count} session{'' if count == 1 else 's'}"
        click.echo(f"  {account.name:<24} {_roles(account):<24} {state}")
    if not held:
        click.echo("There are no accounts. Make one: leadline user add NAME --role office")
    if pin:
        crew_names = ", ".join(each.account for each in alive if each.boat) or "nobody"
        click.echo(f"  By PIN on the boat: {crew_names}")
    print_lines("Note", accounts.notes)


@command.command("disable")
@click.argument("name")
@actor_option
@json_option
@registry_option
@click.pass_context
def disable(ctx: click.Context, name: str, actor: str | None, as_json: bool) -> None:
    """
    Let somebody sign in no more; their sessions end at once. What they did stays under their name.

    \b
    Example:
      leadline user disable "Ada Quill"
    """
    made = _amended(ctx, name, actor, disabled=True)
    _tell(made, f"{made.name} cannot sign in any more.", as_json=as_json)


@command.command("enable")
@click.argument("name")
@actor_option
@json_option
@registry_option
@click.pass_context
def enable(ctx: click.Context, name: str, actor: str | None, as_json: bool) -> None:
    """
    Let somebody sign in again who was disabled.

    \b
    Example:
      leadline user enable "Ada Quill"
    """
    made = _amended(ctx, name, actor, disabled=False)
    _tell(made, f"{made.name} may sign in as {_roles(made)}.", as_json=as_json)


@command.command("roles")
@click.argument("name")
@click.option("--role", "roles", multiple=True, required=True, type=_ROLE, help="Every role from now on.")
@actor_option
@json_option
@registry_option
@click.pass_context
def roles_(ctx: click.Context, name: str, roles: tuple[str, ...], actor: str | None, as_json: bool) -> None:
    """
    Say as what somebody comes in from now on, also in sessions that are open.

    \b
    Example:
      leadline user roles "Ada Quill" --role dive-team --role office
    """
    made = _amended(ctx, name, actor, roles=roles)
    _tell(made, f"{made.name} may sign in as {_roles(made)}.", as_json=as_json)


@command.command("password")
@click.argument("name")
@stdin_option("password")
@actor_option
@json_option
@registry_option
@click.pass_context
def password_(ctx: click.Context, name: str, from_stdin: bool, actor: str | None, as_json: bool) -> None:
    """
    Give somebody another password; their sessions end, and earlier wrong attempts are forgiven.

    \b
    Example:
      leadline user password "Ada Quill"
    """
    from registry.actions.change_password import change_password
    from registry.actions.find_account import find_account
    from registry.storage.clock import SystemClock

    accounts = open_accounts(ctx)
    find_account(accounts, name)
    made = change_password(
        accounts,
        SystemClock(),
        name=name,
        password=asked_secret("Password", from_stdin=from_stdin),
        actor=actor_name(actor),
    )
    _tell(made, f"{made.name} has another password; every session of theirs ended.", as_json=as_json)


@command.command("sign-ins")
@click.option(
    "--days", type=click.IntRange(min=1, max=90), default=30, show_default=True, help="How far back."
)
@json_option
@registry_option
@click.pass_context
def sign_ins(ctx: click.Context, days: int, as_json: bool) -> None:
    """
    List who tried to come in, when and from where, latest first; kept for 90 days.

    A name that is no account's is not shown as it was typed, since people type their password there: eight
    digits stand for it, the same each time.

    \b
    Example:
      leadline user sign-ins --days 7
    """
    attempts = open_accounts(ctx).sign_ins(since=now() - timedelta(days=days))[::-1]
    if as_json:
        rows = [
            {
                "time": each.time.isoformat(),
                "name": each.name,
                "address": each.address,
                "way": each.way,
                "outcome": each.outcome,
            }
            for each in attempts
        ]
        print_json({"sign_ins": rows})
        return
    for each in attempts:
        click.echo(
            f"  {each.time:%Y-%m-%d %H:%M}Z  {each.name:<24} {each.address:<18} {each.way:<9} {each.outcome}"
        )
    if not attempts:
        click.echo(f"Nobody tried to come in within {days} days.")


@command.command("trail")
@json_option
@registry_option
@click.pass_context
def trail(ctx: click.Context, as_json: bool) -> None:
    """
    List what was done to accounts, tokens, links of families and the PIN, by whom, latest first.

    \b
    Example:
      leadline user trail
    """
    deeds = open_accounts(ctx).deeds()[::-1]
    if as_json:
        rows = [
            {"time": each.time.isoformat(), "actor": each.actor, "what": each.what, "about": each.about}
            for each in deeds
        ]
        print_json({"deeds": rows})
        return
    for each in deeds:
        click.echo(f"  {each.time:%Y-%m-%d %H:%M}Z  {each.what:<26} {each.about}  by {each.actor}")
    if not deeds:
        click.echo("Nothing was done yet.")


def _amended(ctx: click.Context, name: str, actor: str | None, **changes: Any) -> "Account":
    from registry.actions.amend_account import amend_account
    from registry.storage.clock import SystemClock

    return amend_account(open_accounts(ctx), SystemClock(), name=name, actor=actor_name(actor), **changes)


def _own(session: Any, account: "Account") -> bool:
    return bool(session.account == account.name and not session.boat)


def _roles(account: "Account") -> str:
    return ", ".join(sorted(account.roles))


def _data(account: "Account") -> dict[str, Any]:
    return {
        "name": account.name,
        "roles": sorted(account.roles),
        "disabled": account.disabled,
        "made_at": account.made_at.isoformat(),
        "made_by": account.made_by,
    }


def _tell(account: "Account", words: str, *, as_json: bool) -> None:
    if as_json:
        print_json(_data(account))
    else:
        click.echo(words)
