"""``leadline target``: where the plan wants modules."""

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from registry.cli.answer import print_json, print_lines
from registry.cli.drawn_shapes import told_frame
from registry.cli.options import (
    EPOCH,
    actor_name,
    actor_option,
    json_option,
    open_for_reading,
    open_for_writing,
    output_file,
    registry_option,
    use_grid_folder,
)
from registry.errors import LeadlineError
from registry.records.target import Target

if TYPE_CHECKING:
    from registry.actions.add_target import Planned
    from registry.records.target import TargetDraft

#: How many rejected or doubtful rows are told on the screen.
SHOWN = 10

_PERMIT = click.option("--permit", required=True, metavar="N", help="Permit under which it is planned.")
_FRAME = click.option("--frame", metavar="CODE", help='Frame of the position, as EPSG:4326 or "NAD83(2011)".')
_EPOCH = click.option("--epoch", type=EPOCH, metavar="YEAR", help="Epoch of the coordinates, as 2026.5.")
_GRIDS = click.option(
    "--grids", metavar="DIR", type=click.Path(path_type=Path), help="Folder with grid files."
)
_AT = click.option("--at", required=True, metavar="TEXT", help="The position, in any notation.")


@click.group("target")
def command() -> None:
    """
    Record where the plan wants modules, one by one or from a spreadsheet; list targets.

    \b
    Example:
      leadline target add MC-0017 --permit HB-0417 --at "34 01.240 N 077 20.140 W" --frame EPSG:4326
    """


@command.command("add")
@click.argument("tag")
@_PERMIT
@_AT
@_FRAME
@_EPOCH
@_GRIDS
@actor_option
@json_option
@registry_option
@click.pass_context
def add(
    ctx: click.Context,
    tag: str,
    permit: str,
    at: str,
    frame: str | None,
    epoch: float | None,
    grids: Path | None,
    actor: str | None,
    as_json: bool,
) -> None:
    """
    Record the target of one module; the module need not be cast yet.

    \b
    Example:
      leadline target add MC-0017 --permit HB-0417 --at "34 01.240 N 077 20.140 W" --frame EPSG:4326
    """
    from registry.actions.add_target import add_targets

    use_grid_folder(grids)
    draft = _draft(tag, at, frame, epoch)
    (answer,) = add_targets(open_for_writing(ctx), [draft], permit=permit, actor=actor_name(actor))
    if isinstance(answer, LeadlineError):
        raise answer
    if as_json:
        print_json(_data(answer.target) | {"new": answer.new, "warnings": list(answer.warnings)})
        return
    if not answer.new:
        click.echo(f"The target of {tag} was recorded before, exactly so; nothing was written.")
        return
    _tell(answer)


@command.command("move")
@click.argument("tag")
@_PERMIT
@_AT
@click.option("--why", required=True, metavar="TEXT", help="Why the plan changed, for the journal.")
@_FRAME
@_EPOCH
@_GRIDS
@actor_option
@json_option
@registry_option
@click.pass_context
def move(
    ctx: click.Context,
    tag: str,
    permit: str,
    at: str,
    why: str,
    frame: str | None,
    epoch: float | None,
    grids: Path | None,
    actor: str | None,
    as_json: bool,
) -> None:
    """
    Record that the plan wants a module elsewhere, and why; the journal keeps both targets.

    \b
    Example:
      leadline target move MC-0017 --permit HB-0417 --at "34 01.250 N 077 20.140 W" --frame EPSG:4326
                           --why "clear of the ledge"
    """
    from registry.actions.add_target import move_target

    use_grid_folder(grids)
    before, answer = move_target(
        open_for_writing(ctx),
        _draft(tag, at, frame, epoch),
        permit=permit,
        why=why,
        actor=actor_name(actor),
    )
    if as_json:
        moved = {"before": _data(before), "warnings": list(answer.warnings)}
        print_json(_data(answer.target) | moved)
        return
    _tell(answer)
    click.echo(f"  instead of {before.written}")


