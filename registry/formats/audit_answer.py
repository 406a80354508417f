"""An audit as programs read it: the same document from the command and over HTTP."""

from typing import Any

from registry.records.audit_scope import scope_words
from registry.records.audit_summary import AuditSummary, ConditionSummary, Counts
from registry.records.entry import instant_text

__all__ = ["audit_answer"]


def audit_answer(summary: AuditSummary, *, proved: bool, as_of: bool) -> dict[str, Any]:
    """
    Give an audit as one JSON document.

    Parameters
    ----------
    summary : AuditSummary
        The audit, summed up with every sentence.
    proved : bool
        Whether the registry was proved: without it ``problems`` is null, since nobody asked.
    as_of : bool
        Whether the day was asked for as the day by which things were known.
    """
    known = instant_text(summary.as_of) if summary.as_of else None
    return {
        "verdict": summary.verdict.word,
        "scope": scope_words(summary.as_of, summary.on, instant_text),
        "as_of": known if as_of else None,
        "known": known,
        "on": instant_text(summary.on) if summary.on else None,
        "audited_at": instant_text(summary.audited_at),
        "journal_head": summary.journal_head,
        # None where nobody asked for the proof: it is made with --out.
        "problems": list(summary.problems) if proved else None,
        "frame": summary.frame,
        "epoch": summary.frame_epoch,
        "permits": [
            {
                "number": each.permit.number,
                "in_force_from": each.permit.begins_on.isoformat(),
                "amendment": each.permit.amendment,
                "counts": _counts(each.counts),
                "conditions": [_condition(condition) for condition in each.conditions],
            }
            for each in summary.permits
        ],
        # By the conditions in force today, where a permit was amended.
        "today": [
            {
                "number": each.permit.number,
                "in_force_from": each.permit.begins_on.isoformat(),
                "then": _counts(each.then),
                "now": _counts(each.now),
                "otherwise": each.count,
                "listed": [
                    {
                        "placement": row.tag,
                        "then": row.then.word,
                        "now": row.now.word,
                        "cite": row.cite,
                        "message": row.message,
                    }
                    for row in each.listed
                ],
            }
            for each in summary.today
        ],
        "findings": [
            condition.findings.line(row, each.placements.tag_of(row)).as_json()
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
