"""``leadline keepout``: what to stay clear of."""

from pathlib import Path
from typing import Any

import click

from registry.cli.answer import print_json
from registry.cli.drawn_shapes import drawn_options, read_drawn, told_frame
from registry.cli.options import (
    actor_name,
    actor_option,
    json_option,
    now,
    open_for_writing,
    registry_option,
    use_grid_folder,
)


@click.group("keepout")
def command() -> None:
    """
    Record cables, pipelines, channels, wrecks and habitats.

    \b
    Example:
      leadline keepout add cable.geojson --kind cable --setback "200 ft"
    """


@command.command("add")
@click.argument("source", type=click.Path(path_type=Path))
@click.option("--kind", required=True, metavar="K", help="cable, pipeline, channel, wreck, seagrass, ...")
@click.option("--setback", required=True, metavar="LENGTH", help='How far to stay clear, as "200 ft".')
@drawn_options
@actor_option
@json_option
@registry_option
@click.pass_context
def add(
    ctx: click.Context,
    source: Path,
    kind: str,
    setback: str,
    frame: str | None,
    epoch: float | None,
    layer: str | None,
    grids: Path | None,
    actor: str | None,
    as_json: bool,
) -> None:
    """
    Record every shape of a GeoPackage, GeoJSON, Shapefile or KML as a keep-out.

    \b
    Example:
      leadline keepout add cable.geojson --kind cable --setback "200 ft"
    """
    from registry.actions.add_keep_outs import add_keep_outs
    from registry.errors import RequestError
    from registry.formats.written_quantity import read_length

    use_grid_folder(grids)
    distance = read_length(setback)
    if not kind.strip():
        raise RequestError("The kind of the keep-out is empty.", remedy="Name it, as --kind cable.")
    shapes, written = read_drawn(ctx, source, layer)
    made = add_keep_outs(
        open_for_writing(ctx),
        shapes,
        kind=kind,
        setback=distance,
        frame=frame,
        epoch=epoch,
        written=written,
        at=now(),
        actor=actor_name(actor),
    )
    if as_json:
        print_json(
            {
                "keep_outs": [
                    {"id": k.keep_out_id, "kind": k.kind, "name": k.name, **_frame_of(k)} for k in made
                ]
            }
        )
        return
    for keep_out in made:
        click.echo(f"{keep_out.keep_out_id}: {keep_out.kind} {keep_out.name}, stay clear by {setback}")
        click.echo(f"  {told_frame(keep_out.frame, keep_out.epoch, keep_out.operation)}")


def _frame_of(keep_out: Any) -> dict[str, Any]:
    return {"frame": keep_out.frame, "epoch": keep_out.epoch, "operation": keep_out.operation}