@command.command("import")
@click.argument("file", type=click.Path(path_type=Path))
@_PERMIT
@_FRAME
@_EPOCH
@_GRIDS
@actor_option
@json_option
@registry_option
@click.pass_context
def import_targets(
    ctx: click.Context,
    file: Path,
    permit: str,
    frame: str | None,
    epoch: float | None,
    grids: Path | None,
    actor: str | None,
    as_json: bool,
) -> None:
    """
    Record targets from a CSV with the columns tag and position (or latitude and longitude, or easting and
    northing), and where they differ from row to row frame and epoch.

    Rows that cannot be taken go to FILE.rejected.csv with the reason; the others go in. Rows that say exactly
    what the registry holds are left alone, so the same file can be read again.

    \b
    Example:
      leadline target import plan.csv --permit HB-0417 --frame EPSG:6318
    """
    from registry.actions.add_target import add_targets
    from registry.cli.rejects import keep_rejects, reject_file
    from registry.formats.csv_table import read_csv_table
    from registry.formats.target_table import read_targets, target_columns_left_out
    from registry.storage.files import read_text

    use_grid_folder(grids)
    decoded = read_text(file)
    reject_target = output_file(ctx, reject_file(file))
    table = read_csv_table(decoded.text)
    rows = list(read_targets(table, frame=frame, epoch=epoch))
    readable = [(row, draft) for row, draft in rows if not isinstance(draft, LeadlineError)]
    answers = add_targets(
        open_for_writing(ctx), [draft for _, draft in readable], permit=permit, actor=actor_name(actor)
    )
    rejected = [(row, str(problem)) for row, problem in rows if isinstance(problem, LeadlineError)]
    planned: list[tuple[int, Planned]] = []
    for (row, _), answer in zip(readable, answers, strict=True):
        if isinstance(answer, LeadlineError):
            rejected.append((row, str(answer)))
        else:
            planned.append((row.number, answer))
    rejected.sort(key=lambda pair: pair[0].number)
    taken = [each for _, each in planned if each.new]
    repeated = [number for number, each in planned if not each.new]
    warned = [(number, each) for number, each in planned if each.warnings]
    left_out = target_columns_left_out(table)
    rejects = keep_rejects(reject_target, table, rejected, taken=len(taken)) if rejected else None
    if as_json:
        print_json(
            {
                "taken": len(taken),
                "repeated": repeated,
                "rejected": [{"row": row.number, "reason": reason} for row, reason in rejected],
                "reject_file": str(rejects) if rejects else None,
                "columns_left_out": list(left_out),
                "warnings": [
                    {"row": number, "tag": each.target.tag, "warnings": list(each.warnings)}
                    for number, each in warned
                ],
            }
        )
    else:
        note = f" {decoded.note}" if decoded.note else ""
        click.echo(f"Recorded {len(taken)} {_targets(len(taken))} from {file}.{note}")
        if repeated:
            click.echo(
                f"{len(repeated)} stood already and {'was' if len(repeated) == 1 else 'were'} left alone."
            )
        if left_out:
            click.echo(f"Columns that were left out: {', '.join(left_out)}.")
        told = [f"row {number}, {each.target.tag}: {' '.join(each.warnings)}" for number, each in warned]
        more = [f"... and {len(told) - SHOWN} more; --json tells them all"] if len(told) > SHOWN else []
        print_lines("Warning", [*told[:SHOWN], *more])
        if rejects:
            click.echo(f"Rejected {len(rejected)}; see {rejects}:")
            for row, reason in rejected[:SHOWN]:
                click.echo(f"  row {row.number}: {reason}")
    ctx.exit(1 if rejected else 0)


@command.command("list")
@click.option("--permit", metavar="N", help="Only the targets under this permit.")
@json_option
@registry_option
@click.pass_context
def list_targets(ctx: click.Context, permit: str | None, as_json: bool) -> None:
    """
    List where the plan wants modules, as it was written, and whether each was placed.

    \b
    Example:
      leadline target list --permit HB-0417
    """
    register = open_for_reading(ctx)
    with register.reading():
        if permit is not None:
            register.permit(permit)
        targets = [target for target in register.targets() if permit in (None, target.permit)]
        placed = {target.tag for target in targets if register.placement_ids(target.tag)}
    if as_json:
        print_json({"targets": [_data(target) | {"placed": target.tag in placed} for target in targets]})
        return
    if not targets:
        click.echo("No target is recorded. Add one with: leadline target add TAG --permit N --at TEXT")
    for target in targets:
        done = "placed" if target.tag in placed else "not placed yet"
        click.echo(f"{target.tag}  {target.permit}  {target.written}  ({target.frame})  {done}")


def _draft(tag: str, at: str, frame: str | None, epoch: float | None) -> "TargetDraft":
    from registry.formats.written_position import read_position_in
    from registry.records.target import TargetDraft

    return TargetDraft(tag=tag, position=read_position_in(at, frame), frame=frame, epoch=epoch)


def _tell(planned: "Planned") -> None:
    target = planned.target
    click.echo(f"Target of {target.tag} under permit {target.permit}: {target.written}")
    click.echo(f"  {told_frame(target.frame, target.epoch, target.operation)}")
    print_lines("Warning", planned.warnings)


def _targets(count: int) -> str:
    return "target" if count == 1 else "targets"


def _data(target: Target) -> dict[str, Any]:
    from registry.records.body import target_body

    return target_body(target)
