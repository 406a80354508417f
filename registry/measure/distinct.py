"""The different values among many, without the masked arrays that ``numpy.unique`` loads at its first use."""

from typing import Any

import numpy as np
from numpy.typing import NDArray

__all__ = ["distinct"]


def distinct(values: NDArray[Any]) -> NDArray[Any]:
    """
    Give each value once, in ascending order.

    A command that takes a third of a second would spend a twentieth of it on loading ``numpy.ma``.

    Parameters
    ----------
    values : numpy.ndarray, shape (n,)
        None of them NaN.

    Examples
    --------
    >>> distinct(np.array([3, 1, 3, 2, 1])).tolist()
    [1, 2, 3]
    """
    ordered = np.sort(values)
    first = np.ones(len(ordered), dtype=bool)
    np.not_equal(ordered[1:], ordered[:-1], out=first[1:])
    return ordered[first]
