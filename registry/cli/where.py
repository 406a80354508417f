"""``leadline where``: the coordinate of a module to type into a receiver on a day."""

from typing import Any

import click

from registry.cli.answer import print_json, print_lines
from registry.cli.options import json_option, now, open_for_reading, registry_option


@click.command("where")
@click.argument("tag")
@click.option("--on", "day", metavar="DAY", help="The day of the visit, as 2056-06-14; else today.")
@click.option(
    "--frame", default="WGS 84", show_default=True, metavar="FRAME", help="What the receiver is set to."
)
@json_option
@registry_option
@click.pass_context
def command(ctx: click.Context, tag: str, day: str | None, frame: str, as_json: bool) -> None:
    """
    Give the coordinate to type into a receiver on a day, this year or in thirty.

    In WGS 84 the sea floor moves with its plate, by centimetres a year: the coordinate is that of the day.

    \b
    Example:
      leadline where MC-0017 --on 2056-06-14
    """
    from registry.actions.locate_module import locate_module
    from registry.formats.check_survey import read_time

    register = open_for_reading(ctx)
    on = read_time(day, register.programme().zone) if day else now()
    located = locate_module(register, tag, on=on, frame=frame)
    if as_json:
        print_json(_data(located))
    else:
        _tell(located)


def _texts(located: Any) -> dict[str, str]:
    """Write the position as plotters and phones take it."""
    from registry.formats.printed_notation import write_in_notation

    place, frame = located.position, located.frame
    wanted = ("ddm", "dd", "dms", *(("geo", "mgrs") if frame.dynamic else ()))
    return {
        name: write_in_notation(
            place.lat_deg,
            place.lon_deg,
            notation=name,
            r95_m=place.r95_m,
            frame=frame,
        )
        for name in wanted
    }


def _data(located: Any) -> dict[str, Any]:
    from registry.formats.advice_answer import position_answer

    return {
        "tag": located.place.tag,
        "placement": located.place.placement_id,
        "observed_in": located.place.reference,
        "observed_at": located.place.observed_at.isoformat(),
        "on": located.on.isoformat(),
        "position": position_answer(located.position),
        "frame_name": located.frame.name,
        "home": position_answer(located.place.home.position),
        "texts": _texts(located),
        "operation": located.operation,
        "accuracy_m": located.accuracy_m,
        "software": located.software,
        "drift": {"distance_m": located.drift_m, "bearing_deg": located.drift_bearing_deg},
        "notes": list(located.notes),
    }


def _tell(located: Any) -> None:
    from registry.measure.digits import metres_decimals, u95_rounded_up_m
    from registry.rules.wording import bearing_text

    place, texts = located.position, _texts(located)
    radius = f"{u95_rounded_up_m(place.r95_m):.{metres_decimals(place.r95_m)}f}"
    click.echo(click.style(texts["ddm"], bold=True))
    click.echo(f"  {located.place.tag} within {radius} m of it (95 %), on {located.on:%Y-%m-%d}")
    epoch = f", epoch {place.epoch:.2f}" if place.epoch is not None else ""
    click.echo(f"  Set the receiver to {located.frame.name} ({located.frame.code}{epoch})")
    click.echo(f"  The same    {texts['dd']}")
    if "geo" in texts:
        click.echo(f"  For a phone {texts['geo']}")
    if located.drift_m >= 0.005:
        seen = f"{located.place.observed_at:%Y-%m-%d}"
        decimals = 2 if located.accuracy_m < 0.05 else 1
        click.echo(
            f"  Since {seen} the ground has moved {located.drift_m:.{decimals}f} m toward "
            f"{bearing_text(located.drift_bearing_deg)} in this frame; the coordinate follows it"
        )
    click.echo(f"  By {located.operation}")
    print_lines("Note", located.notes)
    click.echo("Not for navigation: use official charts and notices, and dive by local rules.")
