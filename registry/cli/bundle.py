"""``leadline bundle``: two machines, one registry."""

from collections.abc import Mapping
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from registry.cli.answer import print_json
from registry.cli.options import (
    actor_name,
    actor_option,
    json_option,
    open_for_reading,
    open_for_writing,
    output_file,
    registry_option,
)

if TYPE_CHECKING:
    from registry.actions.import_bundle import Imported
    from registry.records.bundle import Bundle
    from registry.records.device import Device
    from registry.storage.exchange import RegisterExchange


@click.group("bundle")
def command() -> None:
    """
    Exchange entries with other machines: the boat's and the office's.

    Another machine begins with a copy by `leadline backup`, takes a name with `bundle device`, and its key is
    trusted where the programme's key is, with `bundle trust`. From then on each exports and imports,
    in any order, as often as anybody likes. Machines that hold the same entries hold the same registry: their
    journals have the same head. Contacts of families never enter a bundle.

    \b
    Example:
      leadline bundle export petrel-2026-06-14.bundle
      leadline bundle import petrel-2026-06-14.bundle
    """


def _exchange(register: Any) -> "RegisterExchange":
    from registry.storage.exchange import RegisterExchange

    return RegisterExchange(register)


def _read(file: Path) -> "Bundle":
    from registry.errors import UnreadableFileError
    from registry.formats.bundle_file import LARGEST, read_bundle
    from registry.storage.files import read_file

    if file.is_file() and file.stat().st_size > LARGEST:
        what = f"{file} is too large for a bundle: no more than {LARGEST:,} bytes are read."
        raise UnreadableFileError(what, remedy="Export it in parts, with --to.")
    return read_bundle(read_file(file))


@command.command("export")
@click.argument("file", type=click.Path(path_type=Path))
@click.option(
    "--to", metavar="NAME", help="Leave out what that machine held by its last bundle taken in here."
)
@json_option
@registry_option
@click.pass_context
def export(ctx: click.Context, file: Path, to: str | None, as_json: bool) -> None:
    """
    Write the entries of this registry to FILE, signed, for other machines.

    Every entry is in it, and good for every machine; with --to only what one of them lacks.

    \b
    Example:
      leadline bundle export /media/stick/office.bundle --to "Petrel, wheelhouse"
    """
    from registry.actions.export_bundle import export_bundle
    from registry.formats.bundle_file import write_bundle
    from registry.storage.bundle_key import bundle_key
    from registry.storage.files import write_file

    output_file(ctx, file)
    register = open_for_reading(ctx)
    exchange = _exchange(register)
    key = bundle_key(register, exchange)
    bundle = export_bundle(
        register, exchange, key_id=key.key_id, public_key=key.public_key, now=register.now(), to=to
    )
    data = write_bundle(bundle, key)
    write_file(file, data)
    head = register.head()
    if as_json:
        print_json(
            {
                "file": str(file),
                "entries": len(bundle.entries),
                "bytes": len(data),
                "sender": asdict(bundle.sender),
                "brought": bundle.brought,
                "head": head,
            }
        )
        return
    click.echo(f"Wrote {file}: {_count(len(bundle.entries))}, {len(data) / 1e6:.2f} MB, head {head}")
    _tell_spans(bundle.brought)
    click.echo(f"  Signed by {bundle.sender.name} with the key {key.key_id}")


@command.command("import")
@click.argument("file", type=click.Path(path_type=Path))
@click.option(
    "--key",
    "compared",
    default="",
    metavar="KEY",
    help="A new key of the programme that no older one vouches for, once compared with the published one.",
)
@actor_option
@json_option
@registry_option
@click.pass_context
def import_(ctx: click.Context, file: Path, compared: str, actor: str | None, as_json: bool) -> None:
    """
    Take in what another machine wrote: all of FILE or nothing of it.

    Signature, digests and links are proved first. What is here already is passed over, so that a bundle
    can be taken in again. What contradicts what is here is taken in too, and told.

    \b
    Exit codes: 0 taken in, or nothing new · 1 the signature or the journal does not prove what it says ·
    2 another registry, or an earlier bundle is missing · 3 taken in, and something is open for decision ·
    4 FILE is damaged.

    \b
    Example:
      leadline bundle import petrel-2026-06-14.bundle
    """
    from registry.actions.import_bundle import import_bundle
    from registry.formats.signed_statement import verify

    bundle = _read(file)
    register = open_for_writing(ctx)
    done = import_bundle(
        register, _exchange(register), bundle, actor=actor_name(actor), verify=verify, compared=compared
    )
    if as_json:
        print_json(_imported_data(done))
    else:
        _tell_imported(done)
    ctx.exit(3 if done.contests or done.placed_twice else 0)


