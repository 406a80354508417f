"""``leadline check``: advice before a drop."""

from pathlib import Path
from typing import Any

import click

from registry.cli.answer import exit_code, mark, print_findings, print_json, print_lines
from registry.cli.depth_options import depth_options, sounding_of
from registry.cli.options import (
    json_option,
    now,
    open_for_reading,
    position_options,
    registry_option,
    use_grid_folder,
)


@click.command("check")
@click.option("--permit", "permit_number", required=True, metavar="N", help="Permit to place under.")
@click.option("--type", "type_id", required=True, metavar="T", help="Type of the module.")
@click.option("--tag", metavar="TAG", default="", help="Which module it is to be, to know its target.")
@click.option("--at", "text", required=True, metavar="TEXT", help="Where, in any notation.")
@click.option("--depth", metavar="LENGTH", help='Depth of the seabed there, as "60 ft".')
@position_options
@depth_options
@json_option
@registry_option
@click.pass_context
def command(
    ctx: click.Context,
    /,
    permit_number: str,
    type_id: str,
    tag: str,
    text: str,
    depth: str | None,
    frame: str | None,
    epoch: float | None,
    r95: str | None,
    receiver: str,
    depth_u95: str | None,
    tide: str | None,
    grids: Path | None,
    as_json: bool,
    **instrument: Any,
) -> None:
    """
    Tell, before the drop, what each condition would say; nothing is written.

    \b
    Example:
      leadline check --permit HB-0417 --type hump-90 --at "34 01.250 N 077 20.110 W"
                     --frame EPSG:4326 --receiver sbas --depth "60 ft"
    """
    from registry.actions.advise_drop import advise_drop
    from registry.formats.log_entry import read_log_entry

    use_grid_folder(grids)
    at = now()
    register = open_for_reading(ctx)
    said = {"depth": depth, "depth_u95": depth_u95, "tide": tide, **instrument}
    row = read_log_entry(
        {"text": text, "frame": frame, "epoch": epoch, "r95": r95, "receiver": receiver} | said,
        tag="",
        permit=permit_number,
        placed_at=at,
        sounding=sounding_of(said, at=at, zone=register.programme().zone),
        source={},
    )
    advised = advise_drop(register, row, type_id=type_id, tag=tag)
    settled, advice, basis = advised.settled, advised.advice, advised.basis
    if as_json:
        from registry.formats.advice_answer import advice_answer

        print_json(advice_answer(advised))
    else:
        _tell(settled, advice, basis)
    ctx.exit(exit_code(advice.verdict))


def _tell(settled: Any, advice: Any, basis: tuple[str, ...]) -> None:
    from registry.formats.printed_position import write_ddm
    from registry.measure.datum import resolve
    from registry.measure.digits import Notation, coordinate_decimals
    from registry.rules.wording import bearing_text, length_text, move_text, radius_text

    home = settled.home.position
    click.echo(f"{mark(advice.verdict)}")
    print_lines("Warnings", advice.warnings)
    decimals = coordinate_decimals(Notation.MINUTES, home.r95_m)
    place = write_ddm(home.lat_deg, home.lon_deg, decimals=decimals, style="plain")
    click.echo(f"Position {place} in {resolve(home.frame).name}, the home frame,")
    click.echo(f"  within {radius_text(home.r95_m)} (95 %); {settled.home.operation}")
    click.echo("Findings:")
    print_findings(advice.findings)
    if advice.neighbours:
        click.echo("Nearest modules:")
        for n in advice.neighbours:
            edge = length_text(n.edge_m, n.u95_m)
            click.echo(f"  {n.tag:<14} {edge} edge to edge, bearing {bearing_text(n.bearing_deg)}")
    if advice.move:
        click.echo(f"{move_text(advice.move)} {advice.move_note}".rstrip())
    else:
        click.echo(advice.move_note)
    print_lines("How it was read", basis)
    click.echo("Advice only: charts, notices and the permit itself decide.")
