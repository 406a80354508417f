"""The officer's dashboard: each permit, and what each of its conditions says."""

from typing import Any

from fastapi import APIRouter, Request
from fastapi.responses import Response

from registry.documents.audit_finding import condition_words
from registry.documents.audit_permit import version_words
from registry.documents.audit_values import counted, together
from registry.measure.decision import worst
from registry.records.audit_summary import PermitSummary
from registry.web.officer_audit import asked_of, audit_of
from registry.web.officer_page import Officer, officer_page, pager

__all__ = ["permit_card", "router"]

router = APIRouter(include_in_schema=False)
#: So many permits stand on one page.
_PERMITS = 12


@router.get("/officer")
def dashboard(request: Request, caller: Officer) -> Response:
    """Show every permit by condition."""
    del caller
    asked = asked_of(request)
    summary = audit_of(request, asked.dates)
    at = pager(request, len(summary.permits), _PERMITS)
    return officer_page(
        request,
        "officer_dashboard.html",
        asked,
        summary,
        whole=summary.verdict,
        counted=counted(together(each.counts for each in summary.permits)),
        permits=[
            permit_card(each, several=_several(summary.permits, each))
            for each in summary.permits[at.first : at.end]
        ],
        at=at,
    )


def _several(permits: tuple[PermitSummary, ...], each: PermitSummary) -> bool:
    return sum(other.permit.number == each.permit.number for other in permits) > 1


def permit_card(each: PermitSummary, *, several: bool) -> dict[str, Any]:
    """Give a permit with its conditions, as its card tells it."""
    return {
        "number": each.permit.number,
        "version": version_words(each.permit, several=several),
        "from": each.permit.begins_on.isoformat() if several else "",
        "authority": each.permit.authority,
        "valid": f"{each.permit.valid_from} to {each.permit.valid_to}",
        "chart_datum": each.permit.chart_datum,
        "verdict": worst(each.verdict),
        "counted": counted(each.counts),
        "conditions": [
            {**condition_words(condition), "place": place} for place, condition in enumerate(each.conditions)
        ],
    }
