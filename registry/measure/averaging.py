"""
One position from many fixes of a point that stood still, with a radius that says no more than is known.

The method is the median of east and of north, each for itself, in a plane around the site. It stands as long
as fewer than half of the fixes are wild, needs no tuning, and in simulation loses nothing to estimators that
do (Huber, minimum covariance determinant, geometric median).

The errors of successive fixes are correlated over minutes, partly over half an hour: the number of fixes says
little. Whatever all fixes share, no averaging removes: the radius is never less than that of the class of
receiver, nor than the standard deviations that the receiver itself states.

Sources
-------
Median and MAD with their factors 1.2533 and 1.4826: Huber, *Robust Statistics*, 1981 (from memory).
Effective number for a lag-one correlation, ``n (1 - rho) / (1 + rho)``: Bayley and Hammersley, J. R. Stat.
Soc. Suppl. 8 (1946) (from memory). Correlation over about a minute and much longer: Wilson, "GPS horizontal
position accuracy" (web page, read). That neither the raw nor the effective number alone covers the truth, and
the correlation time of 300 s: simulation, kept in the tests.
"""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from registry.errors import InvalidRecordError
from registry.measure.uncertainty import R95_FACTOR, r95_from_sigmas

__all__ = ["CORRELATION_TIME_S", "METHOD", "Average", "average_fixes"]

Floats = NDArray[np.float64]

METHOD = (
    "median of east and of north in the site plane; scatter by the median absolute deviation (1.4826 MAD);"
    " effective number of fixes by lag-one correlation and a correlation time of at least 300 s;"
    " median and MAD after Huber 1981, effective number after Bayley and Hammersley 1946"
)
#: Fixes nearer in time than twice this are not taken for independent. Units: s.
CORRELATION_TIME_S = 300.0
#: Standard deviation of a median against that of a mean of normal errors: sqrt(pi / 2).
_MEDIAN_FACTOR = math.sqrt(math.pi / 2.0)
#: Standard deviation of a normal error over its median absolute deviation.
_MAD_FACTOR = 1.4826
_CLIP = 3.0
_WILD = 3.5
_HIGHEST_CORRELATION = 0.999


@dataclass(frozen=True, slots=True, kw_only=True)
class Average:
    """The average of some fixes and all that its radius was made of."""

    #: In the plane of the fixes. Units: m.
    east_m: float
    north_m: float
    #: Number of fixes, and what they are worth.
    n: int
    n_effective: float
    #: From the first to the last, longer silences counted as two correlation times. Units: s.
    span_s: float
    #: Correlation of neighbouring fixes, the greater of both axes. Dimensionless.
    correlation: float
    #: Robust standard deviation of one fix along one axis. Units: m.
    scatter_m: float
    #: Fixes farther than 3.5 standard deviations from the median.
    wild: int
    #: 95 % radius by the scatter of the fixes. Units: m.
    r95_scatter_m: float
    #: 95 % radius by the class of receiver. Units: m.
    r95_class_m: float
    #: 95 % radius by the receiver's own standard deviations; NaN where it states none. Units: m.
    r95_stated_m: float

    @property
    def r95_receiver_m(self) -> float:
        """The class or the stated figure, whichever is worse. Units: m."""
        if math.isnan(self.r95_stated_m):
            return self.r95_class_m
        return max(self.r95_class_m, self.r95_stated_m)

    @property
    def r95_m(self) -> float:
        """95 % radius of the average. Units: m."""
        return math.hypot(self.r95_receiver_m, self.r95_scatter_m)


