"""
Height of the tide above a datum: predicted from harmonic constants, or read off a gauge.

Times are numpy ``datetime64`` in UTC throughout. A prediction knows nothing of weather: wind and air pressure
raise and lower the water by amounts that it leaves out.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from registry.errors import InvalidRecordError, QuantityError, TimeTextError
from registry.measure.tidal_arguments import (
    CONSTITUENTS,
    equilibrium_argument_deg,
    lunar_node,
    mean_longitudes,
    middle_of_year,
    node_correction,
    speed_deg_per_h,
)

__all__ = [
    "LONGEST_GAP_MIN",
    "HarmonicConstant",
    "InterpolatedHeight",
    "TideTerm",
    "TurningPoint",
    "interpolate_height",
    "predict_heights",
    "tide_terms",
    "turning_points",
    "utc_datetime64",
]

Floats = NDArray[np.float64]
Times = NDArray[np.datetime64]

#: Readings of a gauge that lie further apart than this are not joined. Units: minutes.
LONGEST_GAP_MIN = 60.0
#: How far a semidiurnal wave bulges over a chord of one hour at its top: w² h² / 16 of its range, rounded up.
_SAGITTA = 0.02
_HOUR = np.timedelta64(3_600_000_000, "us")
#: Grid on which turning points are first looked for; the shortest constituent, S6 or M8, turns in 1.5 h.
_STEP_MIN = 6


@dataclass(frozen=True, slots=True, kw_only=True)
class HarmonicConstant:
    """Amplitude and phase of one constituent at one place."""

    #: In capitals, as a key of :data:`registry.measure.tidal_arguments.CONSTITUENTS`.
    name: str
    #: Units: m.
    amplitude_m: float
    #: Lag behind the constituent's argument at Greenwich. Units: degrees.
    phase_deg: float

    def __post_init__(self) -> None:
        """Refuse what is no constant."""
        if self.name not in CONSTITUENTS:
            known = ", ".join(CONSTITUENTS)
            what = f"The tidal constituent {self.name!r} is not known here."
            raise InvalidRecordError(what, remedy=f"Known: {known}.")
        if not (math.isfinite(self.amplitude_m) and 0 <= self.amplitude_m <= 10):
            what = f"{self.name} has an amplitude of {self.amplitude_m} m."
            raise InvalidRecordError(what, remedy="Give zero to 10 m; check the unit of the file.")
        if not (math.isfinite(self.phase_deg) and -360 <= self.phase_deg <= 360):
            what = f"{self.name} has a phase of {self.phase_deg}°."
            raise InvalidRecordError(what, remedy="Give the Greenwich phase in degrees, 0 to 360.")


@dataclass(frozen=True, slots=True, kw_only=True)
class TideTerm:
    """What one constituent adds at one instant, written out for a hand check."""

    name: str
    #: Equilibrium argument with the node's angle at the start of the year. Units: degrees.
    v0_plus_u_deg: float
    node_factor: float
    #: Argument of the cosine. Units: degrees, 0 to 360.
    argument_deg: float
    #: Units: m.
    height_m: float


@dataclass(frozen=True, slots=True, kw_only=True)
class TurningPoint:
    """A high or a low water."""

    kind: Literal["high", "low"]
    #: UTC, to the minute.
    at: datetime
    #: Above the datum of the prediction. Units: m.
    height_m: float


@dataclass(frozen=True, slots=True, kw_only=True)
class InterpolatedHeight:
    """The height between readings of a gauge."""

    #: Units: m.
    height_m: float
    #: Doubt of the interpolation alone, at 95 %. Units: m.
    u95_m: float
    #: How far apart the readings around it lie; 0 at a reading. Units: minutes.
    gap_min: float


def utc_datetime64(at: datetime) -> np.datetime64:
    """
    Give an instant as numpy keeps it.

    Raises
    ------
    TimeTextError
        If it has no zone.

    Examples
    --------
    >>> utc_datetime64(datetime.fromisoformat("2026-02-13T10:06-05:00"))
    np.datetime64('2026-02-13T15:06:00.000000')
    """
    if at.tzinfo is None:
        what = f"The instant {at.isoformat()} has no zone."
        raise TimeTextError(what, remedy="Give it with Z for UTC or with its offset.")
    return np.datetime64(at.astimezone(UTC).replace(tzinfo=None), "us")


def predict_heights(times: Times, constants: Sequence[HarmonicConstant], z0_m: float) -> Floats:
    """
    Predict the height of the tide.

    Definition: ``h(t) = Z0 + sum f A cos(a t + (V0 + u) - G)``, with ``t`` in hours from the start of the
    year in UTC, ``V0`` at that start, ``f`` and ``u`` in the middle of the year.

    Parameters
    ----------
    times : numpy.ndarray
        UTC, any shape.
    constants : sequence of HarmonicConstant
        Derived with node factors by Schureman; those by another school must not be given here.
    z0_m : float
        Height of mean sea level above the datum wanted. Units: m.

    Returns
    -------
    numpy.ndarray
        Above the datum, without weather. Same shape. Units: m.

    Raises
    ------
    QuantityError
        If there is no constant.

    Notes
    -----
    At the turn of the year ``f`` and ``u`` step, by millimetres: published tables do the same.

    Sources
    -------
    Schureman, Special Publication 98, paragraph 5 and table 14 (convention read second-hand).

    Examples
    --------
    >>> m2 = HarmonicConstant(name="M2", amplitude_m=1.61, phase_deg=181.3)
    >>> f"{predict_heights(np.array(['2026-02-13T15:06'], 'M8[us]'), [m2], 0.0)[0]:.4f}"
    '1.5498'
    """
    _some(constants)
    instants = np.asarray(times).astype("datetime64[us]")
    heights = np.full(instants.shape, float(z0_m))
    years = instants.astype("datetime64[Y]").astype(int) + 1970
    for year in np.unique(years):
        of_year = years == year
        hours = _hours(instants[of_year], int(year))
        total = np.zeros(hours.shape)
        for constant, speed, f, start in _year_rows(constants, int(year)):
            argument = np.radians(speed * hours + start - constant.phase_deg)
            total += f * constant.amplitude_m * np.cos(argument)
        heights[of_year] += total
    return heights


def tide_terms(at: datetime, constants: Sequence[HarmonicConstant]) -> tuple[TideTerm, ...]:
    """
    Write out every constituent of a prediction, so that a person can check it by hand.

    Examples
    --------
    >>> k1 = HarmonicConstant(name="K1", amplitude_m=1.20, phase_deg=219.6)
    >>> term, = tide_terms(datetime(2026, 2, 13, 15, 6, tzinfo=UTC), [k1])
    >>> f"{term.v0_plus_u_deg:.2f} {term.node_factor:.4f} {term.argument_deg:.1f} {term.height_m:.4f}"
    '14.26 1.1031 64.2 0.5769'
    """
    instant = np.array([utc_datetime64(at)])
    year = at.astimezone(UTC).year
    hours = float(_hours(instant, year)[0])
    terms = []
    for constant, speed, f, start in _year_rows(constants, year):
        argument = (speed * hours + start - constant.phase_deg) % 360.0
        terms.append(
            TideTerm(
                name=constant.name,
                v0_plus_u_deg=start % 360.0,
                node_factor=f,
                argument_deg=argument,
                height_m=f * constant.amplitude_m * math.cos(math.radians(argument)),
            )
        )
    return tuple(terms)


def turning_points(
    start: datetime, end: datetime, constants: Sequence[HarmonicConstant], z0_m: float
) -> tuple[TurningPoint, ...]:
    """
    Find the high and low waters from one instant up to another.

    Parameters
    ----------
    start, end : datetime
        With their zones; the start belongs to the span, the end does not.
    constants, z0_m
        As in :func:`predict_heights`.

    Returns
    -------
    tuple of TurningPoint
        In order of time, each to the nearest minute.

    Raises
    ------
    TimeTextError
        If an instant has no zone.

    Notes
    -----
    Every minute of a span is tried around the turns that a coarser grid shows, so that none is missed where a
    stand of the tide makes two turns an hour apart.
    """
    first, last = utc_datetime64(start), utc_datetime64(end)
    step = np.timedelta64(_STEP_MIN, "m")
    grid = np.arange(first - step, last + 2 * step, step)
    heights = predict_heights(grid, constants, z0_m)
    rises = np.diff(heights) > 0
    minute = np.timedelta64(1, "m")
    found = []
    for place in np.flatnonzero(rises[1:] != rises[:-1]) + 1:
        kind: Literal["high", "low"] = "high" if rises[place - 1] else "low"
        near = np.arange(grid[place - 1].astype("datetime64[m]"), grid[place + 1] + minute, minute)
        fine = predict_heights(near, constants, z0_m)
        best = int(np.argmax(fine) if kind == "high" else np.argmin(fine))
        if first <= near[best] < last:
            at = near[best].astype("datetime64[us]").item().replace(tzinfo=UTC)
            found.append(TurningPoint(kind=kind, at=at, height_m=float(fine[best])))
    return tuple(found)


def interpolate_height(times: Times, heights_m: Floats, at: datetime) -> InterpolatedHeight:
    """
    Read the height off a gauge between its readings.

    Definition: the cubic through the two readings on either side, where those lie close enough together, else
    the straight line; the doubt is the difference between the two. Without a cubic it is a quarter of the
    step, and what a semidiurnal wave of the readings' range bulges over their gap.

    Parameters
    ----------
    times : numpy.ndarray
        UTC, strictly increasing.
    heights_m : numpy.ndarray
        Same length. Units: m.
    at : datetime
        With its zone.

    Raises
    ------
    TimeTextError
        If the instant lies outside the readings, or between two that are more than an hour apart.

    Examples
    --------
    >>> times = np.array(["2026-02-13T15:00", "2026-02-13T15:06"], "M8[us]")
    >>> when = datetime(2026, 2, 13, 15, 3, tzinfo=UTC)
    >>> found = interpolate_height(times, np.array([1.60, 1.62]), when)
    >>> f"{found.height_m:.3f} {found.u95_m:.3f}"
    '1.610 0.005'
    """
    instant = utc_datetime64(at)
    place = int(np.searchsorted(times, instant))
    if place < len(times) and times[place] == instant:
        return InterpolatedHeight(height_m=float(heights_m[place]), u95_m=0.0, gap_min=0.0)
    if place in (0, len(times)):
        span = f"{times[0].astype('M8[m]')}Z to {times[-1].astype('M8[m]')}Z" if len(times) else "no time"
        what = f"{at:%Y-%m-%d %H:%M %Z} lies outside the readings of the gauge, which cover {span}."
        raise TimeTextError(what, remedy="Fetch the readings of that day, or predict the tide.")
    minutes = (times - instant) / np.timedelta64(60_000_000, "us")
    gap = float(minutes[place] - minutes[place - 1])
    if gap > LONGEST_GAP_MIN:
        what = (
            f"{at:%Y-%m-%d %H:%M %Z} falls into a gap of {gap:.0f} min in the readings of the gauge; "
            f"{LONGEST_GAP_MIN:.0f} min is the most that is bridged."
        )
        raise TimeTextError(what, remedy="Fetch the missing readings, or predict the tide and say so.")
    lower, upper = place - 1, place
    line = float(np.interp(0.0, minutes[lower : upper + 1], heights_m[lower : upper + 1]))
    around = slice(lower - 1, upper + 2)
    near = minutes[around] if lower >= 1 and upper + 1 < len(times) else minutes[:0]
    if len(near) < 4 or float(np.diff(near).max()) > LONGEST_GAP_MIN:
        doubt = abs(float(heights_m[upper] - heights_m[lower])) / 4.0
        doubt += _SAGITTA * float(np.ptp(heights_m)) * (gap / 60.0) ** 2
        return InterpolatedHeight(height_m=line, u95_m=doubt, gap_min=gap)
    curve = _lagrange_at_zero(near, heights_m[around])
    return InterpolatedHeight(height_m=curve, u95_m=abs(curve - line), gap_min=gap)


def _lagrange_at_zero(x: Floats, y: Floats) -> float:
    """The polynomial through the points, at zero."""
    total = 0.0
    for k in range(len(x)):
        others = np.delete(x, k)
        total += float(y[k] * np.prod(-others / (x[k] - others)))
    return total


def _hours(instants: Times, year: int) -> Floats:
    """Hours since the start of a year."""
    return np.asarray((instants - np.datetime64(f"{year:04d}-01-01T00:00", "us")) / _HOUR, dtype=float)


def _year_rows(
    constants: Sequence[HarmonicConstant], year: int
) -> list[tuple[HarmonicConstant, float, float, float]]:
    """Each constant with its speed, node factor and V0 + u for one year."""
    node = lunar_node(mean_longitudes(middle_of_year(year)))
    start = datetime(year, 1, 1)  # noqa: DTZ001
    rows = []
    for constant in constants:
        f, u = node_correction(constant.name, node)
        rows.append(
            (
                constant,
                speed_deg_per_h(constant.name),
                f,
                equilibrium_argument_deg(constant.name, start) + u,
            )
        )
    return rows


def _some(constants: Sequence[HarmonicConstant]) -> None:
    if not constants:
        what = "There is no tidal constituent to predict from."
        raise QuantityError(what, remedy="Give the published amplitudes and phases of the station.")
