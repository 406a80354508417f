"""Ask every rule of every standing placement."""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import datetime

import numpy as np
from numpy.typing import NDArray

from registry.actions.gather_cases import Surroundings, gather, local_days
from registry.actions.last_known import last_known
from registry.measure.decision import Verdict
from registry.ports import Register
from registry.records.finding import Finding, Findings, Phrases
from registry.records.permit import Condition, Permit, in_force_on
from registry.records.placement import PlacementTable
from registry.rules.catalogue import conditions_of, judge

__all__ = ["Audit", "PermitAudit", "audit_registry", "in_order_of_permit", "judge_permits"]

Rows = NDArray[np.intp]

#: Rules that ask where a module lies, and what is added to their findings of one that has moved.
OF_PLACE = frozenset(
    ("inside-area", "keep-out", "offshore-distance", "spacing", "target-offset", "position-quality")
)
MOVED = "It has moved: this is where a resurvey found it."
#: And those that ask how deep it lies.
OF_DEPTH = frozenset(("depth-band", "clearance", "stability"))
MOVED_FROM_DEPTH = "It has moved: this depth is that of where it was placed, not of where it was found."


@dataclass(frozen=True, slots=True, kw_only=True)
class PermitAudit:
    """What the rules say of placements by one version of a permit."""

    permit: Permit
    conditions: tuple[Condition, ...]
    placements: PlacementTable
    #: How far inside the permit's areas each lies, negative outside, and the row of the area that holds it
    #: best or is nearest. Shape (n,). Units: m.
    inside_m: NDArray[np.float64]
    area_row: Rows
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
                yield row, found.line(row, self.placements.tag_of(row))


