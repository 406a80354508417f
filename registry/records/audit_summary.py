"""What an audit found, summed up for paper and files; it has no field for a family, nor for a crew's name."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from functools import cached_property

import numpy as np
from numpy.typing import ArrayLike, NDArray

from registry.errors import InvalidRecordError
from registry.measure.decision import Verdict, worst
from registry.records.duty import Duties
from registry.records.finding import Finding, Findings
from registry.records.permit import Condition, KeepOut, Permit
from registry.records.placement import PlacementTable

__all__ = [
    "MOST_FINDINGS",
    "AuditSummary",
    "Change",
    "Changes",
    "ConditionSummary",
    "Correction",
    "Counts",
    "Evidence",
    "Inspection",
    "Inspections",
    "Margin",
    "PermitSummary",
    "Settlement",
    "TodayRow",
    "TodaySummary",
    "VerdictChange",
    "counts_of",
    "margins",
]


#: A spreadsheet opens 1,048,576 rows; of more findings than these, only what is flagged is written.
MOST_FINDINGS = 1_000_000
#: So few permits are all told in full; of more, only those with something flagged, and no more than these.
FEW_PERMITS, MOST_IN_FULL = 12, 30
#: Rules whose limit is a greatest value, whatever their condition states.
AT_MOST = frozenset(("relief", "capacity", "duplicate", "position-quality", "target-offset"))
#: Units of what is merely counted once or listed: to be far from the limit means nothing there.
WITHOUT_MARGIN = frozenset(("", "placements"))


@dataclass(frozen=True, slots=True, kw_only=True)
class Counts:
    """How many placements have each verdict."""

    conforming: int = 0
    nonconforming: int = 0
    inconclusive: int = 0
    not_applicable: int = 0

    @property
    def total(self) -> int:
        """How many were judged."""
        return self.conforming + self.nonconforming + self.inconclusive + self.not_applicable


def counts_of(verdicts: ArrayLike) -> Counts:
    """
    Count verdicts.

    Examples
    --------
    >>> counts_of([Verdict.CONFORMING, Verdict.NONCONFORMING, Verdict.CONFORMING]).conforming
    2
    """
    found = np.bincount(np.asarray(verdicts, dtype=np.int64), minlength=len(Verdict)).tolist()
    return Counts(
        conforming=found[Verdict.CONFORMING],
        nonconforming=found[Verdict.NONCONFORMING],
        inconclusive=found[Verdict.INCONCLUSIVE],
        not_applicable=found[Verdict.NOT_APPLICABLE],
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Margin:
    """By how much a limit is kept, and which placement keeps it by that much."""

    #: Positive where the limit is kept; in `unit`, with its 95 % uncertainty.
    value: float
    u95: float
    unit: str
    placement: str


def margins(condition: Condition, findings: Findings) -> NDArray[np.float64]:
    """
    Give by how much each placement keeps its limit: positive where it does, NaN where nothing is known.

    Definition: ``measured - limit`` for a least value, ``limit - measured`` for a greatest one. Where a
    condition states both, each finding carries the one that decides.
    """
    above = np.asarray(findings.measured - findings.limit, dtype=float)
    greatest = condition.limits.get("greatest")
    at_most = np.full(len(above), condition.rule in AT_MOST)
    if greatest:
        at_most |= findings.limit == greatest.value
    return np.where(at_most, -above, above)


@dataclass(frozen=True, kw_only=True)
class ConditionSummary:
    """What one condition says of the placements of its permit."""

    condition: Condition
    #: What the rule asks and what stands behind it, as sentences.
    sentence: str
    source: str
    findings: Findings
    #: The placements of which it says so.
    placements: PlacementTable
    counts: Counts

    @cached_property
    def least_margin(self) -> Margin | None:
        """The least margin of all; None where the rule has none or no value is known."""
        found = self.findings
        if found.unit in WITHOUT_MARGIN:
            return None
        margin = margins(self.condition, found)
        known = np.flatnonzero(np.isfinite(margin) & (found.verdict != Verdict.NOT_APPLICABLE))
        if not len(known):
            return None
        row = int(known[margin[known].argmin()])
        return Margin(
            value=float(margin[row]),
            u95=float(found.u95[row]),
            unit=found.unit,
            placement=self.placements.tag_of(row),
        )

    def flagged(self) -> NDArray[np.intp]:
        """Give the rows that are nonconforming or inconclusive, the nonconforming first."""
        verdict = self.findings.verdict
        rows = np.flatnonzero(verdict >= Verdict.INCONCLUSIVE)
        return rows[np.argsort(-verdict[rows].astype(np.int64), kind="stable")]


@dataclass(frozen=True, slots=True, kw_only=True)
class Evidence:
    """What a flagged placement was derived from."""

    #: Row of the placement in its permit's table.
    row: int
    #: The position and the depth as typed or received, verbatim.
    position_text: str
    depth_text: str
    tide_text: str
    #: The file and the row that they came from, empty where they were typed.
    source: str
    #: How frame, epoch and R95 were settled, and the datum operation, one sentence each.
    basis: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Correction:
    """An entry that set another right, or withdrew it."""

    at: datetime
    actor: str
    tag: str
    reference: str
    supersedes: str
    reason: str
    #: True where nothing took the place of what no longer stands.
    withdraws: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Settlement:
    """The smallest thing that would settle one finding: a move, a survey, or that none can."""

    #: Index of the condition in its permit, and row of the placement.
    condition: int
    row: int
    sentence: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """One entry since a day, or the like entries of one day together, as an officer reads them."""

    #: "placed", "corrected", "withdrawn", "resurveyed", "permit added" or "permit amended".
    kind: str
    at: datetime
    actor: str
    permit: str
    #: Empty where the entry is of a permit; the first and the last tag where there are several.
    tag: str
    reference: str
    told: str
    #: How many entries these are; `at`, `reference` are of the first of them.
    count: int = 1


@dataclass(frozen=True, slots=True, kw_only=True)
class VerdictChange:
    """What one condition said of a placement on a day, and what it says now; None where it was not asked."""

    permit: str
    tag: str
    rule: str
    cite: str
    before: Verdict | None
    now: Verdict | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Changes:
    """What is different from a day on: the entries written since, and the verdicts that are others now."""

    since: datetime
    #: Digest of the journal's head on that day and how many entries it had; empty and 0 before the first.
    journal_head: str
    journal_entries: int
    #: How many there are of each kind, in print order; those listed may be fewer.
    counts: tuple[tuple[str, int], ...]
    listed: tuple[Change, ...]
    verdicts: tuple[VerdictChange, ...]
    verdict_count: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Inspection:
    """A placement worth a visit, and why."""

    permit: str
    tag: str
    placement_id: str
    #: In the home frame. Units: degrees, m.
    lat_deg: float
    lon_deg: float
    r95_m: float
    reasons: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Inspections:
    """What an officer should look at again, first what has most reasons."""

    listed: tuple[Inspection, ...]
    #: How many placements have any reason at all.
    count: int


@dataclass(frozen=True, slots=True, kw_only=True)
class TodayRow:
    """A placement of which today's conditions say something else than those of its own day."""

    tag: str
    then: Verdict
    now: Verdict
    #: What the worst of today's conditions says.
    cite: str
    message: str


