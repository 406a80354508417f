"""
Tidal constituents as rows of data: what each argument is made of, and how the moon's node alters it.

Sources
-------
P. Schureman, Manual of Harmonic Analysis and Prediction of Tides, US Coast and Geodetic Survey Special
Publication 98 (1940, 1958 reprint): mean longitudes of table 1, arguments and speeds of table 2, formulas 65
to 235 of node factors. Longitudes, arguments and the formulas of L2, M1, J1, OO1 and M3 are from memory; they
are proved in the tests by the published speeds, by table 6 and by the published yearly values.
"""

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from types import MappingProxyType

from registry.errors import QuantityError

__all__ = [
    "CONSTITUENTS",
    "Constituent",
    "LunarNode",
    "MeanLongitudes",
    "equilibrium_argument_deg",
    "lunar_node",
    "mean_longitudes",
    "middle_of_year",
    "node_correction",
    "speed_deg_per_h",
]

#: Greenwich mean noon of 31 December 1899.
_EPOCH = datetime(1899, 12, 31, 12)  # noqa: DTZ001  UTC throughout, by name
_HOURS_PER_CENTURY = 36525.0 * 24.0
_REVOLUTION_S = 1_296_000.0
#: Obliquity of the ecliptic on 1 January 1900, and inclination of the moon's orbit to it. Units: degrees.
_OMEGA_DEG, _INCLINATION_DEG = 23.452, 5.145
#: Rate of the hour angle of the mean sun. Units: degrees per hour.
_SUN_RATE = 15.0


@dataclass(frozen=True, slots=True, kw_only=True)
class MeanLongitudes:
    """Where moon and sun stand on the average. Units: degrees, not reduced to one turn."""

    #: Of the moon.
    s: float
    #: Of the sun.
    h: float
    #: Of the moon's perigee.
    p: float
    #: Of the sun's perigee.
    p1: float
    #: Of the moon's ascending node.
    n: float


@dataclass(frozen=True, slots=True, kw_only=True)
class LunarNode:
    """What follows from the longitude of the moon's node. Units: degrees."""

    #: Obliquity of the moon's orbit to the equator.
    i: float
    nu: float
    xi: float
    nu_prime: float
    two_nu_second: float
    #: Longitude of the moon's perigee reckoned from the lunar intersection.
    perigee: float


#: Seconds of arc: constant, then for one, two and three powers of a century.
_LONGITUDES: Mapping[str, tuple[float, float, float, float]] = MappingProxyType(
    {
        "s": (270 * 3600 + 26 * 60 + 14.72, 1336 * _REVOLUTION_S + 1_108_411.20, 9.09, 0.0068),
        "h": (279 * 3600 + 41 * 60 + 48.04, 129_602_768.13, 1.089, 0.0),
        "p": (334 * 3600 + 19 * 60 + 40.87, 11 * _REVOLUTION_S + 392_515.94, -37.24, -0.045),
        "p1": (281 * 3600 + 13 * 60 + 15.0, 6_189.03, 1.63, 0.012),
        "n": (259 * 3600 + 10 * 60 + 57.12, -(5 * _REVOLUTION_S + 482_912.63), 7.58, 0.008),
    }
)


def mean_longitudes(at: datetime) -> MeanLongitudes:
    """
    Give the mean longitudes of moon, sun, their perigees and the node.

    Parameters
    ----------
    at : datetime
        In UTC, without a zone in it.

    Examples
    --------
    >>> f"{mean_longitudes(datetime(2026, 7, 2, 12)).n % 360:.2f}"
    '332.50'
    """
    t = (at - _EPOCH) / timedelta(hours=_HOURS_PER_CENTURY)
    return MeanLongitudes(
        **{name: (a + t * (b + t * (c + t * d))) / 3600.0 for name, (a, b, c, d) in _LONGITUDES.items()}
    )


def middle_of_year(year: int) -> datetime:
    """
    Give the instant for which the node factors of a year are taken.

    Examples
    --------
    >>> middle_of_year(2026), middle_of_year(2024)
    (datetime.datetime(2026, 7, 2, 12, 0), datetime.datetime(2024, 7, 2, 0, 0))
    """
    start = datetime(year, 1, 1)  # noqa: DTZ001
    return start + (datetime(year + 1, 1, 1) - start) / 2  # noqa: DTZ001


