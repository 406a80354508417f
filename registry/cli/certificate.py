"""``leadline certificate``: the paper for the family, of one module or of all."""

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from registry.cli.answer import print_json, print_lines
from registry.cli.options import actor_name, actor_option, json_option, now, open_for_writing, registry_option
from registry.cli.paper_options import language_option, paper_option
from registry.desk.certificate_page import page_printer, paper_file, signing_key
from registry.documents.look import Look

if TYPE_CHECKING:
    from registry.desk.certificate_folder import Laid
    from registry.errors import RequestError

#: Why nothing was issued, for those whom a run refused.
REFUSED = "not-issued.csv"
#: So many of them are printed; the file holds all.
SHOWN = 20


@click.command("certificate")
@click.argument("tag", required=False)
@click.option("--all", "everything", is_flag=True, help="Every module with a memorial that was placed.")
@click.option("--permit", metavar="N", help="With --all: only those placed under this permit.")
@click.option("--out", required=True, type=click.Path(path_type=Path), metavar="DIR", help="Where it goes.")
@click.option(
    "--despite",
    metavar="REASON",
    help="Why it is issued although the placement does not conform or carries a warning.",
)
@language_option
@paper_option
@actor_option
@json_option
@registry_option
@click.pass_context
def command(
    ctx: click.Context,
    tag: str | None,
    everything: bool,
    permit: str | None,
    out: Path,
    despite: str | None,
    language: str | None,
    paper: str,
    actor: str | None,
    as_json: bool,
) -> None:
    """
    Issue the certificate of a module as a signed PDF; unchanged facts give the same paper again.

    After a correction, a resurvey that found the module moved, or a new name, the next version keeps the
    number, names what has changed and supersedes the one before. The registry is proved first, entry by
    entry. Where the placement is nonconforming today or carries a warning, or the certificate was withdrawn,
    nothing is issued without --despite; the reason is kept in the journal.

    A paper in another language or on another sheet is the same certificate: what is signed holds no word of
    any language, and positions are written alike in each.

    With --all, whatever is missing in DIR or has changed is issued, one certificate after the other; what
    lies there whole is left alone, so that a run that was stopped goes on. Those that something speaks
    against, and their reasons, stand in not-issued.csv: issue them one by one with --despite.

    \b
    Exit codes: 0 issued · 1 with --all, some were not issued · 2 the request was wrong.

    \b
    Example:
      leadline certificate MC-0017 --out certificates
      leadline certificate MC-0017 --out certificates --language vi --paper letter
      leadline certificate --all --permit HB-0417 --out certificates
    """
    if everything == (tag is not None):
        raise click.UsageError("Give either the TAG of one module, or --all.", ctx)
    if permit is not None and not everything:
        raise click.UsageError("--permit goes with --all; a tag needs none.", ctx)
    if despite is not None and everything:
        what = "A reason is given for one certificate: issue that one with TAG --despite REASON."
        raise click.UsageError(what, ctx)
    look = Look(language, paper)
    if tag is None:
        ctx.exit(_issue_all(ctx, permit, out, look, actor=actor, as_json=as_json))
    _issue_one(ctx, tag, out, look, despite=despite, actor=actor, as_json=as_json)


def _issue_one(
    ctx: click.Context,
    tag: str,
    out: Path,
    look: Look,
    *,
    despite: str | None,
    actor: str | None,
    as_json: bool,
) -> None:
    from registry.actions.follow_custody import untold_custody
    from registry.actions.issue_certificate import certificate_body, issue_certificate
    from registry.documents.certificate_words import issued_words
    from registry.documents.language import ENGLISH
    from registry.storage.files import make_folder, write_file

    register = _proved(ctx, as_json=as_json)
    key = signing_key(register)
    make_folder(out)
    issued = issue_certificate(
        register, tag, print_page=page_printer(key, look), now=now(), actor=actor_name(actor), despite=despite
    )
    made, untold = issued.certificate, untold_custody(register)
    path = write_file(paper_file(out, made.number, made.version, look), issued.pdf)
    if as_json:
        print_json(
            {
                "certificate": made.number,
                "version": made.version,
                "tag": tag,
                "file": str(path),
                "language": look.language(made.language).tag,
                "paper": look.paper,
                "again": issued.again,
                "changes": certificate_body(made)["changes"],
                "warnings": list(issued.warnings),
                "notes": list(untold),
                "statement": made.statement(),
            }
        )
        return
    print_lines("Warning", issued.warnings)
    print_lines("Note", (*key.notes, *look.notes(made.language), *untold))
    word = "Printed again" if issued.again else "Issued"
    click.echo(f"{word} certificate {made.number}, version {made.version}, for {made.memorial_name}: {path}")
    if made.changes and not issued.again:
        click.echo(f"  {issued_words(made, ENGLISH)}")
        click.echo("  Give the family the new paper; then: leadline certificates publish DIR")


