"""``leadline duties``: notices, reports and dates that are owed, and what was sent."""

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
)
from registry.formats.duties_answer import duties_answer, duty_answer

if TYPE_CHECKING:
    from registry.records.duty import Duties, Duty, DutyState

#: A word, a shape and a colour each: it reads without colour.
_MARKS = {
    "overdue": ("x", "red"),
    "due soon": ("!", "yellow"),
    "not yet known": ("?", "yellow"),
    "open": ("o", "cyan"),
    "done": ("+", "green"),
    "does not apply": ("-", "bright_black"),
}
#: So many duties are printed; the rest is counted.
SHOWN = 40


@click.group("duties", invoke_without_command=True)
@click.option("--permit", metavar="N", help="Only what is owed under this permit.")
@click.option("--on", metavar="DAY", help="As it stands on this day, as 2026-06-14; else today.")
@click.option("--soon", type=click.IntRange(0, 3650), metavar="DAYS", help="Due soon: so many days ahead.")
@click.option("--all", "everything", is_flag=True, help="Also what was done on time or does not apply.")
@click.option("--why", is_flag=True, help="What each rests on: placements, plans, what was told as sent.")
@json_option
@registry_option
@click.pass_context
def command(
    ctx: click.Context,
    permit: str | None,
    on: str | None,
    soon: int | None,
    everything: bool,
    why: bool,
    as_json: bool,
) -> int:
    """
    List the notices, reports and dates that are owed, overdue first.

    A notice before work and an as-built report after it are owed where [reporting] of the permit's file
    says so; a burial-at-sea report where the programme declares that it applies. Ends of seasons and permits
    are reminders. Days are those of the programme's zone; what is due on a day is on time all that day.

    Due soon means 14 days ahead, 30 for the end of a season, 180 for that of a permit, or --soon DAYS.

    \b
    Exit codes: 1 something is overdue · 3 nothing is overdue, but something is due soon, has changed since
    it was sent, or waits for the programme to declare it · 0 none of these.

    \b
    Example:
      leadline duties --permit HB-0417 --on 2026-06-14
    """
    if ctx.invoked_subcommand is not None:
        return 0
    from registry.actions.list_duties import list_duties
    from registry.actions.told_duties import declarations_of
    from registry.records.duty_entry import declaration_body

    register = open_for_reading(ctx)
    found = list_duties(register, on=_day(on), permit=permit, soon_days=soon)
    code = 1 if found.overdue else 3 if found.want_attention else 0
    if as_json:
        declared = [declaration_body(each) for each in declarations_of(register).values()]
        print_json(duties_answer(found) | {"declared": declared})
    else:
        _tell(found, everything=everything, why=why)
    return code


@command.command("declare")
@click.option("--permit", metavar="N", help="For this permit; else for all without a word of their own.")
@click.option(
    "--burial-report",
    "applies",
    type=click.Choice(["yes", "no", "unknown"]),
    help="Whether a burial-at-sea report is owed for each memorial placed.",
)
@click.option(
    "--days",
    type=click.IntRange(1, 3650),
    metavar="N",
    help="Within how many days of the placement; else 30.",
)
@click.option("--cite", metavar="TEXT", help="Who asks for it or rules it out, and where.")
@click.option(
    "--basis",
    "bases",
    multiple=True,
    metavar='"KIND: DOCUMENT"',
    help="A paper on which the placements rest; again for each. They replace those declared before.",
)
@actor_option
@json_option
@registry_option
@click.pass_context
def declare(
    ctx: click.Context,
    permit: str | None,
    applies: Any,
    days: int | None,
    cite: str | None,
    bases: tuple[str, ...],
    actor: str | None,
    as_json: bool,
) -> None:
    """
    Declare whether burial-at-sea reports apply, and the papers on which the placements rest.

    Whether they do is for the authority and for counsel to say; Leadline records what the programme declares.
    What is left out stays as it was declared before. Where reports apply and --days is left out, 30 days are
    taken, as 40 CFR 229.1(d) asks in the United States.

    \b
    Example:
      leadline duties declare --burial-report yes --cite "40 CFR 229.1(d)" --basis "state permit: HB-0417"
    """
    from registry.actions.declare_burial_reports import declare_burial_reports
    from registry.records.duty_entry import declaration_body

    made = declare_burial_reports(
        open_for_writing(ctx),
        permit=permit,
        applies=applies,
        days=days,
        cite=cite,
        bases=[_basis(text) for text in bases],
        actor=actor_name(actor),
    )
    if as_json:
        print_json(declaration_body(made))
        return
    about = f"permit {made.permit}" if made.permit else "every permit without a declaration of its own"
    within = f", within {made.days} days" if made.applies == "yes" else ""
    click.echo(f"Declared for {about}: burial-at-sea reports apply: {made.applies}{within}.")
    if made.cite:
        click.echo(f"  Source  {made.cite}")
    for basis in made.bases:
        click.echo(f"  Basis   {basis.kind}: {basis.document}")
    click.echo("Recorded as the programme's own word. The authorities named decide; Leadline claims nothing.")


