"""``leadline permit``: permits with their areas, conditions and versions."""

from collections.abc import Callable, Sequence
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from registry.cli.answer import print_json, print_lines
from registry.cli.options import (
    actor_name,
    actor_option,
    json_option,
    open_for_reading,
    open_for_writing,
    registry_option,
    registry_path,
    use_grid_folder,
)
from registry.formats.permit_answer import permit_answer, permit_notes
from registry.records.permit import Permit, Reporting

if TYPE_CHECKING:
    from registry.actions.amend_permit import Amended
    from registry.records.permit_draft import PermitDraft

_NOTATIONS = {
    "dd": "decimal degrees",
    "ddm": "degrees and decimal minutes",
    "dms": "degrees, minutes and seconds",
}


@click.group("permit")
def command() -> None:
    """
    Add permits, record how they were amended or transferred, list and show them.

    \b
    Example:
      leadline permit add hb-0417.toml
    """


@command.command("add")
@click.argument("file", type=click.Path(path_type=Path))
@click.option("--grids", metavar="DIR", type=click.Path(path_type=Path), help="Folder with grid files.")
@actor_option
@json_option
@registry_option
@click.pass_context
def add(ctx: click.Context, file: Path, grids: Path | None, actor: str | None, as_json: bool) -> None:
    """
    Transcribe a permit from a TOML file; area files are looked for beside it.

    \b
    Example:
      leadline permit add hb-0417.toml
    """
    from registry.actions.add_permit import add_permit
    from registry.formats.written_position import read_position

    use_grid_folder(grids)
    draft, shapes = _transcript(ctx, file)
    permit = add_permit(
        open_for_writing(ctx),
        draft,
        read_position=read_position,
        read_shapes=shapes,
        actor=actor_name(actor),
    )
    if as_json:
        print_json(permit_answer(permit))
        return
    _tell(permit)


@command.command("amend")
@click.argument("number")
@click.argument("file", type=click.Path(path_type=Path))
@click.option("--effective", required=True, metavar="DATE", help="Its first day, as 2026-03-01.")
@click.option("--why", required=True, metavar="TEXT", help="As the amending paper says it.")
@click.option("--grids", metavar="DIR", type=click.Path(path_type=Path), help="Folder with grid files.")
@actor_option
@json_option
@registry_option
@click.pass_context
def amend(
    ctx: click.Context,
    number: str,
    file: Path,
    effective: str,
    why: str,
    grids: Path | None,
    actor: str | None,
    as_json: bool,
) -> None:
    """
    Record a permit as it was amended: FILE.toml states the whole permit as it now reads.

    A placement is judged by the version in force on its day. The earlier versions stay; a version from a day
    that has one already takes its place, so that a slip in the transcript can be mended.

    \b
    Example:
      leadline permit amend HB-0417 hb-0417-2.toml --effective 2026-03-01 --why "Amendment 1, clause 2"
    """
    from registry.actions.amend_permit import amend_permit
    from registry.formats.written_instant import read_day
    from registry.formats.written_position import read_position

    use_grid_folder(grids)
    draft, shapes = _transcript(ctx, file)
    amended = amend_permit(
        open_for_writing(ctx),
        number,
        draft,
        effective=read_day(effective),
        why=why,
        read_position=read_position,
        read_shapes=shapes,
        actor=actor_name(actor),
    )
    _show_amended(amended, as_json=as_json)


@command.command("transfer")
@click.argument("number")
@click.option("--to", "holder", required=True, metavar="HOLDER", help="Who holds it from then on.")
@click.option("--effective", required=True, metavar="DATE", help="From which day, as 2026-03-01.")
@click.option("--why", required=True, metavar="TEXT", help="As the paper says it.")
@actor_option
@json_option
@registry_option
@click.pass_context
def transfer(
    ctx: click.Context,
    number: str,
    holder: str,
    effective: str,
    why: str,
    actor: str | None,
    as_json: bool,
) -> None:
    """
    Record that a permit was transferred: another holder, everything else as it was.

    \b
    Example:
      leadline permit transfer HB-0417 --to "Tern Reef Trust" --effective 2026-03-01 --why "Letter"
    """
    from registry.actions.amend_permit import transfer_permit
    from registry.formats.written_instant import read_day

    amended = transfer_permit(
        open_for_writing(ctx),
        number,
        holder=holder,
        effective=read_day(effective),
        why=why,
        actor=actor_name(actor),
    )
    _show_amended(amended, as_json=as_json)


@command.command("list")
@json_option
@registry_option
@click.pass_context
def list_permits(ctx: click.Context, as_json: bool) -> None:
    """
    List the permits of the registry: in force, expired or not yet valid today, and how often amended.

    \b
    Example:
      leadline permit list
    """
    register = open_for_reading(ctx)
    today = register.today()
    with register.reading():
        permits = [(permit, register.permit_versions(permit.number)) for permit in register.permits()]
    if as_json:
        print_json({"permits": [permit_answer(permit, versions, today) for permit, versions in permits]})
        return
    if not permits:
        click.echo("No permit is recorded. Add one with: leadline permit add FILE.toml")
    for permit, versions in permits:
        areas = ", ".join(area.area_id for area in permit.areas)
        click.echo(
            f"{permit.number}  {permit.valid_from} to {permit.valid_to}  {permit.standing_on(today)}  "
            f"{permit.authority}  ({areas})"
        )
        for line in _amendments(permit, versions, today):
            click.echo(f"  {line}")


