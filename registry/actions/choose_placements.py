"""Choose placements of an audited permit by what its conditions say of them, the worst first."""

import numpy as np
from numpy.typing import NDArray

from registry.measure.decision import Verdict
from registry.records.audit_summary import ConditionSummary, PermitSummary

__all__ = ["choose_placements", "deciding_condition"]


def choose_placements(
    summary: PermitSummary,
    *,
    condition: int | None = None,
    verdict: Verdict | None = None,
    tag: str = "",
) -> NDArray[np.intp]:
    """
    Choose placements.

    Parameters
    ----------
    summary : PermitSummary
        What the audit says of the permit.
    condition : int, optional
        What this condition says, by its place among those of the permit; by default the worst of all.
    verdict : Verdict, optional
        Only those of which it says this.
    tag : str
        Only those whose tag holds this, whatever its capitals.

    Returns
    -------
    ndarray of int
        Rows: nonconforming, inconclusive, conforming, not applicable, and of like ones in order of row.
    """
    said = summary.verdict if condition is None else summary.conditions[condition].findings.verdict
    chosen = np.ones(len(said), dtype=bool) if verdict is None else said == verdict
    if tag:
        sought = tag.casefold()
        chosen = chosen & np.array(
            [sought in str(each).casefold() for each in summary.placements.tag], dtype=bool
        )
    rows = np.flatnonzero(chosen)
    return rows[np.argsort(-said[rows].astype(np.int64), kind="stable")]


def deciding_condition(summary: PermitSummary, row: int) -> ConditionSummary | None:
    """Give the condition that says the worst of a placement, the first of like ones; None without any."""
    if not summary.conditions:
        return None
    return max(summary.conditions, key=lambda each: int(each.findings.verdict[row]))
