"""``leadline place``: one placement, as it lies on the seabed."""

from datetime import datetime
from pathlib import Path
from typing import Any

import click

from registry.cli.answer import exit_code, mark, print_findings, print_json, print_lines
from registry.cli.depth_options import depth_options, sounding_of
from registry.cli.options import (
    SECONDS,
    actor_name,
    actor_option,
    json_option,
    now,
    open_for_writing,
    position_options,
    registry_option,
    registry_path,
    use_grid_folder,
)
from registry.cli.survey_options import survey_given, survey_options, surveyed_position


def log_options(function: Any) -> Any:
    """Accept what a log line says besides tag and position."""
    options = (
        click.option("--permit", "permit_number", required=True, metavar="N", help="Permit it lies under."),
        click.option(
            "--at", "text", metavar="TEXT", help="Where, in any notation; else by --fixes or marks."
        ),
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
    return depth_options(survey_options(position_options(function)))


def listen_options(function: Any) -> Any:
    """Accept a receiver that is listened to now."""
    options = (
        click.option(
            "--listen",
            metavar="SOURCE",
            help="Instead of --fixes: HOST:PORT or /dev/ttyUSB0, kept in a file beside the registry.",
        ),
        click.option(
            "--for",
            "seconds",
            type=SECONDS,
            default="60",
            show_default=True,
            metavar="SECONDS",
            help="How long to listen.",
        ),
        click.option(
            "--baud", type=int, default=4800, show_default=True, metavar="RATE", help="Of a serial port."
        ),
    )
    for option in reversed(options):
        function = option(function)
    return function


@click.command("place")
@click.argument("tag")
@log_options
@listen_options
@actor_option
@json_option
@registry_option
@click.pass_context
def command(
    ctx: click.Context,
    /,
    tag: str,
    listen: str | None,
    seconds: float,
    baud: int,
    actor: str | None,
    as_json: bool,
    **line: Any,
) -> None:
    """
    Record where a module lies. It is never refused for where that is: what is against it is kept beside it.

    The position is --at, or what leadline survey derives from a receiver's log (--fixes, --listen) or from
    marks. The depth is --depth as stated, or with --depth-kind what its instrument makes of it.

    \b
    Example:
      leadline place MC-0017 --permit HB-0417 --at "34 01.250 N 077 20.110 W" --frame EPSG:4326
                     --receiver sbas --when 2026-06-14T10:32-04:00 --depth "61 ft" --tide "2.1 ft"
      leadline place MC-0018 --permit HB-0417 --fixes day.nmea --receiver sbas --frame EPSG:4326
                     --around 120s --lever "-4.2,1.5,3.0" --when 2026-06-14T10:52-04:00
                     --depth "18.6 m" --depth-kind gauge --gauge-setting en13319 --tide-gauge tide.csv
    """
    from registry.actions.log_placement import log_placement

    register = open_for_writing(ctx)
    if listen is not None:
        if survey_given(line) and line["files"]:
            raise click.UsageError("Give --fixes or --listen, not both.")
        line["files"] = (_listened(ctx, listen, seconds, baud),)
    row = log_row(tag, zone=register.programme().zone, **line)
    tell_logged(log_placement(register, row, actor=actor_name(actor)), as_json=as_json)


def log_row(tag: str, *, zone: str, grids: Path | None, **line: Any) -> Any:
    """Read the options of one log line."""
    from registry.formats.log_entry import read_log_entry
    from registry.formats.written_instant import read_instant

    use_grid_folder(grids)
    placed_at = read_instant(line["when"], zone)
    surveyed = survey_given(line)
    if surveyed == (line["text"] is not None):
        if surveyed:
            raise click.UsageError(
                "Give the position with --at or by a survey (--fixes and its like), not both."
            )
        raise click.UsageError("Give the position: --at TEXT, or --fixes FILE from a receiver's log.")
    return read_log_entry(
        line,
        tag=tag,
        permit=line["permit_number"],
        placed_at=placed_at,
        survey=_surveyed(line, zone, placed_at) if surveyed else None,
        sounding=sounding_of(line, at=placed_at, zone=zone),
        source={"command": "leadline", "when": line["when"]},
    )


def _surveyed(line: dict[str, Any], zone: str, placed_at: datetime) -> Any:
    """Derive the position."""
    from registry.measure.datum import decimal_year

    if line["frame"] is None:
        raise click.UsageError("A survey needs --frame CODE: no log tells the datum its receiver was set to.")
    if line["r95"] is not None:
        raise click.UsageError("--r95 does not go with a survey: the radius follows from its derivation.")
    if line["receiver"] and not line["files"]:
        raise click.UsageError("--receiver goes with --at or --fixes.")
    if not line["files"] and line["epoch"] is None:
        line = line | {"epoch": round(decimal_year(placed_at), 4)}
    return surveyed_position(at=placed_at, zone=zone, depth_elsewhere=True, **line)


def _listened(ctx: click.Context, source: str, seconds: float, baud: int) -> Path:
    """Keep what a receiver sends now in a file beside the registry, and give the file."""
    from registry.storage.live_log import BAUD_RATES, record_stream
    from registry.storage.live_receiver import log_place

    if baud not in BAUD_RATES:
        raise click.UsageError(f"--baud takes one of {', '.join(map(str, BAUD_RATES))}.")
    own = registry_path(ctx)
    target = log_place(own, now())
    record_stream(source, target, seconds=seconds, baud=baud)
    click.echo(f"Received from {source} and kept as {target}.", err=True)
    return target


def tell_logged(logged: Any, *, as_json: bool) -> None:
    """Acknowledge what went into the journal, and leave with the exit code of its verdict."""
    placement = logged.placement
    if as_json:
        from registry.formats.advice_answer import logged_answer

        print_json(logged_answer(logged))
    else:
        click.echo(f"Recorded {placement.tag} as {logged.placement_id}: {mark(logged.verdict)}")
        print_lines("Warnings", placement.warnings)
        print_findings(logged.findings)
        print_lines("How it was read", placement.basis)
    click.get_current_context().exit(exit_code(logged.verdict))
