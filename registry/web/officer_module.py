"""One module under a permit: every finding with its evidence, and who entered what, and when."""

from typing import Any
from zoneinfo import ZoneInfo

import numpy as np
from fastapi import APIRouter, Request
from fastapi.responses import Response

from registry.actions.gather_evidence import gather_evidence
from registry.actions.trace_module import trace_module
from registry.documents.audit_finding import condition_words, finding_words
from registry.documents.audit_permit import place_words, version_words
from registry.documents.audit_values import moment
from registry.documents.evidence_words import evidence_words
from registry.errors import NotFoundError
from registry.measure.decision import Verdict
from registry.records.audit_summary import AuditSummary, PermitSummary
from registry.records.placement_evidence import PlacementEvidence
from registry.web.officer_audit import Asked, asked_of, audit_of, permits_numbered, reading_as_of
from registry.web.officer_page import Officer, download, officer_page
from registry.web.officer_paths import text_of

__all__ = ["router"]

router = APIRouter(include_in_schema=False)


@router.get("/officer/{number}/{tag}")
def module_page(request: Request, caller: Officer, number: str, tag: str) -> Response:
    """Show what every condition says of a module, and what stands behind it."""
    del caller
    asked = asked_of(request)
    name, permit = text_of(tag), text_of(number)
    summary = audit_of(request, asked.dates)
    standing = [
        (each, int(row))
        for each in permits_numbered(summary, permit)
        for row in np.flatnonzero(each.placements.tag == name)
    ]
    with reading_as_of(request, asked.dates) as register:
        trace = trace_module(register, name, permit=permit)
        if not trace:
            what = f"No module {name} was placed under permit {permit}."
            raise NotFoundError(what, remedy="Look it up in the table of the permit, or choose another day.")
        evidence = {
            each.placement_id: each
            for each in gather_evidence(register, [entry.reference for entry in trace])
        }
    stands = {str(each.placements.placement_id[row]) for each, row in standing}
    return officer_page(
        request,
        "officer_module.html",
        asked,
        summary,
        tag=name,
        permit=permit,
        placements=[_placement(summary, each, row, evidence) for each, row in standing],
        earlier=[evidence_words(each, summary.zone) for key, each in evidence.items() if key not in stands],
        trace=[
            {
                "kind": entry.kind,
                "at": moment(entry.at, summary.zone),
                "actor": entry.actor,
                "reference": entry.reference,
                "about": entry.about,
                "digest": entry.digest,
                "reason": entry.reason,
                "told": entry.told,
            }
            for entry in trace
        ],
    )


def _placement(
    summary: AuditSummary, each: PermitSummary, row: int, evidence: dict[str, PlacementEvidence]
) -> dict[str, Any]:
    placed = place_words(summary, each, row)
    zone = ZoneInfo(summary.zone)
    return {
        **placed,
        "verdict": Verdict(int(each.verdict[row])),
        "area": each.area[row],
        "version": version_words(each.permit, several=False),
        "chart_datum": each.permit.chart_datum,
        "findings": [
            {
                **condition_words(condition),
                **finding_words(
                    condition,
                    condition.findings.line(row, placed["tag"]),
                    each.placements.placed_at_s[row],
                    zone,
                ),
            }
            for condition in each.conditions
        ],
        "evidence": evidence_words(evidence[str(placed["entry"])], summary.zone),
    }


@router.get("/officer/{number}/{tag}/evidence.zip")
def evidence_files_of(request: Request, caller: Officer, number: str, tag: str) -> Response:
    """Give the evidence of a module as files, those of an audit's folder."""
    from registry.desk.archive import archive_of
    from registry.formats.evidence_file import evidence_files

    del caller
    asked: Asked = asked_of(request)
    name, permit = text_of(tag), text_of(number)
    with reading_as_of(request, asked.dates) as register:
        trace = trace_module(register, name, permit=permit)
        found = list(gather_evidence(register, [entry.reference for entry in trace]))
    if not found:
        what = f"No module {name} was placed under permit {permit}."
        raise NotFoundError(what, remedy="Look it up in the table of the permit, or choose another day.")
    files = {file.path: file.content for each in found for file in evidence_files(each)}
    return download(request, archive_of(files), f"evidence-{name}.zip", "application/zip")
