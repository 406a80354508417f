"""``leadline baseline``: the lines from which distances to the shore are counted."""

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
    open_for_reading,
    open_for_writing,
    registry_option,
    use_grid_folder,
)
from registry.records.baseline import Baseline


@click.group("baseline")
def command() -> None:
    """
    Record the baseline from which a permit counts offshore distances, as an authority published it.

    \b
    Example:
      leadline baseline add baseline.geojson --name "normal baseline, 2024 edition"
    """


@command.command("add")
@click.argument("source", type=click.Path(path_type=Path))
@click.option("--name", required=True, metavar="NAME", help="What its authority calls it, with the edition.")
@drawn_options
@actor_option
@json_option
@registry_option
@click.pass_context
def add(
    ctx: click.Context,
    source: Path,
    name: str,
    frame: str | None,
    epoch: float | None,
    layer: str | None,
    grids: Path | None,
    actor: str | None,
    as_json: bool,
) -> None:
    """
    Record every line or polygon of a GeoPackage, GeoJSON, Shapefile or KML; inside a polygon is land.

    \b
    Example:
      leadline baseline add baseline.geojson --name "normal baseline, 2024 edition"
    """
    from registry.actions.add_baselines import add_baselines

    use_grid_folder(grids)
    shapes, written = read_drawn(ctx, source, layer)
    made = add_baselines(
        open_for_writing(ctx),
        shapes,
        name=name,
        frame=frame,
        epoch=epoch,
        written=written,
        at=now(),
        actor=actor_name(actor),
    )
    _show(made, as_json=as_json)


@command.command("list")
@json_option
@registry_option
@click.pass_context
def list_baselines(ctx: click.Context, as_json: bool) -> None:
    """
    List the baselines of the registry.

    \b
    Example:
      leadline baseline list
    """
    baselines = open_for_reading(ctx).baselines()
    _show(baselines, as_json=as_json)
    if not baselines and not as_json:
        click.echo("No baseline is recorded. Add one with: leadline baseline add SOURCE --name NAME")


def _show(baselines: tuple[Baseline, ...], *, as_json: bool) -> None:
    if as_json:
        print_json({"baselines": [_data(baseline) for baseline in baselines]})
        return
    for each in baselines:
        kind = "the side of the land" if "Polygon" in each.shape.geom_type else "a line"
        click.echo(f"{each.baseline_id}: {each.name}, {kind}")
        click.echo(f"  from {each.written}")
        click.echo(f"  {told_frame(each.frame, each.epoch, each.operation)}")


def _data(baseline: Baseline) -> dict[str, Any]:
    names = ("name", "frame", "epoch", "written", "operation")
    data = {name: getattr(baseline, name) for name in names}
    return {"id": baseline.baseline_id, "geometry": baseline.shape.geom_type, **data}