def lunar_node(longitudes: MeanLongitudes) -> LunarNode:
    """
    Find the obliquity of the moon's orbit and the angles that follow from it.

    Examples
    --------
    Schureman, table 6, N = 45:

    >>> node = lunar_node(MeanLongitudes(s=0, h=0, p=0, p1=0, n=45))
    >>> f"{node.i:.2f} {node.nu:.2f} {node.xi:.2f} {node.nu_prime:.2f}"
    '27.32 7.94 7.18 5.63'
    """
    n = math.radians((longitudes.n + 180.0) % 360.0 - 180.0)
    omega, tilt = math.radians(_OMEGA_DEG), math.radians(_INCLINATION_DEG)
    i = math.acos(math.cos(tilt) * math.cos(omega) - math.sin(tilt) * math.sin(omega) * math.cos(n))
    half = math.tan(n / 2.0)
    first = math.atan(math.cos((omega - tilt) / 2) / math.cos((omega + tilt) / 2) * half)
    second = math.atan(math.sin((omega - tilt) / 2) / math.sin((omega + tilt) / 2) * half)
    nu, xi = first - second, n - first - second
    sin_2i, sin2_i = math.sin(2 * i), math.sin(i) ** 2
    nu_prime = math.atan2(sin_2i * math.sin(nu), sin_2i * math.cos(nu) + 0.3347)
    two_nu_second = math.atan2(sin2_i * math.sin(2 * nu), sin2_i * math.cos(2 * nu) + 0.0727)
    return LunarNode(
        i=math.degrees(i),
        nu=math.degrees(nu),
        xi=math.degrees(xi),
        nu_prime=math.degrees(nu_prime),
        two_nu_second=math.degrees(two_nu_second),
        perigee=longitudes.p - math.degrees(xi),
    )


#: A node factor and its angle in degrees.
Correction = tuple[float, float]
Node = Callable[[LunarNode], Correction]


def _i(node: LunarNode) -> float:
    return math.radians(node.i)


def _none(node: LunarNode) -> Correction:
    del node
    return 1.0, 0.0


def _mm(node: LunarNode) -> Correction:
    """Formula 73."""
    return (2.0 / 3.0 - math.sin(_i(node)) ** 2) / 0.5021, 0.0


def _mf(node: LunarNode) -> Correction:
    """Formula 74."""
    return math.sin(_i(node)) ** 2 / 0.1578, -2.0 * node.xi


def _o1(node: LunarNode) -> Correction:
    """Formula 75."""
    return math.sin(_i(node)) * math.cos(_i(node) / 2) ** 2 / 0.3800, 2.0 * node.xi - node.nu


def _j1(node: LunarNode) -> Correction:
    """Formula 76."""
    return math.sin(2 * _i(node)) / 0.7214, -node.nu


def _oo1(node: LunarNode) -> Correction:
    """Formula 77."""
    return math.sin(_i(node)) * math.sin(_i(node) / 2) ** 2 / 0.0164, -2.0 * node.xi - node.nu


def _m2(node: LunarNode) -> Correction:
    """Formula 78."""
    return math.cos(_i(node) / 2) ** 4 / 0.9154, 2.0 * node.xi - 2.0 * node.nu


def _m3(node: LunarNode) -> Correction:
    """Formula 149."""
    return math.cos(_i(node) / 2) ** 6 / 0.8758, 3.0 * node.xi - 3.0 * node.nu


def _m1(node: LunarNode) -> Correction:
    """Formulas 197, 203 and 206: the two parts of M1 go with the moon's perigee."""
    p = math.radians(node.perigee)
    size = math.sqrt(2.310 + 1.435 * math.cos(2 * p))
    # The quadrant of Q is that of P.
    q = math.atan2(0.483 * math.sin(p), math.cos(p))
    return _o1(node)[0] * size, node.xi - node.nu + math.degrees(q)


def _l2(node: LunarNode) -> Correction:
    """Formulas 213 to 215: the two parts of L2 go with the moon's perigee."""
    two_p = 2.0 * math.radians(node.perigee)
    tan2 = math.tan(_i(node) / 2) ** 2
    size = math.sqrt(1.0 - 12.0 * tan2 * math.cos(two_p) + 36.0 * tan2**2)
    r = math.atan2(math.sin(two_p), 1.0 / (6.0 * tan2) - math.cos(two_p))
    f, u = _m2(node)
    return f * size, u - math.degrees(r)


