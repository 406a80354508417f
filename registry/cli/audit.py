"""``leadline audit``: every rule over every placement."""

import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import datetime, timedelta
from pathlib import Path
from threading import Timer
from typing import Any

import click

from registry.cli.answer import exit_code, mark, print_findings, print_json
from registry.cli.options import json_option, now, open_for_reading, registry_option, registry_path
from registry.measure.decision import Verdict
from registry.records.audit_summary import AuditSummary, ConditionSummary, Counts, PermitSummary

SHOWN = 20
#: How long a person waits without a sign before one is given. Units: s.
PATIENCE_S = 2.0
HEADINGS = ("condition", "cited from", "conforming", "nonconforming", "inconclusive", "n/a", "least margin")
LONGEST_CITE = 34


@click.command("audit")
@click.option("--permit", "permit_number", metavar="N", help="Only this permit.")
@click.option("--as-of", "as_of", metavar="DATE", help="The registry as it stood then; a day means its end.")
@click.option(
    "--out",
    metavar="DIR",
    type=click.Path(path_type=Path),
    help="Write findings.csv, findings.gpkg and report.html there.",
)
@json_option
@registry_option
@click.pass_context
def command(
    ctx: click.Context, permit_number: str | None, as_of: str | None, out: Path | None, as_json: bool
) -> None:
    """
    Ask every condition of every placement, and show what does not or may not conform.

    With --out the registry is proved first, as by leadline journal verify; the files, too, say so where
    entries or tables were changed.

    \b
    Example:
      leadline audit --permit HB-0417 --out audit-2026
      leadline audit --as-of 2026-06-30
    """
    from registry.actions.audit_registry import audit_registry
    from registry.actions.summarise_audit import summarise_audit
    from registry.storage.replay import prove, registry_as_of

    if out is not None:
        _refuse_the_registry(out, registry_path(ctx))
    live = open_for_reading(ctx)
    instant = _instant(as_of, live.programme().zone) if as_of is not None else None
    if instant is not None and instant > now() and instant.date() > now().date():
        click.echo(f"Warning: {as_of} is still to come; the registry is shown as it stands now.", err=True)
    register = live if instant is None else ctx.with_resource(registry_as_of(live, instant))
    problems: tuple[str, ...] = ()
    with _progress() as say, register.reading():
        if out is not None:
            say("Proving the registry")
            problems = tuple(problem.sentence for problem in prove(live))
        say("Asking every condition of every placement")
        audit = audit_registry(register, permit=permit_number)
        say("Summing up")
        summary = summarise_audit(register, audit, audited_at=now(), as_of=instant, problems=problems)
        written = _write(summary, out, live=registry_path(ctx), say=say) if out is not None else ()
    if as_json:
        print_json(_data(summary, proved=out is not None))
    else:
        _tell(summary, out)
        for path in written:
            click.echo(f"Wrote {path}")
    ctx.exit(1 if problems else exit_code(summary.verdict))


def _instant(text: str, zone: str) -> datetime:
    """Read an instant, or a day as the last moment of it in the programme's zone."""
    from registry.errors import TimeTextError
    from registry.formats.written_instant import read_day, read_instant

    try:
        day = read_day(text)
    except TimeTextError:
        return read_instant(text, zone)
    # Midnight is asked of the next day, so that a day of 23 or 25 hours ends where it really does.
    return read_instant(f"{day + timedelta(days=1)}T00:00", zone) - timedelta(milliseconds=1)


def _refuse_the_registry(out: Path, live: Path) -> None:
    from registry.errors import ConflictError

    for name in ("findings.csv", "findings.gpkg", "report.html"):
        if (out / name).resolve() == live.resolve():
            what = f"{out / name} is the registry itself."
            raise ConflictError(what, remedy="Give another folder for what the audit writes.")


def _write(
    summary: AuditSummary, out: Path, *, live: Path, say: Callable[[str], None]
) -> tuple[Path, Path, Path]:
    from registry.documents.audit_report import write_audit_report
    from registry.errors import UnwritableError
    from registry.formats.findings_table import write_findings_table
    from registry.storage.files import write_file
    from registry.storage.findings_layers import write_findings_layers

    try:
        out.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        what = f"The folder {out} cannot be made ({error.strerror or error})."
        raise UnwritableError(what, remedy="Name another folder with --out.") from error
    say("Writing findings.csv")
    table = write_file(out / "findings.csv", write_findings_table(summary))
    say("Writing findings.gpkg")
    layers = out / "findings.gpkg"
    write_findings_layers(summary, layers, live=live)
    say("Writing report.html")
    report = write_file(out / "report.html", write_audit_report(summary).encode("utf-8", errors="replace"))
    return table, layers, report


