"""``leadline sample``: which modules an officer looks at again."""

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from registry.cli.answer import print_json
from registry.cli.options import json_option, now, open_for_reading, output_file, registry_option

if TYPE_CHECKING:
    from registry.records.inspection_sample import InspectionSample


@click.command("sample")
@click.option("--permit", required=True, metavar="N", help="Whose modules.")
@click.option("--size", type=int, default=20, show_default=True, metavar="N", help="How many.")
@click.option("--seed", required=True, metavar="S", help="Digits or words, agreed on or thrown with dice.")
@click.option("--as-of", "as_of", metavar="DATE", help="The registry as it stood then; a day means its end.")
@click.option("--out", metavar="DIR", type=click.Path(path_type=Path), help="Where the files go.")
@json_option
@registry_option
@click.pass_context
def command(
    ctx: click.Context, permit: str, size: int, seed: str, as_of: str | None, out: Path | None, as_json: bool
) -> None:
    """
    Draw modules to be looked at again: spread over the permit, the least certain more often.

    Everything random follows from the seed, so that anybody can draw the same sample again and nobody can
    choose the modules: let the officer name the seed once the journal's head was handed over. Nothing is
    written to the registry. With --out, sample.csv (fill it in and give it to leadline accuracy), sample.gpx
    (waypoints and a route) and sample.txt (the list, and how to fill in the table) go there; a sample.csv
    that was filled in is not written over.

    \b
    Example:
      leadline sample --permit HB-0417 --size 20 --seed 4711 --out sample-2026
      leadline accuracy sample-2026/sample.csv --frame EPSG:4326 --receiver rtk
    """
    from registry.actions.draw_sample import draw_sample
    from registry.desk.sample_files import sample_files
    from registry.formats.sample_list import sample_lines
    from registry.formats.written_instant import end_of
    from registry.storage.files import make_folder, write_file
    from registry.storage.replay import registry_as_of

    live = open_for_reading(ctx)
    instant = end_of(as_of, live.programme().zone) if as_of is not None else None
    today = now()
    register = live if instant is None else ctx.with_resource(registry_as_of(live, instant))
    sample = draw_sample(register, permit, size=size, seed=seed, now=today, as_of=instant)
    written: list[Path] = []
    if out is not None:
        make_folder(out)
        places = {output_file(ctx, out / name): content for name, content in sample_files(sample).items()}
        _refuse_what_is_filled_in(out / "sample.csv")
        written = [write_file(path, content) for path, content in places.items()]
    if as_json:
        print_json(_data(sample) | {"files": [str(path) for path in written]})
        return
    for line in sample_lines(sample):
        click.echo(line)
    for path in written:
        click.echo(f"Wrote {path}")


def _refuse_what_is_filled_in(path: Path) -> None:
    """Refuse to write over a table that somebody has written in, or that is none of ours."""
    from registry.errors import ConflictError
    from registry.formats.sample_table import nothing_is_filled_in
    from registry.storage.files import read_file

    if path.exists() and path.stat().st_size and not nothing_is_filled_in(read_file(path)):
        what = f"{path} is there already and was filled in, or is another table; nothing was written over it."
        raise ConflictError(what, remedy="Give another folder with --out, or move that file away first.")


def _data(sample: "InspectionSample") -> dict[str, Any]:
    from registry.formats.sample_words import again_command
    from registry.records.entry import instant_text
    from registry.records.inspection_sample import METHOD

    return {
        "permit": sample.permit,
        "size": sample.size,
        "population": sample.population,
        "seed": sample.seed,
        "method": METHOD,
        "journal_head": sample.journal_head,
        "as_of": instant_text(sample.as_of),
        "again": again_command(sample),
        "balance": sample.balance,
        "course_m": sample.course_m,
        "chart_datum": sample.chart_datum,
        "modules": [
            {
                "tag": module.tag,
                "placement": module.placement_id,
                "position": {
                    "lat": module.lat_deg,
                    "lon": module.lon_deg,
                    "frame": "EPSG:9990",
                    "epoch": sample.epoch,
                    "r95_m": module.r95_m,
                },
                "moved": module.moved,
                "depth_m": module.depth_m,
                "depth_u95_m": module.depth_u95_m,
                "area": module.area_id,
                "placed_on": module.placed_on.isoformat(),
                "verdict": module.verdict.word,
                "weight": module.weight,
                "chance": module.chance,
            }
            for module in sample.modules
        ],
        "notes": list(sample.notes),
    }
