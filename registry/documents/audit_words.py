"""
A whole audit in words and drawings: what the page and the paper both say, in the order in which they say it.

A registry of thousands of permits stays readable: a permit is told in full where something is flagged under
it, and only so many of them; every permit has its line. All else stands in the files beside the report.
"""

from collections import Counter
from typing import Any
from zoneinfo import ZoneInfo

from registry.documents.audit_permit import permit_words, version_words
from registry.documents.audit_values import (
    MEANINGS,
    SHOWN_VERDICTS,
    counted,
    many,
    minutes,
    moment,
    shortened,
    together,
    verdict_words,
)
from registry.measure.decision import Verdict
from registry.records.audit_scope import scope_words
from registry.records.audit_summary import (
    AuditSummary,
    Change,
    Changes,
    Inspection,
    PermitSummary,
    TodaySummary,
    VerdictChange,
)
from registry.records.duty import DutyState
from registry.rules.wording import radius_text

__all__ = ["audit_words", "changes_words"]

#: Of what was changed in the registry, so much is told on the page.
MOST_PROBLEMS = 20
#: More lines than these are counted.
MOST_PERMIT_LINES = 5_000
MOST_DUTIES = 200

WHOLES = {
    Verdict.CONFORMING: "Every placement conforms to the conditions of its permit.",
    Verdict.NONCONFORMING: "Something is nonconforming.",
    Verdict.INCONCLUSIVE: "Nothing is nonconforming, but something is inconclusive.",
    Verdict.NOT_APPLICABLE: "Nothing has been placed yet.",
}


def audit_words(summary: AuditSummary) -> dict[str, Any]:
    """
    Word an audit.

    Parameters
    ----------
    summary : AuditSummary
        What the audit found.

    Returns
    -------
    dict
        Plain text, numbers, lists and drawings (SVG); no markup.
    """
    detailed = summary.told_in_full
    last = {each.permit.number: place for place, each in enumerate(summary.permits)}
    # Numbered by place among all, so that a line leads to the permit told in full.
    permits = [
        permit_words(
            summary,
            summary.permits[place],
            place + 1,
            last=last[summary.permits[place].permit.number] == place,
        )
        for place in detailed
    ]
    lines = _lines(summary, frozenset(detailed))
    return {
        "programme": summary.programme,
        "audited_at": moment(summary.audited_at, summary.zone),
        "state": scope_words(summary.as_of, summary.on, lambda instant: moment(instant, summary.zone)),
        "frame": f"{summary.frame_name} ({summary.frame}), epoch {summary.frame_epoch:g}",
        "software": summary.software,
        "entries": many(summary.journal_entries, "entry", "entries"),
        "head": summary.journal_head,
        "problems": list(summary.problems[:MOST_PROBLEMS]),
        "whole": {
            **verdict_words(summary.verdict),
            "sentence": WHOLES[summary.verdict],
            "counted": counted(together(permit.counts for permit in summary.permits)),
        },
        "legend": [{**verdict_words(verdict), "meaning": MEANINGS[verdict]} for verdict in SHOWN_VERDICTS],
        "lines": lines[:MOST_PERMIT_LINES],
        "lines_left_out": max(0, len(lines) - MOST_PERMIT_LINES),
        "told_in_full": _told_in_full(summary, len(detailed)),
        "permits": permits,
        "today": [_today(each) for each in summary.today],
        "changes": changes_words(summary, summary.changes) if summary.changes else None,
        "inspections": _inspections(summary),
        "duties": _duties(summary),
        "files": _files(summary),
    }


def _files(summary: AuditSummary) -> str:
    """Tell what stands in the files beside the report."""
    if summary.all_findings_written:
        return (
            "Every finding, the conforming ones too, stands in findings.csv and findings.gpkg, written with "
            "this report; what each placement was derived from, in the folder evidence."
        )
    return (
        "The registry is large: findings.csv and the layer findings of findings.gpkg hold what is "
        "nonconforming or inconclusive, the layer placements every placement with its verdict; the folder "
        "evidence holds what flagged placements were derived from."
    )


def _told_in_full(summary: AuditSummary, count: int) -> str:
    if count == len(summary.permits):
        return ""
    flagged = sum(each.counts.nonconforming + each.counts.inconclusive > 0 for each in summary.permits)
    told = f"Of {many(len(summary.permits), 'permit', 'permits')}, something is flagged under {flagged:,}. "
    if count < flagged:
        return f"{told}The {count} with most that is nonconforming are told in full."
    return f"{told}Those are told in full."


