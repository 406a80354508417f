"""``leadline backup``: a copy that proves itself."""

from pathlib import Path

import click

from registry.cli.answer import print_json
from registry.cli.options import json_option, open_for_reading, registry_option


@click.command("backup")
@click.argument("file", type=click.Path(path_type=Path))
@json_option
@registry_option
@click.pass_context
def command(ctx: click.Context, file: Path, as_json: bool) -> None:
    """
    Copy the registry whole, while it is in use, and prove the copy before saying so.

    A plain file copy of a registry in use can miss its latest entries: use this instead. The signing key
    is not part of it; keep a copy of that apart.

    \b
    Example:
      leadline backup /media/stick/leadline-2026-06-14.gpkg
    """
    from registry.storage.geopackage import backup

    register = open_for_reading(ctx)
    path = backup(register, file)
    if as_json:
        print_json({"file": str(path), "head": register.head()})
        return
    click.echo(f"+ {path} holds the whole registry; head {register.head()}")
