"""``leadline family``: whom to write to, kept apart from the record and erasable at any time."""

from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from registry.cli.answer import print_json, print_lines
from registry.cli.family_link import link, unlink
from registry.cli.options import (
    actor_name,
    actor_option,
    json_option,
    now,
    open_accounts,
    open_families,
    open_for_reading,
    open_for_writing,
    output_file,
    registry_option,
    registry_path,
)
from registry.errors import RequestError

if TYPE_CHECKING:
    from registry.records.family import Family

_KEPT_IN = "Kept in {path}, for its owner alone: no backup, map, export or report holds any of it."


@click.group("family")
def command() -> None:
    """
    Keep whom to write to in a family, apart from everything that is public, and erase it when they ask.

    Contacts lie in one file beside the registry, leadline.gpkg.families, readable by its owner alone. The
    journal, which forgets nothing, never learns of them.

    \b
    Example:
      leadline family show MC-0017
    """


command.add_command(link)
command.add_command(unlink)


command.add_command(link)
command.add_command(unlink)


@command.command("add")
@click.argument("tag")
@click.option("--name", metavar="TEXT", help="Whom to write to; without it, all is asked for one by one.")
@click.option("--relation", default="", metavar="TEXT", help='To whom the memorial is, as "daughter".')
@click.option("--email", default="", metavar="TEXT", help="Mail address.")
@click.option("--phone", default="", metavar="TEXT", help="Telephone number.")
@click.option("--address", default="", metavar="TEXT", help="Postal address, on one line.")
@click.option("--note", default="", metavar="TEXT", help="Anything else worth keeping, as when to call.")
@json_option
@registry_option
@click.pass_context
def add(ctx: click.Context, /, tag: str, name: str | None, as_json: bool, **told: str) -> None:
    """
    Keep a contact of the family of a module.

    Without --name it asks for everything, so that nothing of it stays in the history of the shell. To mend
    a contact, erase it (family erase TAG --contact NUMBER) and add it anew. Whether the name of the memorial
    may be shown in public stands in the record of the module: leadline module amend TAG.

    \b
    Example:
      leadline family add MC-0017
    """
    from registry.actions.add_contact import add_contact
    from registry.records.family import CONTACT_FIELDS, Contact

    if name is None:
        asked = {field: _ask(field) for field in CONTACT_FIELDS}
    else:
        asked = {"name": name.strip(), **{field: text.strip() for field, text in told.items()}}
    contact = Contact(**asked, recorded_at=now())
    register = open_for_writing(ctx)
    families = open_families(ctx, register)
    family = add_contact(register, families, tag, contact)
    if as_json:
        print_json({"tag": tag, "contacts": len(family.contacts), "file": str(families.path)})
        return
    click.echo(f"Kept contact {len(family.contacts)} of the family of {tag}.")
    click.echo(_KEPT_IN.format(path=families.path.name))
    print_lines("Note", families.notes)


def _ask(field: str) -> str:
    typed: str = click.prompt(
        f"{field.capitalize()} (Enter to leave out)" if field != "name" else "Name",
        default="" if field != "name" else None,
        show_default=False,
        err=True,
    )
    return typed.strip()


@command.command("show")
@click.argument("tag", required=False)
@json_option
@registry_option
@click.pass_context
def show(ctx: click.Context, tag: str | None, as_json: bool) -> int:
    """
    Show what is held of the family of a module; without TAG, of which families something is held.

    Ends with 1 where something is held that had been erased: an old copy of the file was put back.

    \b
    Example:
      leadline family show MC-0017
    """
    from registry.actions.erase_family import brought_back
    from registry.errors import NotFoundError

    register = open_for_reading(ctx)
    families = open_families(ctx, register)
    with register.reading():
        held = families.held()
        back = brought_back(register, held)
        names = {
            found: module.memorial.name if module.memorial else ""
            for found, module in register.modules_tagged(list(held)).items()
        }
    if tag is not None:
        if tag not in held:
            there = f"Held are: {', '.join(held)}." if held else "Nothing is held of any family."
            raise NotFoundError(f"Nothing is held of a family of {tag}.", remedy=there)
        held = {tag: held[tag]}
    back = {of: when for of, when in back.items() if of in held}
    if as_json:
        data = [_data(family) | {"erased_before": back.get(of)} for of, family in held.items()]
        print_json({"families": data, "file": str(families.path), "notes": list(families.notes)})
    elif tag is not None:
        click.echo(f"The family of {tag}, {names.get(tag) or 'without a memorial name'}")
        _tell(held[tag])
    else:
        for of, family in held.items():
            count = len(family.contacts)
            click.echo(f"  {of:<12} {count} contact{'' if count == 1 else 's'}  {names.get(of, '')}")
        click.echo(_KEPT_IN.format(path=families.path.name) if held else "Nothing is held of any family.")
    if not as_json:
        print_lines("Note", families.notes)
        for of, when in back.items():
            sign = click.style("x", fg="red")
            click.echo(f"{sign} {of} was erased at {when}; an old copy of the file brought it back.")
            click.echo(f"  Erase it again: leadline family erase {of} --yes")
    return 1 if back else 0


