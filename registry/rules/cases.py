"""All that a rule may look at, gathered before it is asked; and what a rule is."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from registry.records.finding import Findings
from registry.records.permit import Condition, KeepOut, Permit
from registry.records.placement import PlacementTable

__all__ = ["Cases", "Rule"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Cases:
    """
    Placements of one permit to be judged, and what surrounds them.

    A check before the drop is one case; an audit is as many as the permit has placements.
    """

    permit: Permit
    keep_outs: tuple[KeepOut, ...]
    #: The placements judged, n rows, in the registry's home frame.
    placements: PlacementTable
    #: Every standing placement that may be a neighbour, of any permit, m rows.
    others: PlacementTable
    #: Row of `others` that is the judged placement itself, -1 where it is not among them. Shape (n,).
    own_row: NDArray[np.intp]
    #: Day of placement in the programme's own zone. Shape (n,), datetime64[D].
    placed_day: NDArray[np.datetime64]
    #: How many modules of this permit lay on the seabed once this one did, itself included. Shape (n,).
    count_so_far: NDArray[np.int64]
    #: Their mass together. Shape (n,). Units: kg.
    mass_so_far_kg: NDArray[np.float64]
    #: How many standing placements carry the same tag, and remember the same name. Shape (n,).
    same_tag: NDArray[np.int64]
    same_memorial: NDArray[np.int64]

    def __len__(self) -> int:
        """Give the number of cases."""
        return len(self.placements)


@dataclass(frozen=True, slots=True, kw_only=True)
class Rule:
    """One rule, as a line of data."""

    rule_id: str
    #: What it asks, as a sentence for a person.
    sentence: str
    #: The standard or practice behind it.
    source: str
    #: Parameters that its condition may state: name to dimension (length, mass, count, share, text).
    parameters: Mapping[str, str] = field(default_factory=dict)
    #: Of these parameters at least one must be stated.
    needs_one_of: tuple[str, ...] = ()
    #: Words that a parameter of text may be, where not every word will do.
    choices: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    #: Whether each parameter is a limit in a unit of its own, judged and reported by itself.
    apart: bool = False
    #: Whether it is asked of every placement, even where the permit states no condition for it.
    implied: bool = False
    check: Callable[[Cases, Condition], Findings]