def _k1(node: LunarNode) -> Correction:
    """Formula 227."""
    sin_2i, nu = math.sin(2 * _i(node)), math.radians(node.nu)
    return math.sqrt(0.8965 * sin_2i**2 + 0.6001 * sin_2i * math.cos(nu) + 0.1006), -node.nu_prime


def _k2(node: LunarNode) -> Correction:
    """Formula 235."""
    sin2, nu = math.sin(_i(node)) ** 2, math.radians(node.nu)
    return math.sqrt(19.0444 * sin2**2 + 2.7702 * sin2 * math.cos(2 * nu) + 0.0981), -node.two_nu_second


@dataclass(frozen=True, slots=True, kw_only=True)
class Constituent:
    """One constituent: a simple one by its argument, a compound one by those that it is made of."""

    name: str
    #: Multiples of T (hour angle of the mean sun), s, h, p and p1.
    multiples: tuple[int, int, int, int, int] = (0, 0, 0, 0, 0)
    #: Units: degrees.
    constant_deg: float = 0.0
    node: Node = _none
    #: Turns of p that the node's angle makes by itself on the average: in the speed, but not in the argument.
    perigee_in_speed: int = 0
    #: Constituents and how many times each is in it.
    parts: tuple[tuple[str, int], ...] = ()
    #: Other spellings in published lists.
    also: tuple[str, ...] = ()


_ROWS = (
    # Sa goes with h, as its published speed tells: with h - p1 it would be 0.0410667.
    Constituent(name="SA", multiples=(0, 0, 1, 0, 0)),
    Constituent(name="SSA", multiples=(0, 0, 2, 0, 0)),
    Constituent(name="MM", multiples=(0, 1, 0, -1, 0), node=_mm),
    Constituent(name="MSF", parts=(("S2", 1), ("M2", -1))),
    Constituent(name="MF", multiples=(0, 2, 0, 0, 0), node=_mf),
    Constituent(name="2Q1", multiples=(1, -4, 1, 2, 0), constant_deg=90, node=_o1),
    Constituent(name="Q1", multiples=(1, -3, 1, 1, 0), constant_deg=90, node=_o1),
    Constituent(name="RHO", multiples=(1, -3, 3, -1, 0), constant_deg=90, node=_o1, also=("RHO1",)),
    Constituent(name="O1", multiples=(1, -2, 1, 0, 0), constant_deg=90, node=_o1),
    # Q of the middle of the year beside V of its start puts M1 some 20 degrees ahead of the moon; the yearly
    # tables in use do so, and constants that were derived by them need the same here.
    Constituent(name="M1", multiples=(1, -1, 1, 0, 0), constant_deg=-90, node=_m1, perigee_in_speed=1),
    Constituent(name="P1", multiples=(1, 0, -1, 0, 0), constant_deg=90),
    Constituent(name="S1", multiples=(1, 0, 0, 0, 0)),
    Constituent(name="K1", multiples=(1, 0, 1, 0, 0), constant_deg=-90, node=_k1),
    Constituent(name="J1", multiples=(1, 1, 1, -1, 0), constant_deg=-90, node=_j1),
    Constituent(name="OO1", multiples=(1, 2, 1, 0, 0), constant_deg=-90, node=_oo1),
    Constituent(name="2N2", multiples=(2, -4, 2, 2, 0), node=_m2),
    Constituent(name="MU2", multiples=(2, -4, 4, 0, 0), node=_m2),
    Constituent(name="N2", multiples=(2, -3, 2, 1, 0), node=_m2),
    Constituent(name="NU2", multiples=(2, -3, 4, -1, 0), node=_m2),
    Constituent(name="M2", multiples=(2, -2, 2, 0, 0), node=_m2),
    Constituent(
        name="LAM2", multiples=(2, -1, 0, 1, 0), constant_deg=180, node=_m2, also=("LDA2", "LAMBDA2")
    ),
    Constituent(name="L2", multiples=(2, -1, 2, -1, 0), constant_deg=180, node=_l2),
    Constituent(name="T2", multiples=(2, 0, -1, 0, 1)),
    Constituent(name="S2", multiples=(2, 0, 0, 0, 0)),
    Constituent(name="R2", multiples=(2, 0, 1, 0, -1), constant_deg=180),
    Constituent(name="K2", multiples=(2, 0, 2, 0, 0), node=_k2),
    Constituent(name="2SM2", parts=(("S2", 2), ("M2", -1))),
    Constituent(name="2MK3", parts=(("M2", 2), ("K1", -1))),
    Constituent(name="M3", multiples=(3, -3, 3, 0, 0), node=_m3),
    Constituent(name="MK3", parts=(("M2", 1), ("K1", 1))),
    Constituent(name="MN4", parts=(("M2", 1), ("N2", 1))),
    Constituent(name="M4", parts=(("M2", 2),)),
    Constituent(name="MS4", parts=(("M2", 1), ("S2", 1))),
    Constituent(name="S4", parts=(("S2", 2),)),
    Constituent(name="M6", parts=(("M2", 3),)),
    Constituent(name="S6", parts=(("S2", 3),)),
    Constituent(name="M8", parts=(("M2", 4),)),
)

