"""What the conditions of today would say of placements that were judged by those of their own day."""

from collections.abc import Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from registry.actions.audit_registry import PermitAudit
from registry.measure.decision import Verdict
from registry.records.audit_summary import TodayRow, TodaySummary, counts_of

__all__ = ["todays_verdicts"]

#: Placements that are listed by name under each permit; the rest is counted.
MOST_LISTED = 100


def todays_verdicts(permits: Sequence[PermitAudit], today: Sequence[PermitAudit]) -> tuple[TodaySummary, ...]:
    """
    Compare, permit by permit, the verdicts by the conditions of each placement's day with those of today.

    A placement is told where any condition answers otherwise, also where the worst of all is the same.

    Parameters
    ----------
    permits : sequence of PermitAudit
        Every version of every permit, with the placements of its days.
    today : sequence of PermitAudit
        Each permit of several versions in the one that is in force now, with all its placements.
    """
    return tuple(
        _compared([then for then in permits if then.permit.number == now.permit.number], now) for now in today
    )


def _compared(then: Sequence[PermitAudit], now: PermitAudit) -> TodaySummary:
    identifiers = _put_together(object, *(each.placements.placement_id for each in then))
    row_of = {identifier: row for row, identifier in enumerate(identifiers.tolist())}
    # A placement before the first version was judged by that one: every placement has its own day.
    rows = np.array(
        [row_of.get(each, len(row_of)) for each in now.placements.placement_id.tolist()], dtype=np.intp
    )

    def before(verdicts: Sequence[NDArray[np.int8]]) -> NDArray[np.int8]:
        return np.append(_put_together(np.int8, *verdicts), Verdict.NOT_APPLICABLE).astype(np.int8)[rows]

    rules = tuple(dict.fromkeys(each.rule for each in now.findings))
    changed = np.zeros((len(rules), len(now.placements)), dtype=bool)
    by_rule = np.zeros((2, *changed.shape), dtype=np.int8)
    for place, rule in enumerate(rules):
        by_rule[0, place] = before([_worst_of(each, rule) for each in then])
        by_rule[1, place] = _worst_of(now, rule)
        # What is not asked is kept.
        was, is_now = (np.maximum(each[place], Verdict.CONFORMING) for each in by_rule)
        changed[place] = was != is_now
    other = np.flatnonzero(changed.any(axis=0) | (before([each.verdict for each in then]) != now.verdict))
    worst_first = other[np.argsort(-now.verdict[other].astype(np.int64), kind="stable")]
    listed = []
    for row in worst_first[:MOST_LISTED].tolist():
        # Of several conditions that changed their answer, the one that today finds worst is named.
        place = int(np.where(changed[:, row], by_rule[1, :, row], -1).argmax())
        was, is_now = (Verdict(int(each[place, row])) for each in by_rule)
        listed.append(_row(now, row, rules[place], was, is_now))
    return TodaySummary(
        permit=now.permit,
        then=counts_of(before([each.verdict for each in then])),
        now=counts_of(now.verdict),
        listed=tuple(listed),
        count=len(other),
    )


def _put_together(kind: type, *parts: NDArray[Any]) -> NDArray[Any]:
    return np.concatenate([np.empty(0, dtype=kind), *parts])


def _worst_of(audit: PermitAudit, rule: str) -> NDArray[np.int8]:
    """Give the worst of what the conditions of one rule say of each placement."""
    found = [each.verdict for each in audit.findings if each.rule == rule]
    nothing = np.zeros(len(audit.placements), dtype=np.int8)
    return np.asarray(np.maximum.reduce([nothing, *found]), dtype=np.int8)


def _row(now: PermitAudit, row: int, rule: str, was: Verdict, is_now: Verdict) -> TodayRow:
    """Name what one rule says of a placement by the conditions of today."""
    found = next(each for each in now.findings if each.rule == rule and each.verdict[row] == is_now)
    flagged = is_now >= Verdict.INCONCLUSIVE
    kept = "Nothing that is asked today is missed."
    if now.verdict[row] >= Verdict.INCONCLUSIVE:
        kept = f"Today this is kept: {found.message[row]}"
    return TodayRow(
        tag=str(now.placements.tag[row]),
        then=was,
        now=is_now,
        cite=found.cite if flagged else "",
        message=str(found.message[row]) if flagged else kept,
    )
