"""``leadline audit``: every rule over every placement."""

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from registry.cli.answer import exit_code, mark, print_findings, print_json
from registry.cli.options import json_option, now, open_for_reading, registry_option, registry_path
from registry.cli.progress import Watch, watched
from registry.measure.decision import Verdict
from registry.records.audit_scope import scope_words
from registry.records.audit_summary import (
    AuditSummary,
    ConditionSummary,
    PermitSummary,
    TodaySummary,
)
from registry.records.permit import Permit

if TYPE_CHECKING:
    from registry.actions.audit_registry import Audit
    from registry.desk.audit_dates import AuditDates

SHOWN = 20
#: More permits than these are told in a line each, and of those that are flagged so many.
MANY, LINES = 20, 100
HEADINGS = ("condition", "cited from", "conforming", "nonconforming", "inconclusive", "n/a", "least margin")
LONGEST_CITE = 34


@click.command("audit")
@click.option("--permit", "permit_number", metavar="N", help="Only this permit.")
@click.option("--as-of", "as_of", metavar="DATE", help="The registry as it was known then: --known DATE.")
@click.option("--on", metavar="DATE", help="What was true then: only what had been placed by then.")
@click.option("--known", metavar="DATE", help="What was known then: only what had been entered by then.")
@click.option("--since", metavar="DATE", help="With --out: tell what has changed since then.")
@click.option(
    "--out",
    metavar="DIR",
    type=click.Path(path_type=Path),
    help="Write the folder for the officer: report, findings and evidence.",
)
@click.option(
    "--workers", metavar="N", type=click.IntRange(min=1), help="Audit by N processes, part by part."
)
@click.option("--scheduler", metavar="ADDRESS", help="Audit on the workers of a dask scheduler, as tcp://...")
@json_option
@registry_option
@click.pass_context
def command(
    ctx: click.Context,
    *,
    permit_number: str | None,
    as_of: str | None,
    on: str | None,
    known: str | None,
    since: str | None,
    out: Path | None,
    workers: int | None,
    scheduler: str | None,
    as_json: bool,
) -> None:
    """
    Ask every condition of every placement, and show what does not or may not conform.

    \b
    Two dates may be asked for, and they are apart. A day means its last moment in the programme's zone.
      --on DATE     What was true then. Judged is what had been placed by DATE, by all that is known
                    now: an entry made later about a module placed before counts, and so does a
                    correction. Conditions are those of the permit version in force then.
      --known DATE  What was known then. Read is what had been entered in the journal by DATE; what
                    was entered later, about whatever day, is left out as if nobody had known it.
      --as-of DATE  Short for --known DATE.
      --known K --on D  What was known at K of what was true at D. D may not be after K.

    With --out the registry is proved first, as by leadline journal verify; the files, too, say so where
    entries or tables were changed. The folder appears whole, or the older one stays;
    files of these names that no audit wrote are not written over.

    An archive larger than memory is audited part by part by --workers N processes, or by those of a dask
    scheduler with --scheduler tcp://HOST:PORT, which must see the registry under the same path. The findings
    are the same to the byte. What fits in memory is audited sooner without.

    \b
    Example:
      leadline audit --permit HB-0417 --out audit-2026 --since 2025-12-31
      leadline audit --as-of 2026-06-30
      leadline audit --on 2026-06-30 --known 2026-12-31
    """
    from registry.actions.summarise_audit import summarise_audit

    if out is not None:
        _refuse(out, registry_path(ctx))
    if workers is not None or scheduler is not None:
        _refuse_workers(workers, scheduler)
    live = open_for_reading(ctx)
    asked = _asked(live, has_folder=out is not None, as_of=as_of, on=on, known=known, since=since)
    problems: tuple[str, ...] = ()
    written: tuple[Path, ...] = ()
    with watched(shown=not as_json) as watch, live.reading():
        if out is not None:
            from registry.storage.replay import prove

            watch.begin("Proving the registry", total=2 * live.journal_length())
            problems = tuple(problem.sentence for problem in prove(live, progress=watch.advance))
        register = ctx.with_resource(_register(live, asked, watch))
        file = registry_path(ctx)
        if register is not live and (workers or scheduler):
            file = ctx.with_resource(_written_for_workers(register, watch))
        with register.reading():
            count = register.placement_count(permit=permit_number)
            watch.begin("Asking every condition of every placement", total=count)
            audit = _audited(
                register,
                file,
                workers=workers,
                scheduler=scheduler,
                permit=permit_number,
                on=asked.on,
                every_sentence=True if as_json else None if out is not None else False,
                progress=watch.advance,
            )
            watch.begin("Summing up", total=count)
            summary = summarise_audit(
                register,
                audit,
                audited_at=now(),
                as_of=asked.known,
                on=asked.on,
                problems=problems,
                in_full=out is not None,
                progress=watch.advance,
            )
            if out is not None:
                from registry.desk.audit_folder import write_audit_folder

                written = write_audit_folder(
                    summary, out, register=register, since=asked.since, say=watch.say
                )
    if as_json:
        from registry.formats.audit_answer import audit_answer

        print_json(audit_answer(summary, proved=out is not None, as_of=as_of is not None))
    else:
        _tell(summary, out)
        for path in written:
            click.echo(f"Wrote {path}")
    ctx.exit(1 if problems else exit_code(summary.verdict))


