"""
Where the doubt of a position comes from: independent terms, their sizes and their shares.

Sources
-------
JCGM 100:2008 (GUM), 5.1.2: variances of independent terms add (clause from memory).
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from registry.errors import InvalidRecordError
from registry.measure.uncertainty import R95_FACTOR, r95_from_sigmas

__all__ = ["Budget", "BudgetRow", "Term", "budget"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Term:
    """
    One source of doubt: the covariance of the horizontal error that it makes.

    Examples
    --------
    >>> round(Term.circle("receiver", 3.0).r95_m, 9)
    3.0
    """

    source: str
    #: Variances toward east and north, and their covariance. Units: m².
    east_m2: float
    north_m2: float
    cross_m2: float = 0.0

    def __post_init__(self) -> None:
        """Refuse what is no covariance."""
        told = (self.east_m2, self.north_m2, self.cross_m2)
        sound = all(math.isfinite(v) for v in told) and self.east_m2 >= 0 and self.north_m2 >= 0
        if not sound or self.cross_m2**2 > self.east_m2 * self.north_m2 * (1 + 1e-9) + 1e-18:
            what = f"The doubt by {self.source} is no covariance: {told} m²."
            raise InvalidRecordError(what, remedy="Check the uncertainties that were stated.")

    @classmethod
    def circle(cls, source: str, r95_m: float) -> "Term":
        """Give a doubt that is the same in every direction, by its 95 % radius (m)."""
        variance = (r95_m / R95_FACTOR) ** 2
        return cls(source=source, east_m2=variance, north_m2=variance)

    @classmethod
    def along(
        cls, source: str, bearing_deg: float, *, sigma_along_m: float, sigma_across_m: float = 0.0
    ) -> "Term":
        """
        Give a doubt whose standard deviations lie along and across a true bearing.

        Examples
        --------
        >>> term = Term.along("range", 90.0, sigma_along_m=2.0, sigma_across_m=1.0)
        >>> round(term.east_m2, 9), round(term.north_m2, 9)
        (4.0, 1.0)
        """
        sin, cos = math.sin(math.radians(bearing_deg)), math.cos(math.radians(bearing_deg))
        a, b = sigma_along_m**2, sigma_across_m**2
        return cls(
            source=source,
            east_m2=a * sin * sin + b * cos * cos,
            north_m2=a * cos * cos + b * sin * sin,
            cross_m2=(a - b) * sin * cos,
        )

    @property
    def r95_m(self) -> float:
        """Radius of 95 % of this error alone. Units: m."""
        return _r95_m(self.east_m2, self.north_m2, self.cross_m2)


@dataclass(frozen=True, slots=True, kw_only=True)
class BudgetRow:
    """One line of the table."""

    source: str
    #: 95 % radius of the term alone. Units: m.
    size_m: float
    #: Part of the whole variance. Dimensionless, 0 to 1.
    share: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Budget:
    """All terms together."""

    rows: tuple[BudgetRow, ...]
    #: 95 % radius of the sum. Units: m.
    r95_m: float


def budget(terms: Sequence[Term]) -> Budget:
    """
    Add independent terms up.

    Returns
    -------
    Budget
        Rows in the order given; a term of nothing keeps its row. The radius is that of the ellipse of the
        summed covariance, so it is never less than that of any term.

    Examples
    --------
    >>> table = budget([Term.circle("receiver", 3.0), Term.circle("lever arm", 4.0)])
    >>> round(table.r95_m, 6), [(row.source, round(row.share, 2)) for row in table.rows]
    (5.0, [('receiver', 0.36), ('lever arm', 0.64)])
    """
    east = math.fsum(term.east_m2 for term in terms)
    north = math.fsum(term.north_m2 for term in terms)
    cross = math.fsum(term.cross_m2 for term in terms)
    whole = east + north
    rows = tuple(
        BudgetRow(
            source=term.source,
            size_m=term.r95_m,
            share=(term.east_m2 + term.north_m2) / whole if whole > 0 else 0.0,
        )
        for term in terms
    )
    return Budget(rows=rows, r95_m=_r95_m(east, north, cross))


def _r95_m(east_m2: float, north_m2: float, cross_m2: float) -> float:
    middle, half = (east_m2 + north_m2) / 2.0, (east_m2 - north_m2) / 2.0
    radius = math.hypot(half, cross_m2)
    return float(r95_from_sigmas(math.sqrt(middle + radius), math.sqrt(max(middle - radius, 0.0))))
