"""``leadline journal``: the record itself."""

import base64
import json
from pathlib import Path

import click

from registry.cli.answer import print_json
from registry.cli.options import (
    json_option,
    open_for_reading,
    open_for_writing,
    output_file,
    registry_option,
)


@click.group("journal")
def command() -> None:
    """
    Verify, show or replay the journal; print the programme's public key.

    \b
    Example:
      leadline journal verify
    """


@command.command("verify")
@json_option
@registry_option
@click.pass_context
def verify(ctx: click.Context, as_json: bool) -> None:
    """
    Recompute every digest, name each entry that was changed, removed, reordered or inserted, and compare
    every table with what follows from the journal.

    \b
    Example:
      leadline journal verify
    """
    from registry.storage.journal_proof import verify_journal
    from registry.storage.replay import verify_tables

    register = open_for_reading(ctx)
    problems = [problem.sentence for problem in verify_journal(register)]
    if not problems:
        problems = [problem.sentence for problem in verify_tables(register)]
    if as_json:
        print_json({"sound": not problems, "head": register.head(), "problems": problems})
    elif problems:
        click.echo(f"x The journal is not as it was written ({len(problems)} problems):")
        for problem in problems:
            click.echo(f"  {problem}")
    else:
        count = sum(1 for _ in register.journal())
        click.echo(f"+ The journal is as it was written: {count} entries, head {register.head()}")
    ctx.exit(1 if problems else 0)


@command.command("show")
@click.option("--last", type=click.IntRange(min=1), metavar="N", help="Only the last N entries.")
@click.option("--full", is_flag=True, help="With the body of each entry.")
@json_option
@registry_option
@click.pass_context
def show(ctx: click.Context, last: int | None, full: bool, as_json: bool) -> None:
    """
    Print the entries, oldest first.

    \b
    Example:
      leadline journal show --last 5 --full
    """
    from collections import deque

    from registry.records.entry import instant_text

    entries = open_for_reading(ctx).journal()
    chosen = deque(entries, maxlen=last)
    if as_json:
        print_json(
            {
                "entries": [
                    {
                        "reference": e.reference,
                        "time": instant_text(e.time),
                        "actor": e.actor,
                        "kind": e.kind,
                        "body": e.content(),
                        "previous": e.previous,
                        "digest": e.digest,
                    }
                    for e in chosen
                ]
            }
        )
        return
    for entry in chosen:
        body = entry.content()
        about = body.get("tag") or body.get("number") or body.get("name") or body.get("type_id") or ""
        click.echo(
            f"{entry.reference:<14} {instant_text(entry.time)} {entry.kind:<20} {about:<16} "
            f"{entry.actor:<12} {entry.digest[:12]}"
        )
        if full:
            click.echo(json.dumps(body, ensure_ascii=False, indent=2))


@command.command("rebuild")
@json_option
@registry_option
@click.pass_context
def rebuild(ctx: click.Context, as_json: bool) -> None:
    """
    Empty every table that follows from the journal and fill it again from the journal.

    \b
    Example:
      leadline journal rebuild
    """
    from registry.storage.replay import rebuild_tables

    register = open_for_writing(ctx)
    rebuild_tables(register)
    if as_json:
        print_json({"rebuilt": True, "head": register.head()})
        return
    click.echo(f"Rebuilt every table from the journal; head {register.head()}")


@command.command("key")
@click.option("--out", type=click.Path(path_type=Path), metavar="FILE.pem", help="Else standard output.")
@json_option
@registry_option
@click.pass_context
def key(ctx: click.Context, out: Path | None, as_json: bool) -> None:
    """
    Give the programme's public key, to be published so that anybody can prove a certificate.

    \b
    Example:
      leadline journal key --out marram-coast.pem
    """
    from registry.storage.files import write_file
    from registry.storage.keys import public_key_pem

    if out is not None:
        output_file(ctx, out)
    programme = open_for_reading(ctx).programme()
    pem = public_key_pem(base64.urlsafe_b64decode(programme.public_key + "=="))
    if out is not None:
        write_file(out, pem.encode())
    if as_json:
        print_json({"key": programme.key_id, "public_key": pem, "file": str(out) if out else None})
    elif out is None:
        click.echo(pem, nl=False)
    else:
        click.echo(f"Wrote {out}")
