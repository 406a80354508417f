"""``leadline plaque``: artwork for the engraver."""

import re
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from registry.cli.answer import print_json, print_lines
from registry.cli.options import json_option, now, open_for_reading, output_file, registry_option

if TYPE_CHECKING:
    from registry.documents.plaque import Artwork


@click.command("plaque")
@click.argument("tag")
@click.option("--size", required=True, metavar="SIZE", help="Width and height, as 150x100mm or 6x4in.")
@click.option("--out", required=True, type=click.Path(path_type=Path), metavar="DIR", help="Where it goes.")
@click.option("--dates", default="", metavar="TEXT", help='Dates of a life, as "1941 – 2024".')
@click.option("--words", multiple=True, metavar="TEXT", help="A line of the family; again for each.")
@click.option("--heading", default="In memory of", show_default=True, metavar="TEXT", help="Above the name.")
@click.option(
    "--notation",
    type=click.Choice(["ddm", "dd", "dms"]),
    default="ddm",
    show_default=True,
    help="Degrees with decimal minutes, decimal degrees, or with minutes and seconds.",
)
@click.option("--frame", default="WGS 84", show_default=True, metavar="FRAME", help="Of the coordinates.")
@click.option("--on", "day", metavar="DAY", help="The day for which the coordinates hold; else today.")
@click.option("--single-stroke", is_flag=True, help="Lines to be followed once, instead of outlines.")
@click.option("--qr", is_flag=True, help="With a code that opens the position on a telephone.")
@json_option
@registry_option
@click.pass_context
def command(
    ctx: click.Context,
    tag: str,
    size: str,
    out: Path,
    dates: str,
    words: tuple[str, ...],
    heading: str,
    notation: Any,
    frame: str,
    day: str | None,
    single_stroke: bool,
    qr: bool,
    as_json: bool,
) -> None:
    """
    Draw a plaque as SVG and PDF, true to scale, every letter a path; nothing is recorded.

    Coordinates have no digit beyond what their uncertainty supports, and hold for the day named beside
    them. No capital is smaller than 3 mm (common practice, no source): a text that does not fit is refused,
    with how much is lacking. Outlines are of the shipped fonts; single strokes are Latin and Greek letters.

    Let the family read every line before it is cut. A code is read only dark on light.

    \b
    Example:
      leadline plaque MC-0017 --size 150x100mm --dates "1941 – 2024" --out plaques
    """
    from registry.actions.locate_module import locate_module
    from registry.actions.word_plaque import word_plaque
    from registry.documents.outlined_letters import OutlinedLetters
    from registry.documents.plaque import draw_plaque, plaque_pdf
    from registry.documents.stroked_letters import StrokedLetters
    from registry.formats.check_survey import read_time
    from registry.formats.geo_uri import write_geo_uri
    from registry.formats.plate_size import read_plate_size
    from registry.formats.printed_position import write_dd, write_ddm, write_dms
    from registry.measure.digits import Notation, coordinate_decimals
    from registry.storage.files import make_folder, write_file
    from registry.storage.shipped import shipped_path

    write, parts = {
        "ddm": (write_ddm, Notation.MINUTES),
        "dd": (write_dd, Notation.DEGREES),
        "dms": (write_dms, Notation.SECONDS),
    }[notation]

    def write_position(lat_deg: float, lon_deg: float, r95_m: float) -> tuple[str, str]:
        text = write(lat_deg, lon_deg, decimals=coordinate_decimals(parts, r95_m))
        latitude, longitude = re.split(r"(?<=[NS]) ", text)
        return latitude, longitude

    def write_code(lat_deg: float, lon_deg: float, r95_m: float) -> str:
        decimals = coordinate_decimals(Notation.DEGREES, r95_m)
        return write_geo_uri(lat_deg, lon_deg, r95_m, decimals=decimals)

    plate = read_plate_size(size)
    register = open_for_reading(ctx)
    on = read_time(day, register.programme().zone) if day else now()
    located = locate_module(register, tag, on=on, frame=frame)
    plaque = word_plaque(
        register,
        located,
        write_position=write_position,
        write_code=write_code if qr else None,
        heading=heading,
        dates=dates,
        words=words,
    )
    fonts = shipped_path("fonts")
    artwork = draw_plaque(plaque, plate, StrokedLetters(fonts) if single_stroke else OutlinedLetters(fonts))
    pdf = plaque_pdf(artwork, f"Plaque of {plaque.name}")
    notes = (*located.notes, *register.placement(located.place.placement_id).warnings)
    make_folder(out)
    name = "".join(c if c.isalnum() or c in "-._" else "_" for c in f"plaque-{tag}")
    svg_file, pdf_file = (output_file(ctx, out / f"{name}.{kind}") for kind in ("svg", "pdf"))
    files = [write_file(svg_file, artwork.svg.encode()), write_file(pdf_file, pdf)]
    if as_json:
        print_json(_data(artwork, files) | {"tag": tag, "code": plaque.code or None, "notes": list(notes)})
        return
    click.echo(f"Drew the plaque of {tag}: {', '.join(map(str, files))}")
    for line in artwork.lines:
        click.echo(f"  {line.capital_mm:5.1f} mm  {line.text}")
    if artwork.code_mm is not None:
        click.echo(f"  code      {plaque.code}, squares of {artwork.code_mm:.2f} mm; dark on light")
    print_lines("Note", notes)
    click.echo("Let the family read every line before it is cut.")


def _data(artwork: "Artwork", files: list[Path]) -> dict[str, Any]:
    return {
        "files": [str(path) for path in files],
        "width_mm": artwork.size.width_mm,
        "height_mm": artwork.size.height_mm,
        "lines": [{"text": line.text, "capital_mm": round(line.capital_mm, 3)} for line in artwork.lines],
        "code_square_mm": None if artwork.code_mm is None else round(artwork.code_mm, 3),
    }
