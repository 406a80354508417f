"""What one rule says of placements: as columns for many, as one frozen line for a person."""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import overload

import numpy as np
from numpy.typing import NDArray

from registry.measure.decision import Verdict, worst

__all__ = ["Finding", "Findings", "Phrases", "whole_verdict"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """What one rule says of one placement."""

    #: The tag, None for a check before the drop.
    placement: str | None
    rule: str
    verdict: Verdict
    #: Measured value, limit and 95 % uncertainty in `unit`; NaN where there is none.
    measured: float
    limit: float
    u95: float
    unit: str
    cite: str
    message: str

    def as_json(self) -> dict[str, object]:
        """Give the finding under the names of the command contract."""

        def number(value: float) -> float | None:
            return value if math.isfinite(value) else None

        return {
            "placement": self.placement,
            "rule": self.rule,
            "verdict": self.verdict.word,
            "measured": number(self.measured),
            "limit": number(self.limit),
            "u95": number(self.u95),
            "unit": self.unit,
            "cite": self.cite,
            "message": self.message,
        }


@dataclass(frozen=True, slots=True, kw_only=True)
class Findings:
    """What one rule says, under one condition, of every placement; every array has shape (n,)."""

    rule: str
    cite: str
    unit: str
    verdict: NDArray[np.int8]
    measured: NDArray[np.float64]
    limit: NDArray[np.float64]
    u95: NDArray[np.float64]
    #: One sentence each: what was measured against what.
    message: Sequence[str]

    def line(self, row: int, placement: str | None) -> Finding:
        """Give the finding of one row."""
        return Finding(
            placement=placement,
            rule=self.rule,
            verdict=Verdict(int(self.verdict[row])),
            measured=float(self.measured[row]),
            limit=float(self.limit[row]),
            u95=float(self.u95[row]),
            unit=self.unit,
            cite=self.cite,
            message=self.message[row],
        )

    def part(self, first: int, end: int, *, cite: str) -> "Findings":
        """Give the findings of some rows that follow one another, with the source of their own condition."""
        rows, message = slice(first, end), self.message
        return Findings(
            rule=self.rule,
            cite=cite,
            unit=self.unit,
            verdict=self.verdict[rows],
            measured=self.measured[rows],
            limit=self.limit[rows],
            u95=self.u95[rows],
            message=Phrases(end - first, lambda row: message[first + row]),
        )


def whole_verdict(findings: Sequence[Finding]) -> Verdict:
    """Give the verdict of the whole: the worst of its findings."""
    return worst([finding.verdict for finding in findings])


class Phrases(Sequence[str]):
    """Sentences that are written only when somebody reads them; a million may be asked for and few read."""

    __slots__ = ("_count", "_write")

    def __init__(self, count: int, write: Callable[[int], str]) -> None:
        self._count = count
        self._write = write

    def __len__(self) -> int:
        """Give the number of sentences."""
        return self._count

    @overload
    def __getitem__(self, index: int) -> str: ...
    @overload
    def __getitem__(self, index: slice) -> Sequence[str]: ...

    def __getitem__(self, index: int | slice) -> str | Sequence[str]:
        """Write one sentence, or several."""
        if isinstance(index, slice):
            return [self._write(row) for row in range(*index.indices(self._count))]
        if not -self._count <= index < self._count:
            raise IndexError(index)
        return self._write(index % self._count)