def _imported_data(done: "Imported") -> dict[str, Any]:
    return {
        "signed_by": done.signed_by,
        "sender": done.sender,
        "new_entries": done.count,
        "brought": dict(done.brought),
        "kinds": dict(done.kinds),
        **_open_data(done.contests, done.placed_twice),
        "head": done.head,
    }


def _open_data(contests: Any, twice: Any) -> dict[str, Any]:
    return {
        "contests": [asdict(each) | {"remedy": each.remedy} for each in contests],
        "placed_twice": [asdict(each) | {"remedy": each.remedy} for each in twice],
    }


def _tell_imported(done: "Imported") -> None:
    if not done.count:
        click.echo(f"Nothing new: every entry of the bundle of {done.sender} is here; head {done.head}")
        return
    click.echo(f"+ Took in {_count(done.count)} from {done.sender}; head {done.head}")
    _tell_spans(done.brought)
    click.echo(f"  {', '.join(f'{number} {kind}' for kind, number in done.kinds.items())}")
    _tell_open(done.contests, done.placed_twice)


def _tell_spans(brought: Mapping[str, tuple[int, int]]) -> None:
    from registry.records.bundle import entry_names

    for origin, (first, last) in brought.items():
        click.echo(f"  {entry_names(origin, first, last)}")


def _tell_open(contests: Any, twice: Any) -> None:
    for each in contests:
        click.echo(f"! {each.sentence}")
        click.echo(f"  {each.stands} stands for now, {each.against} is against it. Decide: {each.remedy}")
    for each in twice:
        click.echo(f"! {each.sentence}")
        click.echo(f"  All of them stand. Decide: {each.remedy}")


def _count(number: int) -> str:
    return "1 entry" if number == 1 else f"{number:,} entries"


@command.command("conflicts")
@json_option
@registry_option
@click.pass_context
def conflicts(ctx: click.Context, as_json: bool) -> None:
    """
    List what two machines recorded apart and contradicts itself, until somebody decides.

    Nothing of it is lost: both entries stand in the journal. Of what is not decided, the first in its order
    stands; of a module placed twice, both placements do.

    \b
    Exit codes: 0 nothing is open · 3 something is.

    \b
    Example:
      leadline bundle conflicts
    """
    register = open_for_reading(ctx)
    exchange = _exchange(register)
    with register.reading():
        contests, twice = exchange.contests(), exchange.placed_twice()
    if as_json:
        print_json(_open_data(contests, twice))
    elif contests or twice:
        _tell_open(contests, twice)
    else:
        click.echo("Nothing is open between machines.")
    ctx.exit(3 if contests or twice else 0)


@command.command("decide")
@click.argument("entry")
@click.option("--reason", required=True, metavar="TEXT", help="Why, for the journal.")
@actor_option
@json_option
@registry_option
@click.pass_context
def decide(ctx: click.Context, entry: str, reason: str, actor: str | None, as_json: bool) -> None:
    """
    Let the facts of ENTRY stand, one of two that `bundle conflicts` lists; the other stays in the journal.

    A module placed twice is decided by `leadline withdraw` or `leadline correct`.

    \b
    Example:
      leadline bundle decide 1a2b3c4d-17 --reason "the mould was measured again ashore"
    """
    from registry.actions.decide_contest import decide_contest

    register = open_for_writing(ctx)
    closed = decide_contest(register, _exchange(register), entry, reason=reason, actor=actor_name(actor))
    if as_json:
        print_json({"keeps": entry, "closed": [asdict(each) for each in closed]})
        return
    for each in closed:
        click.echo(f"Decided: {each.sentence} {entry} holds.")


@command.command("device")
@click.argument("name")
@click.option("--copied", is_flag=True, help="This file is a plain copy, not one made by leadline backup.")
@actor_option
@json_option
@registry_option
@click.pass_context
def device(ctx: click.Context, name: str, copied: bool, actor: str | None, as_json: bool) -> None:
    """
    Let this machine be one of its own: a name, an origin and a key, all kept here.

    Run it once, on the machine itself, on a copy of the registry made by `leadline backup`.

    \b
    Example:
      leadline bundle device "Petrel, wheelhouse"
    """
    from registry.actions.name_device import name_device
    from registry.storage.keys import create_key, discard_key, key_folder

    register = open_for_writing(ctx)
    key = create_key()
    try:
        made = name_device(
            register, _exchange(register), name, key.public_key, actor=actor_name(actor), copied=copied
        )
    except BaseException:
        if all(each.key_id != key.key_id for each in _exchange(register).devices()):
            discard_key(key)
        raise
    if as_json:
        print_json(_device_data(made) | {"key_folder": str(key_folder())})
        return
    click.echo(f"This machine is {made.name}; what it writes begins with {made.origin}.")
    click.echo(f"  Key {made.key_id}")
    click.echo("Next: leadline bundle export FILE. Where the programme's key is, compare this key and run:")
    click.echo(f"  leadline bundle trust FILE --key {made.key_id}")


