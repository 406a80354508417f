"""``leadline intake``: a day's spreadsheet of placements."""

import hashlib
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import click

from registry.cli.answer import exit_code, mark, print_json
from registry.cli.depth_options import depth_options
from registry.cli.instruments import instruments_of
from registry.cli.options import (
    actor_name,
    actor_option,
    json_option,
    open_for_writing,
    output_file,
    registry_option,
    use_grid_folder,
)
from registry.cli.survey_options import day_options
from registry.measure.decision import Verdict, worst

#: Rows beyond which a progress bar is worth its space.
MANY_ROWS = 2_000
SHOWN = 20


@click.command("intake")
@click.argument("file", type=click.Path(path_type=Path))
@click.option("--permit", metavar="N", help="Permit of rows that name none.")
@click.option("--frame", metavar="CODE", help="Frame of rows that name none, as EPSG:4326.")
@click.option("--delimiter", type=click.Choice([",", ";", "tab"]), help="Where it cannot be told.")
@click.option("--rejects", type=click.Path(path_type=Path), metavar="FILE", help="Where rejected rows go.")
@day_options
@click.option(
    "--receiver", default="", metavar="CLASS", help="Of the receiver's log, where a row names none."
)
@depth_options
@click.option("--grids", metavar="DIR", type=click.Path(path_type=Path), help="Folder with grid files.")
@actor_option
@json_option
@registry_option
@click.pass_context
def command(
    ctx: click.Context,
    /,
    file: Path,
    permit: str | None,
    frame: str | None,
    delimiter: str | None,
    rejects: Path | None,
    grids: Path | None,
    actor: str | None,
    as_json: bool,
    **line: Any,
) -> None:
    """
    Take in a spreadsheet (CSV) with mixed notations and units.

    Columns: tag; position, or lat and lon; when, or date and time; and where known depth (or depth_ft,
    depth_m, depth with a unit in each cell), tide, r95 or receiver, frame, type, crew, vessel, note.
    Others are kept verbatim. Good rows go in; bad rows go to FILE.rejected.csv with the reason.
    Taking the same rows in again changes nothing.

    With a receiver's log of the day (--fixes, or a column fixes) rows need no position: it follows from the
    fixes around touch-down, or those of columns from and to, or event. With --depth-kind, or a column
    depth_kind, the depth is what its instrument makes of it.

    \b
    Example:
      leadline intake 2026-06-14.csv --permit HB-0417 --frame EPSG:4326
      leadline intake slate.csv --permit HB-0417 --frame EPSG:4326 --fixes day.nmea --receiver sbas
                      --around 120s --lever "-4.2,1.5,3.0" --depth-kind gauge --gauge-setting en13319
                      --tide-gauge tide.csv
    """
    from registry.actions.intake_log import Read, intake_log
    from registry.cli.rejects import keep_rejects, reject_file
    from registry.formats.csv_table import Row, read_csv_table
    from registry.formats.placement_log import read_placement_log
    from registry.storage.files import decode_text, read_file

    use_grid_folder(grids)
    # Read once, so that the digest is that of what is taken in, also where it comes through a pipe.
    content = read_file(file)
    reject_target = output_file(ctx, reject_file(file, rejects))
    decoded = decode_text(content, name=str(file))
    table = read_csv_table(decoded.text, delimiter="\t" if delimiter == "tab" else delimiter)
    register = open_for_writing(ctx)
    instruments = instruments_of(line, folder=file.parent, zone=register.programme().zone)
    source = {"file": file.name, "sha256": hashlib.sha256(content).hexdigest(), "encoding": decoded.encoding}
    kept: dict[int, Row] = {}

    def reads() -> Iterator[Read]:
        rows = read_placement_log(
            table,
            zone=register.programme().zone,
            permit=permit,
            source=source,
            frame=frame,
            instruments=instruments,
        )
        for row, read in rows:
            kept[row.number] = row
            yield Read(number=row.number, cells=row.cells, row=read)

    with progress_bar(table.text.count("\n"), f"Reading {file.name}") as progress:
        taken = intake_log(register, reads(), source=source, actor=actor_name(actor), progress=progress)
    kept_in = None
    if taken.rejected:
        lines = [(kept[r.number], r.reason) for r in taken.rejected]
        kept_in = keep_rejects(reject_target, table, lines, taken=len(taken.logged))
    whole = worst([logged.verdict for _, logged in taken.logged])
    if taken.rejected:
        whole = Verdict.NONCONFORMING
    if as_json:
        print_json(_data(taken, kept_in, whole))
    else:
        _tell(file, decoded.note, taken, kept_in)
    ctx.exit(exit_code(whole))


