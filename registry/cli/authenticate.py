"""``leadline authenticate``: prove a certificate, without a network."""

import base64
import sys
from pathlib import Path
from typing import Any

import click

from registry.cli.answer import print_json
from registry.cli.options import json_option, open_for_reading, registry_option, registry_path
from registry.errors import MissingKeyError


@click.command("authenticate")
@click.argument("file", type=click.Path(path_type=Path, allow_dash=True))
@click.option(
    "--key", "key_file", type=click.Path(path_type=Path), metavar="PEM", help="The programme's public key."
)
@json_option
@registry_option
@click.pass_context
def command(ctx: click.Context, file: Path, key_file: Path | None, as_json: bool) -> None:
    """
    Tell whether a certificate is genuine: FILE is its PDF, or a text file with what its QR code says.

    The public key comes from the registry, or from --key (see: leadline journal key). A changed
    character anywhere is found.

    \b
    Example:
      leadline authenticate certificates/MCMR-2026-000001-41-v1.pdf
    """
    from registry.formats.sealed_pdf import verify_sealed
    from registry.formats.signed_statement import verify
    from registry.storage.files import read_file

    content = sys.stdin.buffer.read() if str(file) == "-" else read_file(file)
    keys, register = _keys(ctx, key_file)
    if content.startswith(b"%PDF"):
        statement = verify_sealed(content, keys)
    else:
        statement = verify(content.decode("utf-8", errors="replace").strip(), keys)
    state = _state(register, statement)
    if as_json:
        print_json({"genuine": True, "state": state, "statement": statement})
        return
    click.echo(f"+ genuine: certificate {statement['certificate']}, version {statement['version']}; {state}")
    depth = "not measured"
    if statement["depth_m"] is not None:
        depth = f"{statement['depth_m']} ± {statement['depth_u95_m']} m below {statement['datum']}"
    for name, value in (
        ("Name", statement["name"]),
        ("Module", f"{statement['tag']}, {statement['reef']}, permit {statement['permit']}"),
        (
            "Place",
            f"{statement['lat']}, {statement['lon']} in {statement['frame']}, epoch {statement['epoch']}",
        ),
        ("Within", f"{statement['r95_m']} m (95 %)"),
        ("Depth", depth),
        ("Placed", statement["placed"]),
        ("Issued", f"{statement['issued']} by {statement['programme']}"),
    ):
        click.echo(f"  {name:<7} {value}")


def _keys(ctx: click.Context, key_file: Path | None) -> tuple[dict[str, bytes], Any]:
    """Give the public keys that are trusted, and the registry if there is one."""
    from registry.records.certificate import key_thumbprint
    from registry.storage.files import read_text
    from registry.storage.keys import public_key_from_pem

    keys: dict[str, bytes] = {}
    if key_file is not None:
        public = public_key_from_pem(read_text(key_file).text)
        keys[key_thumbprint(public)] = public
    register = None
    if key_file is None or registry_path(ctx).exists():
        if not registry_path(ctx).exists():
            what = f"There is no registry {registry_path(ctx)} to take the public key from."
            raise MissingKeyError(what, remedy="Give --registry PATH, or the public key with --key PEM.")
        register = open_for_reading(ctx)
        programme = register.programme()
        keys[programme.key_id] = base64.urlsafe_b64decode(programme.public_key + "==")
    return keys, register


def _state(register: Any, statement: dict[str, Any]) -> str:
    """Tell whether the registry knows a later version."""
    if register is None:
        return "whether it is the latest version only the registry can tell"
    versions = [
        body["version"]
        for body in register.certificates(statement["tag"])
        if body["number"] == statement["certificate"]
    ]
    if not versions:
        return "this registry does not hold it"
    latest = max(versions)
    return "current" if latest == statement["version"] else f"superseded by version {latest}"