@command.command("plan")
@click.option("--permit", required=True, metavar="N", help="The permit under which the work is done.")
@click.option("--from", "begins", required=True, metavar="DAY", help="First day, as 2026-06-14.")
@click.option("--to", "ends", metavar="DAY", help="Last day.")
@click.option("--call-off", "called_off", is_flag=True, help="The work that was to begin then is called off.")
@actor_option
@json_option
@registry_option
@click.pass_context
def plan(
    ctx: click.Context,
    permit: str,
    begins: str,
    ends: str | None,
    called_off: bool,
    actor: str | None,
    as_json: bool,
) -> None:
    """
    Plan work, so that the notice before it has a day.

    Told again for the same first day, the last word stands.

    \b
    Example:
      leadline duties plan --permit HB-0417 --from 2026-06-14 --to 2026-06-18
    """
    from registry.actions.list_duties import list_duties
    from registry.actions.plan_work import plan_work
    from registry.formats.written_instant import read_day

    register = open_for_writing(ctx)
    work = plan_work(
        register,
        permit=permit,
        begins_on=read_day(begins),
        ends_on=_day(ends),
        called_off=called_off,
        actor=actor_name(actor),
    )
    notice_id = f"notice-{permit}-{work.begins_on}"
    duties = list_duties(register, permit=permit).duties
    notice = next((duty for duty in duties if duty.duty_id == notice_id and not called_off), None)
    if as_json:
        print_json(
            {
                "permit": permit,
                "from": work.begins_on.isoformat(),
                "to": work.ends_on.isoformat(),
                "called_off": called_off,
                "notice": duty_answer(notice) if notice else None,
            }
        )
        return
    word = "Called off" if called_off else "Planned"
    click.echo(f"{word}: work under {permit} from {work.begins_on} to {work.ends_on}.")
    if notice is not None:
        _tell_duty(notice)
    elif not called_off:
        click.echo("The permit's file asks for no notice before work.")


@command.command("done")
@click.argument("duty_ids", metavar="ID...", nargs=-1, required=True)
@click.option("--sent", metavar="DAY", help="The day on which it left, as 2026-06-14.")
@click.option(
    "--note", default="", metavar="TEXT", help="To whom, under which number; or why it is put right."
)
@click.option("--instead", is_flag=True, help="The day told last was wrong: this takes its place.")
@click.option("--not-sent", is_flag=True, help="What was told last was a mistake: nothing was sent.")
@actor_option
@json_option
@registry_option
@click.pass_context
def done(
    ctx: click.Context,
    duty_ids: tuple[str, ...],
    sent: str | None,
    note: str,
    instead: bool,
    not_sent: bool,
    actor: str | None,
    as_json: bool,
) -> None:
    """
    Record that notices or reports (ID as printed by duties) were sent; sent late is told as late.

    An ID with * stands for all of those that were not sent yet, as "burial-*".

    Told again, it is a further sending, as of an amended report; the first one counts for being on time.
    The placements behind a report are kept with it: what is corrected or withdrawn later is told.

    \b
    Example:
      leadline duties done asbuilt-HB-0417-2026-06-14 --sent 2026-07-01 --note "by e-mail, no. 88"
    """
    from registry.actions.record_sending import record_sending
    from registry.errors import RequestError
    from registry.formats.written_instant import read_day

    if (sent is None) != not_sent:
        what = "Give the day with --sent DAY, or --not-sent; one of the two."
        raise RequestError(what)
    after = record_sending(
        open_for_writing(ctx),
        duty_ids,
        sent_on=None if sent is None else read_day(sent),
        note=note,
        instead=instead,
        actor=actor_name(actor),
    )
    if as_json:
        print_json({"duties": [duty_answer(duty) for duty in after]})
        return
    for duty in after:
        _tell_duty(duty)