def _lines(summary: AuditSummary, detailed: frozenset[int]) -> list[dict[str, Any]]:
    """Give one line for each permit."""
    versions = Counter(each.permit.number for each in summary.permits)
    return [
        {
            "place": place + 1 if place in detailed else 0,
            "number": each.permit.number,
            "version": version_words(each.permit, several=versions[each.permit.number] > 1).partition(":")[0],
            "authority": each.permit.authority,
            "valid": f"{each.permit.valid_from} to {each.permit.valid_to}",
            "verdict": verdict_words(_worst(each)),
            "conforming": each.counts.conforming,
            "nonconforming": each.counts.nonconforming,
            "inconclusive": each.counts.inconclusive,
            "not_applicable": each.counts.not_applicable,
            "total": each.counts.total,
        }
        for place, each in enumerate(summary.permits)
    ]


def _worst(each: PermitSummary) -> Verdict:
    return Verdict(int(each.verdict.max())) if len(each.verdict) else Verdict.NOT_APPLICABLE


def _today(each: TodaySummary) -> dict[str, Any]:
    return {
        "number": each.permit.number,
        "version": version_words(each.permit, several=True),
        "then": counted(each.then),
        "now": counted(each.now),
        "rows": [
            {
                "tag": row.tag,
                "then": verdict_words(row.then),
                "now": verdict_words(row.now),
                "cite": row.cite,
                "message": row.message,
            }
            for row in each.listed
        ],
        "left_out": each.count - len(each.listed),
    }


def changes_words(summary: AuditSummary, changes: Changes) -> dict[str, Any]:
    """Word what has changed since a day."""
    every = sum(count for _, count in changes.counts)
    return {
        "since": moment(changes.since, summary.zone),
        "head": changes.journal_head,
        "entries": many(changes.journal_entries, "entry", "entries"),
        "counted": ", ".join(_of_kind(*each) for each in changes.counts) or "nothing",
        "rows": [_change(summary, each) for each in changes.listed],
        "left_out": every - sum(each.count for each in changes.listed),
        "verdicts": [_verdict_change(each) for each in changes.verdicts],
        "verdict_count": changes.verdict_count,
        "verdicts_left_out": changes.verdict_count - len(changes.verdicts),
    }


def _of_kind(kind: str, count: int) -> str:
    """Say how many entries of a kind there are, as "3 placed" or "2 permits added"."""
    return f"{count:,} {kind if count == 1 else kind.replace('permit ', 'permits ')}"


def _change(summary: AuditSummary, each: Change) -> dict[str, Any]:
    return {
        "kind": each.kind if each.count == 1 else _of_kind(each.kind, each.count),
        "at": f"{each.at.astimezone(ZoneInfo(summary.zone)):%Y-%m-%d %H:%M}",
        "actor": each.actor,
        "permit": each.permit,
        "tag": each.tag,
        "reference": each.reference if each.count == 1 else f"from {each.reference} on",
        "told": shortened(each.told),
    }


def _verdict_change(each: VerdictChange) -> dict[str, Any]:
    return {
        "permit": each.permit,
        "tag": each.tag,
        "rule": each.rule,
        "cite": each.cite,
        "before": verdict_words(each.before) if each.before is not None else None,
        "now": verdict_words(each.now) if each.now is not None else None,
    }


def _inspections(summary: AuditSummary) -> dict[str, Any] | None:
    found = summary.inspections
    if found is None:
        return None
    return {
        "rows": [_inspection(rank, each) for rank, each in enumerate(found.listed, start=1)],
        "count": found.count,
        "left_out": found.count - len(found.listed),
    }


def _inspection(rank: int, each: Inspection) -> dict[str, Any]:
    return {
        "rank": rank,
        "tag": each.tag,
        "permit": each.permit,
        "position": list(minutes(each.lat_deg, each.lon_deg, each.r95_m)),
        "r95": f"within {radius_text(each.r95_m)} (95 %)",
        "reasons": list(each.reasons),
    }


def _duties(summary: AuditSummary) -> dict[str, Any] | None:
    owed = summary.duties
    if owed is None:
        return None
    # What does not apply tells an officer nothing; what is done proves that it was.
    told = [duty for duty in owed.duties if duty.state is not DutyState.NOT_APPLICABLE]
    return {
        "on": owed.on.isoformat(),
        "rows": [
            {
                "what": duty.what,
                "kind": duty.kind.words,
                "permit": duty.permit,
                "due": duty.due_on.isoformat() if duty.due_on else "not known",
                "state": duty.state_words,
                "late": duty.state is DutyState.OVERDUE,
                "cite": duty.cite,
            }
            for duty in told[:MOST_DUTIES]
        ],
        "left_out": max(0, len(told) - MOST_DUTIES),
        "notes": list(owed.notes),
    }
