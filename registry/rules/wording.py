"""How a rule words a measured value and a limit: no digit beyond what the uncertainty supports."""

import math
import re

from registry.measure.digits import metres_decimals, u95_rounded_up_m
from registry.records.quantity import Quantity

__all__ = ["length_text", "limit_text"]

_IN_METRES = re.compile(r"[\d.,]+\s*m")


def length_text(value_m: float, u95_m: float) -> str:
    """
    Write a measured length with its 95 % uncertainty.

    Examples
    --------
    >>> length_text(18.8617, 0.56)
    '18.86 ± 0.56 m'
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
    return f"{value_m:.{decimals}f} ± {u95_rounded_up_m(u95_m):.{decimals}f} m"


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
    if limit.dimension != "length" or _IN_METRES.fullmatch(limit.written):
        return limit.written
    return f"{limit.written} ({limit.value:.2f} m)"