@command.command("draft")
@click.argument("duty_id", metavar="ID")
@click.option("--out", required=True, type=click.Path(path_type=Path), metavar="DIR", help="Where it goes.")
@json_option
@registry_option
@click.pass_context
def draft(ctx: click.Context, duty_id: str, out: Path, as_json: bool) -> None:
    """
    Draft a notice or report (ID as printed by duties) as PDF and CSV; nothing is recorded or sent.

    Positions, lengths and masses come in the frame, notation and units of [reporting] in the permit's file; a
    burial-at-sea report in decimal degrees of WGS 84. What Leadline does not hold is a blank to be filled in.
    A burial-at-sea report names the deceased: it is a private paper. No draft claims that anything was
    allowed: it prints the papers that the programme recorded, and who must decide.

    \b
    Example:
      leadline duties draft asbuilt-HB-0417-2026-06-14 --out papers
    """
    from registry.desk.duty_files import draft_of, duty_files
    from registry.storage.files import make_folder, write_file

    made = draft_of(open_for_reading(ctx), duty_id)
    contents = duty_files(made)
    make_folder(out)
    files = [write_file(out / name, content) for name, content in contents.items()]
    if as_json:
        print_json(
            {
                "id": duty_id,
                "files": [str(path) for path in files],
                "blanks": made.blanks,
                "private": made.private,
                "authority_basis": list(made.bases),
            }
        )
        return
    click.echo(f"Drafted {made.title}: {', '.join(map(str, files))}")
    if made.blanks:
        click.echo(f"  {made.blanks} fields to be filled in by the programme.")
    if made.private:
        click.echo("  Private: it names a person who died. Send it to the authority and to nobody else.")
    click.echo(f"  Nothing was sent. Once it is: leadline duties done {duty_id} --sent DAY")


def _day(text: str | None) -> date | None:
    if text is None:
        return None
    from registry.formats.written_instant import read_day

    return read_day(text)


def _basis(text: str) -> Any:
    """Read "KIND: DOCUMENT"."""
    from registry.errors import RequestError
    from registry.records.duty_entry import AuthorityBasis

    kind, colon, document = text.partition(":")
    if not colon:
        what = f"The basis {text!r} does not say its kind."
        raise RequestError(what, remedy='Write "KIND: DOCUMENT", as "state permit: HB-0417".')
    return AuthorityBasis(kind=kind.strip(), document=document.strip())


def _mark(state: "DutyState", words: str) -> str:
    shape, colour = _MARKS[state.value]
    return click.style(f"{shape} {words}", fg=colour)


def _tell(found: "Duties", *, everything: bool, why: bool) -> None:
    click.echo(f"Duties on {found.on}, in days of {found.zone}")
    shown = [duty for duty in found.duties if everything or not _settled(duty)]
    told = shown if everything else shown[:SHOWN]
    widths = [max((len(cell) for cell in cells), default=0) for cells in zip(*map(_cells, told), strict=True)]
    for duty in told:
        words, due, duty_id = (cell.ljust(width) for cell, width in zip(_cells(duty), widths, strict=True))
        click.echo(f"{_mark(duty.state, words)}  {due}  {duty_id}  {_what(duty)}")
        for sentence in duty.evidence if why else ():
            click.echo(f"      {sentence}")
    if len(shown) > len(told):
        click.echo(f"... and {len(shown) - len(told)} more; --all prints them.")
    settled = len(found.duties) - len(shown)
    if settled:
        click.echo(f"{settled} more done on time or not applying; --all prints them.")
    if not found.duties:
        click.echo("Nothing is owed.")
    print_lines("Note", found.notes)
    click.echo("An aid, not a ruling: the permit and the authorities decide what is owed, and when.")


def _cells(duty: "Duty") -> tuple[str, str, str]:
    return duty.state_words, str(duty.due_on or "no day yet"), duty.duty_id


def _what(duty: "Duty") -> str:
    return f"{duty.what} [{duty.cite}]" if duty.cite else duty.what


def _settled(duty: "Duty") -> bool:
    """Tell whether nobody needs to look at a duty again."""
    if duty.changed_since:
        return False
    on_time = duty.state.value == "done" and not duty.days_late
    return on_time or duty.state.value == "does not apply"


def _tell_duty(duty: "Duty") -> None:
    click.echo(f"{_mark(duty.state, duty.state_words)}  {duty.due_on or 'no day yet'}  {duty.duty_id}")
    for sentence in (_what(duty), *duty.evidence):
        click.echo(f"      {sentence}")
