"""``leadline custody``: who had a module, and the remains in it, when; and where that chain is broken."""

import hashlib
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from registry.cli.answer import print_json, print_lines
from registry.cli.options import (
    actor_name,
    actor_option,
    json_option,
    open_families,
    open_for_reading,
    open_for_writing,
    output_file,
    registry_option,
)
from registry.errors import LeadlineError, RequestError
from registry.records.custody_chain import FaultKind

if TYPE_CHECKING:
    from registry.records.custody import HandOver
    from registry.records.custody_chain import Chain

#: A shape and a colour each: it reads without colour.
_MARKS = {
    FaultKind.GAP: ("x", "red"),
    FaultKind.MISMATCH: ("x", "red"),
    FaultKind.NOT_COMPARABLE: ("?", "yellow"),
    FaultKind.NOT_FINISHED: ("o", "cyan"),
}
SHOWN = 20


@click.command("custody")
@click.argument("tag", required=False)
@click.option("--step", metavar="STEP", help="Record a hand-over: received, cast, cured, loaded or placed.")
@click.option("--when", metavar="INSTANT", help="When it was, in the programme's zone or with its own.")
@click.option("--from", "giver", metavar="NAME", help="Who hands it over: firm or staff, never the family.")
@click.option("--from-tag", "giver_tag", metavar="TAG", help="The tag, as that side reads it.")
@click.option(
    "--from-id", "giver_id", metavar="NUMBER", help="The crematory's number, as that side reads it."
)
@click.option("--to", "taker", metavar="NAME", help="Who takes it.")
@click.option("--to-tag", "taker_tag", metavar="TAG", help="The tag, as this side reads it.")
@click.option("--to-id", "taker_id", metavar="NUMBER", help="The crematory's number, as this side reads it.")
@click.option("--note", default="", metavar="TEXT", help="Anything else worth keeping.")
@click.option(
    "--csv", "file", type=click.Path(path_type=Path), metavar="FILE", help="Many hand-overs instead."
)
@click.option("--corrects", default="", metavar="ENTRY", help="The hand-over that was recorded wrongly.")
@click.option("--withdraw", default="", metavar="ENTRY", help="The hand-over that never was.")
@click.option("--reason", default="", metavar="TEXT", help="Why; with --corrects or --withdraw.")
@actor_option
@json_option
@registry_option
@click.pass_context
def command(
    ctx: click.Context,
    /,
    tag: str | None,
    file: Path | None,
    withdraw: str,
    corrects: str,
    reason: str,
    actor: str | None,
    as_json: bool,
    **said: Any,
) -> None:
    """
    Show who had a module and the remains in it, or record a hand-over.

    At each one both sides read two identifiers, each on its own: the tag, and the number under which the
    crematory identified the remains. What does not agree is recorded as it was read, and told. The journal
    keeps names of firms and staff, and of the number only a digest; the number itself lies in the file of
    families and can be erased. A family that brings the remains is written “the family”.

    A spreadsheet has the columns tag, step, when, from, from_tag, from_id, to, to_tag, to_id and, if need be,
    note.

    \b
    Exit codes: 1 the chain has a gap or a mismatch, or a row was rejected · 3 identifications that cannot be
    compared · 0 nothing is wrong with it, so far.

    \b
    Example:
      leadline custody MC-0017
      leadline custody MC-0017 --step received --when "2025-01-14 09:30"
                       --from "Skua Crematory" --from-tag MC-0017 --from-id C-48213
                       --to "Marram yard" --to-tag MC-0017 --to-id C-48213
      leadline custody --csv hand-overs.csv
    """
    if (tag is None) == (file is None):
        raise RequestError("Give one tag, or a spreadsheet with --csv.", remedy="See --help for both.")
    told = [name for name in _NEEDED if said[name] is not None]
    if file is not None:
        if told or corrects or withdraw or said["note"]:
            raise RequestError("What is said of one hand-over is not for --csv.", remedy="Leave it out.")
        ctx.exit(_many(ctx, file, actor_name(actor), as_json=as_json))
    assert tag is not None
    if withdraw:
        if told or corrects:
            raise RequestError("--withdraw takes a hand-over back; nothing else is recorded.")
        from registry.actions.record_hand_over import withdraw_hand_over

        register = open_for_writing(ctx)
        withdraw_hand_over(register, tag, withdraw, reason=reason, actor=actor_name(actor))
        ctx.exit(_show(ctx, register, tag, f"Withdrew {withdraw}; the journal keeps it.", as_json=as_json))
    if not told:
        if corrects or said["note"] or reason:
            raise RequestError("Nothing of a hand-over is told.", remedy="Begin with --step; see --help.")
        ctx.exit(_show(ctx, open_for_reading(ctx), tag, "", as_json=as_json))
    ctx.exit(_one(ctx, tag, said, corrects, reason, actor_name(actor), as_json=as_json))


_NEEDED = {
    "step": "--step",
    "when": "--when",
    "giver": "--from",
    "giver_tag": "--from-tag",
    "giver_id": "--from-id",
    "taker": "--to",
    "taker_tag": "--to-tag",
    "taker_id": "--to-id",
}