@dataclass(frozen=True, slots=True, kw_only=True)
class TodaySummary:
    """All placements of a permit that was amended, judged by the version in force now."""

    permit: Permit
    then: Counts
    now: Counts
    #: The worst first; there may be more than are listed.
    listed: tuple[TodayRow, ...]
    count: int


@dataclass(frozen=True, kw_only=True)
class PermitSummary:
    """What the audit says of one version of a permit; every array has a row for each of its placements."""

    permit: Permit
    placements: PlacementTable
    #: The worst of what the conditions say of each placement.
    verdict: NDArray[np.int8]
    #: Whether a permit area holds the placement.
    held: NDArray[np.bool_]
    #: Index of the permit area that holds the placement or, where none does, is nearest to it.
    nearest_area: NDArray[np.intp]
    conditions: tuple[ConditionSummary, ...]
    counts: Counts
    #: Of the placements that are nonconforming or inconclusive, in order of row; of very many, the first.
    evidence: tuple[Evidence, ...]
    corrections: tuple[Correction, ...]
    #: What would settle what is flagged, where somebody asked for it.
    settlements: tuple[Settlement, ...] = ()

    def __post_init__(self) -> None:
        """Refuse columns that do not belong together."""
        lengths = {len(each) for each in (self.placements, self.verdict, self.held, self.nearest_area)}
        lengths |= {len(each.findings.verdict) for each in self.conditions}
        if len(lengths) > 1:
            what = f"The audit of permit {self.permit.number} has columns of lengths {sorted(lengths)}."
            raise InvalidRecordError(what, remedy="Give every column one value for each placement.")

    @cached_property
    def worst_rule(self) -> NDArray[np.object_]:
        """The rule that says the worst of each placement, empty where that conforms. Shape (n,)."""
        if not self.conditions:
            return np.full(len(self.placements), "", dtype=object)
        rules = np.array([each.findings.rule for each in self.conditions], dtype=object)
        says = np.stack([each.findings.verdict for each in self.conditions]).argmax(axis=0)
        return np.where(self.verdict >= Verdict.INCONCLUSIVE, rules[says], "")

    @cached_property
    def area(self) -> NDArray[np.object_]:
        """The permit area that holds each placement, empty where none does. Shape (n,)."""
        names = np.array([area.area_id for area in self.permit.areas], dtype=object)
        return np.where(self.held, names[self.nearest_area], "")

    def flagged(self) -> Sequence[tuple[ConditionSummary, Finding]]:
        """Give what is nonconforming or inconclusive, the nonconforming first, then in print order."""
        found = [
            (each, each.findings.line(int(row), self.placements.tag_of(row)))
            for each in self.conditions
            for row in each.flagged()
        ]
        return sorted(found, key=lambda pair: -pair[1].verdict)


