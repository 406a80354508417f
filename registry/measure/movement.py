"""
Has something moved? A displacement against the doubt of both positions, in two dimensions.

The question is put as a test: if the mark lay still, how likely is a displacement at least as improbable as
the one observed? Both positions are taken as unbiased and normal, with errors independent of each other.
What many marks observed on one day have in common is told apart first: marks do not move all alike, but a
wrong frame or a receiver's error moves them so.

Sources
-------
Congruency test of two epochs: Caspary, Concepts of Network and Deformation Analysis, 1987; chi-square with
two degrees of freedom, whose tail is ``exp(-T / 2)``. Hotelling's T² for a mean against an estimated scatter;
Holm, A simple sequentially rejective multiple test procedure, Scand. J. Statist. 6 (1979). Small-sample
factors of the median absolute deviation: Croux and Rousseeuw, COMPSTAT 1992. (All from memory; the tests
check each against scipy or by simulation.)
"""

import math
from dataclasses import dataclass
from enum import StrEnum

import numpy as np
from numpy.typing import ArrayLike, NDArray

from registry.errors import QuantityError
from registry.measure.uncertainty import R95_FACTOR

__all__ = [
    "LEAST_FOR_SHIFT",
    "LEVEL",
    "CommonShift",
    "Motion",
    "bearing_of",
    "circular_covariance",
    "common_shift",
    "holm",
    "least_seen_m",
    "motion_of",
    "robust_scale",
    "stillness_p",
]

Floats = NDArray[np.float64]

#: Share of marks at rest that may be called moved, over all that are tested together.
LEVEL = 0.05
#: The same for a common shift, which accuses the survey itself.
SHIFT_LEVEL = 0.01
#: Marks below which a common shift cannot be told from marks that moved.
LEAST_FOR_SHIFT = 5
#: Noncentrality at which chi-square with two degrees of freedom passes its 95 % limit 19 times in 20.
_SEEN = 15.4431
#: Standard error of a median of normal values, against that of their mean.
_MEDIAN = math.sqrt(math.pi / 2.0)
_MAD = 1.4826
#: What makes the median absolute deviation of so few values unbiased; beyond, n / (n - 0.8).
_FEW = {2: 1.196, 3: 1.495, 4: 1.363, 5: 1.206, 6: 1.200, 7: 1.140, 8: 1.129, 9: 1.107}
#: Scatter is never taken for less than this. Units: m.
_LEAST_SCALE_M = 1e-3


class Motion(StrEnum):
    """What can be said of a mark."""

    MOVED = "moved"
    INCONCLUSIVE = "inconclusive"
    NOT_SHOWN = "not shown to have moved"


@dataclass(frozen=True, slots=True, kw_only=True)
class CommonShift:
    """What the displacements of many marks have in common."""

    #: Units: m.
    east_m: float
    north_m: float
    #: Standard error of either. Units: m.
    sigma_east_m: float
    sigma_north_m: float
    count: int
    #: Chance of so great a shift if there were none.
    p_value: float

    @property
    def real(self) -> bool:
        """Whether there is one, at the level of 1 %."""
        return self.p_value <= SHIFT_LEVEL

    @property
    def distance_m(self) -> float:
        """Its size. Units: m."""
        return math.hypot(self.east_m, self.north_m)

    @property
    def bearing_deg(self) -> float:
        """Its direction from true north. Units: degrees."""
        return bearing_of(self.east_m, self.north_m)

    @property
    def r95_m(self) -> float:
        """Its 95 % radius, on the greater axis. Units: m."""
        return R95_FACTOR * max(self.sigma_east_m, self.sigma_north_m)

    @property
    def covariance(self) -> Floats:
        """Shape (2, 2), east first. Units: m²."""
        return np.diag([self.sigma_east_m**2, self.sigma_north_m**2])


def bearing_of(east_m: float, north_m: float) -> float:
    """
    Give the bearing of a vector, 0 to below 360.

    Examples
    --------
    >>> bearing_of(-1.0, 0.0)
    270.0
    """
    return math.degrees(math.atan2(east_m, north_m)) % 360.0


def circular_covariance(r95_m: ArrayLike) -> Floats:
    """
    Give the covariance that a 95 % radius stands for: equal on both axes, without correlation.

    Parameters
    ----------
    r95_m : array_like, shape (n,)
        Units: m.

    Returns
    -------
    numpy.ndarray, shape (n, 2, 2)
        Units: m².

    Examples
    --------
    >>> circular_covariance(2.4477).round(3).tolist()
    [[1.0, 0.0], [0.0, 1.0]]
    """
    variance = (np.asarray(r95_m, dtype=float) / R95_FACTOR) ** 2
    return np.asarray(variance[..., None, None] * np.eye(2))


