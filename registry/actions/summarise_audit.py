"""Sum up an audit for paper and files: counts, least margins, and the evidence behind what is flagged."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from datetime import datetime
from typing import Any

import numpy as np

from registry.actions.audit_registry import Audit, PermitAudit
from registry.actions.judge_by_today import todays_verdicts
from registry.measure.decision import Verdict
from registry.measure.frames import frame_of
from registry.ports import Register
from registry.records.audit_summary import (
    AuditSummary,
    ConditionSummary,
    Correction,
    Evidence,
    PermitSummary,
    counts_of,
)
from registry.records.finding import Findings
from registry.records.permit import Condition
from registry.records.placement import PlacementTable
from registry.rules.catalogue import rule_of

__all__ = ["summarise_audit"]

#: Of more flagged placements than these under one permit, the worst are told with their evidence.
MOST_EVIDENCE = 100


def summarise_audit(
    register: Register,
    audit: Audit,
    *,
    audited_at: datetime,
    as_of: datetime | None = None,
    on: datetime | None = None,
    problems: Sequence[str] = (),
    in_full: bool = True,
    progress: Callable[[int], None] = lambda _count: None,
) -> AuditSummary:
    """
    Sum up an audit of a registry.

    Parameters
    ----------
    register : Register
        The registry that was audited; read for the evidence of what is flagged, and for corrections.
    audit : Audit
        What the rules say.
    audited_at : datetime
        Now, with its zone.
    as_of : datetime, optional
        The instant as of which the registry was known.
    on : datetime, optional
        The instant by which what was judged had been placed.
    problems : sequence of str, optional
        What in the registry is not as it was written, one sentence each.
    in_full : bool
        Whether the evidence behind what is flagged, and the corrections, are read, as a report tells them.
    progress : callable
        Told how many placements are done.
    """
    programme = register.programme()
    corrections = _corrections(register) if in_full else {}
    frame = frame_of(programme.frame)
    permits = []
    for each in audit.permits:
        permits.append(_permit(each, corrections))
        progress(len(each.placements))
    summary = AuditSummary(
        programme=programme.name,
        zone=programme.zone,
        frame=programme.frame,
        frame_name=frame.name if frame else programme.frame,
        frame_epoch=programme.frame_epoch,
        audited_at=audited_at,
        as_of=as_of,
        on=on,
        journal_head=audit.head,
        journal_entries=register.journal_length(),
        permits=tuple(permits),
        today=todays_verdicts(audit.permits, audit.today),
        keep_outs=register.keep_outs(),
        problems=tuple(problems),
    )
    return _with_evidence(register, summary) if in_full else summary


def _with_evidence(register: Register, summary: AuditSummary) -> AuditSummary:
    """Read what stands behind the worst of what is flagged, where a report tells it: each takes a query."""
    permits = list(summary.permits)
    for place in summary.told_in_full:
        verdict, identifiers = permits[place].verdict, permits[place].placements.placement_id
        flagged = np.flatnonzero(verdict >= Verdict.INCONCLUSIVE)
        worst = flagged[np.argsort(-verdict[flagged].astype(np.int64), kind="stable")][:MOST_EVIDENCE]
        evidence = tuple(_evidence(register, row, str(identifiers[row])) for row in np.sort(worst).tolist())
        permits[place] = replace(permits[place], evidence=evidence)
    return replace(summary, permits=tuple(permits))


def _permit(audit: PermitAudit, corrections: Mapping[str, list[Correction]]) -> PermitSummary:
    verdict = audit.verdict
    return PermitSummary(
        permit=audit.permit,
        placements=audit.placements,
        verdict=verdict,
        held=audit.inside_m >= 0,
        nearest_area=audit.area_row,
        conditions=tuple(
            _condition(audit.placements, condition, found)
            for condition, found in zip(audit.conditions, audit.findings, strict=True)
        ),
        counts=counts_of(verdict),
        evidence=(),
        corrections=tuple(corrections.get(audit.permit.number, ())),
    )


def _condition(placements: PlacementTable, condition: Condition, found: Findings) -> ConditionSummary:
    rule = rule_of(condition.rule)
    return ConditionSummary(
        condition=condition,
        sentence=rule.sentence,
        source=rule.source,
        findings=found,
        placements=placements,
        counts=counts_of(found.verdict),
    )


def _evidence(register: Register, row: int, placement_id: str) -> Evidence:
    placement = register.placement(placement_id)
    return Evidence(
        row=row,
        position_text=placement.position_text,
        depth_text=placement.depth_text,
        tide_text=placement.tide_text,
        source=_source(placement.source),
        basis=(*placement.basis, placement.home.operation),
    )


def _source(source: Mapping[str, Any]) -> str:
    """Name the file and row of a placement; the key that holds them together stays in the journal."""
    named = [str(source["file"])] if source.get("file") else []
    named += [f"row {source['row']}"] if source.get("row") else []
    return ", ".join(named)


def _corrections(register: Register) -> dict[str, list[Correction]]:
    """Gather the corrections and withdrawals of the journal by permit, in order of time."""
    found: dict[str, list[Correction]] = {}
    for kind, names in (("placement.corrected", "supersedes"), ("placement.withdrawn", "placement_id")):
        for entry in register.journal(kind=kind):
            body = entry.content()
            correction = Correction(
                at=entry.time,
                actor=entry.actor,
                tag=str(body["tag"]),
                reference=entry.reference,
                supersedes=str(body[names]),
                reason=str(body["reason"]),
                withdraws=kind == "placement.withdrawn",
            )
            found.setdefault(str(body["permit"]), []).append(correction)
    for corrections in found.values():
        corrections.sort(key=lambda correction: correction.at)
    return found
