"""``leadline certificates``: those that were issued, and what becomes of them."""

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from registry.cli.answer import print_json, print_lines
from registry.cli.options import (
    actor_name,
    actor_option,
    json_option,
    now,
    open_for_reading,
    open_for_writing,
    registry_option,
)
from registry.cli.paper_options import language_option, paper_option
from registry.desk.certificate_page import (
    STATUS_FILE,
    holds_status_page,
    page_printer,
    paper_file,
    signing_key,
)
from registry.documents.look import Look
from registry.records.status_list import RELIED_ON_DAYS

if TYPE_CHECKING:
    from registry.records.certificate_version import CertificateVersion
    from registry.records.status_list import StatusList

#: A word, a shape and a colour each: it reads without colour.
_MARKS = {
    "current": ("+", "green"),
    "changed": ("!", "yellow"),
    "superseded": ("-", "bright_black"),
    "withdrawn": ("x", "red"),
}


@click.group("certificates", invoke_without_command=True)
@json_option
@registry_option
@click.pass_context
def command(ctx: click.Context, as_json: bool) -> int:
    """
    List the certificates issued; withdraw or duplicate one; publish which of them stand.

    \b
    Example:
      leadline certificates list
    """
    return _list(ctx, None, None, as_json=as_json) if ctx.invoked_subcommand is None else 0


@command.command("list")
@click.argument("which", metavar="[NUMBER|TAG]", required=False)
@click.option("--state", type=click.Choice(list(_MARKS)), help="Only those in this state.")
@json_option
@registry_option
@click.pass_context
def list_all(ctx: click.Context, which: str | None, state: str | None, as_json: bool) -> int:
    """
    List every version of every certificate with its state, or those of one NUMBER or of the module TAG.

    Current: it says what the record says. Changed: the latest version, but the record says otherwise by now.
    Superseded: a later version was issued. Withdrawn: it does not stand, for the reason given.

    \b
    Exit codes: 0 listed · 3 listed, and of some the record has changed: issue them anew.

    \b
    Example:
      leadline certificates list --state changed
      leadline certificates list MCMR-2026-000003-32
    """
    return _list(ctx, which, state, as_json=as_json)


def _list(ctx: click.Context, which: str | None, state: str | None, *, as_json: bool) -> int:
    from registry.actions.list_certificates import list_certificates

    register = open_for_reading(ctx)
    found = [each for each in list_certificates(register, which) if state in (None, str(each.state))]
    copies: dict[tuple[str, int], int] = {}
    tag = found[0].tag if which is not None and found else None
    for body in register.certificate_duplicates(tag):
        key = (body["number"], body["version"])
        copies[key] = copies.get(key, 0) + 1
    if as_json:
        print_json(
            {"certificates": [_data(each, copies.get((each.number, each.version), 0)) for each in found]}
        )
    else:
        for each in found:
            _tell(each, copies.get((each.number, each.version), 0))
        if not found:
            click.echo("No such certificate was issued.")
    return 3 if any(str(each.state) == "changed" for each in found) else 0


@command.command("withdraw")
@click.argument("which", metavar="NUMBER|TAG")
@click.option("--reason", required=True, metavar="TEXT", help="Why, for the journal.")
@actor_option
@json_option
@registry_option
@click.pass_context
def withdraw(ctx: click.Context, which: str, reason: str, actor: str | None, as_json: bool) -> None:
    """
    Withdraw a certificate with all its versions and duplicates: no paper of it stands any more.

    The number is given to no other module. Issued again for the same one, which takes a reason, the
    certificate goes on under it as the next version; those withdrawn stay so. The journal keeps the reason,
    and no list that is published tells it; name nobody of the family in it. Publish the list anew
    afterwards, so that others learn of it.

    \b
    Example:
      leadline certificates withdraw MCMR-2026-000003-32 --reason "two modules had been mixed up"
    """
    from registry.actions.withdraw_certificate import withdraw_certificate

    versions = withdraw_certificate(open_for_writing(ctx), which, reason=reason, actor=actor_name(actor))
    last = versions[-1]
    if as_json:
        print_json({"certificate": last.number, "tag": last.tag, "versions": [_data(v, 0) for v in versions]})
        return
    click.echo(f"Withdrew certificate {last.number} of {last.tag}: {last.reason}")
    click.echo("Next: tell the family, and publish the list anew: leadline certificates publish DIR")


