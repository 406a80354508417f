"""``leadline authenticate``: prove a certificate, without a network."""

import re
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from registry.cli.answer import exit_code, mark, print_json, print_lines
from registry.cli.options import json_option, now, open_for_reading, registry_option, registry_path
from registry.desk.certificate_page import STATUS_FILE
from registry.errors import MissingKeyError, RejectedError
from registry.measure.decision import Verdict
from registry.records.entry import instant_text

if TYPE_CHECKING:
    from registry.actions.judge_paper import Judged
    from registry.records.status_list import StatusList

#: Files of which a number in the name is held against what they hold.
_NUMBERED = re.compile(r"[A-Z]{1,4}-\d{4}-\d{6,9}-\d{2}", re.ASCII)


@click.command("authenticate")
@click.argument("file", type=click.Path(path_type=Path, allow_dash=True))
@click.option(
    "--key",
    "key_file",
    type=click.Path(path_type=Path),
    metavar="PEM",
    help="The programme's public key; it alone is then trusted, and those that it vouches for.",
)
@click.option(
    "--status",
    "status_place",
    type=click.Path(path_type=Path),
    metavar="DIR|FILE",
    help="The list that the programme publishes (status.jws), or its folder: tells whether the paper stands.",
)
@json_option
@registry_option
@click.pass_context
def command(
    ctx: click.Context, file: Path, key_file: Path | None, status_place: Path | None, as_json: bool
) -> None:
    """
    Tell whether a certificate is genuine: FILE is its PDF, or a text file with what its QR code says.

    The public key comes from the registry, or from --key (see: leadline journal key). A changed
    character anywhere is found; blanks and line ends that an editor or a mail put into the text are not
    part of it.

    Whether it is current, superseded or withdrawn is told by the registry, or by the signed list that the
    programme publishes (see: leadline certificates publish); neither needs a network. A list says what was
    true on its day: get the newest.

    \b
    Exit codes: 0 genuine · 1 not genuine · 3 genuine, but a later version was issued, it was withdrawn, the
    record has changed since, or nobody here can tell.

    \b
    Example:
      leadline authenticate certificates/MCMR-2026-000001-41-v1.pdf
      leadline authenticate paper.pdf --key marram-coast.pem --status downloads/status
    """
    from registry.desk.proved_paper import prove_paper
    from registry.storage.files import read_file

    content = sys.stdin.buffer.read() if str(file) == "-" else read_file(file)
    keys, register = _keys(ctx, key_file)
    try:
        status = _status_list(status_place, keys)
        if status is not None:
            keys |= {key.key_id: key.public_key for key in status.keys}
        proved = prove_paper(content, str(file), keys)
        statement = proved.statement
        judged = _judged(statement, proved.key_id, status, register)
    except RejectedError as error:
        if not as_json:
            raise
        print_json({"genuine": False, "error": error.what, "remedy": error.remedy})
        ctx.exit(error.exit_code)
    notes = _notes(file, statement, status, register)
    if as_json:
        told = {
            "genuine": True,
            "state": judged.words,
            "status": str(judged.state) if judged.state else None,
            "since": judged.since.isoformat() if judged.since else None,
            "list_of": instant_text(status.made_at) if status else None,
        }
        print_json({**told, "notes": notes, "statement": statement})
    else:
        _tell(judged.words, judged.verdict, statement)
        if status is not None:
            click.echo(f"  By the list of {instant_text(status.made_at)}, good until {status.renew_by}")
        print_lines("Note", notes)
    ctx.exit(exit_code(judged.verdict))


def _keys(ctx: click.Context, key_file: Path | None) -> tuple[dict[str, bytes], Any]:
    """Give the public keys that are trusted, those named before the registry's; and the registry if any."""
    from registry.records.certificate import key_thumbprint
    from registry.storage.files import read_text
    from registry.storage.keys import public_keys_from_pem

    there = registry_path(ctx).exists()
    if key_file is not None:
        named = public_keys_from_pem(read_text(key_file).text)
        return {key_thumbprint(key): key for key in named}, open_for_reading(ctx) if there else None
    if not there:
        what = f"There is no registry {registry_path(ctx)} to take the public key from."
        raise MissingKeyError(what, remedy="Give --registry PATH, or the public key with --key PEM.")
    register = open_for_reading(ctx)
    return {key.key_id: key.public_key for key in register.signing_keys()}, register


def _status_list(place: Path | None, keys: dict[str, bytes]) -> "StatusList | None":
    """Read and prove the list that was named."""
    if place is None:
        return None
    from registry.formats.status_list import read_status_list
    from registry.storage.files import read_text

    return read_status_list(read_text(place / STATUS_FILE if place.is_dir() else place).text, keys)


def _judged(statement: dict[str, Any], key_id: str, status: "StatusList | None", register: Any) -> "Judged":
    """Tell whether what is stated still stands, as far as anything at hand knows."""
    from registry.actions.judge_paper import UNTOLD, judge_by_list, judge_by_registry

    if status is not None:
        return judge_by_list(status, statement, key_id, now=now())
    if register is not None:
        return judge_by_registry(register, statement, key_id)
    return UNTOLD


def _notes(file: Path, statement: dict[str, Any], status: "StatusList | None", register: Any) -> list[str]:
    """Say what should make a person look twice."""
    notes = []
    numbers = set(_NUMBERED.findall(file.name.upper())) - {statement["certificate"]}
    if numbers:
        notes.append(f"The file's name says {', '.join(sorted(numbers))}; what counts is what it holds.")
    if status is not None and register is not None:
        own = {key.key_id for key in register.signing_keys()} & {key.key_id for key in status.keys}
        if own and status.serial < register.journal_length():
            notes.append("The list is older than this registry: publish it anew, or leave --status out.")
    return notes


def _tell(state: str, verdict: Verdict, statement: dict[str, Any]) -> None:
    from registry.formats.printed_statement import statement_lines

    which = f"certificate {statement['certificate']}, version {statement['version']}"
    if verdict is Verdict.CONFORMING:
        click.echo(f"{click.style('+', fg='green')} genuine: {which}; {state}")
    else:
        shape = mark(verdict).split(" ")[0]
        click.echo(f"{shape} genuine, but {state}: {which}")
    for name, value in statement_lines(statement):
        click.echo(f"  {name:<7} {value}")
