"""
How good the positions of a registry really are, by an independent survey of some of them.

Differences are the registry's position minus that of the check.

Sources
-------
FGDC-STD-007.3-1998 (NSSDA), appendix 3-A (read second-hand): root mean square errors, at least twenty points,
``2.4477 (RMSE_x + RMSE_y) / 2`` for ratios from 0.6 to 1. ASPRS Positional Accuracy Standards, edition 1,
annex D: a worked example (from memory). Outliers by the distance from the median in robust standard
deviations: Rousseeuw and Leroy, Robust Regression and Outlier Detection, 1987 (from memory).
"""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from registry.errors import QuantityError
from registry.measure.digits import metres_decimals
from registry.measure.movement import robust_scale
from registry.measure.uncertainty import R95_FACTOR, U95_FACTOR, r95_from_sigmas

__all__ = [
    "LEAST_POINTS",
    "LEAST_RATIO",
    "Accuracy",
    "assess",
    "outliers",
]

Floats = NDArray[np.float64]

#: The NSSDA asks for so many check points.
LEAST_POINTS = 20
#: The NSSDA's formula is meant for ratios of the smaller to the greater error down to this.
LEAST_RATIO = 0.6
#: Points below which no point can be called wild.
LEAST_FOR_OUTLIERS = 5
#: Chance that any of the points of a normal sample is called wild, about (5 to 10 %, by simulation).
_OUTLIER_LEVEL = 0.05


@dataclass(frozen=True, slots=True, kw_only=True)
class Accuracy:
    """What check points say. Units: m."""

    count: int
    mean_east_m: float
    mean_north_m: float
    rmse_east_m: float
    rmse_north_m: float
    #: 95 % figure by the formula of the NSSDA.
    nssda_r95_m: float
    #: 95 % radius of the ellipse that the errors really span, correlated as they are.
    ellipse_r95_m: float

    @property
    def rmse_radial_m(self) -> float:
        """Root of the sum of both squares."""
        return math.hypot(self.rmse_east_m, self.rmse_north_m)

    @property
    def ratio(self) -> float:
        """Smaller to greater error of the axes, 1 for a circle."""
        low, high = sorted((self.rmse_east_m, self.rmse_north_m))
        return low / high if high > 0 else 1.0

    @property
    def formula_holds(self) -> bool:
        """Whether the NSSDA's formula is meant for such a ratio."""
        return self.ratio >= LEAST_RATIO

    @property
    def decimals(self) -> int:
        """Decimals of a metre that so many points support: an RMSE is known to RMSE / sqrt(2 n)."""
        doubt_m = U95_FACTOR * self.rmse_radial_m / math.sqrt(2.0 * self.count)
        return metres_decimals(max(doubt_m, 1e-3))

    @property
    def enough(self) -> bool:
        """Whether there are as many points as the NSSDA asks for."""
        return self.count >= LEAST_POINTS


def assess(east_m: ArrayLike, north_m: ArrayLike) -> Accuracy:
    """
    Assess positions by their differences from an independent survey.

    Definition: ``RMSE = sqrt(mean(d**2))`` on each axis, the bias included; NSSDA
    ``2.4477 (RMSE_east + RMSE_north) / 2``; and the radius that holds 95 % of a normal error whose second
    moments are those of the differences.

    Parameters
    ----------
    east_m, north_m : array_like, shape (n,)
        Position of the registry minus position of the check. Units: m.

    Raises
    ------
    QuantityError
        If there is no point, or a difference is not a number.

    Notes
    -----
    The NSSDA's formula is not conservative: against the ellipse it is too small by 1.2 % at a ratio of 0.8,
    by 5.9 % at 0.6 and by 25 % at 0.2.

    Examples
    --------
    >>> errors = assess([0.6, -0.6, 0.6, -0.6], [0.5, 0.5, -0.5, -0.5])
    >>> f"{errors.nssda_r95_m:.5f} {errors.ellipse_r95_m:.5f} {errors.enough}"
    '1.34626 1.35741 False'
    """
    east, north = np.asarray(east_m, dtype=float), np.asarray(north_m, dtype=float)
    if not east.size or east.shape != north.shape or not (np.isfinite(east) & np.isfinite(north)).all():
        what = "There is no check point, or a difference is not a number."
        raise QuantityError(what, remedy="Give at least one module that was surveyed again.")
    moments = np.array(
        [[np.mean(east**2), np.mean(east * north)], [np.mean(east * north), np.mean(north**2)]]
    )
    axes = np.sqrt(np.maximum(np.linalg.eigvalsh(moments), 0.0))
    rmse_east, rmse_north = math.sqrt(moments[0, 0]), math.sqrt(moments[1, 1])
    return Accuracy(
        count=int(east.size),
        mean_east_m=float(np.mean(east)),
        mean_north_m=float(np.mean(north)),
        rmse_east_m=rmse_east,
        rmse_north_m=rmse_north,
        nssda_r95_m=R95_FACTOR * (rmse_east + rmse_north) / 2.0,
        ellipse_r95_m=float(r95_from_sigmas(axes[1], axes[0])),
    )


def outliers(east_m: ArrayLike, north_m: ArrayLike) -> NDArray[np.bool_]:
    """
    Name the points that do not belong to the others, whatever fewer than half of them do.

    Definition: ``((e - med e) / s_e)**2 + ((n - med n) / s_n)**2 > q``, with robust standard deviations ``s``
    and the quantile of chi-square for the farthest of so many points.

    Parameters
    ----------
    east_m, north_m : array_like, shape (n,)
        Units: m.

    Returns
    -------
    numpy.ndarray of bool, shape (n,)
        All false for fewer than five points.

    Examples
    --------
    >>> outliers([0.2, -0.1, 0.3, 0.0, -0.3, 9.0], [0.1, 0.2, -0.2, -0.1, 0.0, 7.0]).nonzero()[0].tolist()
    [5]
    """
    east, north = np.asarray(east_m, dtype=float), np.asarray(north_m, dtype=float)
    n = east.size
    if n < LEAST_FOR_OUTLIERS:
        return np.zeros(n, dtype=bool)
    d2 = sum(((axis - np.median(axis)) / robust_scale(axis)) ** 2 for axis in (east, north))
    # The robust deviations of few points scatter; the factor was fitted to samples without outliers.
    limit = -2.0 * math.log(_OUTLIER_LEVEL / n) * (1.0 + 3.0 / n + 60.0 / n**2)
    return np.asarray(d2 > limit)
