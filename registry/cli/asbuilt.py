"""``leadline asbuilt``: what was built under a permit, for its authority and for the chart office."""

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from registry.cli.answer import print_json, print_lines
from registry.cli.options import json_option, now, open_for_reading, output_file, registry_option

if TYPE_CHECKING:
    from registry.records.as_built import AsBuiltList


@click.command("asbuilt")
@click.option("--permit", required=True, metavar="N", help="What was built under which permit.")
@click.option("--as-of", "as_of", metavar="DATE", help="The registry as it stood then; a day means its end.")
@click.option("--out", required=True, type=click.Path(path_type=Path), metavar="DIR", help="Where it goes.")
@json_option
@registry_option
@click.pass_context
def command(ctx: click.Context, permit: str, as_of: str | None, out: Path, as_json: bool) -> None:
    """
    List what was built under a permit, in the frame, notation and units that the permit asks for.

    Corners stand beside the permit's own words; modules have no digit beyond their uncertainty. as-built.pdf,
    modules.csv, corners.csv, areas.csv, use.csv (number and mass against what is authorised) and chart.csv
    (attributes of a fish haven by S-57 and S-101, each with its meaning or the reason why it is blank) go to
    --out. Not for navigation: the chart office decides what is charted. [reporting] of the permit's file says
    in which form; without it, the frame of its first area, degrees and decimal minutes, metres and kilograms.

    \b
    Example:
      leadline asbuilt --permit HB-0417 --out as-built
    """
    from registry.desk.as_built_files import as_built_files, list_as_built
    from registry.formats.written_instant import end_of
    from registry.storage.files import make_folder, write_file
    from registry.storage.replay import registry_as_of

    live = open_for_reading(ctx)
    instant = end_of(as_of, live.programme().zone) if as_of is not None else None
    register = live if instant is None else ctx.with_resource(registry_as_of(live, instant))
    built = list_as_built(register, permit, now=now(), as_of=instant)
    contents = as_built_files(built)
    make_folder(out)
    places = {output_file(ctx, out / name): content for name, content in contents.items()}
    written = [write_file(path, content) for path, content in places.items()]
    if as_json:
        print_json(_data(built) | {"files": [str(path) for path in written]})
        return
    _tell(built)
    for path in written:
        click.echo(f"Wrote {path}")


def _tell(built: "AsBuiltList") -> None:
    from registry.records.reported_value import reported_length

    reporting = built.permit.reporting
    click.echo(f"As built under permit {built.permit.number}: {_modules(len(built.modules))}")
    if built.as_of:
        click.echo(f"  As of      {built.as_of.isoformat(timespec='milliseconds')}")
    click.echo(f"  Positions  {built.form}")
    click.echo(f"  By         {built.operation}")
    for used in built.used:
        authorised = used.authorised_words(reporting.mass_unit)
        of = f"authorised {authorised} [{used.cite}]" if used.cite else authorised
        where = f" in {', '.join(used.areas)}" if used.areas else ""
        click.echo(f"  Used       {used.used_words(reporting.mass_unit)}{where}; {of}")
    for area in built.areas:
        least = "least clearance not known"
        if area.clearance is not None:
            value, u95 = reported_length(area.clearance.value_m, area.clearance.u95_m, reporting.length_unit)
            least = (
                f"least clearance {value} ± {u95} {reporting.length_unit} below {built.permit.chart_datum}"
            )
        click.echo(f"  {area.area_id}: {_modules(area.count)}; {least if area.count else 'nothing to clear'}")
    print_lines("Note", built.notes)
    for caution in built.cautions:
        click.echo(caution)


def _modules(count: int) -> str:
    return "1 module" if count == 1 else f"{count} modules"


def _number(value: float) -> float | None:
    return value if value == value and abs(value) != float("inf") else None  # noqa: PLR0124


def _data(built: "AsBuiltList") -> dict[str, Any]:
    reporting = built.permit.reporting
    return {
        "permit": built.permit.number,
        "authority": built.permit.authority,
        "holder": built.permit.holder or None,
        "made_on": built.made_on.isoformat(),
        "as_of": built.as_of.isoformat() if built.as_of else None,
        "journal_head": built.journal_head,
        "frame": built.frame,
        "frame_name": built.frame_name,
        "epoch": built.epoch,
        "notation": built.notation,
        "units": {"length": reporting.length_unit, "mass": reporting.mass_unit},
        "chart_datum": built.permit.chart_datum,
        "operation": built.operation,
        "software": built.software,
        "used": [
            {
                "what": used.what,
                "areas": list(used.areas),
                "used": used.used,
                "authorised": used.authorised,
                "unit": "kg" if used.what == "mass" else "modules",
                "unknown": used.unknown,
                "verdict": used.verdict.word,
                "cite": used.cite or None,
            }
            for used in built.used
        ],
        "areas": [
            {
                "area": area.area_id,
                "stated_in": area.stated_in,
                "edges": area.edges,
                "radius": area.radius or None,
                "source": area.source or None,
                "operation": area.operation,
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
                "modules": area.count,
                "mass_kg": area.mass_kg,
                "first_placed": area.first_placed.isoformat() if area.first_placed else None,
                "last_placed": area.last_placed.isoformat() if area.last_placed else None,
                "least_clearance": {
                    "value_m": area.clearance.value_m,
                    "u95_m": area.clearance.u95_m,
                    "over": area.clearance.tag,
                }
                if area.clearance
                else None,
                "modules_without_clearance": area.unmeasured,
                "authorised_clearance": area.authorised_clearance or None,
                "material": [
                    {"type": each.type_id, "note": each.note, "modules": each.count, "mass_kg": each.mass_kg}
                    for each in area.materials
                ],
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
        "modules": [
            {
                "tag": module.tag,
                "placement": module.placement_id,
                "type": module.module_type,
                "area": module.area_id,
                "inside": module.inside,
                "position": {
                    "lat": module.lat_deg,
                    "lon": module.lon_deg,
                    "frame": built.frame,
                    "epoch": built.epoch,
                    "r95_m": module.r95_m,
                },
                "text": list(module.text),
                "depth_m": _number(module.depth_m),
                "depth_u95_m": _number(module.depth_u95_m),
                "clearance_m": _number(module.clearance_m),
                "clearance_u95_m": _number(module.clearance_u95_m),
                "mass_kg": _number(module.mass_kg),
                "placed_on": module.placed_on.isoformat(),
                "moved": module.moved,
            }
            for module in built.modules
        ],
        "notes": list(built.notes),
        "cautions": list(built.cautions),
    }
