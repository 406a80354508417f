"""
How well a position and a depth must be known for each order of hydrographic survey.

Sources
-------
IHO S-44, Standards for Hydrographic Surveys, edition 6.1.0 (October 2022), table 1. All values at 95 %.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np
from numpy.typing import ArrayLike, NDArray

from registry.errors import QuantityError

__all__ = ["DEFAULT_ORDER", "ORDERS", "SurveyOrder", "horizontal_limit", "order_met", "vertical_limit"]

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class SurveyOrder:
    """One column of the table."""

    name: str
    #: Greatest total horizontal uncertainty: a fixed part (m) and a share of the depth.
    horizontal_m: float
    horizontal_share: float
    #: Greatest total vertical uncertainty ``sqrt(a**2 + (b d)**2)``: a (m) and b.
    vertical_m: float
    vertical_share: float


#: By name, the strictest first. 1a and 1b differ only in how completely the seabed is searched.
ORDERS: Mapping[str, SurveyOrder] = MappingProxyType(
    {
        name: SurveyOrder(
            name=name,
            horizontal_m=horizontal_m,
            horizontal_share=horizontal_share,
            vertical_m=vertical_m,
            vertical_share=vertical_share,
        )
        for name, horizontal_m, horizontal_share, vertical_m, vertical_share in (
            ("Exclusive", 1.0, 0.0, 0.15, 0.0075),
            ("Special", 2.0, 0.0, 0.25, 0.0075),
            ("1a", 5.0, 0.05, 0.5, 0.013),
            ("1b", 5.0, 0.05, 0.5, 0.013),
            ("2", 20.0, 0.10, 1.0, 0.023),
        )
    }
)

#: Taken for a sounding of which nothing better is known.
DEFAULT_ORDER = "1a"


def horizontal_limit(order: str, depth_m: ArrayLike) -> Floats:
    """
    Give the greatest total horizontal uncertainty (95 %) of an order.

    Parameters
    ----------
    order : str
        A key of :data:`ORDERS`.
    depth_m : array_like
        Depth of the water. Units: m. NaN where unknown.

    Returns
    -------
    numpy.ndarray
        Units: m. NaN where the limit depends on an unknown depth.

    Raises
    ------
    QuantityError
        If there is no such order.

    Examples
    --------
    >>> horizontal_limit("1a", [20.0, 40.0]).tolist()
    [6.0, 7.0]
    """
    row = _order(order)
    depth = np.asarray(depth_m, dtype=float)
    if row.horizontal_share == 0.0:
        return np.full(depth.shape, row.horizontal_m)[()]
    return np.asarray(row.horizontal_m + row.horizontal_share * depth)[()]


def vertical_limit(depth_m: ArrayLike, order: str = DEFAULT_ORDER) -> Floats:
    """
    Give the greatest total vertical uncertainty (95 %) of an order: the default doubt of a sounding.

    Parameters
    ----------
    depth_m : array_like
        Depth of the water. Units: m.
    order : str
        A key of :data:`ORDERS`.

    Returns
    -------
    numpy.ndarray
        Units: m.

    Raises
    ------
    QuantityError
        If there is no such order.

    Examples
    --------
    >>> f"{vertical_limit(20.0):.4f}"
    '0.5636'
    """
    row = _order(order)
    return np.hypot(row.vertical_m, row.vertical_share * np.asarray(depth_m, dtype=float))[()]


def order_met(r95_m: float, depth_m: float) -> SurveyOrder | None:
    """
    Find the strictest order whose limit on position is met, or None.

    Parameters
    ----------
    r95_m : float
        95 % radius of the position. Units: m.
    depth_m : float
        Depth of the water. Units: m.

    Notes
    -----
    Position alone earns no order: the depth, the coverage and the search for features must meet it as well.

    Examples
    --------
    >>> [order_met(r95_m, 20.0).name for r95_m in (0.9, 1.5, 5.5, 21.0)]
    ['Exclusive', 'Special', '1a', '2']
    >>> order_met(25.0, 20.0) is None
    True
    """
    return next((row for row in ORDERS.values() if r95_m <= horizontal_limit(row.name, depth_m)), None)


def _order(name: str) -> SurveyOrder:
    """Find an order, or say which there are."""
    if name not in ORDERS:
        what = f"{name!r} is no order of IHO S-44."
        raise QuantityError(what, remedy=f"Use one of {', '.join(ORDERS)}.")
    return ORDERS[name]