def _one(
    ctx: click.Context,
    tag: str,
    said: dict[str, Any],
    corrects: str,
    reason: str,
    actor: str,
    *,
    as_json: bool,
) -> int:
    """Record one hand-over and show the chain."""
    from registry.actions.record_hand_over import record_hand_overs
    from registry.formats.custody_table import read_step
    from registry.formats.written_instant import read_instant
    from registry.records.custody import HandOverDraft, WrittenSide

    missing = [option for name, option in _NEEDED.items() if said[name] is None]
    if missing:
        what = f"{', '.join(missing)} is missing: a hand-over is told whole, both identifiers by both sides."
        raise RequestError(what, remedy="See: leadline custody --help")
    step = read_step(said["step"])
    register = open_for_writing(ctx)
    families = open_families(ctx, register)
    draft = HandOverDraft(
        tag=tag,
        step=step,
        at=read_instant(said["when"], register.programme().zone),
        at_text=said["when"],
        giver=WrittenSide(name=said["giver"], tag=said["giver_tag"], identification=said["giver_id"]),
        taker=WrittenSide(name=said["taker"], tag=said["taker_tag"], identification=said["taker_id"]),
        note=said["note"],
        source={"command": "leadline"},
    )
    (done,) = record_hand_overs(register, families, [draft], actor=actor, corrects=corrects, reason=reason)
    if isinstance(done, LeadlineError):
        raise done
    word = f"Recorded as {done.hand_over.reference}."
    if not done.new:
        word = f"Recorded before, exactly so, as {done.hand_over.reference}; nothing was written."
    return _show(ctx, register, tag, word, as_json=as_json, warnings=done.warnings)


def _show(
    ctx: click.Context,
    register: Any,
    tag: str,
    word: str,
    *,
    as_json: bool,
    warnings: tuple[str, ...] = (),
) -> int:
    from registry.actions.follow_custody import follow_custody, untold_custody
    from registry.records.custody import numbers_by_digest

    families = open_families(ctx, register)
    with register.reading():
        chain = follow_custody(register, tag)
        held = families.held().get(tag)
        numbers = numbers_by_digest(held) if held else {}
        zone, untold = register.programme().zone, untold_custody(register)
        if not chain.hand_overs and not register.placement_ids(tag):
            register.module(tag)  # an error that names the tags near it, where there is no such module
    if as_json:
        print_json(_data(chain, numbers) | {"warnings": list(warnings), "recorded": word})
    else:
        if word:
            click.echo(word)
        print_lines("Warning", warnings)
        _tell(chain, numbers, zone)
        print_lines("Note", [*families.notes, *untold])
    return _exit(chain)


def _exit(chain: "Chain") -> int:
    if chain.has(FaultKind.GAP, FaultKind.MISMATCH):
        return 1
    return 3 if chain.has(FaultKind.NOT_COMPARABLE) else 0


def _tell(chain: "Chain", numbers: dict[str, str], zone: str) -> None:
    from zoneinfo import ZoneInfo

    count = len(chain.hand_overs)
    heading = f"Keepers of {chain.tag}: {count} hand-over{'' if count == 1 else 's'}"
    broken = sum(1 for fault in chain.faults if fault.kind is not FaultKind.NOT_FINISHED)
    if chain.whole:
        heading = f"{click.style('+', fg='green')} {heading}, unbroken from the crematory to the seabed"
    elif broken:
        times = "once" if broken == 1 else f"{broken} times"
        heading = f"{click.style('x', fg='red')} {heading}, broken {times}"
    click.echo(heading)
    wide = max((len(f"{each.giver.name} → {each.taker.name}") for each in chain.hand_overs), default=0)
    for each in chain.hand_overs:
        when = each.at.astimezone(ZoneInfo(zone)).strftime("%Y-%m-%d %H:%M %Z")
        hands = f"{each.giver.name} → {each.taker.name}"
        click.echo(f"  {each.step.value:<9}{when}  {hands:<{wide}}  {each.reference}")
        for line in _remarks(chain.tag, each, numbers):
            click.echo(f"  {'':<9}{line}")
    for fault in chain.faults:
        shape, colour = _MARKS[fault.kind]
        click.echo(f"  {click.style(f'{shape} {fault.kind.value}', fg=colour)}: {fault.sentence}")


def _remarks(tag: str, each: "HandOver", numbers: dict[str, str]) -> list[str]:
    from registry.records.custody import spelt_alike

    lines = []
    if not (spelt_alike(each.giver.tag, tag) and spelt_alike(each.taker.tag, tag)):
        lines.append(f"tag read as {each.giver.tag} (handing), {each.taker.tag} (taking)")
    handed, taken = each.giver.identification_digest, each.taker.identification_digest
    if handed != taken:
        read = [numbers.get(digest, f"digest {digest[:8]}") for digest in (handed, taken)]
        lines.append(f"identification read as {read[0]} (handing), {read[1]} (taking)")
    if each.corrects:
        lines.append(f"in place of {each.corrects}: {each.reason}")
    return [*lines, *([each.note] if each.note else [])]


