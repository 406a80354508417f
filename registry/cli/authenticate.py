"""``leadline authenticate``: prove a certificate, without a network."""

import base64
import sys
from pathlib import Path
from typing import Any

import click

from registry.cli.answer import exit_code, mark, print_json
from registry.cli.options import json_option, open_for_reading, registry_option, registry_path
from registry.errors import InvalidRecordError, MissingKeyError, RejectedError
from registry.measure.decision import Verdict

CURRENT = "current"
CHANGED = "the record has changed since; ask for a new version"


@click.command("authenticate")
@click.argument("file", type=click.Path(path_type=Path, allow_dash=True))
@click.option(
    "--key",
    "key_file",
    type=click.Path(path_type=Path),
    metavar="PEM",
    help="The programme's public key; it alone is then trusted.",
)
@json_option
@registry_option
@click.pass_context
def command(ctx: click.Context, file: Path, key_file: Path | None, as_json: bool) -> None:
    """
    Tell whether a certificate is genuine: FILE is its PDF, or a text file with what its QR code says.

    The public key comes from the registry, or from --key (see: leadline journal key). A changed
    character anywhere is found; blanks and line ends that an editor or a mail put into the text are not
    part of it.

    \b
    Exit codes: 0 genuine · 1 not genuine · 3 genuine, but a later version was issued or the record has
    changed since.

    \b
    Example:
      leadline authenticate certificates/MCMR-2026-000001-41-v1.pdf
    """
    from registry.storage.files import read_file

    content = sys.stdin.buffer.read() if str(file) == "-" else read_file(file)
    keys, register = _keys(ctx, key_file)
    try:
        statement = _statement(content, str(file), keys)
    except RejectedError as error:
        if not as_json:
            raise
        print_json({"genuine": False, "error": error.what, "remedy": error.remedy})
        ctx.exit(error.exit_code)
    state, verdict = _state(register, statement, keys)
    if as_json:
        print_json({"genuine": True, "state": state, "statement": statement})
    else:
        _tell(state, verdict, statement)
    ctx.exit(exit_code(verdict))


def _statement(content: bytes, name: str, keys: dict[str, bytes]) -> dict[str, Any]:
    """Give what a PDF file or a text states, once it is proved."""
    from registry.formats.sealed_pdf import is_seal, verify_sealed
    from registry.formats.signed_statement import unwrapped, verify
    from registry.records.certificate import is_statement
    from registry.storage.files import decode_text

    if content.startswith(b"%PDF"):
        statement = verify_sealed(content, keys)
    else:
        text = unwrapped(decode_text(content, name=name).text)
        if is_seal(text, keys):
            what = (
                "This is the seal of a PDF file, not the statement of a certificate: alone it proves nothing."
            )
            raise InvalidRecordError(
                what, remedy="Give the PDF file whole, or the text that its QR code holds."
            )
        statement = verify(text, keys)
    if not is_statement(statement):
        what = "What is signed here is not the statement of a certificate."
        raise InvalidRecordError(what, remedy="Give the PDF file whole, or the text that its QR code holds.")
    return statement


def _keys(ctx: click.Context, key_file: Path | None) -> tuple[dict[str, bytes], Any]:
    """Give the public key that is trusted, the one named before the registry's; and the registry if any."""
    from registry.records.certificate import key_thumbprint
    from registry.storage.files import read_text
    from registry.storage.keys import public_key_from_pem

    there = registry_path(ctx).exists()
    if key_file is not None:
        public = public_key_from_pem(read_text(key_file).text)
        return {key_thumbprint(public): public}, open_for_reading(ctx) if there else None
    if not there:
        what = f"There is no registry {registry_path(ctx)} to take the public key from."
        raise MissingKeyError(what, remedy="Give --registry PATH, or the public key with --key PEM.")
    register = open_for_reading(ctx)
    programme = register.programme()
    return {programme.key_id: base64.urlsafe_b64decode(programme.public_key + "==")}, register


def _state(register: Any, statement: dict[str, Any], keys: dict[str, bytes]) -> tuple[str, Verdict]:
    """Tell whether what is stated still stands, as far as the registry knows."""
    if register is None:
        return "whether it is the latest version only the registry can tell", Verdict.CONFORMING
    with register.reading():
        issued = {
            body["version"]: body
            for body in register.certificates(statement["tag"])
            if body["number"] == statement["certificate"]
        }
        own = issued.get(statement["version"])
        if own is None or own["statement"] != statement or register.programme().key_id not in keys:
            return "this registry does not hold it", Verdict.CONFORMING
        if max(issued) > statement["version"]:
            return f"superseded by version {max(issued)}", Verdict.INCONCLUSIVE
        return _standing(register, own)


def _standing(register: Any, body: dict[str, Any]) -> tuple[str, Verdict]:
    """Tell whether the latest version still says where the module lies and whom it remembers."""
    from unicodedata import normalize

    memorial = register.module(body["tag"]).memorial
    name = normalize("NFC", memorial.name) if memorial else None
    same_place = register.placement_ids(body["tag"]) == (body["placement_id"],)
    if same_place and name == body["statement"]["name"]:
        return CURRENT, Verdict.CONFORMING
    return CHANGED, Verdict.INCONCLUSIVE


def _tell(state: str, verdict: Verdict, statement: dict[str, Any]) -> None:
    which = f"certificate {statement['certificate']}, version {statement['version']}"
    if verdict is Verdict.CONFORMING:
        click.echo(f"{click.style('+', fg='green')} genuine: {which}; {state}")
    else:
        shape = mark(verdict).split(" ")[0]
        click.echo(f"{shape} genuine, but {state}: {which}")
    for name, value in _lines(statement):
        click.echo(f"  {name:<7} {value}")


def _lines(statement: dict[str, Any]) -> tuple[tuple[str, str], ...]:
    """Give what is stated as the paper writes it."""
    from registry.formats.printed_position import write_dd, write_ddm
    from registry.measure.digits import Notation, coordinate_decimals, metres_decimals
    from registry.records.certificate import place_words

    lat_deg, lon_deg, r95_m = statement["lat"], statement["lon"], statement["r95_m"]
    minutes = write_ddm(lat_deg, lon_deg, decimals=coordinate_decimals(Notation.MINUTES, r95_m))
    degrees = write_dd(lat_deg, lon_deg, decimals=coordinate_decimals(Notation.DEGREES, r95_m))
    place = place_words(statement["reef"], statement.get("outside_m", 0.0))
    depth = "not measured"
    if statement["depth_m"] is not None:
        u95_m = statement["depth_u95_m"]
        places = metres_decimals(u95_m)
        depth = f"{statement['depth_m']:.{places}f} ± {u95_m:.{places}f} m (95 %) below {statement['datum']}"
    return (
        ("Name", statement["name"]),
        ("Module", f"{statement['tag']}, {place}, permit {statement['permit']}"),
        ("Place", minutes),
        ("", degrees),
        ("", f"in {statement['frame']}, epoch {statement['epoch']:.1f}"),
        ("Within", f"{r95_m:.{metres_decimals(r95_m)}f} m (95 %)"),
        ("Depth", depth),
        ("Placed", statement["placed"]),
        ("Issued", f"{statement['issued']} by {statement['programme']}"),
        ("Journal", f"{statement['journal']}, to check with leadline journal verify --head"),
    )
