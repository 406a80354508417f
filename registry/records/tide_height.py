"""The height of the water above a datum at one instant, and whether it was seen or only predicted."""

import math
from dataclasses import dataclass
from datetime import datetime
from typing import Literal, get_args

from registry.errors import InvalidRecordError
from registry.measure.depth import BudgetTerm
from registry.measure.uncertainty import Length

__all__ = ["TideHeight", "TideKind"]

TideKind = Literal["observed", "predicted", "stated"]


@dataclass(frozen=True, slots=True, kw_only=True)
class TideHeight:
    """
    One height of the tide.

    Examples
    --------
    >>> seen = TideHeight(kind="stated", at=None, height_m=0.62, datum="MLLW", source="tide table",
    ...     terms=(BudgetTerm(source="tide as stated", u95_m=0.3),))
    >>> seen.height
    Length(value_m=0.62, u95_m=0.3)
    """

    kind: TideKind
    #: UTC; None only where a person stated the height.
    at: datetime | None
    #: Above the datum, negative below it. Units: m.
    height_m: float
    datum: str
    #: Station, gauge or person.
    source: str
    terms: tuple[BudgetTerm, ...]

    def __post_init__(self) -> None:
        """Refuse what is no height of the tide."""
        if self.kind not in get_args(TideKind):
            what = f"A tide is {self.kind!r}."
            raise InvalidRecordError(what, remedy=f"Use one of {', '.join(get_args(TideKind))}.")
        if not (math.isfinite(self.height_m) and abs(self.height_m) <= 20.0):
            what = f"A tide of {self.height_m} m is higher than any."
            raise InvalidRecordError(what, remedy="Check its unit.")
        if self.kind != "stated" and (self.at is None or self.at.tzinfo is None):
            what = f"The {self.kind} tide of {self.source} has no instant."
            raise InvalidRecordError(what, remedy="Give the time with its zone.")
        if not any(term.u95_m > 0 for term in self.terms):
            what = f"The {self.kind} tide of {self.source} claims to be exact."
            raise InvalidRecordError(what, remedy="Give its uncertainty at 95 %.")

    @property
    def height(self) -> Length:
        """The height with its 95 % doubt."""
        return Length(self.height_m, math.hypot(*(term.u95_m for term in self.terms)))