@contextmanager
def _progress() -> Iterator[Callable[[str], None]]:
    """Show what is being done, on a terminal and only to those who have waited a while."""
    doing = ["Beginning"]
    if not sys.stderr.isatty():
        yield doing.append
        return
    shown: list[Any] = []

    def show() -> None:
        from rich.console import Console
        from rich.progress import Progress, SpinnerColumn, TextColumn, TimeElapsedColumn

        bar = Progress(
            SpinnerColumn(),
            TextColumn("{task.description}"),
            TimeElapsedColumn(),
            console=Console(stderr=True),
            transient=True,
        )
        bar.add_task(doing[-1], total=None)
        bar.start()
        shown.append(bar)

    def say(what: str) -> None:
        doing.append(what)
        for bar in shown:
            bar.update(bar.task_ids[0], description=what)

    timer = Timer(PATIENCE_S, show)
    timer.daemon = True
    timer.start()
    try:
        yield say
    finally:
        timer.cancel()
        timer.join()
        for bar in shown:
            bar.stop()


def _data(summary: AuditSummary, *, proved: bool) -> dict[str, Any]:
    from registry.records.entry import instant_text

    return {
        "verdict": summary.verdict.word,
        "as_of": instant_text(summary.as_of) if summary.as_of else None,
        "audited_at": instant_text(summary.audited_at),
        "journal_head": summary.journal_head,
        # None where nobody asked for the proof: it is made with --out.
        "problems": list(summary.problems) if proved else None,
        "frame": summary.frame,
        "epoch": summary.frame_epoch,
        "permits": [
            {
                "number": each.permit.number,
                "counts": _counts(each.counts),
                "conditions": [_condition(condition) for condition in each.conditions],
            }
            for each in summary.permits
        ],
        "findings": [
            condition.findings.line(row, str(each.placements.tag[row])).as_json()
            for each in summary.permits
            for row in range(len(each.placements))
            for condition in each.conditions
        ],
    }


def _counts(counts: Counts) -> dict[str, int]:
    return {
        "placements": counts.total,
        "conforming": counts.conforming,
        "nonconforming": counts.nonconforming,
        "inconclusive": counts.inconclusive,
        "not applicable": counts.not_applicable,
    }


def _condition(each: ConditionSummary) -> dict[str, Any]:
    margin = each.least_margin
    return {
        "rule": each.condition.rule,
        "cite": each.condition.cite,
        "limits": {name: limit.written for name, limit in each.condition.limits.items()},
        "counts": _counts(each.counts),
        "least_margin": {
            "value": margin.value,
            "u95": margin.u95,
            "unit": margin.unit,
            "placement": margin.placement,
        }
        if margin
        else None,
    }


def _tell(summary: AuditSummary, out: Path | None) -> None:
    if summary.problems:
        told = "WARNING: the registry is not as it was written; nothing below is proved."
        click.echo(click.style(told, fg="red", bold=True))
        for problem in summary.problems[:SHOWN]:
            click.echo(f"  {problem}")
    if not summary.permits:
        click.echo("No permit is recorded. Add one with: leadline permit add FILE.toml")
        return
    if summary.as_of is not None:
        from registry.records.entry import instant_text

        click.echo(f"The registry as it stood at {instant_text(summary.as_of)}")
    for each in summary.permits:
        _tell_permit(each, out)
    counts = [each.counts for each in summary.permits]
    total = sum(each.total for each in counts)
    many = ("permit" if len(counts) == 1 else "permits", "placement" if total == 1 else "placements")
    click.echo(f"{mark(summary.verdict)}: {total} {many[1]} under {len(counts)} {many[0]}")
    click.echo(f"Journal head {summary.journal_head}")
    click.echo("An aid, not a ruling: the permit itself and the office that issued it decide.")


def _tell_permit(each: PermitSummary, out: Path | None) -> None:
    counts = each.counts
    click.echo(f"Permit {each.permit.number} of {each.permit.authority}")
    click.echo(
        f"  {counts.total} placements: {counts.conforming} conforming, "
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
