"""``leadline journal``: the record itself."""

import json
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from registry.cli.answer import exit_code, print_json, print_lines
from registry.cli.options import (
    actor_name,
    actor_option,
    json_option,
    now,
    open_for_reading,
    open_for_writing,
    output_file,
    registry_option,
)
from registry.records.entry import instant_text

if TYPE_CHECKING:
    from registry.records.programme_key import ProgrammeKey
    from registry.storage.journal_head import Head


@click.group("journal")
def command() -> None:
    """
    Verify, show or replay the journal; print the programme's public key.

    \b
    Example:
      leadline journal verify
    """


@command.command("verify")
@click.option(
    "--head",
    "head_text",
    metavar="DIGEST",
    help="A digest from an old paper, audit or backup: is it in this journal, and what came after it?",
)
@json_option
@registry_option
@click.pass_context
def verify(ctx: click.Context, head_text: str | None, as_json: bool) -> None:
    """
    Recompute every digest, name each entry that was changed, removed, reordered or inserted, and compare
    every table with what follows from the journal.

    Whoever has the file can write the whole journal anew from some entry on, every digest with it, or cut
    off its end; no look at the file alone finds that. Every audit, certificate and backup prints the digest
    of the journal's head on its day: with --head DIGEST (at least 16 of its 64 digits) you are told at which
    entry and time it stood, that everything up to there is as it was, and what has been added since.

    An entry that is dated earlier than one before it, and a guard of the file that was taken off, are told as
    doubts: neither proves a change.

    \b
    Exit codes: 0 as it was written · 1 it is not, or the digest is not in it · 3 as it was written, with
    doubts that ask for an explanation.

    \b
    Example:
      leadline journal verify
      leadline journal verify --head 9f2c4b7e01d3a865
    """
    from registry.cli.progress import watched
    from registry.measure.decision import Verdict
    from registry.storage.journal_doubts import clock_doubts, guard_doubts
    from registry.storage.journal_head import find_head, like_heads, read_digest
    from registry.storage.replay import prove

    digits = read_digest(head_text) if head_text is not None else None
    register = open_for_reading(ctx)
    with watched(shown=not as_json) as watch, register.reading():
        count = register.journal_length()
        watch.begin("Proving the journal and its tables", total=2 * count)
        problems = prove(register, progress=watch.advance)
        doubts = (*clock_doubts(register, now=now()), *guard_doubts(register))
        found = find_head(register, digits) if digits else None
        like = like_heads(register, digits) if digits and not found else ()
        head = register.head()
    # What was changed after the entry of the paper says nothing against what stood before it.
    kept = found is not None and all(problem.position > found.position for problem in problems)
    if as_json:
        told: dict[str, Any] = {
            "sound": not problems,
            "entries": count,
            "head": head,
            "problems": [problem.sentence for problem in problems],
            "doubts": list(doubts),
        }
        if digits:
            told["paper"] = _paper_data(digits, found, like, kept=kept)
        print_json(told)
    else:
        if problems:
            number = "1 problem" if len(problems) == 1 else f"{len(problems)} problems"
            click.echo(f"x The journal is not as it was written ({number}):")
            for problem in problems:
                click.echo(f"  {problem.sentence}")
        else:
            click.echo(f"+ The journal is as it was written: {count} entries, head {head}")
        for doubt in doubts:
            click.echo(f"? {doubt}")
        if digits:
            _tell_paper(digits, found, like, kept=kept)
    if problems or (digits and not found):
        ctx.exit(1)
    ctx.exit(exit_code(Verdict.INCONCLUSIVE if doubts else Verdict.CONFORMING))


def _paper_data(digits: str, found: "Head | None", like: Sequence[str], *, kept: bool) -> dict[str, Any]:
    if found is None:
        return {"digest": digits, "found": False, "like": list(like)}
    return {
        "digest": found.digest,
        "found": True,
        "digits_compared": len(digits),
        "entry": found.reference,
        "position": found.position,
        "covered": found.covered,
        "time": found.time,
        "as_it_was": kept,
        "added_since": found.added,
        "added_kinds": dict(found.since),
    }


def _tell_paper(digits: str, found: "Head | None", like: Sequence[str], *, kept: bool) -> None:
    if found is None:
        click.echo(f"x No entry of this journal has the digest {digits}.")
        click.echo(
            "  The paper is of another registry, or the journal was written anew or cut since it was printed."
        )
        if like:
            click.echo(f"  Entry {', '.join(like)} has a digest much like it: look for a digit misread.")
        return
    part = f" (its first {len(digits)} digits were compared)" if len(digits) < len(found.digest) else ""
    entry = f"entry {found.reference}, number {found.position}, of {found.time}"
    click.echo(f"{'+' if kept else 'x'} The digest is that of {entry}{part}.")
    many = "The 1 entry" if found.covered == 1 else f"All {found.covered} entries"
    if kept:
        click.echo(f"  {many} up to it: as when the paper was printed.")
    else:
        click.echo("  But not everything up to it is as it was: see above.")
    if not found.added:
        click.echo("  Nothing has been added since.")
        return
    kinds = ", ".join(f"{number} {kind}" for kind, number in found.since.items())
    number = "1 entry was" if found.added == 1 else f"{found.added} entries were"
    click.echo(f"  Since then {number} added, the last dated {found.last_time}: {kinds}.")


