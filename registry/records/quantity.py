"""A number with its unit as a person wrote it: the SI value, and the words it came from."""

import math
from dataclasses import dataclass
from typing import Literal, get_args

from registry.errors import InvalidRecordError

__all__ = ["Dimension", "Quantity"]

Dimension = Literal["length", "mass", "time", "density", "count", "share", "ratio", "text"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Quantity:
    """
    One value of a permit, a log or a form.

    Examples
    --------
    >>> Quantity(value=15.24, dimension="length", written="50 ft", resolution=0.3048).value
    15.24
    """

    #: SI value: m for a length, kg for a mass, s for a time, kg/m3 for a density, 1 for a count, a share or a
    #: ratio; 0 where only the words count.
    value: float
    dimension: Dimension
    #: Verbatim.
    written: str
    #: Size of one unit of the last written digit, in the unit of `value`; 0 where it is exact.
    resolution: float = 0.0

    def __post_init__(self) -> None:
        """Refuse what is no number."""
        if self.dimension not in get_args(Dimension):
            what = f"“{self.written}” has the dimension {self.dimension!r}."
            raise InvalidRecordError(what, remedy=f"Use one of {', '.join(get_args(Dimension))}.")
        if not math.isfinite(self.value):
            what = f"“{self.written}” is not a finite number."
            raise InvalidRecordError(what, remedy="Give a number with its unit.")
        if not (math.isfinite(self.resolution) and self.resolution >= 0):
            what = f"“{self.written}” has a resolution of {self.resolution}."
            raise InvalidRecordError(what, remedy="Give a resolution of zero or more.")
