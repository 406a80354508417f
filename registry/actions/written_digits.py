"""How much doubt the number of written digits leaves in a position."""

from functools import lru_cache

from registry.measure.digits import Notation, rounding_r95_m
from registry.records.written_position import WrittenPosition

__all__ = ["written_digits_r95_m"]

_NOTATIONS = {"dd": Notation.DEGREES, "ddm": Notation.MINUTES, "dms": Notation.SECONDS}


def written_digits_r95_m(written: WrittenPosition) -> float:
    """
    Give the 95 % radius of the rounding in a written position.

    Returns
    -------
    float
        Units: m.
    """
    if written.angles is not None:
        latitude, longitude = written.angles
        decimals = min(latitude.decimals, longitude.decimals)
        return _rounding_m(_NOTATIONS[latitude.notation], decimals, round(written.lat_deg, 1))
    # A grid has no decimals of a degree; the radius is proportional to the unit of the last digit.
    coarsest = max(written.resolution_lat_deg, written.resolution_lon_deg)
    return _rounding_m(Notation.DEGREES, 0, round(written.lat_deg, 1)) * coarsest


@lru_cache(maxsize=4096)
def _rounding_m(notation: Notation, decimals: int, lat_deg: float) -> float:
    return rounding_r95_m(notation, decimals, lat_deg)