def stillness_p(east_m: ArrayLike, north_m: ArrayLike, covariance: ArrayLike) -> Floats:
    """
    Give the chance of a displacement at least as improbable as this one, had the mark lain still.

    Definition: ``exp(-T / 2)`` with ``T = d' C^-1 d``, chi-square with two degrees of freedom.

    Parameters
    ----------
    east_m, north_m : array_like, shape (n,)
        The displacement. Units: m.
    covariance : array_like, shape (n, 2, 2)
        Of the displacement: the sum of both positions', where their errors are independent. Units: m².

    Returns
    -------
    numpy.ndarray, shape (n,)

    Raises
    ------
    QuantityError
        If a covariance is none.

    Examples
    --------
    Two positions known to 1 m and 2 m (95 %), 3 m apart; and 2 m apart:

    >>> both = circular_covariance(1.0) + circular_covariance(2.0)
    >>> [round(float(stillness_p(d, 0.0, both)), 4) for d in (3.0, 2.0)]
    [0.0046, 0.091]
    """
    d = np.stack(np.broadcast_arrays(np.asarray(east_m, float), np.asarray(north_m, float)), axis=-1)
    c = np.asarray(covariance, dtype=float)
    determinant = c[..., 0, 0] * c[..., 1, 1] - c[..., 0, 1] * c[..., 1, 0]
    if not (np.isfinite(c).all() and (determinant > 0).all() and (c[..., 0, 0] > 0).all()):
        raise QuantityError(
            "A displacement without doubt cannot be tested.", remedy="State an R95 above zero."
        )
    # Closed form of the inverse: east first.
    t = (
        d[..., 0] ** 2 * c[..., 1, 1]
        - d[..., 0] * d[..., 1] * (c[..., 0, 1] + c[..., 1, 0])
        + d[..., 1] ** 2 * c[..., 0, 0]
    ) / determinant
    return np.asarray(np.exp(-t / 2.0))


def holm(p_values: ArrayLike) -> Floats:
    """
    Adjust the p-values of marks tested together, so that few at rest are called moved by mere number.

    Parameters
    ----------
    p_values : array_like, shape (n,)

    Returns
    -------
    numpy.ndarray, shape (n,)
        Compared with one level they keep the chance of even one false alarm below it.

    Examples
    --------
    >>> holm([0.01, 0.04, 0.03]).tolist()
    [0.03, 0.06, 0.06]
    """
    p = np.asarray(p_values, dtype=float)
    order = np.argsort(p, kind="stable")
    adjusted = np.maximum.accumulate(p[order] * np.arange(p.size, 0, -1))
    out = np.empty_like(p)
    out[order] = np.minimum(adjusted, 1.0)
    return out


def motion_of(p_value: float, adjusted: float) -> Motion:
    """
    Say what a p-value alone, and the same adjusted for the number of marks, allow to be said.

    Examples
    --------
    >>> [motion_of(p, a).value for p, a in ((0.001, 0.02), (0.02, 0.4), (0.3, 1.0))]
    ['moved', 'inconclusive', 'not shown to have moved']
    """
    if adjusted <= LEVEL:
        return Motion.MOVED
    return Motion.INCONCLUSIVE if p_value <= LEVEL else Motion.NOT_SHOWN


def least_seen_m(u95_m: float) -> float:
    """
    Give the displacement that the test finds 19 times in 20.

    Parameters
    ----------
    u95_m : float
        95 % radius of the displacement. Units: m.

    Examples
    --------
    >>> round(least_seen_m(2.4477), 2)
    3.93
    """
    return math.sqrt(_SEEN) * u95_m / R95_FACTOR


def robust_scale(values: ArrayLike) -> float:
    """
    Give the standard deviation of values of which fewer than half may be wild.

    Examples
    --------
    >>> round(robust_scale([-1.2, -0.6, 0.1, 0.5, 1.3, 250.0]), 1)
    1.7
    """
    v = np.asarray(values, dtype=float)
    n = v.size
    factor = _FEW.get(n, n / (n - 0.8) if n > 1 else 1.0)
    return max(_LEAST_SCALE_M, factor * _MAD * float(np.median(np.abs(v - np.median(v)))))


def common_shift(
    east_m: ArrayLike, north_m: ArrayLike, *, least_scatter_m: float = 0.0
) -> CommonShift | None:
    """
    Find what displacements have in common, whatever fewer than half of them do.

    Definition: the median on each axis, tested by Hotelling's T² with the standard error of a median from
    the median absolute deviation.

    Parameters
    ----------
    east_m, north_m : array_like, shape (n,)
        Units: m.
    least_scatter_m : float
        Standard deviation that the values have at least, as by the digits they are written with: values that
        were rounded alike scatter too little. Units: m.

    Returns
    -------
    CommonShift or None
        None for fewer than :data:`LEAST_FOR_SHIFT`.

    Examples
    --------
    >>> shift = common_shift([0.6, 0.7, 0.62, 0.68, 0.65, 9.0], [-0.8, -0.9, -0.84, -0.88, -0.85, 4.0])
    >>> shift.real, f"{shift.distance_m:.1f} m toward {shift.bearing_deg:.0f}"
    (True, '1.1 m toward 142')
    """
    east, north = np.asarray(east_m, dtype=float), np.asarray(north_m, dtype=float)
    n = east.size
    if n < LEAST_FOR_SHIFT:
        return None
    middle = float(np.median(east)), float(np.median(north))
    scatter = (max(robust_scale(axis), least_scatter_m) for axis in (east, north))
    sigma = [_MEDIAN * each / math.sqrt(n) for each in scatter]
    t2 = sum((m / s) ** 2 for m, s in zip(middle, sigma, strict=True))
    # The tail of F with 2 and n - 2 degrees of freedom, closed.
    p = (1.0 + t2 / (n - 1)) ** (-(n - 2) / 2.0)
    return CommonShift(
        east_m=middle[0],
        north_m=middle[1],
        sigma_east_m=sigma[0],
        sigma_north_m=sigma[1],
        count=n,
        p_value=p,
    )
