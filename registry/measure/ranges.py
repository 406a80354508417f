"""
Where one stands at measured ranges from known marks.

Two circles meet in two points, and so do any number whose marks lie in one line: both answers are given.

Sources
-------
Least squares of ranges: any textbook of adjustment, as Mikhail and Ackermann, *Observations and Least
Squares* (from memory).
"""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from registry.errors import GeometryError, QuantityError
from registry.measure.budget import Term
from registry.measure.geodesic import SitePlane, centre_of, inverse
from registry.measure.offsets import Displacement
from registry.measure.uncertainty import U95_FACTOR

__all__ = ["RangeFix", "fixes_from_ranges"]

Floats = NDArray[np.float64]

#: Below this angle of cut two lines of position are not used. Units: degrees. Common practice, no source.
LEAST_CUT_DEG = 15.0
#: Sums of squares of two answers nearer than this cannot be told apart: chi-square, 2 degrees, 99 %.
_TOLD_APART = 9.21
_SAME_ANSWER_M = 0.01


@dataclass(frozen=True, slots=True, kw_only=True)
class RangeFix:
    """A point at measured distances from known marks."""

    #: Units: degrees.
    lon_deg: float
    lat_deg: float
    #: Measured minus computed, one for each mark. Units: m.
    residuals_m: tuple[float, ...]
    #: True if the residuals are no larger than the ranges' doubt explains (95 %); two ranges cannot tell.
    consistent: bool
    #: Best angle at which two of the circles cut. Units: degrees.
    cut_deg: float
    term: Term


def fixes_from_ranges(
    lon_deg: ArrayLike, lat_deg: ArrayLike, range_m: ArrayLike, range_u95_m: ArrayLike
) -> list[RangeFix]:
    """
    Find where one stands at horizontal ranges from known marks, by least squares along geodesics.

    Parameters
    ----------
    lon_deg, lat_deg : array_like
        Two or more marks. Units: degrees.
    range_m, range_u95_m : array_like
        Units: m.

    Returns
    -------
    list of RangeFix
        Every answer that the ranges do not rule out, the best first: two for two marks, or for marks in one
        line. Where there are two, something else has to tell which.

    Raises
    ------
    GeometryError
        If circles do not meet, or all cut at less than 15 degrees.
    QuantityError
        If there are fewer than two ranges, or a number is none.

    Notes
    -----
    Residuals beyond what the ranges' doubt explains widen the covariance by their own ratio.

    Examples
    --------
    >>> from registry.measure.geodesic import direct
    >>> lon, lat = direct(-77.0, 34.0, [270.0, 0.0], [30.0, 40.0])
    >>> found = fixes_from_ranges(lon, lat, [30.0, 40.0], [0.2, 0.2])
    >>> [f"{abs(fix.lat_deg - 34.0) < 1e-9}" for fix in found]
    ['True', 'False']
    """
    ranges, doubts = np.asarray(range_m, dtype=float), np.asarray(range_u95_m, dtype=float)
    if len(ranges) < 2 or not (np.isfinite(ranges).all() and (ranges > 0).all() and (doubts > 0).all()):
        what = f"{len(ranges)} ranges ({', '.join(f'{r:g}' for r in ranges)} m) give no position."
        raise QuantityError(what, remedy="Give two or more ranges above zero, each with its uncertainty.")
    marks = np.asarray(lon_deg, dtype=float), np.asarray(lat_deg, dtype=float)
    sigmas = doubts / U95_FACTOR
    answers: list[RangeFix] = []
    squares: list[float] = []
    for start in _starts(*marks, ranges):
        found = _refined(start, marks, ranges, sigmas)
        if found is None:
            continue
        here = found.lon_deg, found.lat_deg
        if not any(float(inverse(*here, a.lon_deg, a.lat_deg)[0]) < _SAME_ANSWER_M for a in answers):
            answers.append(found)
            squares.append(float(((np.asarray(found.residuals_m) / sigmas) ** 2).sum()))
    if not answers:
        raise GeometryError(
            f"The circles around the marks cut at less than {LEAST_CUT_DEG:.0f} degrees, or not at all.",
            remedy="Check the ranges and the marks, or measure from a mark in another direction.",
        )
    best = min(squares)
    scale = max(1.0, best / max(len(ranges) - 2, 1))
    kept = sorted(zip(squares, answers, strict=True), key=lambda pair: pair[0])
    return [answer for square, answer in kept if (square - best) / scale <= _TOLD_APART]


