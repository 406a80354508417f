"""``leadline resurvey``: modules observed again, and whether they have moved."""

import hashlib
from pathlib import Path
from typing import Any

import click

from registry.cli.answer import print_json, print_lines
from registry.cli.options import (
    EPOCH,
    actor_name,
    actor_option,
    json_option,
    length,
    open_for_reading,
    open_for_writing,
    output_file,
    registry_option,
    use_grid_folder,
)
from registry.errors import RequestError
from registry.measure.movement import Motion

#: A module that moved is something to act on, as a nonconforming one is.
EXIT = {Motion.MOVED: 1, Motion.INCONCLUSIVE: 3, Motion.NOT_SHOWN: 0}
MARKS = {Motion.MOVED: ("x", "red"), Motion.INCONCLUSIVE: ("?", "yellow"), Motion.NOT_SHOWN: ("+", "green")}
SHOWN = 20


@click.command("resurvey")
@click.argument("tag", required=False)
@click.option("--at", "text", metavar="TEXT", help="Where it was found, in any notation.")
@click.option("--when", metavar="INSTANT", help="When it was observed; a day is enough.")
@click.option("--csv", "file", type=click.Path(path_type=Path), metavar="FILE", help="A whole site instead.")
@click.option("--frame", metavar="CODE", help="Frame of the position, as EPSG:4326.")
@click.option("--epoch", type=EPOCH, metavar="YEAR", help="Epoch of the coordinates, else the day observed.")
@click.option("--r95", metavar="LENGTH", help='95 % radius of the position, as "2 m".')
@click.option("--receiver", default="", metavar="CLASS", help="Instead of --r95: sbas, dgnss, rtk, ...")
@click.option("--crew", default="", metavar="TEXT", help="Who was there.")
@click.option("--vessel", default="", metavar="TEXT", help="Which boat.")
@click.option("--note", default="", metavar="TEXT", help="Anything else worth keeping.")
@click.option("--corrects", default="", metavar="RESURVEY", help="The resurvey that was recorded wrongly.")
@click.option("--reason", default="", metavar="TEXT", help="Why, for the journal; with --corrects.")
@click.option("--dry-run", is_flag=True, help="Tell what would be found; write nothing.")
@click.option("--grids", metavar="DIR", type=click.Path(path_type=Path), help="Folder with grid files.")
@actor_option
@json_option
@registry_option
@click.pass_context
def command(
    ctx: click.Context,
    /,
    tag: str | None,
    text: str | None,
    when: str | None,
    file: Path | None,
    corrects: str,
    reason: str,
    dry_run: bool,
    grids: Path | None,
    actor: str | None,
    as_json: bool,
    **stated: Any,
) -> None:
    """
    Record that a module, or a whole site after a storm, was observed again; has anything moved?

    The placement stays as it is. A spreadsheet has the columns tag, position (or lat and lon), when (or date)
    and, where known, r95 or receiver, frame, epoch. What all modules show alike is told apart from single
    modules that moved. Exit code: 0 nothing is shown to have moved, 3 inconclusive or a common shift,
    1 something moved or a row was rejected.

    \b
    Example:
      leadline resurvey MC-0017 --at "34 01.2490 N 077 20.1100 W" --frame EPSG:4326 --r95 "2 m"
                        --when 2027-10-02
      leadline resurvey --csv after-storm.csv --frame EPSG:4326
    """
    use_grid_folder(grids)
    if (tag is None) == (file is None):
        raise RequestError("Give one tag, or a spreadsheet with --csv.", remedy="See --help for both.")
    register = open_for_reading(ctx) if dry_run else open_for_writing(ctx)
    zone = register.programme().zone
    if file is not None:
        if text or corrects or reason:
            raise RequestError("--at and --corrects are for one tag.", remedy="Leave them out with --csv.")
        ctx.exit(_site(ctx, register, file, when, zone, stated, actor, write=not dry_run, as_json=as_json))
    from registry.actions.record_resurvey import ASSUMPTION, record_resurvey

    assert tag is not None
    row = _row(tag, text, when, zone, stated)
    done = record_resurvey(
        register, row, actor=actor_name(actor), write=not dry_run, corrects=corrects, reason=reason
    )
    if as_json:
        print_json(_data(done) | {"assumption": ASSUMPTION})
    else:
        _tell(done, ASSUMPTION)
    ctx.exit(EXIT[done.resurvey.movement.verdict])


def _row(tag: str, text: str | None, when: str | None, zone: str, stated: dict[str, Any]) -> Any:
    from registry.formats.check_survey import read_time
    from registry.formats.written_position import read_position
    from registry.records.log_row import LogRow

    if text is None or when is None:
        missing = " and ".join(name for name, value in (("--at", text), ("--when", when)) if value is None)
        raise RequestError(f"{missing} is missing.", remedy="Say where it was found, and when.")
    return LogRow(
        tag=tag,
        permit="",
        placed_at=read_time(when, zone),
        position=read_position(text),
        frame=stated["frame"],
        epoch=stated["epoch"],
        r95=length(stated["r95"]),
        receiver=stated["receiver"],
        crew=stated["crew"],
        vessel=stated["vessel"],
        note=stated["note"],
        source={"command": "leadline", "when": when},
    )