@dataclass(frozen=True, slots=True, kw_only=True)
class AuditSummary:
    """An audit of a whole registry, or of one permit in it."""

    programme: str
    #: IANA zone in which days are told.
    zone: str
    #: Code, name and epoch (decimal year) of the home frame, in which every coordinate is.
    frame: str
    frame_name: str
    frame_epoch: float
    #: When the audit was made, and the instant as of which the registry was known (None: as it stands).
    audited_at: datetime
    as_of: datetime | None
    #: Digest of the journal's last entry, and how many entries it has.
    journal_head: str
    journal_entries: int
    permits: tuple[PermitSummary, ...]
    keep_outs: tuple[KeepOut, ...]
    #: What in the registry is not as it was written, one sentence each; empty where nothing was found.
    problems: tuple[str, ...] = ()
    #: Only what had been placed by this instant was judged (None: all that stands).
    on: datetime | None = None
    #: Permits that were amended, by their conditions of today.
    today: tuple[TodaySummary, ...] = ()
    #: Name and version of what made the audit.
    software: str = ""
    #: What is added for a paper; None where nobody asked for it.
    changes: Changes | None = None
    inspections: Inspections | None = None
    duties: Duties | None = None

    @property
    def told_in_full(self) -> tuple[int, ...]:
        """Places of the permits that a report tells in full, in order: of very many, those that are worst."""
        if len(self.permits) <= FEW_PERMITS:
            return tuple(range(len(self.permits)))
        found = [(each.counts.nonconforming, each.counts.inconclusive) for each in self.permits]
        flagged = [place for place, badness in enumerate(found) if badness > (0, 0)]
        return tuple(sorted(sorted(flagged, key=lambda place: found[place], reverse=True)[:MOST_IN_FULL]))

    @property
    def finding_count(self) -> int:
        """How many findings there are: one for each placement and condition."""
        return sum(len(each.placements) * len(each.conditions) for each in self.permits)

    @property
    def all_findings_written(self) -> bool:
        """Whether files of findings hold them all; of very many, only what is flagged."""
        return self.finding_count <= MOST_FINDINGS

    @property
    def verdict(self) -> Verdict:
        """The verdict of the whole."""
        return worst(np.concatenate([each.verdict for each in self.permits])) if self.permits else worst([])