@contextmanager
def progress_bar(total: int, title: str) -> Iterator[Callable[[int], None]]:
    """Show progress where it will take a while and a person is looking."""
    if total < MANY_ROWS or not sys.stderr.isatty():
        yield lambda _count: None
        return
    from rich.console import Console
    from rich.progress import Progress

    with Progress(console=Console(stderr=True), transient=True) as bar:
        task = bar.add_task(title, total=total)
        yield lambda count: bar.advance(task, count)


def _data(taken: Any, kept_in: Path | None, whole: Verdict) -> dict[str, Any]:
    return {
        "verdict": whole.word,
        "taken": [
            {
                "row": number,
                "placement": logged.placement_id,
                "tag": logged.placement.tag,
                "verdict": logged.verdict.word,
                "warnings": list(logged.placement.warnings),
            }
            for number, logged in taken.logged
        ],
        "repeated": taken.repeated,
        "rejected": [{"row": r.number, "reason": r.reason} for r in taken.rejected],
        "reject_file": str(kept_in) if kept_in else None,
        "findings": [finding.as_json() for _, logged in taken.logged for finding in logged.findings],
    }


def _tell(file: Path, note: str, taken: Any, kept_in: Path | None) -> None:
    many = "1 placement" if len(taken.logged) == 1 else f"{len(taken.logged)} placements"
    click.echo(f"{file}: {many} recorded.{f' {note}' if note else ''}")
    for verdict in (Verdict.CONFORMING, Verdict.INCONCLUSIVE, Verdict.NONCONFORMING):
        count = taken.count(verdict)
        if count:
            click.echo(f"  {count:>6} {mark(verdict)}")
    if taken.repeated:
        click.echo(f"  {len(taken.repeated):>6} rows were taken in before and were left alone")
    from registry.actions.settle_position import NO_FRAME

    unsaid = [
        told for _, logged in taken.logged for told in logged.placement.basis if told.startswith(NO_FRAME)
    ]
    if unsaid:
        click.echo(f"  {len(unsaid):>6} rows name no frame. {unsaid[0]} A receiver set to WGS 84 differs")
        click.echo("         by a metre or more: name it in a column frame, or with --frame.")
    _tell_flagged(taken)
    if taken.rejected:
        click.echo(f"Rejected {len(taken.rejected)}; kept with their reasons in {kept_in}:")
        for rejected in taken.rejected[:SHOWN]:
            click.echo(f"  row {rejected.number}: {rejected.reason}")
        if len(taken.rejected) > SHOWN:
            click.echo(f"  … and {len(taken.rejected) - SHOWN} more.")


def _tell_flagged(taken: Any) -> None:
    """Show what somebody must look at."""
    flagged = [
        (number, logged)
        for number, logged in taken.logged
        if logged.verdict == Verdict.NONCONFORMING or logged.placement.warnings
    ]
    for number, logged in flagged[:SHOWN]:
        click.echo(f"  row {number}, {logged.placement.tag}: {mark(logged.verdict)}")
        for warning in logged.placement.warnings:
            click.echo(f"      ! {warning}")
        for finding in logged.findings:
            if finding.verdict == Verdict.NONCONFORMING:
                click.echo(f"      x {finding.rule}: {finding.message} [{finding.cite}]")
    if len(flagged) > SHOWN:
        click.echo(f"  … and {len(flagged) - SHOWN} more; see: leadline audit --out DIR")