def _site(
    ctx: click.Context,
    register: Any,
    file: Path,
    when: str | None,
    zone: str,
    stated: dict[str, Any],
    actor: str | None,
    *,
    write: bool,
    as_json: bool,
) -> int:
    """Take in a whole site, and give the exit code."""
    from registry.actions.intake_log import Read
    from registry.actions.record_resurvey import ASSUMPTION
    from registry.actions.record_survey import record_survey
    from registry.cli.rejects import keep_rejects, reject_file
    from registry.formats.check_survey import read_check_survey, read_time
    from registry.formats.csv_table import read_csv_table
    from registry.storage.files import decode_text, read_file

    content = read_file(file)
    decoded = decode_text(content, name=str(file))
    table = read_csv_table(decoded.text)
    target = output_file(ctx, reject_file(file))
    source = {"file": file.name, "sha256": hashlib.sha256(content).hexdigest(), "encoding": decoded.encoding}
    at = read_time(when, zone) if when else None
    lines = list(read_check_survey(table, zone=zone, source=source, when=at, frame=stated["frame"]))
    usual = {"epoch": stated["epoch"], "r95": length(stated["r95"]), "receiver": stated["receiver"]}
    usual |= {name: stated[name] for name in ("crew", "vessel", "note")}
    reads = [Read(number=line.number, cells=line.cells, row=row) for line, row in lines]
    taken = record_survey(register, reads, usual=usual, actor=actor_name(actor), write=write)
    found, good, repeated = taken.found, list(taken.good), list(taken.repeated)
    line_of = {line.number: line for line, _ in lines}
    rejected = [(line_of[each.number], each.reason) for each in taken.rejected]
    kept_in = keep_rejects(target, table, rejected, taken=len(good)) if rejected else None
    if as_json:
        print_json(
            {
                "movement": found.motion.value,
                "resurveys": [_data(one) for one in good],
                "common_shift": _shift_data(found),
                "repeated": repeated,
                "rejected": [{"row": line.number, "reason": reason} for line, reason in rejected],
                "reject_file": str(kept_in) if kept_in else None,
                "assumption": ASSUMPTION,
            }
        )
    else:
        _tell_site(file, decoded.note, found, good, repeated, written=write)
        if rejected:
            click.echo(f"Rejected {len(rejected)}; kept with their reasons in {kept_in}:")
            for line, reason in rejected[:SHOWN]:
                click.echo(f"  row {line.number}: {reason}")
        click.echo(ASSUMPTION)
    return 1 if rejected else EXIT[found.motion]


def _shift_data(found: Any) -> dict[str, Any] | None:
    shift = found.shift
    if shift is None:
        return None
    return {
        "found": shift.real,
        "distance_m": shift.distance_m,
        "bearing_deg": shift.bearing_deg,
        "r95_m": shift.r95_m,
        "modules": shift.count,
        "p_value": shift.p_value,
        "explanation": list(found.explanation),
    }


def _data(done: Any) -> dict[str, Any]:
    from registry.formats.advice_answer import position_answer

    resurvey, movement = done.resurvey, done.resurvey.movement
    home = resurvey.home
    return {
        "resurvey": done.resurvey_id,
        "tag": resurvey.tag,
        "placement": resurvey.placement_id,
        "movement": movement.verdict.value,
        "distance_m": movement.distance_m,
        "bearing_deg": movement.bearing_deg,
        "u95_m": movement.u95_m,
        "p_value": movement.p_value,
        "adjusted_p": movement.adjusted_p,
        "compared_with": movement.compared_with,
        "compared_at": movement.compared_at.isoformat(),
        "since": movement.since.isoformat(),
        "least_seen_m": done.least_seen_m,
        "position": position_answer(resurvey.observed),
        "home": position_answer(home.position) | {"operation": home.operation},
        "warnings": list(resurvey.warnings),
        "basis": list(resurvey.basis),
    }


def _marked(done: Any) -> str:
    shape, colour = MARKS[done.resurvey.movement.verdict]
    from registry.documents.movement_words import movement_sentence

    return f"{click.style(shape, fg=colour)} {done.resurvey.tag} {movement_sentence(done.resurvey)}"


def _tell(done: Any, assumption: str) -> None:
    click.echo(_marked(done))
    recorded = f"Recorded as {done.resurvey_id}; the placement stays as it is."
    click.echo(recorded if done.resurvey_id else "Nothing was written (--dry-run).")
    if done.resurvey.movement.verdict == Motion.MOVED and done.resurvey_id:
        click.echo(
            "From now on `leadline where` gives the new place. Ask the permit what a moved module needs."
        )
    print_lines("Warnings", done.resurvey.warnings)
    print_lines("How it was read", done.resurvey.basis)
    click.echo(assumption)


def _tell_site(
    file: Path, note: str, found: Any, good: list[Any], repeated: list[int], *, written: bool
) -> None:
    word = "recorded" if written else "looked at; nothing was written (--dry-run)"
    click.echo(f"{file}: {len(good)} resurveys {word}.{f' {note}' if note else ''}")
    for motion in (Motion.NOT_SHOWN, Motion.INCONCLUSIVE, Motion.MOVED):
        count = sum(1 for one in good if one.resurvey.movement.verdict == motion)
        if count:
            shape, colour = MARKS[motion]
            click.echo(f"  {count:>6} {click.style(f'{shape} {motion.value}', fg=colour)}")
    if repeated:
        click.echo(f"  {len(repeated):>6} rows were taken in before and were left alone")
    if good:
        _tell_shift(found)
    told = [one for one in good if one.resurvey.movement.verdict != Motion.NOT_SHOWN]
    for one in told[:SHOWN]:
        click.echo(f"  {_marked(one)}")
    if len(told) > SHOWN:
        click.echo(f"  … and {len(told) - SHOWN} more; see them all with --json or in the layer resurveys.")
    for one in good:
        for warning in one.resurvey.warnings[:1]:
            click.echo(f"      ! {one.resurvey.tag}: {warning}")


def _tell_shift(found: Any) -> None:
    """Say what all modules show alike."""
    from registry.documents.movement_words import shift_sentences

    first, *more = shift_sentences(found.shift, found.explanation)
    click.echo(first)
    for line in more:
        click.echo(f"  {line}")
