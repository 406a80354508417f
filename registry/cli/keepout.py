"""``leadline keepout``: what to stay clear of."""

from pathlib import Path
from typing import Any

import click

from registry.cli.answer import print_json
from registry.cli.options import (
    EPOCH,
    actor_name,
    actor_option,
    json_option,
    now,
    open_for_writing,
    registry_option,
    registry_path,
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
@click.option("--frame", metavar="CODE", help="Frame of the source, where the file states none.")
@click.option("--epoch", type=EPOCH, metavar="YEAR", help="Epoch of a moving frame.")
@click.option("--layer", metavar="NAME", help="Layer, where the file has several.")
@click.option("--grids", metavar="DIR", type=click.Path(path_type=Path), help="Folder with grid files.")
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
    from registry.errors import ConflictError, RequestError
    from registry.formats.written_quantity import read_length
    from registry.storage.files import file_digest
    from registry.storage.layers import read_layer

    use_grid_folder(grids)
    distance = read_length(setback)
    if not kind.strip():
        raise RequestError("The kind of the keep-out is empty.", remedy="Name it, as --kind cable.")
    if source.resolve() == registry_path(ctx).resolve():
        raise ConflictError(f"{source} is the registry itself.", remedy="Name the keep-outs' own file.")
    shapes = read_layer(source, layer, polygons_only=False)
    made = add_keep_outs(
        open_for_writing(ctx),
        shapes,
        kind=kind,
        setback=distance,
        frame=frame,
        epoch=epoch,
        written=f"{source.name}, SHA-256 {file_digest(source)}",
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
        at = f", epoch {keep_out.epoch:g}" if keep_out.epoch is not None else ""
        click.echo(f"  stated in {keep_out.frame}{at}; {keep_out.operation}")


def _frame_of(keep_out: Any) -> dict[str, Any]:
    return {"frame": keep_out.frame, "epoch": keep_out.epoch, "operation": keep_out.operation}
