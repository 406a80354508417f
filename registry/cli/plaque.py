"""``leadline plaque``: artwork for the engraver."""

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from registry.cli.answer import print_json, print_lines
from registry.cli.options import (
    json_option,
    now,
    open_families,
    open_for_reading,
    output_file,
    registry_option,
)
from registry.desk.plaque_artwork import DrawnPlaque, draw_wording, drawn_plaque
from registry.errors import ConflictError, NotFoundError

if TYPE_CHECKING:
    from registry.documents.plaque import Artwork


@click.command("plaque")
@click.argument("tag")
@click.option("--size", metavar="SIZE", help="Width and height, as 150x100mm or 6x4in.")
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
@click.option(
    "--approved", is_flag=True, help="As the family approved it on its page; nothing else is drawn."
)
@click.option("--qr", is_flag=True, help="With a code that opens the position on a telephone.")
@json_option
@registry_option
@click.pass_context
def command(
    ctx: click.Context,
    /,
    tag: str,
    size: str | None,
    out: Path,
    dates: str,
    words: tuple[str, ...],
    heading: str,
    notation: Any,
    frame: str,
    day: str | None,
    single_stroke: bool,
    approved: bool,
    qr: bool,
    as_json: bool,
) -> None:
    """
    Draw a plaque as SVG and PDF, true to scale, every letter a path; nothing is recorded.

    Coordinates have no digit beyond what their uncertainty supports, and hold for the day named beside
    them. No capital is smaller than 3 mm (common practice, no source): a text that does not fit is refused,
    with how much is lacking. Outlines are of the shipped fonts; single strokes are Latin and Greek letters.

    Let the family read every line before it is cut. With --approved it is drawn in the words that they keep
    on their private page, and only if this very drawing is the one that they approved there. A code is read
    only dark on light.

    \b
    Example:
      leadline plaque MC-0017 --size 150x100mm --dates "1941 – 2024" --out plaques
    """
    from registry.formats.check_survey import read_time
    from registry.storage.files import make_folder, write_file

    register = open_for_reading(ctx)
    if approved:
        drawn = _approved(ctx, register, tag, single_stroke=single_stroke)
    else:
        if size is None:
            raise click.UsageError("Give --size, or --approved for what the family approved.", ctx)
        drawn = drawn_plaque(
            register,
            tag,
            size=size,
            on=read_time(day, register.programme().zone) if day else now(),
            heading=heading,
            dates=dates,
            words=words,
            frame=frame,
            notation=notation,
            single_stroke=single_stroke,
            qr=qr,
        )
    plaque, artwork, pdf = drawn.plaque, drawn.artwork, drawn.pdf()
    notes = (*drawn.located.notes, *register.placement(drawn.located.place.placement_id).warnings)
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


def _approved(ctx: click.Context, register: Any, tag: str, *, single_stroke: bool) -> DrawnPlaque:
    """Draw what the family of a module keeps, if it is what they approved."""
    from registry.actions.answer_plaque import plaque_answer

    register.module(tag)
    family = open_families(ctx, register).held().get(tag)
    if family is None or family.plaque is None:
        what = f"The family of {tag} has not said what the plaque is to read."
        raise NotFoundError(
            what, remedy=f"Give them their page (leadline family link {tag}), or give --size."
        )
    shown, answer = draw_wording(register, tag, family.plaque), plaque_answer(register, tag)
    if answer is None or not answer.approved or answer.artwork_sha256 != shown.sha256:
        said = "asked for a change" if answer and not answer.approved else "has not approved this drawing"
        remedy = "Let them look at it on their page; what was approved before may have changed since."
        raise ConflictError(f"The family of {tag} {said}.", remedy=remedy)
    return draw_wording(register, tag, family.plaque, single_stroke=True) if single_stroke else shown


def _data(artwork: "Artwork", files: list[Path]) -> dict[str, Any]:
    return {
        "files": [str(path) for path in files],
        "width_mm": artwork.size.width_mm,
        "height_mm": artwork.size.height_mm,
        "lines": [{"text": line.text, "capital_mm": round(line.capital_mm, 3)} for line in artwork.lines],
        "code_square_mm": None if artwork.code_mm is None else round(artwork.code_mm, 3),
    }
