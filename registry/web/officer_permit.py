"""One permit: its plan and the table of its placements, each of which filters the other."""

from dataclasses import dataclass
from typing import Any
from zoneinfo import ZoneInfo

import numpy as np
from fastapi import APIRouter, Request
from fastapi.responses import Response
from markupsafe import Markup
from numpy.typing import NDArray

from registry.actions.choose_placements import choose_placements, deciding_condition
from registry.documents.audit_finding import finding_words
from registry.documents.audit_permit import place_words, plan_words, version_words
from registry.documents.audit_plan import Highlight, draw_plans
from registry.documents.audit_values import SHOWN_VERDICTS, verdict_words
from registry.measure.decision import Verdict
from registry.records.audit_summary import AuditSummary, PermitSummary
from registry.web.officer_audit import asked_of, audit_of, permits_numbered
from registry.web.officer_dashboard import permit_card
from registry.web.officer_page import Officer, Pager, officer_page, pager
from registry.web.officer_paths import address, text_of

__all__ = ["router"]

router = APIRouter(include_in_schema=False)
#: So many placements stand on one page, and so many can be pressed on the plan.
_ROWS, _LINKS = 40, 600


@dataclass(frozen=True, slots=True, kw_only=True)
class _Filter:
    """What is looked for."""

    version: int
    condition: int | None
    verdict: Verdict | None
    tag: str
    #: The module that was pressed.
    at: str

    def query(self, each: PermitSummary, *, several: bool) -> dict[str, str | int | None]:
        return {
            "version": each.permit.begins_on.isoformat() if several else None,
            "condition": self.condition,
            "verdict": self.verdict.word if self.verdict is not None else None,
            "tag": self.tag,
        }


@router.get("/officer/{number}")
def permit_page(request: Request, caller: Officer, number: str) -> Response:
    """Show a permit."""
    del caller
    asked = asked_of(request)
    summary = audit_of(request, asked.dates)
    versions = permits_numbered(summary, text_of(number))
    wanted = _filter(request, versions)
    each = versions[wanted.version]
    rows = choose_placements(each, condition=wanted.condition, verdict=wanted.verdict, tag=wanted.tag)
    chosen = _row_of(each, wanted.at)
    at = _page_of(rows, chosen, pager(request, len(rows), _ROWS))
    query = {**asked.query, **wanted.query(each, several=len(versions) > 1)}
    return officer_page(
        request,
        "officer_permit.html",
        asked,
        summary,
        permit=permit_card(each, several=len(versions) > 1),
        versions=[
            (version.permit.begins_on.isoformat(), version_words(version.permit, several=True))
            for version in versions
        ],
        wanted=wanted,
        query=query,
        verdicts=[_legend(verdict) for verdict in SHOWN_VERDICTS],
        plans=_plans(summary, each, rows, at, chosen=chosen, query=query),
        rows=[_row(summary, each, int(row), wanted) for row in rows[at.first : at.end]],
        chosen=wanted.at if chosen is not None else "",
        at=at,
        total=len(each.placements),
    )


def _legend(verdict: Verdict) -> dict[str, Any]:
    words = verdict_words(verdict)
    return {"word": words["word"], "mark": Markup(words["mark"])}


def _filter(request: Request, versions: tuple[PermitSummary, ...]) -> _Filter:
    """Read what is looked for; what cannot be meant is not looked for."""
    asked = request.query_params
    begins = [version.permit.begins_on.isoformat() for version in versions]
    version = begins.index(asked["version"]) if asked.get("version") in begins else len(versions) - 1
    condition, words = asked.get("condition", ""), {verdict.word: verdict for verdict in Verdict}
    count = len(versions[version].conditions)
    known = condition.isascii() and condition.isdigit() and len(condition) < 4 and int(condition) < count
    return _Filter(
        version=version,
        condition=int(condition) if known else None,
        verdict=words.get(asked.get("verdict", "")),
        tag=asked.get("tag", "").strip()[:80],
        at=asked.get("at", ""),
    )


def _row_of(each: PermitSummary, tag: str) -> int | None:
    found = np.flatnonzero(each.placements.tag == tag)
    return int(found[0]) if len(found) else None


def _page_of(rows: NDArray[np.intp], chosen: int | None, asked: Pager) -> Pager:
    """Turn to the page on which the pressed module stands."""
    found = np.flatnonzero(rows == (-1 if chosen is None else chosen))
    return Pager(asked.count, int(found[0]) // asked.size + 1, asked.size) if len(found) else asked


def _plans(
    summary: AuditSummary,
    each: PermitSummary,
    rows: NDArray[np.intp],
    at: Pager,
    *,
    chosen: int | None,
    query: dict[str, Any],
) -> list[dict[str, Any]]:
    """Draw each area: what is looked for in full, all else faintly; what is listed can be pressed."""
    shown = np.zeros(len(each.placements), dtype=bool)
    shown[rows] = True
    linked = (rows if len(rows) <= _LINKS else rows[at.first : at.end]).tolist()
    links = {
        row: address(each.permit.number, **{**query, "at": str(each.placements.tag[row])}) + "#chosen"
        for row in linked
    }
    highlight = Highlight(shown=shown, links=links, chosen=chosen)
    return [
        # A drawing of our own, in which all that was typed is escaped.
        {"title": plan.title, "svg": Markup(plan.svg), "told": plan_words(plan)}
        for index in range(len(each.permit.areas))
        for plan in draw_plans(each, index, summary.keep_outs, name=f"plan-{index + 1}", highlight=highlight)
    ]


def _row(summary: AuditSummary, each: PermitSummary, row: int, wanted: _Filter) -> dict[str, Any]:
    """Tell of a placement what the condition looked for says, or the one that says the worst."""
    condition = (
        deciding_condition(each, row) if wanted.condition is None else each.conditions[wanted.condition]
    )
    placed = place_words(summary, each, row)
    found = (
        finding_words(
            condition,
            condition.findings.line(row, placed["tag"]),
            each.placements.placed_at_s[row],
            ZoneInfo(summary.zone),
        )
        if condition
        else None
    )
    return {
        **placed,
        "area": each.area[row] or "outside",
        "found": found,
        "cite": condition.condition.cite if condition else "",
        "rule": condition.condition.rule if condition else "",
    }