@dataclass(frozen=True, slots=True, kw_only=True)
class Audit:
    """What the rules say of a whole registry, or of one permit in it."""

    #: Each placement judged by the version of its permit that was in force on its day: one for each permit,
    #: and of an amended permit one for each version in which something was placed.
    permits: tuple[PermitAudit, ...]
    #: All placements of each amended permit, judged by the version in force on the register's day.
    today: tuple[PermitAudit, ...]
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
    Judge every standing placement by the conditions of its permit, in the version of its day.

    A module that a resurvey found moved is judged where it was found, and its findings say so.

    Parameters
    ----------
    register : Register
        Read from.
    permit : str, optional
        Only this permit; neighbours of other permits still count.
    on : datetime, optional
        Only what had been placed by this instant, as if nothing had been placed after it.
    progress : callable
        Told how many placements are done, as the questions are.

    Raises
    ------
    NotFoundError
        If there is no such permit.
    """
    with register.reading():
        history = register.permit_history() if permit is None else (register.permit_versions(permit),)
        # By permit, what is judged together lies together, and nothing need be copied to be judged.
        standing = register.placements(by_permit=True)
        if on is not None:
            standing = standing.rows(standing.placed_at_s <= on.timestamp())
        found, moved = last_known(register, standing, before=on)
        surroundings = Surroundings(found, moved)
        del standing, found
        permits, today = judge_permits(register, history, surroundings, progress=progress)
        return Audit(permits=permits, today=today, head=register.head())


def judge_permits(
    register: Register,
    history: Sequence[Sequence[Permit]],
    surroundings: Surroundings,
    *,
    progress: Callable[[int], None] = lambda _count: None,
) -> tuple[tuple[PermitAudit, ...], tuple[PermitAudit, ...]]:
    """
    Judge all placements of some permits.

    Parameters
    ----------
    register : Register
        Read for what their conditions ask for.
    history : sequence of sequence of Permit
        Every version of each permit, oldest in force first.
    surroundings : Surroundings
        All their placements, and every other that may have a say in their findings, in order of permit.
    progress : callable
        Told how many placements are done, as the questions are.

    Returns
    -------
    tuple
        ``Audit.permits`` and ``Audit.today`` of these permits.
    """
    zone = register.programme().zone
    by_day = [each for versions in history for each in _by_day(versions, surroundings, zone)]
    amended = [
        (in_force_on(versions, register.today()), surroundings.of_permit(versions[0].number))
        for versions in history
        if len(versions) > 1
    ]
    count = sum(len(rows) for _, rows in (*by_day, *amended))
    told = _told(progress, sum(len(rows) for _, rows in by_day), count)
    return (
        _judged(register, surroundings, by_day, told),
        _judged(register, surroundings, amended, told) if amended else (),
    )


def in_order_of_permit(standing: PlacementTable) -> PlacementTable:
    """Give placements in order of the number of their permit, and under each in the order they have."""
    numbers = standing.permit.tolist()
    code_of = {number: code for code, number in enumerate(sorted(set(numbers)))}
    code = np.fromiter(map(code_of.__getitem__, numbers), np.int32, len(numbers))
    return standing.rows(np.argsort(code, kind="stable"))


def _by_day(versions: Sequence[Permit], surroundings: Surroundings, zone: str) -> list[tuple[Permit, Rows]]:
    """Part the placements of a permit by the version that was in force on their day."""
    rows = surroundings.of_permit(versions[0].number)
    if len(versions) == 1:
        return [(versions[0], rows)]
    day = local_days(surroundings.standing.placed_at_s[rows], zone)
    ordered = sorted(versions, key=lambda version: version.begins_on)
    begins = np.array([version.begins_on for version in ordered], dtype="datetime64[D]")
    # Before the first version, the first: whether the permit was valid at all is for the rule of its dates.
    which = np.maximum(np.searchsorted(begins, day, side="right") - 1, 0)
    parts = [(version, rows[which == k]) for k, version in enumerate(ordered) if np.any(which == k)]
    return parts or [(ordered[-1], rows)]


def _judged(
    register: Register,
    surroundings: Surroundings,
    asked: Sequence[tuple[Permit, Rows]],
    told: Callable[[int, float], None],
) -> tuple[PermitAudit, ...]:
    cases = gather(register, surroundings, asked)
    conditions = [conditions_of(permit) for permit, _ in asked]
    findings = judge(cases, conditions, told=lambda share: told(len(cases), share))
    audits = []
    first = 0
    for (permit, rows), of_permit, found in zip(asked, conditions, findings, strict=True):
        part = slice(first, first + len(rows))
        first += len(rows)
        moved = surroundings.moved[rows]
        audits.append(
            PermitAudit(
                permit=permit,
                conditions=of_permit,
                placements=cases.placements.rows(part),
                inside_m=cases.inside_m[part],
                area_row=cases.area_row[part],
                findings=_told_as_moved(of_permit, found, moved) if moved.any() else found,
            )
        )
    return tuple(audits)


def _told_as_moved(
    conditions: Sequence[Condition], found: Sequence[Findings], moved: NDArray[np.bool_]
) -> tuple[Findings, ...]:
    """
    Say of what was found moved that it is judged where it was found.

    How deep it is there nobody measured: of that nothing is concluded.
    """
    told = []
    for condition, findings in zip(conditions, found, strict=True):
        of_depth = findings.rule in OF_DEPTH or "greatest_share" in condition.limits
        if findings.rule in OF_PLACE:
            told.append(replace(findings, message=_with(findings, moved, MOVED)))
        elif of_depth:
            asked = moved & (findings.verdict != Verdict.NOT_APPLICABLE)
            verdict = np.where(asked, Verdict.INCONCLUSIVE, findings.verdict).astype(np.int8)
            told.append(replace(findings, verdict=verdict, message=_with(findings, moved, MOVED_FROM_DEPTH)))
        else:
            told.append(findings)
    return tuple(told)


def _with(findings: Findings, moved: NDArray[np.bool_], added: str) -> Phrases:
    said = findings.message
    return Phrases(len(said), lambda row: f"{said[row]} {added}" if moved[row] else said[row])


def _told(progress: Callable[[int], None], placements: int, judged: int) -> Callable[[int, float], None]:
    """Tell of shares of the questions as if they were placements, each of them once in the end."""
    done, said = 0.0, 0

    def told(count: int, share: float) -> None:
        nonlocal done, said
        done += share * count * placements / max(judged, 1)
        now = min(round(done), placements)
        progress(now - said)
        said = now

    return told
