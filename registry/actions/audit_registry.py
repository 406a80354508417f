"""Ask every rule of every standing placement, permit by permit."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import datetime

import numpy as np

from registry.actions.gather_cases import Surroundings, gather
from registry.measure.decision import Verdict
from registry.ports import Register
from registry.records.finding import Finding, Findings
from registry.records.permit import Condition, Permit
from registry.records.placement import PlacementTable
from registry.rules.catalogue import conditions_of, judge

__all__ = ["Audit", "PermitAudit", "audit_registry"]


@dataclass(frozen=True, slots=True, kw_only=True)
class PermitAudit:
    """What the rules say of every placement under one permit."""

    permit: Permit
    conditions: tuple[Condition, ...]
    placements: PlacementTable
    #: One for each condition, in print order.
    findings: tuple[Findings, ...]

    @property
    def verdict(self) -> np.ndarray:
        """The verdict of each placement: the worst of its findings. Shape (n,)."""
        if not self.findings:
            return np.zeros(len(self.placements), dtype=np.int8)
        worst: np.ndarray = np.maximum.reduce([found.verdict for found in self.findings])
        return worst

    def count(self, verdict: Verdict) -> int:
        """Give how many placements have a verdict."""
        return int((self.verdict == verdict).sum())

    def lines(self) -> Iterator[tuple[int, Finding]]:
        """Give every finding with the row of its placement, placement by placement."""
        for row in range(len(self.placements)):
            for found in self.findings:
                yield row, found.line(row, str(self.placements.tag[row]))


@dataclass(frozen=True, slots=True, kw_only=True)
class Audit:
    """What the rules say of a whole registry, or of one permit in it."""

    permits: tuple[PermitAudit, ...]
    #: Digest of the journal's head that was audited.
    head: str

    @property
    def verdict(self) -> Verdict:
        """The verdict of the whole."""
        worst = [int(audit.verdict.max()) for audit in self.permits if len(audit.placements)]
        return Verdict(max(worst, default=0))

    def count(self, verdict: Verdict) -> int:
        """Give how many placements have a verdict."""
        return sum(audit.count(verdict) for audit in self.permits)

    def lines(self) -> Iterator[Finding]:
        """Give every finding."""
        for audit in self.permits:
            for _, finding in audit.lines():
                yield finding


def audit_registry(
    register: Register,
    *,
    permit: str | None = None,
    on: datetime | None = None,
    progress: Callable[[int], None] = lambda _count: None,
) -> Audit:
    """
    Judge every standing placement by the conditions of its permit.

    Parameters
    ----------
    register : Register
        Read from.
    permit : str, optional
        Only this permit; neighbours of other permits still count.
    on : datetime, optional
        Only what had been placed by this instant, as if nothing had been placed after it.
    progress : callable
        Told how many placements are done.

    Raises
    ------
    NotFoundError
        If there is no such permit.
    """
    audits = []
    with register.reading():
        permits = register.permits() if permit is None else (register.permit(permit),)
        standing = register.placements()
        if on is not None:
            standing = standing.rows(standing.placed_at_s <= on.timestamp())
        surroundings = Surroundings(standing)
        for each in permits:
            judged = surroundings.of_permit(each.number)
            cases = gather(register, each, surroundings, judged)
            conditions = conditions_of(each)
            audits.append(
                PermitAudit(
                    permit=each,
                    conditions=conditions,
                    placements=cases.placements,
                    findings=judge(cases, conditions),
                )
            )
            progress(len(judged))
        return Audit(permits=tuple(audits), head=register.head())
