"""``leadline certificate``: the paper for the family."""

from pathlib import Path
from typing import TYPE_CHECKING

import click

from registry.cli.answer import print_json, print_lines
from registry.cli.options import actor_name, actor_option, json_option, now, open_for_writing, registry_option

if TYPE_CHECKING:
    from registry.records.certificate import Certificate


@click.command("certificate")
@click.argument("tag")
@click.option("--out", required=True, type=click.Path(path_type=Path), metavar="DIR", help="Where it goes.")
@click.option(
    "--despite",
    metavar="REASON",
    help="Why it is issued although the placement does not conform or carries a warning.",
)
@actor_option
@json_option
@registry_option
@click.pass_context
def command(
    ctx: click.Context, tag: str, out: Path, despite: str | None, actor: str | None, as_json: bool
) -> None:
    """
    Issue the certificate of a module as a signed PDF; unchanged facts give the same paper again.

    The registry is proved first, entry by entry. Where the placement is nonconforming today or carries a
    warning, nothing is issued without --despite; the reason is kept in the journal.

    \b
    Example:
      leadline certificate MC-0017 --out certificates
    """
    from registry.actions.issue_certificate import issue_certificate
    from registry.documents.certificate import render_certificate
    from registry.formats.sealed_pdf import seal
    from registry.formats.signed_statement import sign
    from registry.storage.files import make_folder, write_file
    from registry.storage.keys import load_key
    from registry.storage.replay import insist_on_proof
    from registry.storage.shipped import shipped_path

    register = open_for_writing(ctx)
    insist_on_proof(register)
    key = load_key(register.programme().key_id)
    fonts = shipped_path("fonts")
    make_folder(out)

    def print_page(certificate: "Certificate") -> bytes:
        statement = certificate.statement()
        return seal(render_certificate(certificate, sign(statement, key), fonts), statement, key)

    issued = issue_certificate(
        register, tag, print_page=print_page, now=now(), actor=actor_name(actor), despite=despite
    )
    made = issued.certificate
    path = write_file(out / f"{made.number}-v{made.version}.pdf", issued.pdf)
    if as_json:
        print_json(
            {
                "certificate": made.number,
                "version": made.version,
                "tag": tag,
                "file": str(path),
                "again": issued.again,
                "warnings": list(issued.warnings),
                "statement": made.statement(),
            }
        )
        return
    print_lines("Warning", issued.warnings)
    print_lines("Note", key.notes)
    word = "Printed again" if issued.again else "Issued"
    click.echo(f"{word} certificate {made.number}, version {made.version}, for {made.memorial_name}: {path}")
