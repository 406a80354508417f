"""``leadline permit``: permits with their areas and conditions."""

from pathlib import Path
from typing import Any

import click

from registry.cli.answer import print_json
from registry.cli.options import (
    actor_name,
    actor_option,
    json_option,
    open_for_reading,
    open_for_writing,
    registry_option,
    registry_path,
    use_grid_folder,
)
from registry.records.permit import Permit


@click.group("permit")
def command() -> None:
    """
    Add, list and show permits.

    \b
    Example:
      leadline permit add hb-0417.toml
    """


@command.command("add")
@click.argument("file", type=click.Path(path_type=Path))
@click.option("--grids", metavar="DIR", type=click.Path(path_type=Path), help="Folder with grid files.")
@actor_option
@json_option
@registry_option
@click.pass_context
def add(ctx: click.Context, file: Path, grids: Path | None, actor: str | None, as_json: bool) -> None:
    """
    Transcribe a permit from a TOML file; area files are looked for beside it.

    \b
    Example:
      leadline permit add hb-0417.toml
    """
    from registry.actions.add_permit import add_permit
    from registry.errors import ConflictError
    from registry.formats.permit_file import read_permit_file
    from registry.formats.written_position import read_position
    from registry.storage.files import read_file
    from registry.storage.layers import read_layer

    use_grid_folder(grids)
    draft = read_permit_file(read_file(file))

    def shapes(source: str, layer: str | None) -> Any:
        path = file.parent / source
        if path.resolve() == registry_path(ctx).resolve():
            what = f"The area source {path} is the registry itself."
            raise ConflictError(what, remedy="Name the file that came with the permit.")
        return read_layer(path, layer)

    permit = add_permit(
        open_for_writing(ctx),
        draft,
        read_position=read_position,
        read_shapes=shapes,
        actor=actor_name(actor),
    )
    _show(permit, as_json=as_json)


@command.command("list")
@json_option
@registry_option
@click.pass_context
def list_permits(ctx: click.Context, as_json: bool) -> None:
    """
    List the permits of the registry.

    \b
    Example:
      leadline permit list
    """
    permits = open_for_reading(ctx).permits()
    if as_json:
        print_json({"permits": [_data(permit) for permit in permits]})
        return
    if not permits:
        click.echo("No permit is recorded. Add one with: leadline permit add FILE.toml")
    for permit in permits:
        areas = ", ".join(area.area_id for area in permit.areas)
        click.echo(
            f"{permit.number}  {permit.valid_from} to {permit.valid_to}  {permit.authority}  ({areas})"
        )


@command.command("show")
@click.argument("number")
@json_option
@registry_option
@click.pass_context
def show(ctx: click.Context, number: str, as_json: bool) -> None:
    """
    Show one permit: areas, conditions and where each is cited.

    \b
    Example:
      leadline permit show HB-0417
    """
    _show(open_for_reading(ctx).permit(number), as_json=as_json)


def _data(permit: Permit) -> dict[str, Any]:
    from registry.records.body import permit_body

    return permit_body(permit) | {"notes": _notes(permit)}


def _notes(permit: Permit) -> list[str]:
    """Say of which area the epoch was not stated but taken."""
    return [
        f"Area {area.area_id}: {note.strip()}."
        for area in permit.areas
        for note in area.operation.split(";")[1:]
        if note.strip().startswith("no epoch was stated")
    ]


def _show(permit: Permit, *, as_json: bool) -> None:
    from registry.rules.catalogue import conditions_of

    if as_json:
        print_json(_data(permit))
        return
    click.echo(f"Permit {permit.number} of {permit.authority}")
    click.echo(f"  Valid {permit.valid_from} to {permit.valid_to}; depths below {permit.chart_datum}")
    for area in permit.areas:
        epoch = f", epoch {area.epoch:g}" if area.epoch is not None else ""
        click.echo(f"  Area {area.area_id}: stated in {area.frame}{epoch}, edges {area.edges}")
        click.echo(f"    from {_shortened(area.written)}; {area.operation}")
    for note in _notes(permit):
        click.echo(f"  Note: {note}")
    for condition in conditions_of(permit):
        limits = ", ".join(f"{name.replace('_', ' ')} {q.written}" for name, q in condition.limits.items())
        click.echo(f"  {condition.rule:<17} {limits or 'as it stands'} [{condition.cite}]")


def _shortened(text: str, longest: int = 70) -> str:
    return text if len(text) <= longest else text[: longest - 1] + "…"
