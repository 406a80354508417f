"""How a rule words a measured value and a limit: no digit beyond what the uncertainty supports."""

import math
import re
from decimal import ROUND_CEILING, Decimal
from typing import TYPE_CHECKING

from registry.measure.digits import metres_decimals, u95_rounded_up_m
from registry.records.permit import Condition
from registry.records.quantity import Quantity

if TYPE_CHECKING:
    from registry.measure.clear_ground import Move

__all__ = [
    "band_text",
    "bearing_text",
    "factor_text",
    "length_text",
    "limit_text",
    "move_text",
    "radius_text",
]

#: From here on an uncertainty is written with two significant digits and no more. Units: m.
_COARSE_M = 100.0

#: A factor of safety is written with two decimals where it is known to so much, with one up to ten times
#: that, and without doubt where that is less than its last digit. Above the last it says no more than that.
_FINE, _FINEST, _FIRM = 0.3, 0.005, 999.0

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
    >>> length_text(1849.0, 123.0), length_text(1849.0, 1043.0)
    ('1850 ± 130 m', '1.8 ± 1.1 km')
    """
    if not math.isfinite(value_m):
        return "an unknown length"
    if not math.isfinite(u95_m):
        return f"{value_m:.0f} m, of unknown uncertainty"
    if u95_m <= 0:
        return f"{value_m:.2f} m"
    if u95_m > _COARSE_M:
        size, unit, decimals, up = _coarse(u95_m)
        # Rounded to the digit at which the uncertainty ends, which may stand before the point.
        value = round(value_m / size, decimals)
        places = max(decimals, 0)
        return f"{value:.{places}f} ± {up:.{places}f} {unit}"
    decimals = metres_decimals(u95_m)
    return f"{value_m:.{decimals}f} ± {u95_rounded_up_m(u95_m):.{decimals}f} m"


def radius_text(r95_m: float) -> str:
    """
    Write a 95 % radius, rounded upward to two significant digits (from 10 to 100 m to the whole metre).

    Examples
    --------
    >>> [radius_text(r) for r in (0.034, 2.61, 23.1, 101.0, 1043.0, 25_400.0, 3.2e6)]
    ['0.034 m', '2.7 m', '24 m', '110 m', '1.1 km', '26 km', '3200 km']
    >>> radius_text(float("nan"))
    'an unknown radius'
    """
    if not math.isfinite(r95_m):
        return "an unknown radius"
    if r95_m <= 0:
        return "0 m"
    if r95_m > _COARSE_M:
        _, unit, decimals, up = _coarse(r95_m)
        return f"{up:.{max(decimals, 0)}f} {unit}"
    return f"{u95_rounded_up_m(r95_m):.{metres_decimals(r95_m)}f} m"


def _coarse(u95_m: float) -> tuple[float, str, int, Decimal]:
    """
    Round an uncertainty above 100 m upward to two significant digits.

    Gives the size of its unit in metres, the unit, at which decimal the second digit stands (negative before
    the point), and the rounded number of units.
    """
    exact = Decimal(repr(float(u95_m)))
    quantum = Decimal(1).scaleb(exact.adjusted() - 1)
    up = (exact / quantum).to_integral_value(rounding=ROUND_CEILING) * quantum
    size, unit = (Decimal(1000), "km") if up >= 1000 else (Decimal(1), "m")
    return float(size), unit, 1 - (up / size).adjusted(), up / size


def factor_text(factor: float, u95: float) -> str:
    """
    Write a factor of safety, rounded down: none must read as kept that is not.

    Examples
    --------
    >>> factor_text(3.1337, 0.087), factor_text(1.4996, 0.0), factor_text(27.31, 3.2)
    ('3.13 ± 0.09', '1.49', '27 ± 4')
    >>> factor_text(1000.0, 0.0), factor_text(2.0, float("nan"))
    ('over 999', '2.0, of unknown uncertainty')
    """
    if factor > _FIRM:
        return f"over {_FIRM:.0f}"
    if not math.isfinite(u95):
        return f"{factor:.1f}, of unknown uncertainty"
    decimals = 2 if u95 < _FINE else 1 if u95 < 10 * _FINE else 0
    step = 10.0**-decimals
    down = math.floor(factor / step + 1e-9) * step
    if u95 < _FINEST:
        return f"{down:.{decimals}f}"
    return f"{down:.{decimals}f} ± {math.ceil(u95 / step - 1e-9) * step:.{decimals}f}"


def bearing_text(bearing_deg: float) -> str:
    """
    Write a true bearing: three digits, 000 to 359.

    Examples
    --------
    >>> bearing_text(45.2), bearing_text(359.6)
    ('045° true', '000° true')
    """
    return f"{round(bearing_deg) % 360:03d}° true"


def move_text(move: "Move") -> str:
    """
    Say where the hook must go; the distance is rounded up, so that the printed figure really suffices.

    Examples
    --------
    >>> from registry.measure.clear_ground import Move
    >>> move_text(Move(distance_m=3.11, bearing_deg=45.2, lon=-77.0, lat=34.0))
    'Move the hook 3.2 m toward 045° true.'
    """
    distance_m = int(move.distance_m * 10 + 0.999999) / 10
    return f"Move the hook {distance_m:.1f} m toward {bearing_text(move.bearing_deg)}."


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


def band_text(condition: Condition) -> str:
    """
    Write the least and the greatest value that a condition states, or the one of them that it does.

    Examples
    --------
    >>> six = Quantity(value=6.0, dimension="length", written="6 m", resolution=1.0)
    >>> band_text(Condition(rule="spacing", cite="Special condition 4", limits={"least": six}))
    'at least 6 m'
    """
    words = {"least": "at least", "greatest": "at most"}
    return " and ".join(
        f"{word} {limit_text(condition.limits[name])}"
        for name, word in words.items()
        if name in condition.limits
    )