def _refuse_workers(workers: int | None, scheduler: str | None) -> None:
    """Refuse to ask several workers where that is not possible."""
    from registry.cli.audit_cluster import insist_on_dask
    from registry.errors import RequestError

    if workers is not None and scheduler is not None:
        what = f"--workers {workers} starts processes here, --scheduler {scheduler} has its own."
        raise RequestError(what, remedy="Give one of the two.")
    insist_on_dask("--workers" if workers is not None else "--scheduler")


def _audited(
    register: Any, file: Path, *, workers: int | None, scheduler: str | None, **asked: Any
) -> "Audit":
    """Judge in this process, or on workers."""
    if workers is None and scheduler is None:
        from registry.actions.audit_registry import audit_registry

        del asked["every_sentence"]
        return audit_registry(register, **asked)
    from registry.cli.audit_cluster import audit_on_workers

    return audit_on_workers(register, file, workers=workers, scheduler=scheduler, **asked)


@contextmanager
def _written_for_workers(register: Any, watch: Watch) -> Iterator[Path]:
    """Write a registry as it was known then to a file of its own, which workers can open."""
    import tempfile

    from registry.storage.geopackage import snapshot

    watch.say("Writing the registry of then for the workers")
    with tempfile.TemporaryDirectory(prefix="leadline-") as folder:
        yield snapshot(register, Path(folder) / "leadline.gpkg")


def _asked(
    live: Any, *, has_folder: bool, as_of: str | None, on: str | None, known: str | None, since: str | None
) -> "AuditDates":
    """Read the dates, refuse what contradicts itself, and warn of what is to come."""
    from registry.desk.audit_dates import doubts_of_dates, read_dates
    from registry.errors import RequestError

    if as_of is not None and (known is not None or on is not None):
        other = "--known" if known is not None else "--on"
        what = f"--as-of {as_of} is short for --known {as_of} and leaves no place for {other}."
        raise RequestError(what, remedy="Give --known DATE, --on DATE or both; without --as-of.")
    if since is not None and not has_folder:
        raise RequestError(f"--since {since} is told in files.", remedy="Give --out DIR as well.")
    texts = {"known": as_of if as_of is not None else known, "on": on, "since": since}
    dates = read_dates(texts, live.programme().zone, names={name: f"--{name}" for name in texts})
    for doubt in doubts_of_dates(live, dates, texts, now=now()):
        click.echo(f"Warning: {doubt}", err=True)
    return dates


def _register(live: Any, asked: "AuditDates", watch: Watch) -> Any:
    """Give the registry that is to be audited, its clock at the instant that was asked for."""
    from registry.desk.audit_dates import registry_on

    return registry_on(
        live,
        asked,
        begin=lambda count: watch.begin("Playing the journal", total=count),
        progress=watch.advance,
    )


def _refuse(out: Path, live: Path) -> None:
    """Refuse to write over the registry, and over whatever no earlier audit wrote."""
    import csv
    import os

    from registry.desk.audit_folder import NAMES
    from registry.errors import ConflictError

    for name in NAMES:
        if (out / name).resolve() == live.resolve():
            what = f"{out / name} is the registry itself."
            raise ConflictError(what, remedy="Give another folder for what the audit writes.")
    evidence = out / "evidence"
    try:
        with (evidence / "INDEX.csv").open(encoding="utf-8-sig", newline="") as index:
            own = {row[0] for row in csv.reader(index) if row}
    except (OSError, ValueError, csv.Error):
        own = set()
    there = next((out / name for name in NAMES if os.path.lexists(out / name)), None)
    if there is not None and not own:
        what = f"{there} was not written by an audit (there is no {evidence / 'INDEX.csv'} beside it)."
        raise ConflictError(what, remedy="Give another folder with --out, or move it away.")
    for path in evidence.rglob("*") if evidence.is_dir() else ():
        name = path.relative_to(evidence).as_posix()
        if name not in own | {"INDEX.csv", "README.txt"} and not path.is_dir():
            what = f"{path} was not written by an audit, and would go with the older evidence."
            raise ConflictError(what, remedy="Move it away, or give another folder.")


