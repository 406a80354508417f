"""
How fast sound runs in sea water, by named equations, and the mean speed along a cast.

Temperatures of instruments are on ITS-90; every equation here was fitted on IPTS-68, which reads 1.00024
times as much. :func:`sound_speed` converts, the equations themselves take what they were fitted on.

Sources
-------
Chen and Millero (1977) as in UNESCO Technical Papers in Marine Science 44 (1983); Mackenzie, J. Acoust. Soc.
Am. 70 (1981) 807; Medwin, J. Acoust. Soc. Am. 58 (1975) 1318; Del Grosso, J. Acoust. Soc. Am. 56 (1974) 1084.
Coefficients are from memory; the tests prove them by published check values (Chen and Millero, Mackenzie),
and, where none was found, by values computed elsewhere (Medwin, Del Grosso). Harmonic mean: IHO C-13, Manual
on Hydrography, chapter 3, equation 3.18.
"""

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np
from numpy.typing import ArrayLike

from registry.errors import QuantityError
from registry.measure.sea_pressure import pressure_at_depth_dbar

__all__ = [
    "EQUATION_U95_MPS",
    "SOUND_SPEED_EQUATIONS",
    "T68_PER_T90",
    "SoundSpeedEquation",
    "chen_millero_mps",
    "del_grosso_mps",
    "harmonic_mean_mps",
    "mackenzie_mps",
    "medwin_mps",
    "sound_speed",
]

T68_PER_T90 = 1.00024
#: What the choice of equation may matter: five of them span this at 25 °C, 35, 1000 m (computed). Units: m/s.
EQUATION_U95_MPS = 0.8
_DBAR_PER_KGF_CM2 = 9.80665
#: Slower and faster than any sea water. Units: m/s.
SLOWEST_MPS, FASTEST_MPS = 1350.0, 1750.0
#: A cast that stops short may be carried on with its last speed over this share of the path.
_LONGEST_CARRY = 0.1


def chen_millero_mps(t68_c: float, salinity: float, pressure_dbar: float) -> float:
    """
    Compute the speed of sound by Chen and Millero.

    Parameters
    ----------
    t68_c : float
        On IPTS-68. Units: °C.
    salinity : float
        Practical salinity.
    pressure_dbar : float
        Above that of the air. Units: dbar.

    Returns
    -------
    float
        Units: m/s.

    Examples
    --------
    >>> f"{chen_millero_mps(40.0, 40.0, 10000.0):.3f}"
    '1731.995'
    """
    t, s, p = t68_c, salinity, pressure_dbar / 10.0
    c0 = _poly(t, 1402.388, 5.03711, -5.80852e-2, 3.3420e-4, -1.47800e-6, 3.1464e-9)
    c1 = _poly(t, 0.153563, 6.8982e-4, -8.1788e-6, 1.3621e-7, -6.1185e-10)
    c2 = _poly(t, 3.1260e-5, -1.7107e-6, 2.5974e-8, -2.5335e-10, 1.0405e-12)
    c3 = _poly(t, -9.7729e-9, 3.8504e-10, -2.3643e-12)
    a0 = _poly(t, 1.389, -1.262e-2, 7.164e-5, 2.006e-6, -3.21e-8)
    a1 = _poly(t, 9.4742e-5, -1.2580e-5, -6.4885e-8, 1.0507e-8, -2.0122e-10)
    a2 = _poly(t, -3.9064e-7, 9.1041e-9, -1.6002e-10, 7.988e-12)
    a3 = _poly(t, 1.100e-10, 6.649e-12, -3.389e-13)
    b = -1.922e-2 - 4.42e-5 * t + (7.3637e-5 + 1.7945e-7 * t) * p
    d = 1.727e-3 - 7.9836e-6 * p
    return _poly(p, c0, c1, c2, c3) + _poly(p, a0, a1, a2, a3) * s + b * s * math.sqrt(s) + d * s**2


def mackenzie_mps(t68_c: float, salinity: float, depth_m: float) -> float:
    """
    Compute the speed of sound by Mackenzie's nine terms.

    Examples
    --------
    >>> f"{mackenzie_mps(25.0, 35.0, 1000.0):.4f}"
    '1550.7440'
    """
    t, s, z = t68_c, salinity - 35.0, depth_m
    return (
        _poly(t, 1448.96, 4.591, -5.304e-2, 2.374e-4)
        + 1.340 * s
        + 1.630e-2 * z
        + 1.675e-7 * z**2
        - 1.025e-2 * t * s
        - 7.139e-13 * t * z**3
    )


