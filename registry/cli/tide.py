"""``leadline tide``: the predicted tide of a day at a station."""

from pathlib import Path
from typing import Any

import click

from registry.cli.answer import print_json
from registry.cli.options import json_option


@click.command("tide")
@click.argument("station_file", metavar="STATION.toml", type=click.Path(path_type=Path))
@click.option("--day", "day_text", required=True, metavar="D", help="Day, as 2026-06-14.")
@click.option("--zone", default="UTC", metavar="TZ", help="IANA zone of the day and its times; else UTC.")
@click.option("--datum", metavar="NAME", help="Datum of the heights; else the station's chart datum.")
@click.option("--plot", metavar="FILE.svg", type=click.Path(path_type=Path), help="Draw the curve as an SVG.")
@json_option
@click.pass_context
def command(
    ctx: click.Context,
    station_file: Path,
    day_text: str,
    zone: str,
    datum: str | None,
    plot: Path | None,
    as_json: bool,
) -> None:
    """
    Print the predicted tide of a day: high and low waters and the curve.

    A prediction knows no wind and no weather; for a charted depth, observed heights are better.

    \b
    Example:
      leadline tide gannet_pier.toml --day 2026-06-14 --zone America/New_York --plot tide.svg
    """
    from registry.actions.tide_day import tide_day
    from registry.cli.options import output_file
    from registry.documents.tide_curve import draw_tide_curve
    from registry.formats.tide_station_file import read_tide_station
    from registry.formats.written_instant import read_day
    from registry.storage.files import read_file, write_file

    station = read_tide_station(read_file(station_file))
    tide = tide_day(station, read_day(day_text), zone=zone, datum=datum)
    if plot is not None:
        write_file(output_file(ctx, plot), draw_tide_curve(tide).encode())
    if as_json:
        print_json(_data(tide) | {"plot": str(plot) if plot else None})
    else:
        _tell(tide)
        if plot is not None:
            click.echo(f"Drawn as {plot}.")


def _data(tide: Any) -> dict[str, Any]:
    return {
        "station": tide.station,
        "position": tide.position,
        "source": tide.source,
        "kind": "predicted",
        "nodal": "schureman",
        "day": tide.day.isoformat(),
        "zone": tide.zone,
        "datum": tide.datum,
        "datum_epoch": tide.datum_epoch or None,
        "u95_m": tide.u95_m,
        "u95_basis": tide.u95_basis,
        "turns": [
            {"kind": turn.kind, "at": turn.at.isoformat(), "height_m": turn.height_m} for turn in tide.turns
        ],
        "curve": [
            {"at": at.isoformat(), "height_m": height}
            for at, height in zip(tide.times, tide.heights_m, strict=True)
        ],
    }


def _tell(tide: Any) -> None:
    from zoneinfo import ZoneInfo

    from registry.documents.tide_curve import CAUTION, doubt_text, height_text, write_tide_curve

    epoch = f" ({tide.datum_epoch})" if tide.datum_epoch else ""
    click.echo(f"{tide.station}: predicted tide of {tide.day.isoformat()}, heights above {tide.datum}{epoch}")
    click.echo(f"High and low waters (times of {tide.zone}):")
    for turn in tide.turns:
        at = turn.at.astimezone(ZoneInfo(tide.zone))
        click.echo(f"  {at:%H:%M}  {turn.kind:<4}  {height_text(turn.height_m, tide.u95_m)}")
    if not tide.turns:
        click.echo("  none on this day")
    click.echo("The day, hour by hour:")
    for line in write_tide_curve(tide):
        click.echo(f"  {line}")
    click.echo(f"Within {doubt_text(tide)} at 95 %: {tide.u95_basis}.")
    click.echo(CAUTION)