def _tell(summary: AuditSummary, out: Path | None) -> None:
    if summary.problems:
        told = "WARNING: the registry is not as it was written; nothing below is proved."
        click.echo(click.style(told, fg="red", bold=True))
        for problem in summary.problems[:SHOWN]:
            click.echo(f"  {problem}")
    if not summary.permits:
        click.echo("No permit is recorded. Add one with: leadline permit add FILE.toml")
        return
    if summary.as_of is not None or summary.on is not None:
        from registry.records.entry import instant_text

        click.echo(scope_words(summary.as_of, summary.on, instant_text))
    if len(summary.permits) > MANY:
        _tell_in_lines(summary, out)
    else:
        for each in summary.permits:
            _tell_permit(each, out)
    for today in summary.today:
        _tell_today(today)
    total = sum(each.counts.total for each in summary.permits)
    numbers = len({each.permit.number for each in summary.permits})
    many = ("permit" if numbers == 1 else "permits", "placement" if total == 1 else "placements")
    click.echo(f"{mark(summary.verdict)}: {total} {many[1]} under {numbers} {many[0]}")
    click.echo(f"Journal head {summary.journal_head}")
    click.echo("An aid, not a ruling: the permit itself and the office that issued it decide.")


def _tell_permit(each: PermitSummary, out: Path | None) -> None:
    counts = each.counts
    click.echo(f"Permit {_version(each.permit)} of {each.permit.authority}")
    click.echo(
        f"  {counts.total} placement{'' if counts.total == 1 else 's'}: {counts.conforming} conforming, "
        f"{counts.nonconforming} nonconforming, {counts.inconclusive} inconclusive"
    )
    rows = [HEADINGS, *(_row(condition) for condition in each.conditions)]
    widths = [max(len(row[column]) for row in rows) for column in range(len(HEADINGS))]
    for row in rows:
        cells = [
            cell.rjust(width) if 2 <= column <= 5 else cell.ljust(width)
            for column, (cell, width) in enumerate(zip(row, widths, strict=True))
        ]
        click.echo(f"  {'  '.join(cells)}".rstrip())
    flagged = each.flagged()
    for verdict in (Verdict.NONCONFORMING, Verdict.INCONCLUSIVE):
        _tell_flagged([found for _, found in flagged[:SHOWN] if found.verdict == verdict])
    if len(flagged) > SHOWN:
        where = f"see {out / 'findings.csv'}" if out else "give --out DIR for findings.csv with all of them"
        click.echo(f"  ... and {len(flagged) - SHOWN} more; {where}")
    click.echo()


def _version(permit: Permit) -> str:
    """Name a permit, and of an amended one the version."""
    return f"{permit.number} (amended from {permit.begins_on})" if permit.amendment else permit.number


def _tell_in_lines(summary: AuditSummary, out: Path | None) -> None:
    """Tell of many permits in a line each, the worst first; of those that conform, how many there are."""
    flagged = [each for each in summary.permits if each.counts.nonconforming or each.counts.inconclusive]
    flagged.sort(key=lambda each: (-each.counts.nonconforming, -each.counts.inconclusive))
    rows: list[tuple[str, ...]] = [("permit", "placements", "conforming", "nonconforming", "inconclusive")]
    rows += [
        (_version(each.permit), *map(str, (c.total, c.conforming, c.nonconforming, c.inconclusive)))
        for each in flagged[:LINES]
        for c in (each.counts,)
    ]
    widths = [max(len(row[column]) for row in rows) for column in range(len(rows[0]))]
    for row in rows:
        cells = [row[0].ljust(widths[0]), *(c.rjust(w) for c, w in zip(row[1:], widths[1:], strict=True))]
        click.echo("  ".join(cells))
    if len(flagged) > LINES:
        click.echo(f"... and {len(flagged) - LINES} more with something nonconforming or inconclusive")
    click.echo(f"{len(summary.permits) - len(flagged)} more conform in everything.")
    where = f"See {out}" if out else "Give --permit N for one of them, or --out DIR for all"
    click.echo(f"{where}.\n")


def _tell_today(today: TodaySummary) -> None:
    """Say whom the conditions of today would find otherwise than those of its own day."""
    version = f"Permit {today.permit.number} as it is in force today (from {today.permit.begins_on})"
    if not today.count:
        click.echo(f"{version} would find the same of every placement.\n")
        return
    click.echo(f"{version} would find otherwise of {today.count}:")
    for row in today.listed[:SHOWN]:
        click.echo(f"  {row.tag}: {row.then.word} by its own day, {row.now.word} by today. {row.message}")
    if today.count > SHOWN:
        click.echo(f"  ... and {today.count - SHOWN} more")
    click.echo()


def _tell_flagged(found: list[Any]) -> None:
    if found:
        click.echo(f"  {found[0].verdict.word.capitalize()}:")
        for each in found:
            click.echo(f"  {each.placement}", nl=False)
            print_findings([each])


def _row(each: ConditionSummary) -> tuple[str, ...]:
    from registry.documents.audit_report import margin_text

    cite, counts = each.condition.cite, each.counts
    margin = each.least_margin
    return (
        each.condition.rule,
        cite if len(cite) <= LONGEST_CITE else f"{cite[: LONGEST_CITE - 1]}…",
        str(counts.conforming),
        str(counts.nonconforming),
        str(counts.inconclusive),
        str(counts.not_applicable),
        f"{margin_text(margin)} ({margin.placement})" if margin else "-",
    )
