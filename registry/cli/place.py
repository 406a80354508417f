"""``leadline place``: one placement, as it lies on the seabed."""

from pathlib import Path
from typing import Any

import click

from registry.cli.answer import exit_code, mark, print_findings, print_json, print_lines
from registry.cli.check import position_data
from registry.cli.options import (
    actor_name,
    actor_option,
    json_option,
    length,
    open_for_writing,
    position_options,
    registry_option,
    use_grid_folder,
)


def log_options(function: Any) -> Any:
    """Accept what a log line says besides tag and position."""
    options = (
        click.option("--permit", "permit_number", required=True, metavar="N", help="Permit it lies under."),
        click.option("--at", "text", required=True, metavar="TEXT", help="Where, in any notation."),
        click.option(
            "--when", required=True, metavar="INSTANT", help="Touch-down, as 2026-06-14T10:32-04:00."
        ),
        click.option("--depth", metavar="LENGTH", help='Depth of the seabed, as "60 ft".'),
        click.option("--type", "type_id", default="", metavar="T", help="Type, for a tag not recorded yet."),
        click.option("--crew", default="", metavar="TEXT", help="Who was there."),
        click.option("--vessel", default="", metavar="TEXT", help="Which boat."),
        click.option("--note", default="", metavar="TEXT", help="Anything else worth keeping."),
    )
    for option in reversed(options):
        function = option(function)
    return function


@click.command("place")
@click.argument("tag")
@log_options
@position_options
@actor_option
@json_option
@registry_option
@click.pass_context
def command(ctx: click.Context, /, tag: str, actor: str | None, as_json: bool, **line: Any) -> None:
    """
    Record where a module lies. It is never refused for where that is: what is against it is kept beside it.

    \b
    Example:
      leadline place MC-0017 --permit HB-0417 --at "34 01.250 N 077 20.110 W" --frame EPSG:4326
                     --receiver sbas --when 2026-06-14T10:32-04:00 --depth "61 ft" --tide "2.1 ft"
    """
    from registry.actions.log_placement import log_placement

    register = open_for_writing(ctx)
    row = log_row(tag, zone=register.programme().zone, **line)
    tell_logged(log_placement(register, row, actor=actor_name(actor)), as_json=as_json)


def log_row(tag: str, *, zone: str, grids: Path | None, **line: Any) -> Any:
    """Read the options of one log line."""
    from registry.formats.written_instant import read_instant
    from registry.formats.written_position import read_position
    from registry.records.log_row import LogRow

    use_grid_folder(grids)
    return LogRow(
        tag=tag,
        permit=line["permit_number"],
        placed_at=read_instant(line["when"], zone),
        position=read_position(line["text"]),
        frame=line["frame"],
        epoch=line["epoch"],
        r95=length(line["r95"]),
        receiver=line["receiver"],
        depth=length(line["depth"]),
        depth_u95=length(line["depth_u95"]),
        tide=length(line["tide"]),
        type_id=line["type_id"],
        crew=line["crew"],
        vessel=line["vessel"],
        note=line["note"],
        source={"command": "leadline", "when": line["when"]},
    )


def tell_logged(logged: Any, *, as_json: bool) -> None:
    """Acknowledge what went into the journal, and leave with the exit code of its verdict."""
    placement = logged.placement
    if as_json:
        print_json(
            {
                "placement": logged.placement_id,
                "tag": placement.tag,
                "permit": placement.permit,
                "verdict": logged.verdict.word,
                "position": position_data(placement.observed),
                "home": position_data(placement.home.position) | {"operation": placement.home.operation},
                "charted_depth_m": placement.charted_depth_m,
                "depth_u95_m": placement.depth_u95_m,
                "findings": [finding.as_json() for finding in logged.findings],
                "warnings": list(placement.warnings),
                "basis": list(placement.basis),
            }
        )
    else:
        click.echo(f"Recorded {placement.tag} as {logged.placement_id}: {mark(logged.verdict)}")
        print_lines("Warnings", placement.warnings)
        print_findings(logged.findings)
        print_lines("How it was read", placement.basis)
    click.get_current_context().exit(exit_code(logged.verdict))
