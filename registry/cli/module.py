"""``leadline module``: modules, their types and whom they remember."""

from collections.abc import Sequence
from pathlib import Path
from typing import Any

import click

from registry.cli.answer import print_json, print_lines
from registry.cli.options import (
    actor_name,
    actor_option,
    json_option,
    open_for_reading,
    open_for_writing,
    output_file,
    registry_option,
)
from registry.errors import LeadlineError


@click.group("module")
def command() -> None:
    """
    Add modules one by one or from a spreadsheet; mend what is recorded of one; list types.

    \b
    Example:
      leadline module add MC-0017 --type hump-90 --cast 2026-03-02 --memorial "Ada Quill"
    """


@command.command("add")
@click.argument("tag")
@click.option("--type", "type_id", required=True, metavar="T", help="Module type; see leadline module types.")
@click.option("--cast", metavar="DATE", help="Day of casting, as 2026-03-02.")
@click.option("--mass", metavar="MASS", help='Mass as weighed, as "612 kg"; else that of the type.')
@click.option("--memorial", metavar="NAME", help="Name as it is to be printed.")
@click.option("--consent-listed", is_flag=True, help="The family agreed that the name is shown in public.")
@click.option("--language", metavar="TAG", help="Of the name and of the family's papers, as vi or es-MX.")
@actor_option
@json_option
@registry_option
@click.pass_context
def add(
    ctx: click.Context,
    tag: str,
    type_id: str,
    cast: str | None,
    mass: str | None,
    memorial: str | None,
    consent_listed: bool,
    language: str | None,
    actor: str | None,
    as_json: bool,
) -> None:
    """
    Record one module.

    \b
    Example:
      leadline module add MC-0017 --type hump-90 --cast 2026-03-02 --memorial "Ada Quill" --consent-listed
    """
    from registry.actions.add_module import StoodAlready, add_modules
    from registry.formats.written_instant import read_day
    from registry.formats.written_quantity import read_mass
    from registry.records.module import Memorial, Module

    if language is not None and not memorial:
        what = "--language is that of a memorial name: give the name too, with --memorial."
        raise click.UsageError(what, ctx)
    remembered = None
    if memorial:
        remembered = Memorial(name=memorial, consent_listed=consent_listed, language=language)
    module = Module(
        tag=tag,
        type_id=type_id,
        cast_on=read_day(cast) if cast else None,
        mass_kg=read_mass(mass).value if mass else None,
        memorial=remembered,
    )
    (answer,) = add_modules(open_for_writing(ctx), [module], actor=actor_name(actor))
    if isinstance(answer, LeadlineError):
        raise answer
    warnings = _warnings([module])
    if as_json:
        from registry.records.body import module_body

        print_json(module_body(module) | {"warnings": warnings})
        return
    if isinstance(answer, StoodAlready):
        click.echo(f"Module {tag} was recorded before, exactly so; nothing was written.")
    else:
        remembers = f", in memory of {memorial}" if memorial else ""
        click.echo(f"Recorded module {tag} of type {type_id}{remembers}.")
    print_lines("Warning", warnings)


def _warnings(modules: Sequence[Any]) -> list[str]:
    """Tell what no paper can do with these names and languages."""
    from registry.documents.name_warnings import name_warnings
    from registry.storage.shipped import shipped_path

    return list(name_warnings(modules, shipped_path("fonts")))


@command.command("amend")
@click.argument("tag")
@click.option("--reason", required=True, metavar="TEXT", help="Why, for the journal.")
@click.option("--type", "type_id", metavar="T", help="The type that it is of.")
@click.option("--mass", metavar="MASS", help='Mass as weighed, as "612 kg".')
@click.option("--memorial", metavar="NAME", help="Name as it is to be printed; consent stays as it was.")
@click.option("--no-memorial", is_flag=True, help="The module remembers nobody.")
@click.option(
    "--consent-listed/--no-consent-listed",
    default=None,
    help="Whether the family agrees that the name is shown in public.",
)
@click.option("--language", metavar="TAG", help="Of the name and of the family's papers, as vi or es-MX.")
@click.option("--cast", metavar="DATE", help="Day of casting, as 2026-03-02.")
@actor_option
@json_option
@registry_option
@click.pass_context
def amend(
    ctx: click.Context,
    tag: str,
    reason: str,
    type_id: str | None,
    mass: str | None,
    memorial: str | None,
    no_memorial: bool,
    consent_listed: bool | None,
    language: str | None,
    cast: str | None,
    actor: str | None,
    as_json: bool,
) -> None:
    """
    Mend what is recorded of a module, and say why. What is not given stays; the journal keeps both.

    A consent that is withdrawn takes the name off every map and export made from then on.

    \b
    Example:
      leadline module amend MC-0017 --memorial "Ada Quill" --reason "misspelt on the casting sheet"
      leadline module amend MC-0017 --no-consent-listed --reason "letter of the family, 2026-07-02"
    """
    from registry.actions.amend_module import amend_module
    from registry.formats.written_instant import read_day
    from registry.formats.written_quantity import read_mass
    from registry.records.body import module_body
    from registry.records.module_words import module_differences

    before, after = amend_module(
        open_for_writing(ctx),
        tag,
        reason=reason,
        actor=actor_name(actor),
        type_id=type_id,
        mass_kg=read_mass(mass).value if mass is not None else None,
        cast_on=read_day(cast) if cast is not None else None,
        memorial=memorial,
        no_memorial=no_memorial,
        consent_listed=consent_listed,
        language=language,
    )
    if as_json:
        print_json(
            {
                "before": module_body(before),
                "module": module_body(after),
                "reason": reason.strip(),
                "warnings": _warnings([after]),
            }
        )
        return
    click.echo(f"Amended module {tag}:")
    for each in module_differences(before, after):
        click.echo(f"  {each.name}: {each.was} -> {each.now}")
    if before.memorial != after.memorial:
        click.echo("Maps and exports made before still say what they said: make them again.")
    if before.type_id != after.type_id:
        click.echo("Its placements are judged by the new type from now on: leadline audit.")
    print_lines("Warning", _warnings([after]))


