"""What the conditions of today would say of placements that were judged by those of their own day."""

from collections.abc import Sequence

import numpy as np

from registry.actions.audit_registry import PermitAudit
from registry.measure.decision import Verdict
from registry.records.audit_summary import TodayRow, TodaySummary, counts_of

__all__ = ["todays_verdicts"]

#: Placements that are listed by name under each permit; the rest is counted.
MOST_LISTED = 100


def todays_verdicts(permits: Sequence[PermitAudit], today: Sequence[PermitAudit]) -> tuple[TodaySummary, ...]:
    """
    Compare, permit by permit, the verdicts by the conditions of each placement's day with those of today.

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
    identifiers = np.concatenate(
        [np.empty(0, dtype=object), *(each.placements.placement_id for each in then)]
    )
    verdicts = np.concatenate([np.empty(0, dtype=np.int8), *(each.verdict for each in then)])
    by_identifier = dict(zip(identifiers.tolist(), verdicts.tolist(), strict=True))
    # A placement before the first version was judged by that one: every placement has its own day.
    before = np.array(
        [by_identifier.get(each, Verdict.NOT_APPLICABLE) for each in now.placements.placement_id.tolist()],
        dtype=np.int8,
    )
    other = np.flatnonzero(before != now.verdict)
    worst_first = other[np.argsort(-now.verdict[other].astype(np.int64), kind="stable")]
    return TodaySummary(
        permit=now.permit,
        then=counts_of(before),
        now=counts_of(now.verdict),
        listed=tuple(_row(now, row, Verdict(int(before[row]))) for row in worst_first[:MOST_LISTED].tolist()),
        count=len(other),
    )


def _row(now: PermitAudit, row: int, before: Verdict) -> TodayRow:
    """Name the worst of today's conditions of one placement."""
    worst = max(range(len(now.findings)), key=lambda place: now.findings[place].verdict[row])
    found = now.findings[worst]
    verdict = Verdict(int(found.verdict[row]))
    flagged = verdict >= Verdict.INCONCLUSIVE
    return TodayRow(
        tag=str(now.placements.tag[row]),
        then=before,
        now=verdict,
        cite=found.cite if flagged else "",
        message=str(found.message[row]) if flagged else "Nothing that is asked today is missed.",
    )
