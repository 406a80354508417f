"""
From a magnetic bearing to a true one, by the World Magnetic Model.

Sources
-------
World Magnetic Model 2010 to 2025 (NOAA and BGS), each for its own five years, as the library ``pygeomag``
carries it; uncertainty of the variation by the error model published with it.
"""

from dataclasses import dataclass
from functools import lru_cache

from pygeomag import GeoMag  # type: ignore[import-untyped]

from registry.errors import QuantityError
from registry.measure.uncertainty import U95_FACTOR

__all__ = ["Variation", "magnetic_variation", "true_bearing"]

#: First and last year of each model, and its file in the library.
_MODELS = (
    (2010.0, 2015.0, "wmm/WMM_2010.COF"),
    (2015.0, 2020.0, "wmm/WMM_2015v2.COF"),
    (2020.0, 2025.0, "wmm/WMM_2020.COF"),
    (2025.0, 2030.0, "wmm/WMM_2025.COF"),
)
#: Horizontal field below which a compass is not to be trusted. Units: nT. Source: WMM report, blackout zone.
_BLACKOUT_NT = 2000.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Variation:
    """How far magnetic north lies from true north, east positive."""

    #: Units: degrees.
    east_deg: float
    #: Units: degrees, at 95 %.
    u95_deg: float
    model: str


def magnetic_variation(lon_deg: float, lat_deg: float, year: float) -> Variation:
    """
    Find the magnetic variation at sea level.

    Parameters
    ----------
    lon_deg, lat_deg : float
        In WGS 84; a metre of datum does not matter. Units: degrees.
    year : float
        Decimal year of the observation.

    Raises
    ------
    QuantityError
        If no model covers the year, or a compass does not work there.

    Notes
    -----
    The model leaves out local iron and the compass's own deviation, which no model knows.

    Examples
    --------
    >>> found = magnetic_variation(-77.0, 34.0, 2026.5)
    >>> f"{found.east_deg:.1f} ± {found.u95_deg:.1f} degrees by {found.model}"
    '-10.1 ± 0.7 degrees by WMM-2025'
    """
    for first, end, file in _MODELS:
        if first <= year < end:
            result = _model(file).calculate(glat=lat_deg, glon=lon_deg, alt=0.0, time=year)
            break
    else:
        what = f"No magnetic model at hand covers the year {year:g}."
        raise QuantityError(what, remedy="State the variation, as the chart of that year gives it.")
    if result.h < _BLACKOUT_NT:
        what = f"At {lat_deg:.1f}, {lon_deg:.1f} the magnetic field is too steep for a compass."
        raise QuantityError(what, remedy="Give a true bearing.")
    sigma_deg = float(result.calculate_uncertainty().d)
    return Variation(east_deg=float(result.d), u95_deg=U95_FACTOR * sigma_deg, model=str(_model(file).model))


@lru_cache(maxsize=8)
def _model(file: str) -> GeoMag:
    return GeoMag(coefficients_file=file)


def true_bearing(magnetic_deg: float, *, variation_east_deg: float, deviation_east_deg: float = 0.0) -> float:
    """
    Turn a compass bearing into a true one: east is added.

    Examples
    --------
    A bearing of 100 by compass where the variation is 9 west:

    >>> true_bearing(100.0, variation_east_deg=-9.0)
    91.0
    """
    return (magnetic_deg + deviation_east_deg + variation_east_deg) % 360.0