@command.command("duplicate")
@click.argument("which", metavar="NUMBER|TAG")
@click.option("--out", required=True, type=click.Path(path_type=Path), metavar="DIR", help="Where it goes.")
@click.option("--again", type=click.IntRange(min=1), metavar="N", help="Print duplicate N once more.")
@language_option
@paper_option
@actor_option
@json_option
@registry_option
@click.pass_context
def duplicate(
    ctx: click.Context,
    which: str,
    out: Path,
    again: int | None,
    language: str | None,
    paper: str,
    actor: str | None,
    as_json: bool,
) -> None:
    """
    Print one more paper of the current version, for another relative; the paper says that it is a duplicate.

    Each is numbered, signed and journaled; for whom it was made is kept nowhere.

    \b
    Example:
      leadline certificates duplicate MC-0017 --out certificates
    """
    from registry.actions.duplicate_certificate import duplicate_certificate
    from registry.storage.files import make_folder, write_file
    from registry.storage.replay import insist_on_proof

    look = Look(language, paper)
    register = open_for_writing(ctx)
    insist_on_proof(register)
    key = signing_key(register)
    make_folder(out)
    made = duplicate_certificate(
        register, which, print_page=page_printer(key, look), now=now(), actor=actor_name(actor), again=again
    )
    copy = made.certificate
    path = write_file(paper_file(out, copy.number, copy.version, look, copy.duplicate), made.pdf)
    if as_json:
        print_json(
            {
                "certificate": copy.number,
                "version": copy.version,
                "duplicate": copy.duplicate,
                "tag": copy.tag,
                "file": str(path),
                "language": look.language(copy.language).tag,
                "paper": look.paper,
                "again": made.again,
                "statement": copy.statement(),
            }
        )
        return
    print_lines("Note", (*key.notes, *look.notes(copy.language)))
    word = "Printed again" if made.again else "Made"
    click.echo(f"{word} duplicate {copy.duplicate} of {copy.number}, version {copy.version}: {path}")
    if not made.again:
        click.echo("  Give the relative the paper; then: leadline certificates publish DIR")


@command.command("publish")
@click.argument("folder", metavar="DIR", type=click.Path(path_type=Path))
@click.option(
    "--days",
    type=click.IntRange(1, 3650),
    default=RELIED_ON_DAYS,
    show_default=True,
    metavar="N",
    help="For how many days the list may be relied on.",
)
@json_option
@registry_option
@click.pass_context
def publish(ctx: click.Context, folder: Path, days: int, as_json: bool) -> None:
    """
    Write the signed list of certificates that stand, as a folder that any web host serves.

    It holds numbers, states and days, and no name, tag, place or reason. With it and the public key anybody
    can authenticate a paper without a network: leadline authenticate FILE --key PEM --status DIR.
    Publish it anew after every certificate, withdrawal or new key, and before its last day.

    Give it a folder of its own: an index.html there that is of no earlier list, as the map's, is left alone
    and nothing is written.

    \b
    Example:
      leadline certificates publish website/certificates
    """
    from registry.actions.publish_status import publish_status
    from registry.desk.certificate_folder import status_files
    from registry.storage.files import write_file
    from registry.storage.new_folder import new_folder
    from registry.storage.replay import insist_on_proof

    register = open_for_reading(ctx)
    insist_on_proof(register)
    key = signing_key(register)
    status = publish_status(register, now=now(), days=days)
    _refuse_older(folder, status)
    _refuse_another_page(folder)
    files = status_files(status, key)
    with new_folder(folder, names=tuple(files)) as draft:
        for name, content in files.items():
            write_file(draft / name, content)
    if as_json:
        print_json(
            {
                "folder": str(folder),
                "files": list(files),
                "versions": len(status.versions),
                "serial": status.serial,
                "renew_by": status.renew_by.isoformat(),
                "key": key.key_id,
            }
        )
        return
    print_lines("Note", key.notes)
    click.echo(f"Published the state of {len(status.versions):,} versions in {folder}")
    click.echo(f"  Good until {status.renew_by}; publish it anew before, and after every change.")


def _refuse_older(folder: Path, status: "StatusList") -> None:
    """Never put an older list, or that of another programme, in the place of a newer one."""
    from registry.errors import ConflictError, LeadlineError
    from registry.formats.status_list import read_status_list
    from registry.storage.files import read_text

    file = folder / STATUS_FILE
    if not file.exists():
        return
    try:
        there = read_status_list(read_text(file).text, {key.key_id: key.public_key for key in status.keys})
    except LeadlineError as error:
        what = f"{file} is not a list that this programme published: {error.what}"
        raise ConflictError(what, remedy="Choose another folder, or remove that file yourself.") from error
    if there.serial > status.serial:
        what = (
            f"{file} was made of {there.serial} entries of the journal, and this registry has"
            f" {status.serial}: it is an older copy."
        )
        raise ConflictError(what, remedy="Publish from the newest registry.")


def _refuse_another_page(folder: Path) -> None:
    """Never put the page of the list in the place of another, as the front page of a map."""
    from registry.errors import ConflictError

    page = folder / "index.html"
    if page.exists() and not holds_status_page(page):
        what = f"{page} is not the page of a list that was published before."
        remedy = f"Choose a folder of its own for the list, as {folder / 'certificates'}."
        raise ConflictError(what, remedy=remedy)


def _data(each: "CertificateVersion", copies: int) -> dict[str, Any]:
    from registry.records.entry import instant_text

    return {
        "certificate": each.number,
        "version": each.version,
        "state": str(each.state),
        "since": instant_text(each.since),
        "reason": each.reason,
        "tag": each.tag,
        "name": each.memorial_name,
        "issued": instant_text(each.issued_at),
        "duplicates": copies,
    }


def _tell(each: "CertificateVersion", copies: int) -> None:
    shape, colour = _MARKS[str(each.state)]
    state = click.style(f"{shape} {each.state:<10}", fg=colour)
    more = f" ({copies} duplicate{'s' if copies > 1 else ''})" if copies else ""
    why = f": {each.reason}" if each.reason else ""
    click.echo(
        f"{state} {each.number} v{each.version:<2} since {each.since:%Y-%m-%d}  {each.tag:<10}"
        f" {each.memorial_name}{more}{why}"
    )