@command.command("show")
@click.argument("number")
@json_option
@registry_option
@click.pass_context
def show(ctx: click.Context, number: str, as_json: bool) -> None:
    """
    Show one permit as it is in force today, then each of its versions and what it changed.

    \b
    Example:
      leadline permit show HB-0417
    """
    register = open_for_reading(ctx)
    today = register.today()
    with register.reading():
        permit, versions = register.permit(number), register.permit_versions(number)
    if as_json:
        print_json(permit_answer(permit, versions, today))
        return
    _tell(permit, today)
    if len(versions) > 1:
        _tell_versions(permit, versions)


def _transcript(ctx: click.Context, file: Path) -> "tuple[PermitDraft, Callable[[str, str | None], Any]]":
    """Read the file of a permit, and tell how the shapes beside it are read."""
    from registry.errors import ConflictError
    from registry.formats.permit_file import read_permit_file
    from registry.storage.files import read_file
    from registry.storage.layers import read_layer

    def shapes(source: str, layer: str | None) -> Any:
        path = file.parent / source
        if path.resolve() == registry_path(ctx).resolve():
            what = f"The area source {path} is the registry itself."
            raise ConflictError(what, remedy="Name the file that came with the permit.")
        return read_layer(path, layer)

    return read_permit_file(read_file(file)), shapes


def _show_amended(amended: "Amended", *, as_json: bool) -> None:
    after = amended.after
    if as_json:
        until = amended.until.isoformat() if amended.until else None
        print_json(
            {"permit": permit_answer(after), "changes": list(amended.changes), "superseded_from": until},
        )
        return
    click.echo(f"Permit {after.number}, version from {after.begins_on}: {after.amendment}")
    print_lines("Changed", amended.changes)
    if amended.before.in_force_from == after.in_force_from or amended.before.begins_on == after.begins_on:
        click.echo(f"It takes the place of what was recorded for {after.begins_on}; the journal keeps both.")
    if amended.until:
        click.echo(f"Another version is recorded from {amended.until} on, which stays in force from then.")
    click.echo(
        f"Placements from {after.begins_on} on are judged by it: leadline audit --permit {after.number}"
    )


def _amendments(permit: Permit, versions: Sequence[Permit], today: date) -> list[str]:
    """Say which version is meant where a permit has several, and which is still to come."""
    lines = []
    if permit.in_force_from is not None:
        lines.append(f"as amended, in force from {permit.in_force_from}: {permit.amendment}")
    lines += [
        f"amended from {version.begins_on} on: {version.amendment}"
        for version in versions
        if version.begins_on > today and version != permit
    ]
    return lines


def _tell(permit: Permit, today: date | None = None) -> None:
    from registry.records.permit_changes import condition_words
    from registry.rules.catalogue import conditions_of

    held = f", held by {permit.holder}" if permit.holder else ""
    click.echo(f"Permit {permit.number} of {permit.authority}{held}")
    standing = f" ({permit.standing_on(today)})" if today else ""
    click.echo(
        f"  Valid {permit.valid_from} to {permit.valid_to}{standing}; depths below {permit.chart_datum}"
    )
    for area in permit.areas:
        epoch = f", epoch {area.epoch:g}" if area.epoch is not None else ""
        click.echo(f"  Area {area.area_id}: stated in {area.frame}{epoch}, edges {area.edges}")
        click.echo(f"    from {_shortened(area.written)}; {area.operation}")
    for note in permit_notes(permit):
        click.echo(f"  Note: {note}")
    for condition in conditions_of(permit):
        click.echo(f"  {condition.rule:<17} {condition_words(condition)}")
    _tell_reporting(permit.reporting)


def _tell_reporting(reporting: Reporting) -> None:
    """Say how and when the authority wants to be told, where the permit says something of it."""
    if reporting == Reporting():
        return
    frame = f"in {reporting.frame}" if reporting.frame else "in the frame of the first area"
    units = f"{reporting.length_unit}, {reporting.mass_unit}"
    click.echo(f"  Reported {frame}, {_NOTATIONS[reporting.notation]}; {units}")
    if reporting.notice_days_before is not None:
        click.echo(
            f"  Notice {_days(reporting.notice_days_before)} before the work [{reporting.notice_cite}]"
        )
    if reporting.report_days_after is not None:
        click.echo(f"  Report {_days(reporting.report_days_after)} after the work [{reporting.report_cite}]")


def _tell_versions(permit: Permit, versions: Sequence[Permit]) -> None:
    from registry.records.permit_changes import permit_changes

    click.echo("Versions:")
    earlier: Permit | None = None
    for version in versions:
        here = " (shown above)" if version == permit else ""
        click.echo(f"  from {version.begins_on}{here}: {version.amendment or 'as first issued'}")
        if earlier is not None:
            for change in permit_changes(earlier, version):
                click.echo(f"    {change}")
        earlier = version


def _days(count: int) -> str:
    return f"{count} day" if count == 1 else f"{count} days"


def _shortened(text: str, longest: int = 70) -> str:
    return text if len(text) <= longest else text[: longest - 1] + "…"