@command.command("import")
@click.argument("file", type=click.Path(path_type=Path))
@actor_option
@json_option
@registry_option
@click.pass_context
def import_modules(ctx: click.Context, file: Path, actor: str | None, as_json: bool) -> None:
    """
    Record modules from a CSV with the columns tag, type, and where known cast, mass, memorial, consent,
    language.

    Rows that cannot be taken go to FILE.rejected.csv with the reason; the others go in. Rows that say exactly
    what the registry holds are left alone, so the same file can be read again.

    \b
    Example:
      leadline module import modules.csv
    """
    from registry.actions.intake_modules import intake_modules
    from registry.cli.rejects import keep_rejects, reject_file
    from registry.formats.csv_table import read_csv_table
    from registry.formats.module_table import columns_left_out, read_modules
    from registry.storage.files import read_text

    decoded = read_text(file)
    reject_target = output_file(ctx, reject_file(file))
    table = read_csv_table(decoded.text)
    done = intake_modules(open_for_writing(ctx), list(read_modules(table)), actor=actor_name(actor))
    rejected = [(row, str(problem)) for row, problem in done.rejected]
    repeated = [row.number for row in done.repeated]
    taken = len(done.new)
    left_out = columns_left_out(table)
    rejects = keep_rejects(reject_target, table, rejected, taken=taken) if rejected else None
    warnings = _warnings(done.new)
    if as_json:
        answer_data: dict[str, Any] = {
            "taken": taken,
            "repeated": repeated,
            "rejected": [{"row": row.number, "reason": reason} for row, reason in rejected],
            "reject_file": str(rejects) if rejects else None,
            "columns_left_out": list(left_out),
            "warnings": warnings,
        }
        print_json(answer_data)
    else:
        click.echo(f"Recorded {taken} modules from {file}." + (f" {decoded.note}" if decoded.note else ""))
        if repeated:
            stood = (
                "1 row stood already and was"
                if len(repeated) == 1
                else f"{len(repeated)} rows stood already and were"
            )
            click.echo(f"{stood} left alone.")
        if left_out:
            click.echo(f"Columns that were left out: {', '.join(left_out)}.")
        print_lines("Warning", warnings[:10])
        if len(warnings) > 10:
            click.echo(f"  ... and {len(warnings) - 10} more such warnings; --json tells them all")
        if rejects:
            click.echo(f"Rejected {len(rejected)}; see {rejects}:")
            for row, reason in rejected[:10]:
                click.echo(f"  row {row.number}: {reason}")
    ctx.exit(1 if rejected else 0)


@command.command("types")
@click.option(
    "--add", "file", type=click.Path(path_type=Path), metavar="CSV", help="Record types from a CSV."
)
@actor_option
@json_option
@registry_option
@click.pass_context
def types(ctx: click.Context, file: Path | None, actor: str | None, as_json: bool) -> None:
    """
    List the module types, or record the programme's own.

    \b
    Example:
      leadline module types --add our_moulds.csv
    """
    if file is not None:
        from registry.actions.open_programme import add_module_types
        from registry.formats.module_table import read_module_types
        from registry.storage.files import read_text

        new = read_module_types(read_text(file).text)
        register = open_for_writing(ctx)
        add_module_types(register, new, actor=actor_name(actor))
    else:
        register = open_for_reading(ctx)
    known = register.module_types()
    if as_json:
        from registry.records.body import type_body

        print_json({"types": [type_body(t) for t in known]})
        return
    click.echo(f"{'type':<14}{'base radius':>12}{'height':>18}{'mass':>10}{'submerged':>11}  note")
    for t in known:
        height = f"{t.height_m:.2f} ± {t.height_u95_m:.2f} m"
        click.echo(
            f"{t.type_id:<14}{t.base_radius_m:>10.2f} m{height:>18}{t.mass_kg:>7.0f} kg"
            f"{t.submerged_mass_kg:>8.0f} kg  {t.note}"
        )