def _device_data(each: "Device") -> dict[str, Any]:
    return asdict(each) | {"trusted": bool(each.trusted_at and not each.ended_at)}


@command.command("devices")
@json_option
@registry_option
@click.pass_context
def devices(ctx: click.Context, as_json: bool) -> None:
    """
    List the machines that write to this registry, their keys, and how much of each is here.

    \b
    Example:
      leadline bundle devices
    """
    register = open_for_reading(ctx)
    exchange = _exchange(register)
    with register.reading():
        known, held, own = exchange.devices(), exchange.held(), exchange.writes_as()
        registry, _ = exchange.registry()
    if as_json:
        print_json({"writes_as": own, "held": held, "devices": [_device_data(each) for each in known]})
        return
    if all(each.origin != registry for each in known):
        here = "  (this machine)" if own == registry else ""
        click.echo(f"{registry}  {_count(held.get(registry, 0))}  made the registry{here}")
    for each in known:
        trust = "not trusted yet"
        if each.ended_at:
            trust = f"not trusted since {each.ended_at}: {each.reason}"
        elif each.trusted_at:
            trust = f"trusted since {each.trusted_at}"
        here = "  (this machine)" if own == each.origin else ""
        click.echo(f"{each.origin}  {_count(held.get(each.origin, 0))}  {each.name}{here}")
        click.echo(f"  key {each.key_id}, {trust}")
    for origin in held.keys() - {each.origin for each in known} - {registry}:
        click.echo(f"{origin}  {_count(held[origin])}  without a name")


@command.command("trust")
@click.argument("file", type=click.Path(path_type=Path))
@click.option(
    "--key",
    "compared",
    required=True,
    metavar="KEY",
    help="The key as the other machine's own screen shows it, at least its first 16 characters.",
)
@actor_option
@json_option
@registry_option
@click.pass_context
def trust(ctx: click.Context, file: Path, compared: str, actor: str | None, as_json: bool) -> None:
    """
    Trust the machine that made FILE: the programme's key vouches for it in the journal.

    Done where the programme's key is. Every other machine learns of it with the next bundle.

    \b
    Example:
      leadline bundle trust petrel.bundle --key q0bHn3WmYk2vXo5c
    """
    from registry.actions.trust_device import trust_device
    from registry.formats.signed_statement import sign
    from registry.storage.keys import load_key

    bundle = _read(file)
    register = open_for_writing(ctx)
    key = load_key(register.signing_keys()[-1].key_id)
    trusted = trust_device(
        register,
        _exchange(register),
        bundle.sender,
        compared=compared,
        endorse=lambda statement: sign(statement, key),
        actor=actor_name(actor),
    )
    if as_json:
        print_json(_device_data(trusted))
        return
    click.echo(f"Bundles of {trusted.name} ({trusted.origin}) are taken in from now on.")
    click.echo(f"Next: leadline bundle import {file}")


@command.command("distrust")
@click.argument("name")
@click.option("--reason", required=True, metavar="TEXT", help="Why, for the journal.")
@actor_option
@json_option
@registry_option
@click.pass_context
def distrust(ctx: click.Context, name: str, reason: str, actor: str | None, as_json: bool) -> None:
    """
    Take in no more bundles signed by machine NAME: it was stolen, or is used no more.

    That is for good: found again, it begins anew under another name. What came from it before stays. Export
    to the other machines, so that they hear of it.

    \b
    Example:
      leadline bundle distrust "Petrel, wheelhouse" --reason "stolen in port"
    """
    from registry.actions.trust_device import distrust_device

    register = open_for_writing(ctx)
    ended = distrust_device(register, _exchange(register), name, reason=reason, actor=actor_name(actor))
    if as_json:
        print_json(_device_data(ended))
        return
    click.echo(f"Bundles of {ended.name} ({ended.origin}) are taken in no longer.")
