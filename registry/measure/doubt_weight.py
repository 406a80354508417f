"""How doubtful a placement is, as one number by which a sample can be weighted."""

import numpy as np
from numpy.typing import ArrayLike, NDArray

from registry.measure.survey_order import DEFAULT_ORDER, horizontal_limit, vertical_limit

__all__ = ["LEAST_WEIGHT", "doubt_weight"]

Floats = NDArray[np.float64]

#: What even a placement without any doubt weighs: somebody may have read the wrong tag.
LEAST_WEIGHT = 0.25
#: The order by which a depth that nobody measured counts.
_UNMEASURED = "2"


def doubt_weight(r95_m: ArrayLike, depth_m: ArrayLike, depth_u95_m: ArrayLike) -> Floats:
    """
    Weigh how uncertain position and depth are.

    Definition: ``sqrt(w0**2 + (R95 / THU)**2 + (U_d / TVU)**2)``, with what IHO S-44 order 1a allows at that
    depth as the units THU and TVU, and ``w0 = 0.25``.

    Parameters
    ----------
    r95_m : array_like, shape (n,)
        95 % radius of the position. Units: m.
    depth_m, depth_u95_m : array_like, shape (n,)
        Charted depth and its 95 % uncertainty; NaN where nobody measured. Units: m.

    Returns
    -------
    numpy.ndarray, shape (n,)
        About 1.4 for a placement that just meets order 1a in both.

    Notes
    -----
    A depth that nobody measured counts as the most doubtful of those given, and at least as twice what order
    1a allows, which is order 2 in shallow water. Its position is judged as in shallow water.

    Sources
    -------
    IHO S-44 edition 6.1.0, table 1, for the units. That a sample is weighted so is this project's own choice.

    Examples
    --------
    >>> doubt_weight([6.0, 0.05], [20.0, 20.0], [0.5636, 0.01]).round(2).tolist()
    [1.44, 0.25]
    """
    depth = np.asarray(depth_m, dtype=float)
    measured = np.isfinite(depth)
    water = np.where(measured, np.maximum(depth, 0.0), 0.0)
    across = np.asarray(r95_m, dtype=float) / horizontal_limit(DEFAULT_ORDER, water)
    down = np.asarray(depth_u95_m, dtype=float) / vertical_limit(water)
    least = float(vertical_limit(0.0, _UNMEASURED) / vertical_limit(0.0))
    unmeasured = max(float(np.max(down, initial=0.0, where=measured)), least)
    return np.asarray(np.sqrt(LEAST_WEIGHT**2 + across**2 + np.where(measured, down, unmeasured) ** 2))
