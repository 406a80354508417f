"""``leadline visit``: one page to take aboard."""

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from registry.cli.answer import print_json, print_lines
from registry.cli.options import json_option, open_for_reading, output_file, registry_option

if TYPE_CHECKING:
    from registry.records.visit import Visit, Water


@click.command("visit")
@click.argument("tag")
@click.option(
    "--from",
    "start",
    required=True,
    metavar='"NAME, POSITION"',
    help='Where the boat leaves, as "Harbour Inlet, 33 53.100 N 077 30.500 W".',
)
@click.option("--on", "day_text", required=True, metavar="DAY", help="The day of the visit, as 2026-06-14.")
@click.option("--frame", metavar="CODE", help="Frame of --from, as EPSG:4326; else the programme's own.")
@click.option(
    "--tide-station",
    metavar="STATION.toml",
    type=click.Path(path_type=Path),
    help="For the water at high and low tide.",
)
@click.option("--for-family", is_flag=True, help="Print the name also without consent to be listed.")
@click.option("--out", required=True, type=click.Path(path_type=Path), metavar="DIR", help="Where it goes.")
@json_option
@registry_option
@click.pass_context
def command(
    ctx: click.Context,
    tag: str,
    start: str,
    day_text: str,
    frame: str | None,
    tide_station: Path | None,
    for_family: bool,
    out: Path,
    as_json: bool,
) -> None:
    """
    Print one page for a visit to a module: the way, the water, the light, the reef; and a GPX file.

    Every coordinate is WGS 84 of that day. The straight line from the start is told, not a route. Notes of
    surveys are printed as they were written. When a young reef is worth a visit, and the rules of the place,
    are the programme's own words (leadline visitors tell). The name of the memorial is printed where the
    family consented to have it listed, or with --for-family, which makes the sheet private. Where the
    programme publishes no exact positions, the sheet is private too and draws no other module.

    \b
    Example:
      leadline visit MC-0017 --from "Harbour Inlet, 33 53.100 N 077 30.500 W" --on 2026-06-14 --out visits
    """
    from registry.actions.plan_visit import plan_visit
    from registry.desk.visit_sheet import visit_sheet, visit_stem
    from registry.formats.named_place import read_named_place
    from registry.formats.printed_notation import written_position
    from registry.formats.tide_station_file import read_tide_station
    from registry.formats.visit_gpx import write_visit_gpx
    from registry.formats.written_instant import read_day
    from registry.storage.files import make_folder, read_file, write_file

    day = read_day(day_text)
    name, written = read_named_place(start)
    station = read_tide_station(read_file(tide_station)) if tide_station is not None else None
    visit = plan_visit(
        open_for_reading(ctx),
        tag,
        day=day,
        start_name=name,
        start=written,
        start_frame=frame,
        station=station,
        for_family=for_family,
    )
    texts, pdf = written_position(visit.position), visit_sheet(visit)
    make_folder(out)
    stem = visit_stem(visit)
    contents = {f"{stem}.pdf": pdf, f"{stem}.gpx": write_visit_gpx(visit)}
    files = [write_file(output_file(ctx, out / file), content) for file, content in contents.items()]
    if as_json:
        print_json(_data(visit, texts) | {"files": [str(path) for path in files]})
    else:
        _tell(visit, texts)
        for path in files:
            click.echo(f"Wrote {path}")


def _tell(visit: "Visit", texts: dict[str, str]) -> None:
    from registry.documents.visit import visit_texts

    said = visit_texts(visit)
    click.echo(click.style(f"{said.title}: {said.subtitle}", bold=True))
    if visit.name:
        click.echo(f"  In memory of {visit.name}")
    if visit.private:
        click.echo(click.style(f"  Private: {visit.private}.", fg="yellow"))
    click.echo(f"  {texts['ddm']}")
    for label, words in said.way:
        click.echo(f"  {label}: {words}")
    for time, kind, tide, depth, over in said.water:
        click.echo(f"  {time} {kind:<4}  tide {tide}; depth {depth}; over the module {over}")
    click.echo(f"  {said.water_note}")
    print_lines("Seen there", said.seen)
    print_lines("Note", (*visit.course.basis, *visit.notes))
    click.echo(" ".join(said.cautions))


def _water(water: "Water | None") -> dict[str, float] | None:
    return None if water is None else {"value_m": water.value_m, "u95_m": water.u95_m}


def _data(visit: "Visit", texts: dict[str, str]) -> dict[str, Any]:
    from registry.formats.advice_answer import position_answer

    course, light = visit.course, visit.daylight
    return {
        "tag": visit.tag,
        "name": visit.name or None,
        "private": visit.private or None,
        "on": visit.day.isoformat(),
        "zone": visit.zone,
        "reef": visit.reef,
        "permit": visit.permit,
        "placed_on": visit.placed_on.isoformat(),
        "position": position_answer(visit.position),
        "texts": texts,
        "from": {
            "name": course.name,
            "position": position_answer(course.start),
            "distance_m": course.distance_m,
            "distance_u95_m": course.distance_u95_m,
            "bearing_true_deg": course.bearing_deg,
            "bearing_u95_deg": course.bearing_u95_deg,
            "bearing_magnetic_deg": course.magnetic_deg,
            "variation_east_deg": course.variation_east_deg,
            "variation_u95_deg": course.variation_u95_deg,
            "magnetic_model": course.model or None,
            "no_variation": course.no_variation or None,
            "basis": list(course.basis),
        },
        "chart_datum": visit.chart_datum,
        "charted_depth": _water(visit.charted),
        "charted_over_module": _water(visit.charted_over),
        "tide_station": visit.tide.station if visit.tide else None,
        "water": [
            {
                "kind": each.kind,
                "at": each.at.isoformat(),
                "tide_m": each.tide_m,
                "depth": _water(each.depth),
                "over_module": _water(each.over),
            }
            for each in visit.expected
        ],
        "sun": {
            "state": light.sun,
            "rises_at": light.rises_at.isoformat() if light.rises_at else None,
            "sets_at": light.sets_at.isoformat() if light.sets_at else None,
        },
        "seen": [
            {
                "on": seen.on.isoformat(),
                "motion": seen.motion.value,
                "distance_m": seen.distance_m,
                "bearing_deg": seen.bearing_deg,
                "u95_m": seen.u95_m,
                "note": seen.note or None,
            }
            for seen in visit.seen
        ],
        "programme_words": {"young_reef": visit.young_reef or None, "rules": visit.rules or None},
        "notes": list(visit.notes),
        "journal_head": visit.journal_head,
    }
