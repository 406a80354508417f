"""How a rule words a measured value and a limit: no digit beyond what the uncertainty supports."""

import math

from registry.measure.digits import metres_decimals
from registry.records.quantity import Quantity

__all__ = ["length_text", "limit_text"]


def length_text(value_m: float, u95_m: float) -> str:
    """
    Write a measured length with its 95 % uncertainty.

    Examples
    --------
    >>> length_text(18.8617, 0.56)
    '18.9 ± 0.6 m'
    >>> length_text(float("nan"), 0.5)
    'an unknown length'
    """
    if not math.isfinite(value_m):
        return "an unknown length"
    if not math.isfinite(u95_m):
        return f"{value_m:.0f} m, of unknown uncertainty"
    if u95_m <= 0:
        return f"{value_m:.2f} m"
    decimals = metres_decimals(u95_m)
    step = 10.0**-decimals
    # The uncertainty is rounded up: rounding it down would claim more than is known.
    return f"{value_m:.{decimals}f} ± {math.ceil(u95_m / step - 1e-6) * step:.{decimals}f} m"


def limit_text(limit: Quantity) -> str:
    """
    Write a limit as the permit writes it, and in metres where that differs.

    Examples
    --------
    >>> limit_text(Quantity(value=15.24, dimension="length", written="50 ft", resolution=0.3048))
    '50 ft (15.24 m)'
    >>> limit_text(Quantity(value=6.0, dimension="length", written="6 m", resolution=1.0))
    '6 m'
    """
    if limit.dimension != "length" or limit.written.replace(" ", "").endswith(("0m", f"{limit.value:g}m")):
        return limit.written
    return f"{limit.written} ({limit.value:.2f} m)"
