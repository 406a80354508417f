"""From a depth as typed to a depth below chart datum with an honest uncertainty."""

import math
from dataclasses import dataclass

from registry.errors import QuantityError
from registry.measure.survey_order import vertical_limit
from registry.measure.uncertainty import UNIFORM_95
from registry.records.quantity import Quantity

__all__ = ["ChartedDepth", "charted_depth"]

#: Deeper than any ocean: a slip. Units: m.
DEEPEST_M = 11_000.0
#: No tide on earth is higher. Units: m.
HIGHEST_TIDE_M = 10.0
#: The order of IHO S-44 whose vertical limit stands in for a depth of unstated accuracy: its loosest.
UNSTATED_ORDER = "2"


@dataclass(frozen=True, slots=True, kw_only=True)
class ChartedDepth:
    """Depth of the seabed below chart datum."""

    #: Units: m.
    depth_m: float
    u95_m: float
    basis: tuple[str, ...]


def charted_depth(
    depth: Quantity, *, u95: Quantity | None = None, tide: Quantity | None = None, datum: str
) -> ChartedDepth:
    """
    Take the tide off a depth and say how well the result is known.

    Definition: ``charted = depth - tide``; the stated uncertainty and the digits written add in quadrature.

    Parameters
    ----------
    depth : Quantity
        As read off the instrument, below the surface of the water; or below datum if no tide is given.
    u95 : Quantity, optional
        95 % uncertainty; without it the vertical limit of IHO S-44 order 2 is taken, and said.
    tide : Quantity, optional
        Height of the water above chart datum at that instant, negative below it.
    datum : str
        Name of the chart datum.

    Raises
    ------
    QuantityError
        If a value is no depth, uncertainty or tide.

    Examples
    --------
    >>> sixty_feet = Quantity(value=18.288, dimension="length", written="60 ft", resolution=0.3048)
    >>> tide = Quantity(value=0.62, dimension="length", written="0.62 m", resolution=0.01)
    >>> f"{charted_depth(sixty_feet, tide=tide, datum='MLLW').depth_m:.3f}"
    '17.668'
    """
    if not 0 < depth.value < DEEPEST_M:
        what = f"A depth of {depth.written!r} is not one."
        raise QuantityError(what, remedy="Depths are positive downward; give one with its unit.")
    basis: list[str] = []
    charted = depth.value
    if tide is None:
        basis.append(f"No tide was stated: {depth.written} is taken as depth below {datum}.")
    elif abs(tide.value) > HIGHEST_TIDE_M:
        what = f"A tide of {tide.written!r} is higher than any."
        raise QuantityError(what, remedy="Give the height of the water above chart datum, with its unit.")
    else:
        charted -= tide.value
        basis.append(f"Tide of {tide.written} above {datum} taken off {depth.written}.")
    if charted <= 0:
        what = (
            f"A depth of {depth.written!r} less a tide of {tide.written if tide else ''!r} is above {datum}."
        )
        raise QuantityError(
            what, remedy="Check the sign of the tide: positive when the water is above datum."
        )
    if u95 is None:
        stated_m = float(vertical_limit(charted, UNSTATED_ORDER))
        basis.append(
            f"No depth accuracy was stated: ± {stated_m:.1f} m, the limit of S-44 order 2, is taken."
        )
    elif u95.value <= 0:
        what = f"A depth uncertainty of {u95.written!r} is none: no depth is known exactly."
        raise QuantityError(what, remedy="Give one above zero with its unit, or leave it out if not known.")
    else:
        stated_m = u95.value
        basis.append(f"Depth known within {u95.written} (95 %) as stated.")
    rounding = [depth.resolution] + ([tide.resolution] if tide else [])
    u95_m = math.hypot(stated_m, *(UNIFORM_95 * size for size in rounding))
    return ChartedDepth(depth_m=charted, u95_m=u95_m, basis=tuple(basis))
