"""
From what an instrument reads to a depth below the surface and below a datum, step by step with its budget.

Every function gives a :class:`Derivation`: the steps in order, each with what it changed, and the terms of
the doubt. Steps that do not apply to an instrument stand there too, and say so: a chain with a step left out
reads like one in which it was forgotten.

Sources
-------
Reduction of a sounding: IHO C-13, Manual on Hydrography, chapter 3 (only the path below the transducer
scales with the speed of sound; ``dz = z dc / c`` is its equation 3.42). Combination of the terms:
JCGM 100:2008 (GUM), 5.1.2 (clause from memory).
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType
from typing import Literal, get_args

from registry.errors import QuantityError
from registry.measure.sea_pressure import STANDARD_GRAVITY, depth_of_pressure_m, gravity_mps2, metres_per_dbar
from registry.measure.sound_speed import FASTEST_MPS, SLOWEST_MPS
from registry.measure.survey_order import ORDERS, SurveyOrder, vertical_limit
from registry.measure.uncertainty import UNIFORM_95, Length

__all__ = [
    "GAUGE_SETTINGS",
    "PA_PER_FSW",
    "PA_PER_MSW",
    "BudgetRow",
    "BudgetTerm",
    "DepthStep",
    "Derivation",
    "GaugeSetting",
    "StepName",
    "budget_rows",
    "chart_depth",
    "echo_sounder_depth",
    "gauge_depth",
    "lead_line_depth",
    "pressure_sensor_depth",
    "reduce_to_datum",
    "resolution_term",
    "vertical_order_met",
]

StepName = Literal["raw", "instrument", "draft", "sound speed", "density", "tide", "datum"]
GaugeSetting = Literal["msw", "fsw", "fresh", "EN 13319"]

#: A metre of sea water is a tenth of a bar, by definition.
PA_PER_MSW = 10_000.0
#: A foot of sea water: 64 lb/ft³ under standard gravity (US Navy diving practice: 3064.3 Pa).
PA_PER_FSW = 64.0 * 0.45359237 / 0.3048**2 * STANDARD_GRAVITY
#: What a diver's gauge takes a displayed metre of depth for, by its setting. Units: Pa per m.
GAUGE_SETTINGS: Mapping[GaugeSetting, float] = MappingProxyType(
    {
        "msw": PA_PER_MSW,
        "fsw": PA_PER_FSW / 0.3048,
        "fresh": 1000.0 * STANDARD_GRAVITY,
        "EN 13319": PA_PER_MSW,
    }
)
#: Lightest and heaviest water that a gauge may have hung in. Units: kg/m³.
LIGHTEST_KGPM3, HEAVIEST_KGPM3 = 990.0, 1050.0
#: What the standard ocean of the pressure formula may be wrong by in warm water. Share of the depth.
STANDARD_OCEAN_SHARE = 0.005


@dataclass(frozen=True, slots=True, kw_only=True)
class BudgetTerm:
    """One source of doubt."""

    source: str
    #: At 95 %, in the depth that results. Units: m.
    u95_m: float

    def __post_init__(self) -> None:
        """Refuse what is no doubt."""
        if not (math.isfinite(self.u95_m) and self.u95_m >= 0):
            what = f"{self.source}: an uncertainty of {self.u95_m} m is not one."
            raise QuantityError(what, remedy="Give zero or more metres, at 95 %.")


@dataclass(frozen=True, slots=True, kw_only=True)
class BudgetRow:
    """One line of the budget as it is printed."""

    source: str
    #: Units: m.
    u95_m: float
    #: Of the variance, 0 to 1.
    share: float


@dataclass(frozen=True, slots=True, kw_only=True)
class DepthStep:
    """One link of the chain."""

    name: StepName
    #: Added to the depth. Units: m.
    change_m: float
    #: After this step, positive downward. Units: m.
    depth_m: float
    #: What was done, for a person.
    how: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Derivation:
    """The chain so far and the doubt so far."""

    steps: tuple[DepthStep, ...]
    terms: tuple[BudgetTerm, ...]

    @property
    def depth(self) -> Length:
        """The depth after the last step, with its 95 % doubt."""
        u95_m = math.hypot(*(term.u95_m for term in self.terms))
        return Length(self.steps[-1].depth_m, u95_m)

    def then(
        self, name: StepName, change_m: float, how: str, terms: Sequence[BudgetTerm] = ()
    ) -> "Derivation":
        """Add a step; what does not apply changes nothing."""
        depth_m = self.steps[-1].depth_m + change_m
        step = DepthStep(name=name, change_m=change_m, depth_m=depth_m, how=how)
        return Derivation(steps=(*self.steps, step), terms=(*self.terms, *terms))


def budget_rows(terms: Sequence[BudgetTerm]) -> tuple[BudgetRow, ...]:
    """
    Give the budget as it is printed: source, size and share of the variance, the greatest first.

    Examples
    --------
    >>> terms = (BudgetTerm(source="tide", u95_m=0.3), BudgetTerm(source="instrument", u95_m=0.4))
    >>> [(row.source, round(row.share, 2)) for row in budget_rows(terms)]
    [('instrument', 0.64), ('tide', 0.36)]
    """
    total = math.hypot(*(term.u95_m for term in terms))
    rows = (
        BudgetRow(source=term.source, u95_m=term.u95_m, share=(term.u95_m / total) ** 2 if total else 0.0)
        for term in terms
    )
    return tuple(sorted(rows, key=lambda row: -row.u95_m))


def resolution_term(resolution_m: float, what: str = "digits of the reading") -> BudgetTerm:
    """
    Give the doubt of a reading that was written with few digits.

    Examples
    --------
    >>> f"{resolution_term(0.3048).u95_m:.3f}"
    '0.145'
    """
    return BudgetTerm(source=what, u95_m=UNIFORM_95 * resolution_m)


def echo_sounder_depth(
    indicated_m: float,
    *,
    from_waterline: bool,
    set_draft_m: float,
    draft_m: float,
    set_speed_mps: float,
    speed_mps: float,
    speed_u95_mps: float,
    index_error_m: float = 0.0,
    draft_u95_m: float,
    terms: Sequence[BudgetTerm] = (),
) -> Derivation:
    """
    Bring the reading of an echo sounder to a depth below the surface.

    Definition: ``z = (r - e - d_set) c / c_set + d``; only the path below the transducer scales.

    Parameters
    ----------
    indicated_m : float
        As displayed, converted to metres.
    from_waterline : bool
        Whether the display counts from the waterline: the sounder then has added `set_draft_m`.
    set_draft_m : float
        Draft keyed into the sounder; 0 where the display counts from the transducer. Units: m.
    draft_m, draft_u95_m : float
        Transducer below the waterline at that moment, and its doubt. Units: m.
    set_speed_mps, speed_mps, speed_u95_mps : float
        Speed of sound set, the mean one along the path, and its doubt at 95 %. Units: m/s.
    index_error_m : float
        By how much the display reads too deep (bar check). Units: m.
    terms : sequence of BudgetTerm
        Doubt of the instrument itself, of waves and of digits.

    Returns
    -------
    Derivation
        Below the surface at that instant: raw, instrument, draft, sound speed.

    Raises
    ------
    QuantityError
        If a speed is not one of sea water, a draft negative, or nothing is left below the transducer.

    Examples
    --------
    Set to 1500 m/s, 20.00 m below a transducer of 0.50 m draft, in water of 1536 m/s:

    >>> sounding = echo_sounder_depth(20.0, from_waterline=False, set_draft_m=0.0, draft_m=0.5,
    ...     set_speed_mps=1500.0, speed_mps=1536.0, speed_u95_mps=2.0, draft_u95_m=0.05)
    >>> f"{sounding.depth.value_m:.2f}"
    '20.98'
    """
    for speed in (set_speed_mps, speed_mps):
        if not SLOWEST_MPS < speed < FASTEST_MPS:
            what = f"{speed:g} m/s is no speed of sound in sea water."
            raise QuantityError(what, remedy=f"It has {SLOWEST_MPS:.0f} to {FASTEST_MPS:.0f} m/s.")
    if min(set_draft_m, draft_m, draft_u95_m, speed_u95_mps) < 0:
        what = "A draft or an uncertainty of the sounding is negative."
        raise QuantityError(what, remedy="Give the transducer's depth below the waterline, zero or more.")
    if not from_waterline and set_draft_m:
        what = f"The display counts from the transducer, yet a draft of {set_draft_m:g} m is set."
        raise QuantityError(what, remedy="Say that it counts from the waterline, or give no set draft.")
    path_m = indicated_m - index_error_m - set_draft_m
    if path_m <= 0:
        what = f"A reading of {indicated_m:g} m leaves no water below the transducer."
        raise QuantityError(what, remedy="Check the reading and the set draft.")
    ratio = speed_mps / set_speed_mps
    origin = "the waterline" if from_waterline else "the transducer"
    draft_how = f"transducer {draft_m:.2f} m below the waterline"
    if from_waterline:
        draft_how += f", {set_draft_m:.2f} m of it set in the sounder"
    return (
        _raw(indicated_m, f"read below {origin}")
        .then("instrument", 0.0 - index_error_m, _index_how(index_error_m), terms)
        .then(
            "draft",
            draft_m - set_draft_m,
            draft_how,
            (BudgetTerm(source="draft", u95_m=draft_u95_m),),
        )
        .then(
            "sound speed",
            path_m * (ratio - 1.0),
            f"{speed_mps:.1f} m/s along {path_m:.2f} m, {set_speed_mps:.0f} m/s set",
            (BudgetTerm(source="speed of sound", u95_m=path_m * speed_u95_mps / set_speed_mps),),
        )
    )


def gauge_depth(
    indicated_m: float,
    *,
    setting: GaugeSetting,
    density_kgpm3: float,
    density_u95_kgpm3: float,
    lat_deg: float,
    index_error_m: float = 0.0,
    terms: Sequence[BudgetTerm] = (),
) -> Derivation:
    """
    Bring the reading of a diver's gauge to a depth below the surface.

    Definition: ``z = (r - e) k / (rho g)``, with ``k`` the pressure that the gauge takes for a metre.

    Parameters
    ----------
    indicated_m : float
        As displayed, a displayed foot taken as 0.3048 m. Units: m.
    setting : {"msw", "fsw", "fresh", "EN 13319"}
        How the gauge turns pressure into depth.
    density_kgpm3, density_u95_kgpm3 : float
        Mean density of the water above the diver, and its doubt at 95 %. Units: kg/m³.
    lat_deg : float
        For gravity. Units: degrees.
    index_error_m : float
        By how much the gauge reads too deep, as shown at the surface. Units: m.
    terms : sequence of BudgetTerm
        Doubt of the gauge itself, of waves and of digits.

    Raises
    ------
    QuantityError
        If there is no such setting, or no such water.

    Notes
    -----
    The depth counts from the surface at that instant: the tide is still in it.

    Examples
    --------
    30 msw in water of 1025 kg/m³ at 34 N:

    >>> dive = gauge_depth(30.0, setting="msw", density_kgpm3=1025.0, density_u95_kgpm3=3.0, lat_deg=34.0)
    >>> f"{dive.depth.value_m:.2f}"
    '29.88'
    """
    if setting not in GAUGE_SETTINGS:
        what = f"{setting!r} is no setting of a depth gauge."
        raise QuantityError(what, remedy=f"Use one of {', '.join(get_args(GaugeSetting))}.")
    if not LIGHTEST_KGPM3 <= density_kgpm3 <= HEAVIEST_KGPM3:
        what = f"{density_kgpm3:g} kg/m³ is not the density of water at sea."
        raise QuantityError(what, remedy="Give 990 to 1050 kg/m³; 1025 is usual in sea water.")
    read_m = indicated_m - index_error_m
    if read_m <= 0:
        what = f"A gauge reading of {indicated_m:g} m is no depth."
        raise QuantityError(what, remedy="Depths are positive downward; check the index error.")
    gravity = gravity_mps2(lat_deg)
    real_m = read_m * GAUGE_SETTINGS[setting] / (density_kgpm3 * gravity)
    return (
        _raw(indicated_m, f"gauge set to {setting}, below the surface at that instant")
        .then("instrument", 0.0 - index_error_m, _index_how(index_error_m), terms)
        .then("draft", 0.0, "does not apply to a gauge")
        .then(
            "density",
            real_m - read_m,
            f"{GAUGE_SETTINGS[setting]:.0f} Pa shown as a metre; {density_kgpm3:.0f} kg/m³ and"
            f" {gravity:.4f} m/s² in truth",
            (BudgetTerm(source="density of the water", u95_m=real_m * density_u95_kgpm3 / density_kgpm3),),
        )
    )


def pressure_sensor_depth(
    pressure_dbar: float,
    *,
    air_dbar: float,
    air_u95_dbar: float,
    lat_deg: float,
    above_seabed_m: float = 0.0,
    terms: Sequence[BudgetTerm] = (),
) -> Derivation:
    """
    Bring the pressure at a sensor to the depth of the seabed below the surface.

    Definition: the pressure less the air's, by Saunders and Fofonoff, plus the sensor's height above the
    seabed.

    Parameters
    ----------
    pressure_dbar : float
        As recorded. Units: dbar.
    air_dbar, air_u95_dbar : float
        Air pressure that is in it, 0 for a sensor zeroed at the surface, and its doubt. Units: dbar.
    lat_deg : float
        Units: degrees.
    above_seabed_m : float
        Of the sensor. Units: m.
    terms : sequence of BudgetTerm
        Doubt of the sensor itself, of waves and of digits. Units: m.

    Raises
    ------
    QuantityError
        If no sea pressure is left, or the sensor is below the seabed.

    Examples
    --------
    >>> fix = pressure_sensor_depth(30.1325, air_dbar=10.1325, air_u95_dbar=0.1, lat_deg=30.0)
    >>> f"{fix.depth.value_m:.4f}"
    '19.8629'
    """
    sea_dbar = pressure_dbar - air_dbar
    if sea_dbar <= 0:
        what = f"A pressure of {pressure_dbar:g} dbar less {air_dbar:g} dbar of air leaves no water."
        raise QuantityError(what, remedy="Check whether the sensor counts the air's pressure.")
    if above_seabed_m < 0:
        what = f"A sensor {above_seabed_m:g} m above the seabed would be in it."
        raise QuantityError(what, remedy="Give its height above the seabed, zero or more.")
    sensor_m = depth_of_pressure_m(sea_dbar, lat_deg)
    instrument_terms = [
        *terms,
        BudgetTerm(source="air pressure", u95_m=air_u95_dbar * metres_per_dbar(lat_deg)),
    ]
    water_term = BudgetTerm(
        source="water other than the standard ocean", u95_m=STANDARD_OCEAN_SHARE * sensor_m
    )
    return (
        _raw(sensor_m, f"{pressure_dbar:g} dbar, {air_dbar:g} dbar of it air: depth by Saunders and Fofonoff")
        .then(
            "instrument", above_seabed_m, f"sensor {above_seabed_m:.2f} m above the seabed", instrument_terms
        )
        .then("draft", 0.0, "does not apply to a pressure sensor")
        .then("density", 0.0, "standard ocean (salinity 35, 0 °C)", (water_term,))
    )


def lead_line_depth(
    indicated_m: float,
    *,
    read_above_water_m: float = 0.0,
    stretch_share: float = 0.0,
    terms: Sequence[BudgetTerm] = (),
) -> Derivation:
    """
    Bring the reading of a lead line to a depth below the surface.

    Parameters
    ----------
    indicated_m : float
        By the marks of the line. Units: m.
    read_above_water_m : float
        Height of the hand that read it above the water. Units: m.
    stretch_share : float
        By which share the wet line under its lead is longer than its marks say.
    terms : sequence of BudgetTerm
        Doubt of the line, its lean and of digits.

    Raises
    ------
    QuantityError
        If nothing is left below the water, or the stretch is out of reason.

    Examples
    --------
    >>> f"{lead_line_depth(20.0, read_above_water_m=0.8, stretch_share=0.005).depth.value_m:.2f}"
    '19.30'
    """
    if not -0.05 <= stretch_share <= 0.05:
        what = f"A lead line that stretches by {stretch_share:.0%} is none."
        raise QuantityError(what, remedy="Give the share by which it is too long, as 0.005.")
    stretch_m = indicated_m * stretch_share
    if read_above_water_m < 0 or indicated_m + stretch_m - read_above_water_m <= 0:
        what = f"A line of {indicated_m:g} m read {read_above_water_m:g} m above the water is no depth."
        raise QuantityError(what, remedy="Give the height of the hand above the water, zero or more.")
    return (
        _raw(indicated_m, "by the marks of the line")
        .then("instrument", stretch_m, f"line {stretch_share:.1%} longer than its marks", terms)
        .then("draft", -read_above_water_m, f"read {read_above_water_m:.2f} m above the water")
        .then("sound speed", 0.0, "does not apply to a lead line")
    )


def chart_depth(indicated_m: float, terms: Sequence[BudgetTerm]) -> Derivation:
    """
    Take a depth off a chart: it is below chart datum already.

    Raises
    ------
    QuantityError
        If it is no depth.

    Examples
    --------
    >>> chart_depth(20.0, [BudgetTerm(source="chart", u95_m=1.4)]).depth
    Length(value_m=20.0, u95_m=1.4)
    """
    if indicated_m <= 0:
        what = f"A charted depth of {indicated_m:g} m is dry."
        raise QuantityError(what, remedy="Depths are positive downward.")
    return (
        _raw(indicated_m, "as charted")
        .then("instrument", 0.0, "already in the charted depth", terms)
        .then("draft", 0.0, "already in the charted depth")
        .then("sound speed", 0.0, "already in the charted depth")
    )


def reduce_to_datum(
    below_surface: Derivation,
    *,
    tide_m: float,
    tide_how: str,
    tide_terms: Sequence[BudgetTerm],
    datum: str,
) -> Derivation:
    """
    Take the tide off a depth below the surface.

    Parameters
    ----------
    below_surface : Derivation
        Ending with the surface at one instant as its zero.
    tide_m : float
        Height of the water above the datum at that instant, negative below it. Units: m.
    tide_how : str
        Where the height comes from, for a person.
    tide_terms : sequence of BudgetTerm
        Its doubt.
    datum : str
        Name of the datum that the height counts from.

    Raises
    ------
    QuantityError
        If the seabed would lie above the datum.

    Examples
    --------
    >>> below = lead_line_depth(20.98)
    >>> charted = reduce_to_datum(below, tide_m=0.62, tide_how="gauge", tide_terms=(), datum="MLLW")
    >>> f"{charted.depth.value_m:.2f}", [step.name for step in charted.steps]
    ('20.36', ['raw', 'instrument', 'draft', 'sound speed', 'tide', 'datum'])
    """
    if below_surface.depth.value_m - tide_m <= 0:
        what = (
            f"A depth of {below_surface.depth.value_m:.2f} m less a tide of {tide_m:.2f} m is above {datum}."
        )
        raise QuantityError(
            what, remedy="Check the sign of the tide: positive when the water is above datum."
        )
    return below_surface.then("tide", -tide_m, tide_how, tide_terms).then("datum", 0.0, f"below {datum}")


def vertical_order_met(u95_m: float, depth_m: float) -> SurveyOrder | None:
    """
    Find the strictest order of S-44 whose limit on depth is met, or None.

    Parameters
    ----------
    u95_m : float
        Total vertical uncertainty at 95 %. Units: m.
    depth_m : float
        Units: m.

    Notes
    -----
    The depth alone earns no order: position, coverage and the search for features must meet it as well.

    Sources
    -------
    IHO S-44, edition 6.1.0, table 1.

    Examples
    --------
    >>> [vertical_order_met(u95_m, 20.0).name for u95_m in (0.21, 0.29, 0.56, 1.10)]
    ['Exclusive', 'Special', '1a', '2']
    >>> vertical_order_met(1.2, 20.0) is None
    True
    """
    return next((row for row in ORDERS.values() if u95_m <= vertical_limit(depth_m, row.name)), None)


def _raw(depth_m: float, how: str) -> Derivation:
    if not (math.isfinite(depth_m) and 0 < depth_m < 11_000.0):
        what = f"A reading of {depth_m} m is no depth."
        raise QuantityError(what, remedy="Depths are positive downward; check the unit.")
    return Derivation(steps=(DepthStep(name="raw", change_m=0.0, depth_m=depth_m, how=how),), terms=())


def _index_how(index_error_m: float) -> str:
    return f"reads {index_error_m:+.2f} m too deep" if index_error_m else "no index error stated"
