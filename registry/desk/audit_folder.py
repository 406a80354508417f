"""The folder of an audit for the officer: report, findings, and the evidence behind each placement."""

import hashlib
from collections.abc import Callable
from dataclasses import replace
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

from registry import __version__
from registry.records.audit_summary import AuditSummary, Changes

if TYPE_CHECKING:
    from registry.storage.register import GeoPackageRegister

__all__ = ["NAMES", "write_audit_folder"]

#: All that is written, in print order.
NAMES = ("report.html", "report.pdf", "findings.csv", "findings.gpkg", "evidence")
#: Of more placements than these, evidence is written for the flagged ones only, and of no more than these.
MOST_EVIDENCE, MOST_FLAGGED_EVIDENCE = 5_000, 20_000

ABOUT = """What each placement was derived from, as the journal holds it.

INDEX.csv lists every file with its SHA-256 digest, and the journal entry that it comes from with the
digest of that entry. The .json files are text: what was written or received, how position and depth were
derived, by whom and when it was entered, and what every condition said then. The .nmea files are lines of
receiver logs, verbatim. Files that were brought ashore are named with their digests; the files themselves
stay with the programme.

{scope}

To check it: `leadline journal verify` computes the digest of every entry again. The head of the journal was
{head}
with {entries} entries when this was written.
Names of crews and whatever else may name people are left out; the digest of an entry is over all of it.
"""


def write_audit_folder(
    summary: AuditSummary,
    out: Path,
    *,
    register: "GeoPackageRegister",
    since: datetime | None,
    say: Callable[[str], None],
) -> tuple[Path, ...]:
    """
    Write the folder; it appears whole, or the older one stays.

    Parameters
    ----------
    summary : AuditSummary
        What the audit found.
    out : Path
        Where to write.
    register : GeoPackageRegister
        The registry that was audited, within one `reading()`.
    since : datetime, optional
        The instant from which on changes are told, with its zone.
    say : callable
        Told what is being done.

    Returns
    -------
    tuple of Path
        What was written, in print order.

    Raises
    ------
    UnwritableError
        If the disk is full, or the folder may not be written.
    """
    from registry.documents.audit_paper import render_audit_paper
    from registry.documents.audit_report import write_audit_report
    from registry.formats.findings_table import write_findings_table
    from registry.storage.files import write_file
    from registry.storage.findings_layers import write_findings_layers
    from registry.storage.new_folder import new_folder
    from registry.storage.shipped import shipped_path

    told = _told(summary, register=register, since=since, say=say)
    with new_folder(out, names=NAMES) as draft:
        say("Writing report.html")
        write_file(draft / NAMES[0], write_audit_report(told).encode("utf-8", errors="replace"))
        say("Writing report.pdf")
        write_file(draft / NAMES[1], render_audit_paper(told, shipped_path("fonts")))
        say("Writing findings.csv")
        write_file(draft / NAMES[2], write_findings_table(told))
        say("Writing findings.gpkg")
        write_findings_layers(told, draft / NAMES[3])
        say("Writing the evidence")
        _write_evidence(told, draft / NAMES[4], register=register)
    return tuple(Path(out) / name for name in NAMES)


def _told(
    summary: AuditSummary,
    *,
    register: "GeoPackageRegister",
    since: datetime | None,
    say: Callable[[str], None],
) -> AuditSummary:
    """Add what a paper tells beyond the findings themselves."""
    from registry.actions.choose_inspections import choose_inspections
    from registry.actions.list_duties import list_duties
    from registry.actions.settle_finding import settle_findings
    from registry.measure.datum import software_version

    say("Looking for what would settle each finding")
    settled = settle_findings(register, summary)
    on = (summary.on or summary.as_of or summary.audited_at).astimezone(ZoneInfo(summary.zone)).date()
    say("Listing duties and what to inspect again")
    return replace(
        settled,
        software=summary.software or f"Leadline {__version__}, {software_version()}",
        inspections=choose_inspections(register, summary),
        duties=list_duties(register, on=on, permit=_only(summary, register)),
        changes=_changes(summary, register=register, since=since, say=say) if since else None,
    )


def _only(summary: AuditSummary, register: "GeoPackageRegister") -> str | None:
    """Name the one permit that was audited, where there are others."""
    numbers = {each.permit.number for each in summary.permits}
    return numbers.pop() if len(numbers) == 1 and len(register.permits()) > 1 else None


def _changes(
    summary: AuditSummary,
    *,
    register: "GeoPackageRegister",
    since: datetime,
    say: Callable[[str], None],
) -> Changes:
    from registry.actions.audit_registry import audit_registry
    from registry.actions.compare_audits import compare_audits
    from registry.actions.summarise_audit import summarise_audit
    from registry.errors import NotFoundError
    from registry.storage.replay import registry_as_of

    say("Auditing the registry as it stood before")
    try:
        with registry_as_of(register, since, day=summary.on) as before, before.reading():
            audit = audit_registry(before, permit=_only(summary, register), on=summary.on)
            old = summarise_audit(before, audit, audited_at=summary.audited_at, as_of=since, on=summary.on)
    except NotFoundError:
        # The registry, or the one permit that was asked for, was not there yet.
        old = None
    return compare_audits(register, old, summary, since=since)


def _write_evidence(summary: AuditSummary, folder: Path, *, register: "GeoPackageRegister") -> None:
    from registry.actions.gather_evidence import gather_evidence
    from registry.formats.evidence_file import evidence_files, write_evidence_index

    chosen, scope = _with_evidence(summary)
    folder.mkdir()
    lines = []
    for evidence in gather_evidence(register, chosen):
        about = replace(evidence, content={}, log_lines=())
        for file in evidence_files(evidence):
            (folder / file.folder).mkdir(exist_ok=True)
            (folder / file.path).write_bytes(file.content)
            lines.append((file.path, len(file.content), hashlib.sha256(file.content).hexdigest(), about))
    (folder / "INDEX.csv").write_bytes(write_evidence_index(sorted(lines, key=lambda line: line[0])))
    told = ABOUT.format(scope=scope, head=summary.journal_head, entries=f"{summary.journal_entries:,}")
    (folder / "README.txt").write_text(told, encoding="utf-8", newline="\r\n")


def _with_evidence(summary: AuditSummary) -> tuple[list[str], str]:
    """Choose the placements whose evidence is written, and say which those are."""
    import numpy as np

    from registry.measure.decision import Verdict

    identifiers = np.concatenate(
        [np.empty(0, dtype=object), *(each.placements.placement_id for each in summary.permits)]
    )
    if len(identifiers) <= MOST_EVIDENCE:
        return (
            identifiers.tolist(),
            "It is the evidence of the 1 placement of this audit."
            if len(identifiers) == 1
            else f"It is the evidence of all {len(identifiers):,} placements of this audit.",
        )
    verdict = np.concatenate([each.verdict for each in summary.permits])
    flagged = np.flatnonzero(verdict >= Verdict.INCONCLUSIVE)
    worst = flagged[np.argsort(-verdict[flagged].astype(np.int64), kind="stable")][:MOST_FLAGGED_EVIDENCE]
    of = "all" if len(worst) == len(flagged) else f"{len(worst):,}, the nonconforming first,"
    return identifiers[worst].tolist(), (
        f"This audit is of {len(identifiers):,} placements. It is the evidence of {of} of the "
        f"{len(flagged):,} that are nonconforming or inconclusive; `leadline audit --permit N --out DIR` "
        "writes that of one permit."
    )
