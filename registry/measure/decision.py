"""
Verdicts and the guard band: the only place where a measured value meets a limit.

Sources
-------
JCGM 106:2012, guarded acceptance with guard band ``w = U`` (the expanded uncertainty at 95 %)
and a non-binary outcome. The guide was read second-hand; clause numbers are not quoted.
"""

from enum import IntEnum

import numpy as np
from numpy.typing import ArrayLike, NDArray

__all__ = ["ARITHMETIC", "Verdict", "at_least", "at_most", "u95_toward", "worst"]

#: Rounding left by unit conversion and floating point, not by measuring. Units: those of the value.
ARITHMETIC = 1e-9


class Verdict(IntEnum):
    """What is known of one condition, ordered so that the worst is the greatest."""

    NOT_APPLICABLE = 0
    CONFORMING = 1
    INCONCLUSIVE = 2
    NONCONFORMING = 3

    @property
    def word(self) -> str:
        """The verdict as it is written on screens, in files and on paper."""
        return self.name.lower().replace("_", " ")


def at_least(value: ArrayLike, u95: ArrayLike, limit: ArrayLike) -> NDArray[np.int8]:
    """
    Judge values against a least permitted value.

    Definition: conforming if ``x - U >= T``, nonconforming if ``x + U < T``, else inconclusive.
    An unknown value (NaN) or an unknown uncertainty is inconclusive.

    Parameters
    ----------
    value, u95, limit : array_like
        Measured value, its expanded uncertainty (95 %) and the limit; broadcast together. One unit for all.

    Returns
    -------
    numpy.ndarray of int8
        Values of :class:`Verdict`.

    Sources
    -------
    JCGM 106:2012, guarded acceptance and rejection.

    Examples
    --------
    A least clearance of 50.0 ft, known to 1.9 ft:

    >>> [Verdict(v).word for v in at_least([52.0, 51.0, 48.0], 1.9, 50.0)]
    ['conforming', 'inconclusive', 'nonconforming']
    """
    x, u, t = np.broadcast_arrays(*(np.asarray(a, dtype=float) for a in (value, u95, limit)))
    verdict = np.full(x.shape, Verdict.INCONCLUSIVE, dtype=np.int8)
    verdict[x - u >= t - ARITHMETIC] = Verdict.CONFORMING
    verdict[x + u < t - ARITHMETIC] = Verdict.NONCONFORMING
    return verdict


def at_most(value: ArrayLike, u95: ArrayLike, limit: ArrayLike) -> NDArray[np.int8]:
    """
    Judge values against a greatest permitted value: :func:`at_least` seen from the other side.

    Examples
    --------
    >>> [Verdict(v).word for v in at_most([1.0, 2.0, 3.0], 0.5, 2.0)]
    ['conforming', 'inconclusive', 'nonconforming']
    """
    x, u, t = (np.asarray(a, dtype=float) for a in (value, u95, limit))
    return at_least(-x, u, -t)


def u95_toward(limit: ArrayLike, low: ArrayLike, value: ArrayLike, high: ArrayLike) -> NDArray[np.float64]:
    """
    Give how far the 95 % interval of a value reaches toward a limit, where it is not as wide on both sides.

    Parameters
    ----------
    limit, low, value, high : array_like
        The limit, and the value with both ends of its interval; broadcast together. One unit for all.

    Returns
    -------
    numpy.ndarray
        With it :func:`at_least` and :func:`at_most` judge as if both ends had been compared. NaN where an end
        is unknown.

    Examples
    --------
    A factor of 3.0, 2.0 at the one end and 6.0 at the other:

    >>> u95_toward([1.5, 4.0], 2.0, 3.0, 6.0).tolist()
    [1.0, 3.0]
    """
    t, a, x, b = (np.asarray(each, dtype=float) for each in (limit, low, value, high))
    return np.asarray(np.where(np.isnan(a + b), np.nan, np.where(x >= t, x - a, b - x)))


def worst(verdicts: ArrayLike) -> Verdict:
    """
    Give the verdict of the whole: nonconforming if any is, else inconclusive, else conforming.

    Examples
    --------
    >>> worst([Verdict.CONFORMING, Verdict.INCONCLUSIVE]).word
    'inconclusive'
    >>> worst([]).word
    'not applicable'
    """
    v = np.asarray(verdicts, dtype=np.int8)
    return Verdict(int(v.max())) if v.size else Verdict.NOT_APPLICABLE