def _starts(lon: Floats, lat: Floats, ranges: Floats) -> list[tuple[float, float]]:
    """Give where circles meet, pair by pair, in the plane; near enough to begin with."""
    plane = SitePlane(*centre_of(lon, lat))
    east, north = plane.to_plane(lon, lat)
    starts: list[tuple[float, float]] = []
    gaps: list[str] = []
    for i in range(len(ranges)):
        for j in range(i + 1, len(ranges)):
            de, dn = east[j] - east[i], north[j] - north[i]
            apart = math.hypot(de, dn)
            first, second = ranges[i], ranges[j]
            if apart > first + second or apart < abs(first - second) or apart == 0:
                gap = max(apart - first - second, abs(first - second) - apart)
                gaps.append(f"marks {i + 1} and {j + 1} miss by {gap:.2f} m")
                continue
            along = (first**2 - second**2 + apart**2) / (2.0 * apart)
            side = math.sqrt(max(first**2 - along**2, 0.0))
            for sign in (1.0, -1.0):
                e = east[i] + (along * de - sign * side * dn) / apart
                n = north[i] + (along * dn + sign * side * de) / apart
                start_lon, start_lat = plane.from_plane(e, n)
                starts.append((float(start_lon), float(start_lat)))
    if not starts:
        raise GeometryError(
            f"The circles around the marks do not meet: {'; '.join(gaps)}.",
            remedy="Check ranges, their units and the coordinates of the marks.",
        )
    return starts


def _refined(
    start: tuple[float, float], marks: tuple[Floats, Floats], ranges: Floats, sigmas: Floats
) -> RangeFix | None:
    """Improve a start by least squares; None where the circles cut too flat."""
    lon, lat = start
    for _ in range(25):
        distance, bearing = inverse(lon, lat, *marks)
        azimuth = np.radians(bearing)
        design = -np.column_stack((np.sin(azimuth), np.cos(azimuth)))
        cut = _best_cut_deg(bearing)
        if cut < LEAST_CUT_DEG:
            return None
        misfit = ranges - distance
        normal = (design / sigmas[:, None] ** 2).T @ design
        step = np.linalg.solve(normal, design.T @ (misfit / sigmas**2))
        moved = Displacement(east_m=float(step[0]), north_m=float(step[1]))
        lon, lat = moved.move(lon, lat)
        if moved.distance_m < 1e-7:
            break
    distance, _ = inverse(lon, lat, *marks)
    residuals = ranges - distance
    spare = len(ranges) - 2
    square = float(((residuals / sigmas) ** 2).sum())
    covariance = np.linalg.inv(normal) * (max(1.0, square / spare) if spare else 1.0)
    return RangeFix(
        lon_deg=lon,
        lat_deg=lat,
        residuals_m=tuple(residuals.tolist()),
        consistent=spare == 0 or square <= _chi_square_95(spare),
        cut_deg=cut,
        term=Term(
            source="ranges from marks",
            east_m2=float(covariance[0, 0]),
            north_m2=float(covariance[1, 1]),
            cross_m2=float(covariance[0, 1]),
        ),
    )


def _best_cut_deg(bearing_deg: Floats) -> float:
    turned = np.abs(bearing_deg[:, None] - bearing_deg[None, :]) % 180.0
    return float(np.minimum(turned, 180.0 - turned).max())


def _chi_square_95(degrees: int) -> float:
    from scipy.special import chdtri

    return float(chdtri(degrees, 0.05))
