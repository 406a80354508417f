"""``leadline backup``: a copy that proves itself."""

from pathlib import Path

import click

from registry.cli.answer import print_json
from registry.cli.options import json_option, open_families, open_for_reading, registry_option


@click.command("backup")
@click.argument("file", type=click.Path(path_type=Path))
@json_option
@registry_option
@click.pass_context
def command(ctx: click.Context, file: Path, as_json: bool) -> None:
    """
    Copy the registry whole, while it is in use, and prove the copy before saying so.

    A plain file copy of a registry in use can miss its latest entries: use this instead. The signing key
    is not part of it; keep a copy of that apart. Nor are contacts of families: what is erased must not come
    back from a copy.

    A registry whose journal or tables were changed is copied too, so that it can be saved, but the answer
    says so and ends with exit code 1.

    \b
    Example:
      leadline backup /media/stick/leadline-2026-06-14.gpkg
    """
    from registry.storage.clock import SystemClock
    from registry.storage.geopackage import backup, open_register
    from registry.storage.replay import prove

    register = open_for_reading(ctx)
    families = len(open_families(ctx, register).held())
    path = backup(register, file)
    copy = ctx.with_resource(open_register(path, clock=SystemClock(), writable=False))
    head, problems = copy.head(), [problem.sentence for problem in prove(copy)]
    if as_json:
        print_json(
            {
                "file": str(path),
                "head": head,
                "sound": not problems,
                "problems": problems,
                "families_left_out": families,
            }
        )
    elif problems:
        click.echo(f"x {path} was copied and kept, but the registry is not as it was written: {problems[0]}")
        click.echo(
            "  See: leadline journal verify. A backup that proves itself should not be replaced by this one."
        )
    else:
        click.echo(f"+ {path} holds the whole registry; head {head}")
    if families and not as_json:
        click.echo(
            f"  Not in it: contacts of families ({families}); what is erased must not come back from a copy."
        )
    ctx.exit(1 if problems else 0)