#: By name and by every other spelling, in capitals.
CONSTITUENTS: Mapping[str, Constituent] = MappingProxyType(
    {spelling: row for row in _ROWS for spelling in (row.name, *row.also)}
)


def speed_deg_per_h(name: str) -> float:
    """
    Give the speed of a constituent.

    Raises
    ------
    QuantityError
        If there is no such constituent.

    Examples
    --------
    >>> f"{speed_deg_per_h('M2'):.7f} {speed_deg_per_h('SA'):.7f}"
    '28.9841042 0.0410686'
    """
    row = _constituent(name)
    if row.parts:
        return sum(times * speed_deg_per_h(part) for part, times in row.parts)
    rates = (_SUN_RATE, *(_LONGITUDES[key][1] / 3600.0 / _HOURS_PER_CENTURY for key in ("s", "h", "p", "p1")))
    return row.perigee_in_speed * rates[3] + sum(m * r for m, r in zip(row.multiples, rates, strict=True))


def equilibrium_argument_deg(name: str, at: datetime) -> float:
    """
    Give the argument V of a constituent at Greenwich, without the node's part.

    Parameters
    ----------
    name : str
        In capitals.
    at : datetime
        In UTC, without a zone in it.

    Raises
    ------
    QuantityError
        If there is no such constituent.

    Examples
    --------
    >>> f"{equilibrium_argument_deg('K1', datetime(2026, 1, 1)):.2f}"
    '10.67'
    """
    row = _constituent(name)
    if row.parts:
        return sum(times * equilibrium_argument_deg(part, at) for part, times in row.parts) % 360.0
    mean = mean_longitudes(at)
    # The hour angle of the mean sun is half a turn at midnight.
    hour_angle = 180.0 + _SUN_RATE * (at.hour + (at.minute + at.second / 60.0) / 60.0)
    angles = (hour_angle, mean.s, mean.h, mean.p, mean.p1)
    return (sum(m * a for m, a in zip(row.multiples, angles, strict=True)) + row.constant_deg) % 360.0


def node_correction(name: str, node: LunarNode) -> tuple[float, float]:
    """
    Give the factor f and the angle u by which the moon's node alters a constituent.

    Definition: of a compound, ``f`` is the product of its parts' factors and ``u`` the sum of their angles.

    Returns
    -------
    tuple of float
        Factor, and angle in degrees.

    Raises
    ------
    QuantityError
        If there is no such constituent.

    Examples
    --------
    >>> node = lunar_node(mean_longitudes(middle_of_year(2026)))
    >>> f"{node_correction('M2', node)[0]:.4f} {node_correction('S2', node)[0]:.4f}"
    '0.9674 1.0000'
    """
    row = _constituent(name)
    if not row.parts:
        return row.node(node)
    f, u = 1.0, 0.0
    for part, times in row.parts:
        factor, angle = node_correction(part, node)
        f *= factor ** abs(times)
        u += times * angle
    return f, u


def _constituent(name: str) -> Constituent:
    if name not in CONSTITUENTS:
        what = f"The tidal constituent {name!r} is not known here."
        raise QuantityError(what, remedy=f"Known: {', '.join(row.name for row in _ROWS)}.")
    return CONSTITUENTS[name]