def _data(chain: "Chain", numbers: dict[str, str]) -> dict[str, Any]:
    def side(of: Any) -> dict[str, Any]:
        return {
            "name": of.name,
            "tag": of.tag,
            "identification": numbers.get(of.identification_digest),
            "identification_digest": of.identification_digest,
        }

    return {
        "tag": chain.tag,
        "whole": chain.whole,
        "hand_overs": [
            {
                "entry": each.reference,
                "step": each.step.value,
                "at": each.at.isoformat(),
                "from": side(each.giver),
                "to": side(each.taker),
                "note": each.note,
                "corrects": each.corrects or None,
                "reason": each.reason or None,
            }
            for each in chain.hand_overs
        ],
        "faults": [
            {"kind": fault.kind.value, "entry": fault.reference or None, "message": fault.sentence}
            for fault in chain.faults
        ],
    }


def _many(ctx: click.Context, file: Path, actor: str, *, as_json: bool) -> int:
    """Take in a spreadsheet, and tell which chains are broken."""
    from registry.actions.follow_custody import follow_custody
    from registry.actions.record_hand_over import Recorded, record_hand_overs
    from registry.cli.rejects import keep_rejects, reject_file
    from registry.formats.csv_table import read_csv_table
    from registry.formats.custody_table import read_hand_overs
    from registry.storage.files import decode_text, read_file

    content = read_file(file)
    decoded = decode_text(content, name=str(file))
    table = read_csv_table(decoded.text)
    target = output_file(ctx, reject_file(file))
    register = open_for_writing(ctx)
    source = {"file": file.name, "sha256": hashlib.sha256(content).hexdigest(), "encoding": decoded.encoding}
    rows = list(read_hand_overs(table, zone=register.programme().zone, source=source))
    readable = [(row, draft) for row, draft in rows if not isinstance(draft, LeadlineError)]
    families = open_families(ctx, register)
    answers = record_hand_overs(register, families, [draft for _, draft in readable], actor=actor)
    rejected = [(row, str(problem)) for row, problem in rows if isinstance(problem, LeadlineError)]
    taken: list[Recorded] = []
    repeated, warnings = [], []
    for (row, _), answer in zip(readable, answers, strict=True):
        if isinstance(answer, LeadlineError):
            rejected.append((row, str(answer)))
        elif answer.new:
            taken.append(answer)
            warnings += [f"row {row.number}: {warning}" for warning in answer.warnings]
        else:
            repeated.append(row.number)
    rejected.sort(key=lambda pair: pair[0].number)
    kept_in = None
    if rejected:
        # The rows may hold the crematory's numbers, which otherwise lie in the file of families alone.
        kept_in = keep_rejects(target, table, rejected, taken=len(taken), private=True)
    chains = [follow_custody(register, tag) for tag in dict.fromkeys(draft.tag for _, draft in readable)]
    if as_json:
        print_json(
            {
                "taken": len(taken),
                "repeated": repeated,
                "rejected": [{"row": row.number, "reason": reason} for row, reason in rejected],
                "reject_file": str(kept_in) if kept_in else None,
                "chains": [
                    {name: value for name, value in _data(chain, {}).items() if name != "hand_overs"}
                    for chain in chains
                ],
                "warnings": warnings,
            }
        )
    else:
        click.echo(
            f"Recorded {len(taken)} hand-overs from {file}." + (f" {decoded.note}" if decoded.note else "")
        )
        if repeated:
            click.echo(f"{len(repeated)} rows were recorded before, exactly so, and left alone.")
        print_lines("Warning", warnings[:SHOWN])
        _tell_chains(chains)
        if rejected:
            click.echo(f"Rejected {len(rejected)}; kept with their reasons in {kept_in}:")
            for row, reason in rejected[:SHOWN]:
                click.echo(f"  row {row.number}: {reason}")
    return 1 if rejected else max((_exit(chain) for chain in chains), key=_worst, default=0)


def _worst(code: int) -> int:
    """Put exit codes in order: 1 goes before 3, and 3 before 0."""
    return {0: 0, 3: 1, 1: 2}[code]


def _tell_chains(chains: "list[Chain]") -> None:
    whole = sum(chain.whole for chain in chains)
    broken = [chain for chain in chains if _exit(chain)]
    under_way = len(chains) - whole - len(broken)
    for count, word in (
        (whole, "unbroken to the seabed"),
        (under_way, "sound so far"),
        (len(broken), "broken"),
    ):
        if count:
            click.echo(f"  {count:>6} chains {word}")
    for chain in broken[:SHOWN]:
        for fault in chain.faults:
            shape, colour = _MARKS[fault.kind]
            click.echo(f"  {click.style(shape, fg=colour)} {chain.tag} {fault.kind.value}: {fault.sentence}")
    if len(broken) > SHOWN:
        click.echo(f"  … and {len(broken) - SHOWN} more; see them all with --json.")