def medwin_mps(t68_c: float, salinity: float, depth_m: float) -> float:
    """
    Compute the speed of sound by Medwin's six terms.

    Examples
    --------
    >>> f"{medwin_mps(25.0, 35.0, 1000.0):.3f}"
    '1550.356'
    """
    t, s = t68_c, salinity - 35.0
    return _poly(t, 1449.2, 4.6, -0.055, 0.00029) + (1.34 - 0.010 * t) * s + 0.016 * depth_m


def del_grosso_mps(t68_c: float, salinity: float, pressure_dbar: float) -> float:
    """
    Compute the speed of sound by Del Grosso.

    Examples
    --------
    >>> f"{del_grosso_mps(20.0, 35.0, 0.0):.3f}"
    '1521.466'
    """
    t, s, p = t68_c, salinity, pressure_dbar / _DBAR_PER_KGF_CM2
    return (
        1402.392
        + _poly(t, 0.0, 5.01109398873, -0.0550946843172, 0.000221535969240)
        + _poly(s, 0.0, 1.32952290781, 0.000128955756844)
        + _poly(p, 0.0, 0.156059257041, 0.0000244998688441, -0.00000000883392332513)
        - 0.0127562783426 * t * s
        + 0.00635191613389 * t * p
        + 2.65484716608e-8 * t**2 * p**2
        - 1.59349479045e-6 * t * p**2
        + 5.22116437235e-10 * t * p**3
        - 4.38031096213e-7 * t**3 * p
        - 1.61674495909e-9 * s**2 * p**2
        + 9.68403156410e-5 * t**2 * s
        + 4.85639620015e-6 * t * s**2 * p
        - 3.40597039004e-4 * t * s * p
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class SoundSpeedEquation:
    """An equation and where it holds."""

    #: As it stands in a record.
    name: str
    #: By IPTS-68, salinity, and depth (m) or pressure (dbar).
    compute: Callable[[float, float, float], float]
    #: Whether the third value is a pressure.
    takes_pressure: bool
    #: Least and greatest. Units: °C, practical salinity, m.
    temperature_c: tuple[float, float]
    salinity: tuple[float, float]
    deepest_m: float


#: By name. Ranges of Medwin and Del Grosso are from memory.
SOUND_SPEED_EQUATIONS: Mapping[str, SoundSpeedEquation] = MappingProxyType(
    {
        row.name: row
        for row in (
            SoundSpeedEquation(
                name="Chen-Millero",
                compute=chen_millero_mps,
                takes_pressure=True,
                temperature_c=(0.0, 40.0),
                salinity=(0.0, 40.0),
                deepest_m=9700.0,
            ),
            SoundSpeedEquation(
                name="Mackenzie",
                compute=mackenzie_mps,
                takes_pressure=False,
                temperature_c=(2.0, 30.0),
                salinity=(25.0, 40.0),
                deepest_m=8000.0,
            ),
            SoundSpeedEquation(
                name="Medwin",
                compute=medwin_mps,
                takes_pressure=False,
                temperature_c=(0.0, 35.0),
                salinity=(0.0, 45.0),
                deepest_m=1000.0,
            ),
            SoundSpeedEquation(
                name="Del Grosso",
                compute=del_grosso_mps,
                takes_pressure=True,
                temperature_c=(0.0, 30.0),
                salinity=(30.0, 40.0),
                deepest_m=9600.0,
            ),
        )
    }
)


def sound_speed(
    equation: str, *, temperature_c: float, salinity: float, depth_m: float, lat_deg: float = 45.0
) -> float:
    """
    Compute the speed of sound by a named equation, within its range.

    Parameters
    ----------
    equation : str
        A key of :data:`SOUND_SPEED_EQUATIONS`.
    temperature_c : float
        On ITS-90, as instruments give it. Units: °C.
    salinity : float
        Practical salinity.
    depth_m : float
        Units: m.
    lat_deg : float
        Turns depth into pressure; hardly matters in shallow water. Units: degrees.

    Returns
    -------
    float
        Units: m/s.

    Raises
    ------
    QuantityError
        If there is no such equation or a value lies outside its range.

    Examples
    --------
    >>> f"{sound_speed('Chen-Millero', temperature_c=29.0, salinity=36.0, depth_m=10.0):.1f}"
    '1544.7'
    >>> sound_speed("Mackenzie", temperature_c=70.0, salinity=36.0, depth_m=10.0)
    Traceback (most recent call last):
    registry.errors.QuantityError: A temperature of 70.0 °C lies outside the range of Mackenzie...
    """
    if equation not in SOUND_SPEED_EQUATIONS:
        what = f"{equation!r} is no equation for the speed of sound here."
        raise QuantityError(what, remedy=f"Use one of {', '.join(SOUND_SPEED_EQUATIONS)}.")
    row = SOUND_SPEED_EQUATIONS[equation]
    _within("temperature", temperature_c, " °C", row.temperature_c, row.name)
    _within("salinity", salinity, "", row.salinity, row.name)
    _within("depth", depth_m, " m", (0.0, row.deepest_m), row.name)
    third = pressure_at_depth_dbar(depth_m, lat_deg) if row.takes_pressure else depth_m
    return row.compute(T68_PER_T90 * temperature_c, salinity, third)


def harmonic_mean_mps(
    depths_m: ArrayLike, speeds_mps: ArrayLike, *, start_m: float = 0.0, end_m: float | None = None
) -> float:
    """
    Give the mean speed of sound along a cast: the path over the time that sound needs for it.

    Definition: ``c_h = z / sum((1 / g) ln(c_i / c_(i-1)))`` with ``g`` the gradient of a layer, and
    ``dz / c`` for a layer of one speed.

    Parameters
    ----------
    depths_m : array_like
        Not decreasing; a depth given twice is a step between two layers. Units: m.
    speeds_mps : array_like
        Same length. Units: m/s.
    start_m : float
        Depth of the transducer. Units: m.
    end_m : float, optional
        Depth of the seabed; by default the end of the cast. Units: m.

    Returns
    -------
    float
        Units: m/s.

    Raises
    ------
    QuantityError
        If depths decrease, a speed is not one of sea water, or the cast leaves more than a tenth of the path
        below it unmeasured. Above its first depth the first speed is taken.

    Sources
    -------
    IHO C-13, Manual on Hydrography, chapter 3, equation 3.18. How far a cast may be carried on is this
    project's own.

    Examples
    --------
    >>> f"{harmonic_mean_mps([0, 10, 10, 20], [1540, 1540, 1510, 1510]):.3f}"
    '1524.852'
    """
    z = np.asarray(depths_m, dtype=float).ravel()
    c = np.asarray(speeds_mps, dtype=float).ravel()
    if z.size != c.size or z.size == 0 or not np.isfinite(z).all() or (z < 0).any() or (np.diff(z) < 0).any():
        what = "The depths of the cast are missing, negative or decrease."
        raise QuantityError(what, remedy="Give depth and speed in pairs, from the surface down.")
    if not ((c > SLOWEST_MPS) & (c < FASTEST_MPS)).all():
        what = f"The cast holds a speed of sound of {c[np.argmax(np.abs(c - 1500.0))]:g} m/s."
        raise QuantityError(what, remedy=f"Sea water has {SLOWEST_MPS:.0f} to {FASTEST_MPS:.0f} m/s.")
    end = float(z[-1]) if end_m is None else float(end_m)
    path = end - start_m
    if not (start_m >= 0 and path > 0):
        what = f"A path from {start_m:g} m to {end:g} m does not go down."
        raise QuantityError(what, remedy="Give the transducer's depth, and the seabed's below it.")
    if end - z[-1] > _LONGEST_CARRY * path:
        what = f"The cast ends at {z[-1]:g} m, the path of sound at {end:g} m."
        raise QuantityError(what, remedy="Give a cast that reaches the seabed.")
    z = np.concatenate(([min(start_m, z[0])], z, [max(end, z[-1])]))
    c = np.concatenate((c[:1], c, c[-1:]))
    first = int(np.searchsorted(z, start_m, side="right"))
    last = int(np.searchsorted(z, end, side="left"))
    inner = slice(first, last)
    z_path = np.concatenate(([start_m], z[inner], [end]))
    c_path = np.concatenate(([_at(start_m, z, c, first)], c[inner], [_at(end, z, c, last)]))
    ratio = c_path[1:] / c_path[:-1] - 1.0
    # ln(1 + x) / x is 1 for a layer of one speed.
    slowness = np.divide(np.log1p(ratio), ratio, out=np.ones(ratio.size), where=np.abs(ratio) > 1e-12)
    return path / math.fsum(np.diff(z_path) * slowness / c_path[:-1])


def _at(depth: float, z: np.ndarray, c: np.ndarray, place: int) -> float:
    """The speed at a depth between the levels on either side of a place."""
    upper, lower = max(place - 1, 0), min(place, z.size - 1)
    if z[lower] == z[upper]:
        return float(c[lower])
    share = (depth - z[upper]) / (z[lower] - z[upper])
    return float(c[upper] + share * (c[lower] - c[upper]))


def _poly(x: float, *coefficients: float) -> float:
    """A polynomial, lowest power first."""
    total = 0.0
    for coefficient in reversed(coefficients):
        total = total * x + coefficient
    return total


def _within(name: str, value: float, unit: str, limits: tuple[float, float], equation: str) -> None:
    least, greatest = limits
    if not least <= value <= greatest:
        what = f"A {name} of {value}{unit} lies outside the range of {equation}, {least} to {greatest}."
        raise QuantityError(what, remedy="Check its unit, or choose an equation that holds there.")
