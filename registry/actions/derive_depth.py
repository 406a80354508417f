"""From a reading of an instrument to a charted depth: the whole chain, its budget and the order it meets."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from registry.errors import InvalidRecordError
from registry.measure.depth import (
    BudgetRow,
    BudgetTerm,
    DepthStep,
    Derivation,
    budget_rows,
    chart_depth,
    echo_sounder_depth,
    gauge_depth,
    lead_line_depth,
    pressure_sensor_depth,
    reduce_to_datum,
    resolution_term,
    vertical_order_met,
)
from registry.measure.sea_pressure import metres_per_dbar
from registry.measure.sound_speed import EQUATION_U95_MPS, harmonic_mean_mps, sound_speed
from registry.measure.uncertainty import Length, combine
from registry.records.depth_reading import (
    ChartSounding,
    DepthReading,
    EchoSounding,
    GaugeReading,
    LeadLineSounding,
    PressureReading,
    SoundCast,
    SpeedOfSound,
    WaterSample,
)
from registry.records.tide_height import TideHeight

__all__ = ["USUAL_DOUBTS", "DerivedDepth", "derive_depth", "mean_sound_speed"]

#: A fixed part (m) and a share of the depth, at 95 %, where nobody stated the doubt of an instrument. All
#: common practice, no source.
USUAL_DOUBTS: Mapping[str, tuple[float, float]] = {
    "echo sounder": (0.10, 0.005),
    "diver's gauge": (0.50, 0.010),
    "lead line": (0.20, 0.010),
    "pressure sensor": (0.10, 0.001),
    "draft": (0.05, 0.0),
    "waves": (0.20, 0.0),
}
#: Sea water where nobody measured it. Common practice, no source. Units: kg/m³.
USUAL_DENSITY, USUAL_DENSITY_U95 = 1025.0, 5.0
#: Air pressure from day to day, where it is in a reading and only its usual size is known. Units: dbar.
USUAL_AIR_U95_DBAR = 0.25
#: Depth of a chart by its zone of confidence, fixed part (m) and share: IHO S-57 ed. 3.1 supplement 3.
ZONES_OF_CONFIDENCE: Mapping[str, tuple[float, float]] = {
    "A1": (0.5, 0.01),
    "A2": (1.0, 0.02),
    "B": (1.0, 0.02),
    "C": (2.0, 0.05),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class DerivedDepth:
    """A charted depth and how it came about."""

    depth: Length
    datum: str
    #: "echo sounder", "diver's gauge", "lead line", "pressure sensor" or "chart".
    kind: str
    #: "observed", "predicted" or "stated"; "in the chart" for a charted depth.
    tide_kind: str
    steps: tuple[DepthStep, ...]
    budget: tuple[BudgetRow, ...]
    #: Strictest order of IHO S-44 whose limit on depth is met, None if none.
    order: str | None
    #: What was taken because nobody stated it, and which equation was used: sentences.
    basis: tuple[str, ...]

    def as_json(self) -> dict[str, Any]:
        """Give it under plain names."""
        return {
            "depth_m": self.depth.value_m,
            "u95_m": self.depth.u95_m,
            "datum": self.datum,
            "kind": self.kind,
            "tide": self.tide_kind,
            "s44_order": self.order,
            "steps": [
                {"step": step.name, "change_m": step.change_m, "depth_m": step.depth_m, "how": step.how}
                for step in self.steps
            ],
            "budget": [{"source": row.source, "u95_m": row.u95_m, "share": row.share} for row in self.budget],
            "basis": list(self.basis),
        }


def derive_depth(
    reading: DepthReading, *, tide: TideHeight | None, datum: str, lat_deg: float
) -> DerivedDepth:
    """
    Derive a charted depth.

    Parameters
    ----------
    reading : DepthReading
        As it came off the instrument.
    tide : TideHeight or None
        At the instant of the reading, above `datum`; None for a depth off a chart, and for nothing else.
    datum : str
        To chart the depth below.
    lat_deg : float
        Of the site; for gravity. Units: degrees.

    Returns
    -------
    DerivedDepth
        Raw, instrument, draft, sound speed or density, tide, datum.

    Raises
    ------
    InvalidRecordError
        If the tide is missing, counts from another datum, or stands beside a charted depth.
    QuantityError
        If a value is out of its range.

    Examples
    --------
    A sounder set to 1500 m/s reads 20.00 m below a transducer of 0.50 m draft; the water has 1536 m/s and
    stands 0.62 m above MLLW:

    >>> from registry.records.quantity import Quantity
    >>> sounding = EchoSounding(
    ...     depth=Quantity(value=20.0, dimension="length", written="20.00 m", resolution=0.01),
    ...     counts_from="transducer", set_speed_mps=1500.0, set_draft_m=0.0, draft_m=0.5,
    ...     sound=SpeedOfSound(speed_mps=1536.0, u95_mps=2.0, method="bar check"))
    >>> tide = TideHeight(kind="stated", at=None, height_m=0.62, datum="MLLW", source="tide table",
    ...     terms=(BudgetTerm(source="tide as stated", u95_m=0.3),))
    >>> found = derive_depth(sounding, tide=tide, datum="MLLW", lat_deg=34.0)
    >>> f"{found.depth.value_m:.2f} m ± {found.depth.u95_m:.2f} m, order {found.order}"
    '20.36 m ± 0.42 m, order 1a'
    """
    basis: list[str] = []
    kind, below = _below_surface(reading, datum, lat_deg, basis)
    if isinstance(reading, ChartSounding):
        if tide is not None:
            what = f"A charted depth of {reading.depth.written!r} is below {reading.datum}: no tide is in it."
            raise InvalidRecordError(what, remedy="Leave the tide out, or say which instrument read it.")
        done = below.then("tide", 0.0, "already in the charted depth").then("datum", 0.0, f"below {datum}")
    else:
        height = _tide_of(tide, datum)
        when = f" at {height.at:%Y-%m-%d %H:%M}Z" if height.at else ""
        done = reduce_to_datum(
            below,
            tide_m=height.height_m,
            tide_how=f"{height.kind} tide{when}: {height.source}",
            tide_terms=height.terms,
            datum=datum,
        )
    depth = done.depth
    order = vertical_order_met(depth.u95_m, depth.value_m)
    return DerivedDepth(
        depth=depth,
        datum=datum,
        kind=kind,
        tide_kind=tide.kind if tide else "in the chart",
        steps=done.steps,
        budget=budget_rows(done.terms),
        order=order.name if order else None,
        basis=tuple(basis),
    )


def mean_sound_speed(
    sound: SpeedOfSound | WaterSample | SoundCast, *, start_m: float, end_m: float, lat_deg: float
) -> SpeedOfSound:
    """
    Give the mean speed of sound along a path, with its doubt and the name of its equation.

    Parameters
    ----------
    sound : SpeedOfSound, WaterSample or SoundCast
        What is known of the water.
    start_m, end_m : float
        Depth of transducer and seabed. Units: m.
    lat_deg : float
        Units: degrees.

    Raises
    ------
    QuantityError
        If the water is out of the equation's range or the cast stops short.
    """
    if isinstance(sound, SpeedOfSound):
        return sound
    if isinstance(sound, SoundCast):
        speed = harmonic_mean_mps(sound.depths_m, sound.speeds_mps, start_m=start_m, end_m=end_m)
        of = "measured speeds" if sound.equation == "measured" else sound.equation
        method = f"harmonic mean of the cast {sound.source}, {len(sound.depths_m)} levels, {of}"
        doubts = [sound.u95_mps] + ([EQUATION_U95_MPS] if sound.equation != "measured" else [])
        return SpeedOfSound(speed_mps=speed, u95_mps=float(combine(*doubts)), method=method)
    middle_m = (start_m + end_m) / 2.0

    def at(temperature_c: float, salinity: float) -> float:
        return sound_speed(
            sound.equation,
            temperature_c=temperature_c,
            salinity=salinity,
            depth_m=middle_m,
            lat_deg=lat_deg,
        )

    here = at(sound.temperature_c, sound.salinity)
    small = 0.01  # within every range, toward its middle
    slope_t = (
        at(sound.temperature_c + _inward(sound.temperature_c, 15.0, small), sound.salinity) - here
    ) / small
    slope_s = (at(sound.temperature_c, sound.salinity + _inward(sound.salinity, 33.0, small)) - here) / small
    u95 = combine(slope_t * sound.temperature_u95_c, slope_s * sound.salinity_u95, EQUATION_U95_MPS)
    method = (
        f"{sound.equation}, {sound.temperature_c:g} °C, salinity {sound.salinity:g}, one for the whole path"
    )
    return SpeedOfSound(speed_mps=here, u95_mps=float(u95), method=method)


def _inward(value: float, middle: float, step: float) -> float:
    return step if value <= middle else -step


def _below_surface(
    reading: DepthReading, datum: str, lat_deg: float, basis: list[str]
) -> tuple[str, Derivation]:
    """Give the kind of instrument and the depth before the tide."""
    if isinstance(reading, EchoSounding):
        return "echo sounder", _sounded(reading, lat_deg, basis)
    if isinstance(reading, GaugeReading):
        return "diver's gauge", _dived(reading, lat_deg, basis)
    if isinstance(reading, LeadLineSounding):
        depth_m = reading.depth.value
        terms = [
            _own("lead line", reading.instrument_u95_m, depth_m, basis),
            _own("waves", reading.waves_u95_m, depth_m, basis),
            resolution_term(reading.depth.resolution),
        ]
        return "lead line", lead_line_depth(
            depth_m,
            read_above_water_m=reading.read_above_water_m,
            stretch_share=reading.stretch_share,
            terms=terms,
        )
    if isinstance(reading, PressureReading):
        return "pressure sensor", _pressed(reading, lat_deg, basis)
    if reading.datum != datum:
        what = f"The chart counts from {reading.datum}, the depth is wanted below {datum}."
        raise InvalidRecordError(what, remedy=f"Find the height of {reading.datum} above {datum} first.")
    return "chart", chart_depth(reading.depth.value, _chart_terms(reading, basis))


def _sounded(reading: EchoSounding, lat_deg: float, basis: list[str]) -> Derivation:
    depth_m = reading.depth.value
    end_m = depth_m - reading.set_draft_m + reading.draft_m
    sound = mean_sound_speed(reading.sound, start_m=reading.draft_m, end_m=end_m, lat_deg=lat_deg)
    basis.append(f"Speed of sound {sound.speed_mps:.1f} ± {sound.u95_mps:.1f} m/s: {sound.method}.")
    draft = _own("draft", reading.draft_u95_m, depth_m, basis)
    return echo_sounder_depth(
        depth_m,
        from_waterline=reading.counts_from == "waterline",
        set_draft_m=reading.set_draft_m,
        draft_m=reading.draft_m,
        set_speed_mps=reading.set_speed_mps,
        speed_mps=sound.speed_mps,
        speed_u95_mps=sound.u95_mps,
        index_error_m=reading.index_error_m,
        draft_u95_m=draft.u95_m,
        terms=[
            _own("echo sounder", reading.instrument_u95_m, depth_m, basis),
            _own("waves", reading.waves_u95_m, depth_m, basis),
            resolution_term(reading.depth.resolution),
        ],
    )


def _dived(reading: GaugeReading, lat_deg: float, basis: list[str]) -> Derivation:
    depth_m = reading.depth.value
    density, density_u95 = reading.density_kgpm3, reading.density_u95_kgpm3
    if density is None or density_u95 is None:
        density, density_u95 = USUAL_DENSITY, USUAL_DENSITY_U95
        basis.append(
            f"No density of the water was stated: {density:.0f} ± {density_u95:.0f} kg/m³ is taken"
            " (common practice, no source)."
        )
    return gauge_depth(
        depth_m,
        setting=reading.setting,
        density_kgpm3=density,
        density_u95_kgpm3=density_u95,
        lat_deg=lat_deg,
        index_error_m=reading.index_error_m,
        terms=[
            _own("diver's gauge", reading.instrument_u95_m, depth_m, basis),
            _own("waves", reading.waves_u95_m, depth_m, basis),
            resolution_term(reading.depth.resolution),
        ],
    )


def _pressed(reading: PressureReading, lat_deg: float, basis: list[str]) -> Derivation:
    m_per_dbar = metres_per_dbar(lat_deg)
    depth_m = (reading.pressure_dbar - reading.air_dbar) * m_per_dbar
    stated_m = None if reading.sensor_u95_dbar is None else reading.sensor_u95_dbar * m_per_dbar
    air_u95_dbar = reading.air_u95_dbar
    if air_u95_dbar is None:
        air_u95_dbar = USUAL_AIR_U95_DBAR if reading.air_dbar else 0.0
        if reading.air_dbar:
            basis.append(
                f"No accuracy of the air pressure was stated: ± {air_u95_dbar:.2f} dbar is taken"
                " (common practice, no source)."
            )
    basis.append("Depth from pressure by Saunders and Fofonoff (UNESCO Technical Papers 44).")
    return pressure_sensor_depth(
        reading.pressure_dbar,
        air_dbar=reading.air_dbar,
        air_u95_dbar=air_u95_dbar,
        lat_deg=lat_deg,
        above_seabed_m=reading.above_seabed_m,
        terms=[
            _own("pressure sensor", stated_m, depth_m, basis),
            _own("waves", reading.waves_u95_m, depth_m, basis),
        ],
    )


def _chart_terms(reading: ChartSounding, basis: list[str]) -> list[BudgetTerm]:
    rounding = resolution_term(reading.depth.resolution)
    if reading.u95_m is not None:
        return [BudgetTerm(source="chart, as stated", u95_m=reading.u95_m), rounding]
    zone = reading.zone_of_confidence or ""
    fixed_m, share = ZONES_OF_CONFIDENCE[zone]
    u95_m = fixed_m + share * reading.depth.value
    basis.append(f"Zone of confidence {zone} of the chart: ± {u95_m:.1f} m.")
    return [BudgetTerm(source=f"chart, zone of confidence {zone}", u95_m=u95_m), rounding]


def _own(source: str, stated_m: float | None, depth_m: float, basis: list[str]) -> BudgetTerm:
    """Take the stated doubt of an instrument, or the usual one, and say so."""
    if stated_m is not None:
        return BudgetTerm(source=source, u95_m=stated_m)
    fixed_m, share = USUAL_DOUBTS[source]
    u95_m = fixed_m + share * depth_m
    basis.append(
        f"No accuracy was stated for {source}: ± {u95_m:.2f} m is taken (common practice, no source)."
    )
    return BudgetTerm(source=f"{source}, usual", u95_m=u95_m)


def _tide_of(tide: TideHeight | None, datum: str) -> TideHeight:
    if tide is None:
        what = f"No tide is known at the time of the reading, so nothing is known below {datum}."
        raise InvalidRecordError(what, remedy="Give the observed, the predicted or a stated tide.")
    if tide.datum != datum:
        what = f"The tide counts from {tide.datum}, the depth is wanted below {datum}."
        raise InvalidRecordError(what, remedy=f"Give the tide above {datum}.")
    return tide