@command.command("show")
@click.option("--last", type=click.IntRange(min=1), metavar="N", help="Only the last N entries.")
@click.option("--full", is_flag=True, help="With the body of each entry.")
@json_option
@registry_option
@click.pass_context
def show(ctx: click.Context, last: int | None, full: bool, as_json: bool) -> None:
    """
    Print the entries, oldest first.

    \b
    Example:
      leadline journal show --last 5 --full
    """
    from collections import deque

    entries = open_for_reading(ctx).journal()
    chosen = deque(entries, maxlen=last)
    if as_json:
        from registry.formats.entry_answer import entry_answer

        print_json({"entries": [entry_answer(entry) for entry in chosen]})
        return
    for entry in chosen:
        body = entry.content()
        about = body.get("tag") or body.get("number") or body.get("name") or body.get("type_id") or ""
        click.echo(
            f"{entry.reference:<14} {instant_text(entry.time)} {entry.kind:<20} {about:<16} "
            f"{entry.actor:<12} {entry.digest[:12]}"
        )
        if full:
            click.echo(json.dumps(body, ensure_ascii=False, indent=2))


@command.command("rebuild")
@json_option
@registry_option
@click.pass_context
def rebuild(ctx: click.Context, as_json: bool) -> None:
    """
    Make every table that follows from the journal anew: after damage, or after a new version of Leadline.

    \b
    Example:
      leadline journal rebuild
    """
    from registry.storage.replay import rebuild_tables

    register = open_for_writing(ctx)
    rebuild_tables(register)
    if as_json:
        print_json({"rebuilt": True, "head": register.head()})
        return
    click.echo(f"Rebuilt every table from the journal; head {register.head()}")


@command.command("key")
@click.option("--out", type=click.Path(path_type=Path), metavar="FILE.pem", help="Else standard output.")
@click.option("--all", "every", is_flag=True, help="Every key that ever signed, the one in use last.")
@json_option
@registry_option
@click.pass_context
def key(ctx: click.Context, out: Path | None, every: bool, as_json: bool) -> None:
    """
    Give the programme's public key, to be published so that anybody can prove a certificate.

    \b
    Example:
      leadline journal key --out marram-coast.pem
    """
    from registry.storage.files import write_file
    from registry.storage.keys import public_key_pem

    if out is not None:
        output_file(ctx, out)
    keys = open_for_reading(ctx).signing_keys()
    pem = "".join(public_key_pem(each.public_key) for each in (keys if every else keys[-1:]))
    if out is not None:
        write_file(out, pem.encode())
    if as_json:
        told = {"key": keys[-1].key_id, "public_key": pem, "file": str(out) if out else None}
        print_json(told | {"keys": [_key_data(each) for each in keys]})
    elif out is None:
        click.echo(pem, nl=False)
    else:
        click.echo(f"Wrote {out}")


def _key_data(each: "ProgrammeKey") -> dict[str, Any]:
    return {
        "key": each.key_id,
        "since": instant_text(each.since),
        "until": instant_text(each.until) if each.until else None,
        "ended": str(each.ended) if each.ended else None,
        "vouched_for": bool(each.endorsement),
    }


@command.command("rotate-key")
@click.option(
    "--ended",
    required=True,
    type=click.Choice(["retired", "lost", "stolen"]),
    help="What became of the key in use.",
)
@click.option("--reason", required=True, metavar="TEXT", help="Why, for the journal.")
@actor_option
@json_option
@registry_option
@click.pass_context
def rotate_key(ctx: click.Context, ended: Any, reason: str, actor: str | None, as_json: bool) -> None:
    """
    Sign with a new key from now on. Every old public key stays in the journal: papers of its time are proved.

    Retired: the old key vouches for the new one, so whoever trusts it can trust the next.
    Lost: nobody has it any more. What it signed stands, but nothing vouches for the new key: publish that as
    you published the first, and tell everybody who holds the old one.
    Stolen: as lost, and what the old key signed counts only where the registry or the published list holds
    it. Print the certificates again for the families: they are then signed with the new key.

    Afterwards publish the list and the public key anew, and back up the new key file apart.

    \b
    Example:
      leadline journal rotate-key --ended retired --reason "five years in use"
    """
    from registry.actions.rotate_key import rotate_key as rotate
    from registry.desk.certificate_page import signing_key
    from registry.formats.signed_statement import sign
    from registry.records.programme_key import KeyEnd
    from registry.storage.keys import create_key, discard_key, key_folder
    from registry.storage.replay import insist_on_proof

    register = open_for_writing(ctx)
    insist_on_proof(register)
    end = KeyEnd(ended)
    old = signing_key(register) if end is KeyEnd.RETIRED else None
    new = create_key()
    try:
        made = rotate(
            register,
            new.public_key,
            ended=end,
            reason=reason,
            actor=actor_name(actor),
            endorse=(lambda statement: sign(statement, old)) if old is not None else None,
        )
    except BaseException:
        if register.signing_keys()[-1].key_id != new.key_id:
            discard_key(new)
        raise
    if as_json:
        print_json(_key_data(made) | {"key_folder": str(key_folder())})
        return
    click.echo(f"Signing with the key {made.key_id} from now on.")
    click.echo(f"  Signing key {key_folder()}/{made.key_id}.pem  (keep a copy in a safe place)")
    print_lines("Note", new.notes)
    for line in _AFTERWARDS[end]:
        click.echo(line)


_AFTERWARDS = {
    "retired": ("Next: publish the list and the public key anew: leadline certificates publish DIR",),
    "lost": (
        "! Nothing vouches for the new key. Publish it as you published the first, on paper as well.",
        "  What the lost key signed stands; keep its public half: leadline journal key --all",
    ),
    "stolen": (
        "! Somebody else can sign with the old key. What it signed counts only where this registry or the",
        "  published list holds it: publish the list now, and print the certificates again.",
    ),
}