def _tell(family: "Family") -> None:
    for number, contact in enumerate(family.contacts, start=1):
        for place, (field, text) in enumerate(contact.values().items()):
            click.echo(f"  {number if not place else '':<3}{field.capitalize():<10} {text}")
    if family.identifications:
        numbers = ", ".join(family.identifications)
        click.echo(f"  {'':<3}{'Crematory':<10} {numbers} (number of the remains, as written)")
    if family.plaque:
        for text, label in family.plaque.texts().items():
            click.echo(f"  {'':<3}{'Plaque':<10} {text} ({label})")


def _data(family: "Family") -> dict[str, Any]:
    return {
        "tag": family.tag,
        "contacts": [
            contact.values() | {"recorded_at": contact.recorded_at.isoformat()} for contact in family.contacts
        ],
        "identifications": list(family.identifications),
        "plaque": None
        if family.plaque is None
        else asdict(family.plaque) | {"on": family.plaque.on.isoformat()},
        "recorded_at": family.recorded_at.isoformat(),
    }


@command.command("export")
@click.argument("tag")
@click.option("--out", required=True, type=click.Path(path_type=Path), metavar="DIR", help="Where it goes.")
@json_option
@registry_option
@click.pass_context
def export(ctx: click.Context, tag: str, out: Path, as_json: bool) -> None:
    """
    Write all that is held about one family, as plain text for them and as JSON.

    Contacts, and what the journal says of their module: memorial and consent, keepers, placements, later
    observations, certificates, reports, erasures. Names of crews are left out. The files are readable by
    their owner alone; they are the family's, and no business of anybody else.

    \b
    Example:
      leadline family export MC-0017 --out for-the-family
    """
    from registry.actions.gather_family import gather_family
    from registry.formats.family_record_file import write_family_json, write_family_text
    from registry.formats.printed_notation import position_words
    from registry.storage.files import make_folder, write_file

    register = open_for_reading(ctx)
    record = gather_family(register, open_families(ctx, register), tag, write_position=position_words)
    make_folder(out)
    contents = {"txt": write_family_text(record), "json": write_family_json(record)}
    paths = [
        write_file(output_file(ctx, out / f"family-{tag}.{suffix}"), content, private=True)
        for suffix, content in contents.items()
    ]
    if as_json:
        print_json({"tag": tag, "files": [str(path) for path in paths]})
        return
    click.echo(f"All that is held about {tag} and the family: {', '.join(map(str, paths))}")
    for section in record.sections:
        click.echo(f"  {len(section.rows):>4}  {section.title}")
    click.echo("Private: give it to the family and to nobody else, and delete it afterwards.")


@command.command("erase")
@click.argument("tag")
@click.option("--contact", type=click.IntRange(min=1), metavar="NUMBER", help="Only this contact.")
@click.option("--yes", is_flag=True, help="Yes, for good: nothing brings it back.")
@click.option(
    "--search",
    "also",
    multiple=True,
    type=click.Path(path_type=Path, exists=True),
    metavar="PATH",
    help="Look there too, as in a folder of backups or exports; again for each.",
)
@click.option("--receipt", type=click.Path(path_type=Path), metavar="FILE", help="Write the receipt there.")
@actor_option
@json_option
@registry_option
@click.pass_context
def erase(
    ctx: click.Context,
    tag: str,
    contact: int | None,
    yes: bool,
    also: tuple[Path, ...],
    receipt: Path | None,
    actor: str | None,
    as_json: bool,
) -> int:
    """
    Erase what is held of a family, look for it byte by byte, and give a receipt.

    With the contacts go the number of the crematory and the secret behind its digests in the journal: the
    keepers' chain stays provable, but nobody can tell the number from it any more. Private links of the
    family open nothing from then on. The receipt says what was erased and when, without saying it; it also
    stands in the journal.

    Ends with 1 if any of it still stands somewhere. Packed files (PDF, ZIP) are searched as they are.

    \b
    Example:
      leadline family erase MC-0017 --yes --search backups --receipt receipt.txt
    """
    from registry.actions.erase_family import erase_family
    from registry.desk.erasure_proof import prove_erased
    from registry.storage.files import write_file
    from registry.storage.held_interrupts import interrupts_held

    if receipt is not None:
        output_file(ctx, receipt)
    register = open_for_writing(ctx)
    families, accounts = open_families(ctx, register), open_accounts(ctx)
    if not yes:
        held = families.held().get(tag)
        there = f"{len(held.contacts)} contacts are held of {tag}" if held else f"No contact is held of {tag}"
        raise RequestError(f"{there}; nothing was erased.", remedy="Say --yes: nothing brings it back.")
    # Between the file and the receipt in the journal nothing must come.
    with interrupts_held():
        made = erase_family(register, families, accounts, tag, contact=contact, actor=actor_name(actor))
    # Closed before its files are read: what a log of the database still holds goes into it.
    register.close()
    proof = prove_erased(made, registry_path(ctx), also)
    lines = proof.lines()
    if receipt is not None:
        write_file(receipt, ("\n".join(lines) + "\n").encode())
    if as_json:
        print_json(proof.as_json() | {"receipt_file": str(receipt) if receipt else None})
    else:
        sign = click.style("x", fg="red") if proof.left else click.style("+", fg="green")
        click.echo(f"{sign} {lines[0]}")
        for line in lines[1:]:
            click.echo(f"  {line}")
    return 1 if proof.left else 0