def _issue_all(
    ctx: click.Context, permit: str | None, out: Path, look: Look, *, actor: str | None, as_json: bool
) -> int:
    from registry.actions.follow_custody import untold_custody
    from registry.actions.issue_certificates import tags_to_certify
    from registry.cli.progress import watched
    from registry.desk.certificate_folder import certify_into

    register = _proved(ctx, as_json=as_json)
    key = signing_key(register)
    tags = tags_to_certify(register, permit)
    told: list[dict[str, Any]] = []
    refused: list[tuple[str, RequestError]] = []
    with watched(shown=not as_json) as watch:
        watch.begin("Issuing certificates", total=len(tags))
        for each in certify_into(register, out, tags, key=key, look=look, now=now(), actor=actor_name(actor)):
            if each.refused is not None:
                refused.append((each.tag, each.refused))
            else:
                told.append(_row(each))
            watch.advance()
    _keep_refused(out / REFUSED, refused)
    untold = untold_custody(register)
    if as_json:
        reasons = [{"tag": tag, "error": error.what, "remedy": error.remedy} for tag, error in refused]
        print_json({"certificates": told, "refused": reasons, "notes": list(untold)})
    else:
        print_lines("Note", (*key.notes, *untold))
        _tell(out, told, refused)
    return 1 if refused else 0


def _proved(ctx: click.Context, *, as_json: bool) -> Any:
    """Open the registry once it has proved itself."""
    from registry.cli.progress import watched
    from registry.storage.replay import insist_on_proof

    register = open_for_writing(ctx)
    with watched(shown=not as_json) as watch:
        watch.begin("Proving the registry", total=2 * register.journal_length())
        insist_on_proof(register, progress=watch.advance)
    return register


def _row(each: "Laid") -> dict[str, Any]:
    return {
        "certificate": each.number,
        "version": each.version,
        "tag": each.tag,
        "outcome": each.outcome,
        "file": str(each.file) if each.file else None,
    }


def _keep_refused(file: Path, refused: list[tuple[str, Any]]) -> None:
    """Write down what was refused and why; where nothing was, an older list goes."""
    from registry.formats.csv_table import write_csv_table
    from registry.storage.files import write_file

    if refused:
        rows = [(tag, error.what, error.remedy) for tag, error in refused]
        write_file(file, write_csv_table(("tag", "reason", "remedy"), rows).encode())
    else:
        file.unlink(missing_ok=True)


def _tell(out: Path, told: list[dict[str, Any]], refused: list[tuple[str, Any]]) -> None:
    count = {word: sum(row["outcome"] == word for row in told) for word in _OUTCOMES}
    parts = [f"{number:,} {_OUTCOMES[word]}" for word, number in count.items() if number]
    click.echo(f"Certificates in {out}: {', '.join(parts) or 'none'}.")
    if not refused:
        return
    click.echo(f"x {len(refused):,} not issued; the reasons stand in {out / REFUSED}:")
    for tag, error in refused[:SHOWN]:
        click.echo(f"  {tag}: {error.what}")
    if len(refused) > SHOWN:
        click.echo(f"  … and {len(refused) - SHOWN:,} more")


_OUTCOMES = {
    "issued": "issued now",
    "again": "printed again",
    "kept": "there already and unchanged",
    "withdrawn": "withdrawn and left alone",
}
