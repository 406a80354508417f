"""``leadline survey``: from logs, marks and offsets to one position, step by step, writing nothing."""

import textwrap
from datetime import UTC, datetime
from typing import Any

import click

from registry.cli.answer import print_json, print_lines
from registry.cli.depth_options import depth_options, sounding_of
from registry.cli.options import EPOCH, json_option, now, open_for_reading, registry_option, registry_path
from registry.cli.survey_options import survey_options, surveyed_position
from registry.formats.advice_answer import position_answer


@click.command("survey")
@survey_options
@click.option(
    "--receiver", metavar="CLASS", default="", help="autonomous, sbas, dgnss, float, rtk or unknown."
)
@click.option("--when", metavar="INSTANT", help="Touch-down: fixes around it are taken, and its tide.")
@click.option("--depth", metavar="LENGTH", help="Depth of the water at that moment, before the tide.")
@click.option("--depth-u95", metavar="LENGTH", help="Of the instrument of --depth-kind, 95 %.")
@click.option("--tide", metavar="LENGTH", help="Height of the water above chart datum.")
@depth_options
@click.option("--datum", metavar="NAME", help="Chart datum to give the depth below, as MLLW.")
@click.option("--home", metavar="CODE", help="Home frame to give the position in; else the registry's.")
@click.option("--frame", required=True, metavar="CODE", help="Frame of every coordinate, as EPSG:4326.")
@click.option("--epoch", type=EPOCH, metavar="YEAR", help="Epoch, where no log tells the day.")
@click.option("--zone", metavar="TZ", help="Zone of times that state none, as America/New_York.")
@json_option
@registry_option
@click.pass_context
def command(
    ctx: click.Context,
    /,
    *,
    frame: str,
    epoch: float | None,
    zone: str | None,
    when: str | None,
    datum: str | None,
    home: str | None,
    as_json: bool,
    **line: Any,
) -> None:
    """
    Derive where a module lies, and how deep, from what was measured, and show every step. Nothing is written.

    \b
    Example:
      leadline survey --fixes day.nmea --from 2026-06-14T14:32Z --to 2026-06-14T14:37Z --receiver sbas
                      --frame EPSG:4326 --lever "-14.6,5.1,7.8" --heading 237
                      --fall-speed "2 m/s" --depth "20 m" --current "0.5 m/s toward 120"
    """
    from registry.formats.written_instant import read_instant

    at = read_instant(when, zone) if when else None
    surveyed = surveyed_position(
        frame=frame, epoch=epoch, zone=zone, at=at, depth_elsewhere=bool(line["depth_kind"]), **line
    )
    logged = surveyed.survey.logged
    if at is None and logged is not None:
        middle_s = float(logged.fixes.time_s[[0, -1]].mean())
        at = datetime.fromtimestamp(middle_s, tz=UTC)
    settled = _at_home(ctx, surveyed, at, home)
    sounded = _sounded(surveyed, line, at, zone, datum)
    if as_json:
        answer = surveyed.derivation.as_json()
        if settled is not None:
            answer["home"] = position_answer(settled.home.position) | {"operation": settled.home.operation}
        if sounded is not None:
            answer["depth"] = sounded.derived.as_json()
        print_json(answer)
        return
    _tell(surveyed.derivation)
    if settled is not None:
        _tell_home(settled)
    if sounded is not None:
        print_lines("Depth", sounded.sentences)
    click.echo("Nothing was written.")


def _at_home(ctx: click.Context, surveyed: Any, at: datetime | None, code: str | None) -> Any:
    """Give the position in the home frame, or None where no registry and no frame is named."""
    from registry.actions.open_programme import checked_programme
    from registry.actions.settle_position import Stated, settle

    if code is not None:
        programme = checked_programme(name="home", frame=code, zone="UTC", key_id="", public_key="")
    elif registry_path(ctx).exists():
        programme = open_for_reading(ctx).programme()
    else:
        return None
    position = surveyed.derivation.position
    # The instant matters only where the frame moves, and then the derivation has given its epoch.
    observed_at = at or now()
    stated = Stated(
        written=surveyed.written,
        frame=position.frame,
        epoch=position.epoch,
        r95_m=position.r95_m,
        at=observed_at,
    )
    return settle(stated, programme)


