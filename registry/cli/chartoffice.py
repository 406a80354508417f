"""``leadline chartoffice``: corners and attributes of a fish haven, for the office that makes the charts."""

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from registry.cli.answer import print_json, print_lines
from registry.cli.options import json_option, now, open_for_reading, output_file, registry_option

if TYPE_CHECKING:
    from registry.records.as_built import AsBuiltList


@click.command("chartoffice")
@click.option("--permit", required=True, metavar="N", help="The areas of which permit.")
@click.option("--out", required=True, type=click.Path(path_type=Path), metavar="DIR", help="Where it goes.")
@click.option("--frame", default="WGS 84", show_default=True, metavar="CODE", help="Of the positions.")
@click.option(
    "--notation",
    type=click.Choice(["dd", "ddm", "dms"]),
    help="Of the positions; else as [reporting] of the permit says, else ddm.",
)
@json_option
@registry_option
@click.pass_context
def command(ctx: click.Context, permit: str, out: Path, frame: str, notation: Any, as_json: bool) -> None:
    """
    Write what a chart office asks of a fish haven: its corners as public notices print them, and the
    attributes of S-57 and S-101, each with its value or the reason why it is blank.

    notice.txt, corners.csv, chart.csv and chart-office.pdf go to --out. Positions are WGS 84 of today unless
    --frame says otherwise, beside the permit's own words in its own frame. Modules are told all together:
    the whole list is leadline asbuilt. The chart office decides what is charted, and how.

    \b
    Example:
      leadline chartoffice --permit HB-0417 --notation dms --out chart-office
    """
    from dataclasses import replace

    from registry.actions.as_built_list import as_built_list
    from registry.documents.as_built import render_chart_office
    from registry.formats import as_built_table as tables
    from registry.formats.corner_notice import write_corner_notice, write_marked
    from registry.formats.written_position import read_position
    from registry.storage.files import make_folder, write_file
    from registry.storage.shipped import shipped_path

    register = open_for_reading(ctx)
    asked = register.permit(permit).reporting
    built = as_built_list(
        register,
        permit,
        now=now(),
        read_position=read_position,
        write_position=write_marked,
        reporting=replace(asked, frame=frame, notation=notation or asked.notation),
    )
    contents = {
        "notice.txt": write_corner_notice(built),
        "corners.csv": tables.write_corners_table(built),
        "chart.csv": tables.write_chart_table(built),
        "chart-office.pdf": render_chart_office(built, shipped_path("fonts")),
    }
    make_folder(out)
    places = {output_file(ctx, out / name): content for name, content in contents.items()}
    written = [write_file(path, content) for path, content in places.items()]
    if as_json:
        print_json(_data(built) | {"files": [str(path) for path in written]})
        return
    click.echo(f"For the chart office: permit {built.permit.number}, {built.form}")
    for area in built.areas:
        blank = sum(1 for each in area.chart if not each.value)
        click.echo(f"  {area.area_id}: {len(area.corners)} corners, {len(area.chart) - blank} attributes")
        for each in area.chart:
            if each.mandatory and not each.value:
                click.echo(f"    ? {each.s101} is asked for by S-101 and blank: {each.meaning}")
    print_lines("Note", built.notes)
    for caution in built.cautions:
        click.echo(caution)
    for path in written:
        click.echo(f"Wrote {path}")


def _data(built: "AsBuiltList") -> dict[str, Any]:
    return {
        "permit": built.permit.number,
        "made_on": built.made_on.isoformat(),
        "journal_head": built.journal_head,
        "frame": built.frame,
        "epoch": built.epoch,
        "notation": built.notation,
        "chart_datum": built.permit.chart_datum,
        "areas": [
            {
                "area": area.area_id,
                "corners": [
                    {
                        "ring": corner.ring,
                        "corner": corner.number,
                        "as_written": corner.written or None,
                        "lat": corner.lat_deg,
                        "lon": corner.lon_deg,
                        "text": list(corner.text),
                    }
                    for corner in area.corners
                ],
                "radius": area.radius or None,
                "operation": area.operation,
                "chart": [
                    {
                        "s57": each.s57 or None,
                        "s101": each.s101 or None,
                        "value": each.value or None,
                        "meaning": each.meaning,
                        "mandatory_in_s101": each.mandatory,
                    }
                    for each in area.chart
                ],
            }
            for area in built.areas
        ],
        "notes": list(built.notes),
        "cautions": list(built.cautions),
    }
