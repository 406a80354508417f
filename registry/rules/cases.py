"""All that a rule may look at, gathered before it is asked; what is asked of it; and what a rule is."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, fields, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from registry.measure.neighbours import Neighbourhood
from registry.records.baseline import Baseline
from registry.records.finding import Findings
from registry.records.module import ModuleType
from registry.records.permit import Condition, KeepOut, Permit
from registry.records.placement import PlacementTable

__all__ = ["Asked", "Cases", "Rule"]

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Cases:
    """
    Placements to be judged, of one permit or of many, and what surrounds them.

    A check before the drop is one case; an audit is as many as the registry has placements.
    """

    permits: tuple[Permit, ...]
    #: Row of `permits` by which each is judged, in ascending order. Shape (n,).
    permit_row: NDArray[np.intp]
    keep_outs: tuple[KeepOut, ...]
    #: The placements judged, n rows, in the registry's home frame.
    placements: PlacementTable
    #: Every standing placement that may be a neighbour, of any permit, the judged ones among them; m rows.
    others: PlacementTable
    #: Where they lie, ordered for search.
    neighbourhood: Neighbourhood
    #: Row of `others` that is the judged placement itself. Shape (n,).
    own_row: NDArray[np.intp]
    #: Day of placement in the programme's own zone. Shape (n,), datetime64[D].
    placed_day: NDArray[np.datetime64]
    #: How many modules of its permit lay on the seabed once this one did, itself included; zero where no
    #: permit states a capacity. Shape (n,).
    count_so_far: NDArray[np.int64]
    #: Their mass together; NaN where no permit states a capacity. Shape (n,). Units: kg.
    mass_so_far_kg: Floats
    #: The same in some areas of the permit alone, by the names of those areas, for a capacity of their own;
    #: NaN for a permit that states none. Each of shape (n,). Units: 1, kg.
    so_far_in: Mapping[tuple[str, ...], tuple[Floats, Floats]] = field(default_factory=dict)
    #: How many standing placements carry the same tag, and remember the same name. Shape (n,).
    same_tag: NDArray[np.int64]
    same_memorial: NDArray[np.int64]
    #: How far inside its permit's areas each lies, negative outside, and the row of the area that holds it
    #: best or is nearest. Areas that meet are one ground. Shape (n,). Units: m.
    inside_m: Floats
    area_row: NDArray[np.intp]
    #: Where the plan wants each, NaN where it says nothing. Shape (n,). Units: degrees, in the home frame.
    target_lon_deg: Floats
    target_lat_deg: Floats
    #: The lines from which distances to the shore are counted.
    baselines: tuple[Baseline, ...] = ()
    #: The dimensions of every type, by identifier.
    types: Mapping[str, ModuleType] = field(default_factory=dict)

    def __len__(self) -> int:
        """Give the number of cases."""
        return len(self.placements)

    def permit_of(self, row: int) -> Permit:
        """Give the permit by which one case is judged."""
        return self.permits[int(self.permit_row[row])]

    def rows(self, which: NDArray[Any]) -> "Cases":
        """Give the cases that an ascending index array or a mask chooses; what surrounds them stays whole."""
        count = len(self)
        own: dict[str, Any] = {"placements": self.placements.rows(which)}
        for column in fields(self):
            value = getattr(self, column.name)
            if column.name not in ("placements", "others") and isinstance(value, np.ndarray):
                assert len(value) == count
                own[column.name] = value[which]
        own["so_far_in"] = {areas: (n[which], kg[which]) for areas, (n, kg) in self.so_far_in.items()}
        return replace(self, **own)


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """
    What permits ask of cases by one rule.

    Their conditions are alike: each states the same parameters, and the same words where they are words; the
    limits themselves differ.
    """

    #: One for each permit that asks.
    conditions: tuple[Condition, ...]
    #: Row of `conditions` that applies to each case. Shape (n,).
    condition_row: NDArray[np.intp]

    @property
    def rule(self) -> str:
        """Identifier of the rule."""
        return self.conditions[0].rule

    @property
    def cite(self) -> str:
        """Where the permit says so; empty where several permits say it in different places."""
        cites = {condition.cite for condition in self.conditions}
        return cites.pop() if len(cites) == 1 else ""

    @property
    def names(self) -> frozenset[str]:
        """The parameters that are stated."""
        return frozenset(self.conditions[0].limits)

    def of(self, row: int) -> Condition:
        """Give the condition of one case."""
        return self.conditions[int(self.condition_row[row])]

    def value(self, name: str) -> Floats | None:
        """Give a limit for each case, in SI units, of shape (n,); None where it is not stated."""
        if name not in self.names:
            return None
        stated = np.array([condition.limits[name].value for condition in self.conditions], dtype=float)
        if len(stated) == 1:
            return np.broadcast_to(stated, self.condition_row.shape)
        return stated[self.condition_row]

    def text(self, name: str) -> str | None:
        """Give the words of a parameter, None where it is not stated."""
        limit = self.conditions[0].limits.get(name)
        return None if limit is None else limit.written


@dataclass(frozen=True, slots=True, kw_only=True)
class Rule:
    """One rule, as a line of data."""

    rule_id: str
    #: What it asks, as a sentence for a person.
    sentence: str
    #: The standard or practice behind it.
    source: str
    #: Parameters that its condition may state: name to dimension, as of a quantity.
    parameters: Mapping[str, str] = field(default_factory=dict)
    #: Of these parameters at least one must be stated.
    needs_one_of: tuple[str, ...] = ()
    #: What must be stated together with a parameter.
    needs_with: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    #: Words that a parameter of text may be, where not every word will do.
    choices: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    #: Limits that are judged and reported each by itself, with what it needs of all else that is stated.
    apart: tuple[str, ...] = ()
    #: Whether it is asked of every placement, even where the permit states no condition for it.
    implied: bool = False
    check: Callable[[Cases, Asked], Findings]
    #: Looks at a condition before it is recorded, and raises PermitError where it could not be judged.
    examine: Callable[[Condition], None] | None = None