def average_fixes(
    east_m: ArrayLike,
    north_m: ArrayLike,
    time_s: ArrayLike,
    *,
    class_r95_m: float,
    sigma_east_m: ArrayLike | None = None,
    sigma_north_m: ArrayLike | None = None,
    correlation_time_s: float = CORRELATION_TIME_S,
) -> Average:
    """
    Average the fixes of one point.

    Definition::

        s      = hypot(1.4826 MAD(E), 1.4826 MAD(N)) / sqrt(2)
        n_eff  = clamp(min(n (1 - rho) / (1 + rho), T / (2 tau)), 1, n)
        R_scat = 2.4477 * 1.2533 * s / sqrt(n_eff)
        R95    = sqrt(max(R_class, R_stated)**2 + R_scat**2)

    Parameters
    ----------
    east_m, north_m : array_like, shape (n,)
        Fixes in a plane around the site, already brought to the point of interest. Units: m.
    time_s : array_like, shape (n,)
        Instants, not descending. Units: s.
    class_r95_m : float
        95 % radius of one fix of this class of receiver. Units: m.
    sigma_east_m, sigma_north_m : array_like, shape (n,), optional
        Standard deviations that the receiver states (GST); NaN where it does not. Units: m.
    correlation_time_s : float
        Time over which errors are correlated; at least 300 unless somebody has shown otherwise. Units: s.

    Returns
    -------
    Average

    Raises
    ------
    InvalidRecordError
        If there is no fix, or a number is no measurement.

    Notes
    -----
    rho is taken from residuals clipped at three standard deviations. A silence longer than two correlation
    times counts as two, so that two short bursts far apart in time are worth two fixes, not many.

    Examples
    --------
    Two minutes of fixes are worth one:

    >>> t = np.arange(120.0)
    >>> found = average_fixes(np.sin(t), np.cos(t), t, class_r95_m=3.0)
    >>> found.n, found.n_effective, found.r95_m > 3.0
    (120, 1.0, True)
    """
    east, north, time = (np.asarray(a, dtype=float) for a in (east_m, north_m, time_s))
    n = len(east)
    if n == 0 or not all(np.isfinite(a).all() and a.shape == (n,) for a in (east, north, time)):
        what = f"{n} fixes with a number that is none cannot be averaged."
        raise InvalidRecordError(what, remedy="Give one or more fixes with finite coordinates and instants.")
    if not (math.isfinite(class_r95_m) and class_r95_m > 0 and correlation_time_s > 0):
        what = f"A class of {class_r95_m} m with a correlation time of {correlation_time_s} s is none."
        raise InvalidRecordError(what, remedy="Give positive numbers.")
    middle_e, middle_n = float(np.median(east)), float(np.median(north))
    residual_e, residual_n = east - middle_e, north - middle_n
    sigma_e, sigma_n = _robust_sigma(residual_e), _robust_sigma(residual_n)
    scatter = math.hypot(sigma_e, sigma_n) / math.sqrt(2.0)
    correlation = max(_lag_one(residual_e, sigma_e), _lag_one(residual_n, sigma_n))
    span = float(np.minimum(np.diff(time), 2.0 * correlation_time_s).sum())
    worth = min(n * (1.0 - correlation) / (1.0 + correlation), span / (2.0 * correlation_time_s))
    n_effective = min(max(worth, 1.0), float(n))
    wild = np.hypot(residual_e, residual_n) > _WILD * math.sqrt(2.0) * scatter
    return Average(
        east_m=middle_e,
        north_m=middle_n,
        n=n,
        n_effective=n_effective,
        span_s=span,
        correlation=correlation,
        scatter_m=scatter,
        wild=int(np.count_nonzero(wild)) if scatter > 0 else 0,
        r95_scatter_m=R95_FACTOR * _MEDIAN_FACTOR * scatter / math.sqrt(n_effective),
        r95_class_m=class_r95_m,
        r95_stated_m=_stated_r95_m(sigma_east_m, sigma_north_m),
    )


def _robust_sigma(residual: Floats) -> float:
    return _MAD_FACTOR * float(np.median(np.abs(residual)))


def _lag_one(residual: Floats, sigma: float) -> float:
    """Correlation of neighbours, from 0 to just below 1."""
    if len(residual) < 3 or sigma == 0:
        return 0.0
    clipped = np.clip(residual, -_CLIP * sigma, _CLIP * sigma)
    clipped = clipped - clipped.mean()
    rho = float((clipped[1:] * clipped[:-1]).sum() / (clipped**2).sum())
    return min(max(rho, 0.0), _HIGHEST_CORRELATION)


def _stated_r95_m(sigma_east_m: ArrayLike | None, sigma_north_m: ArrayLike | None) -> float:
    if sigma_east_m is None or sigma_north_m is None:
        return math.nan
    east, north = np.asarray(sigma_east_m, dtype=float), np.asarray(sigma_north_m, dtype=float)
    stated = np.isfinite(east) & np.isfinite(north)
    if not stated.any():
        return math.nan
    return float(r95_from_sigmas(np.median(east[stated]), np.median(north[stated])))