def _sounded(
    surveyed: Any, line: dict[str, Any], at: datetime | None, zone: str | None, datum: str | None
) -> Any:
    from registry.actions.derive_sounding import derive_sounding

    sounding = sounding_of(line, at=at, zone=zone)
    if sounding is None:
        for name in ("tide", "depth_u95"):
            if line[name]:
                raise click.UsageError(f"--{name.replace('_', '-')} goes with --depth-kind.")
        return None
    if datum is None:
        raise click.UsageError("--depth-kind needs --datum: the chart datum to give the depth below.")
    return derive_sounding(sounding, datum=datum, lat_deg=surveyed.derivation.position.lat_deg)


def _tell_home(settled: Any) -> None:
    from registry.formats.printed_position import write_ddm
    from registry.measure.digits import Notation, coordinate_decimals, u95_rounded_up_m

    home = settled.home.position
    decimals = coordinate_decimals(Notation.MINUTES, home.r95_m)
    place = write_ddm(home.lat_deg, home.lon_deg, decimals=decimals, style="plain")
    epoch = f", epoch {home.epoch:g}" if home.epoch is not None else ""
    click.echo(f"Home frame {place}, {home.frame}{epoch},")
    click.echo(f"  within {u95_rounded_up_m(home.r95_m):g} m (95 %); {settled.home.operation}")


def _tell(derived: Any) -> None:
    from registry.formats.printed_position import write_dd, write_ddm
    from registry.measure.digits import Notation, coordinate_decimals, u95_rounded_up_m

    position = derived.position
    print_lines("Warnings", derived.warnings)
    if derived.account is not None:
        _tell_account(derived.account)
    degrees = coordinate_decimals(Notation.DEGREES, position.r95_m)
    click.echo("Steps:")
    for number, step in enumerate(derived.steps, start=1):
        beside = " " * 6
        told = f"{step.name}: {step.sentence}"
        click.echo(textwrap.fill(told, 100, initial_indent=f"  {number:>2}. ", subsequent_indent=beside))
        if step.lat_deg is not None:
            click.echo(f"      {write_dd(step.lat_deg, step.lon_deg, decimals=degrees, style='plain')}")
    click.echo("Budget (95 %):")
    click.echo(f"  {'source':<38} {'size':>9} {'share':>6}")
    for row in derived.budget:
        size = f"{row.size_m:.2f}" if row.size_m >= 0.005 else "<0.01"
        click.echo(f"  {row.source:<38} {size:>7} m {row.share:>6.1%}")
    click.echo(f"  {'together':<38} {position.r95_m:>7.2f} m")
    decimals = coordinate_decimals(Notation.MINUTES, position.r95_m)
    place = write_ddm(position.lat_deg, position.lon_deg, decimals=decimals, style="plain")
    epoch = f", epoch {position.epoch:.2f}" if position.epoch is not None else ""
    click.echo(f"Position {place}, {position.frame}{epoch},")
    click.echo(f"  within {u95_rounded_up_m(position.r95_m):g} m (95 %).")


def _tell_account(account: Any) -> None:
    from registry.records.fix import QUALITIES

    kinds = ", ".join(f"{n} {kind}" for kind, n in account.kinds.items())
    click.echo("Log:")
    click.echo(f"  {account.sentences} sentences ({kinds}); {account.bad_checksums} with a bad checksum,")
    click.echo(f"  {account.cut} cut or without one; {account.garbage_bytes} bytes outside whole sentences")
    told = ", ".join(f"{n} {QUALITIES[code]}" for code, n in account.by_quality.items()) or "none"
    click.echo(f"  fixes by quality: {told}; {account.told_again} sentences told one again,")
    click.echo(f"  {account.out_of_order} came late; {account.used} fixes used")
    for why, n in (*account.set_aside.items(), *account.unreadable.items()):
        click.echo(f"  set aside: {n} ({why})")
    for sentence in (*account.leaps, *account.notes):
        click.echo(f"  {sentence}")
