"""
From where a position was measured to where the module lies: one displacement and its doubt for each step.

East and north are in the plane around the starting point, in which they are exact along the geodesic.
Every uncertainty that goes in is at 95 %, one-dimensional.

Sources
-------
Rotation of body axes (forward, starboard, down) by heading, pitch and roll in that order: Titterton and
Weston, *Strapdown Inertial Navigation Technology* (from memory). Drift on descent, scope of a buoy: common
practice, no source.
"""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from registry.errors import QuantityError
from registry.measure.budget import Term
from registry.measure.geodesic import direct
from registry.measure.uncertainty import U95_FACTOR

__all__ = [
    "Displacement",
    "acoustic",
    "body_to_level",
    "descent_drift",
    "lever_arm",
    "range_and_bearing",
    "surface_buoy",
]

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Displacement:
    """A step from one point to the next."""

    #: Units: m.
    east_m: float
    north_m: float
    #: Downward. Units: m.
    down_m: float = 0.0
    terms: tuple[Term, ...] = ()

    @property
    def distance_m(self) -> float:
        """Horizontal length. Units: m."""
        return math.hypot(self.east_m, self.north_m)

    @property
    def bearing_deg(self) -> float:
        """True bearing, 0 to below 360. Units: degrees."""
        return math.degrees(math.atan2(self.east_m, self.north_m)) % 360.0

    def move(self, lon_deg: float, lat_deg: float) -> tuple[float, float]:
        """Give longitude and latitude of the end of the step (degrees)."""
        lon, lat = direct(lon_deg, lat_deg, self.bearing_deg, self.distance_m)
        return float(lon), float(lat)


def body_to_level(
    forward_m: ArrayLike,
    starboard_m: ArrayLike,
    down_m: ArrayLike,
    *,
    heading_deg: ArrayLike,
    roll_deg: ArrayLike = 0.0,
    pitch_deg: ArrayLike = 0.0,
) -> tuple[Floats, Floats, Floats]:
    """
    Turn an offset in a vessel's axes into east, north and down.

    Definition: ``n = Rz(heading) Ry(pitch) Rx(roll) b``.

    Parameters
    ----------
    forward_m, starboard_m, down_m : array_like
        From the antenna to the point: toward the bow, to starboard, downward. Units: m.
    heading_deg : array_like
        True, clockwise from north. Units: degrees.
    roll_deg, pitch_deg : array_like
        Positive with starboard down, and with the bow up. All broadcast together. Units: degrees.

    Returns
    -------
    east_m, north_m, down_m : numpy.ndarray

    Examples
    --------
    >>> east, north, down = body_to_level(-14.6, 5.1, 7.8, heading_deg=237.0, roll_deg=4.0, pitch_deg=-2.5)
    >>> f"{east:.4f} {north:.4f} {down:.4f}"
    '10.0560 11.9479 7.4922'
    """
    x, y, z = (np.asarray(a, dtype=float) for a in (forward_m, starboard_m, down_m))
    psi, phi, theta = (np.radians(np.asarray(a, dtype=float)) for a in (heading_deg, roll_deg, pitch_deg))
    across = y * np.cos(phi) - z * np.sin(phi)
    below = y * np.sin(phi) + z * np.cos(phi)
    ahead = x * np.cos(theta) + below * np.sin(theta)
    east = ahead * np.sin(psi) + across * np.cos(psi)
    north = ahead * np.cos(psi) - across * np.sin(psi)
    return east, north, -x * np.sin(theta) + below * np.cos(theta)


def lever_arm(
    forward_m: float,
    starboard_m: float,
    down_m: float,
    *,
    heading_deg: float,
    roll_deg: float = 0.0,
    pitch_deg: float = 0.0,
    arm_u95_m: float,
    heading_u95_deg: float,
    attitude_u95_deg: float,
) -> Displacement:
    """
    Step from the antenna to a point of the same vessel, as the hook of its crane.

    Parameters
    ----------
    forward_m, starboard_m, down_m, heading_deg, roll_deg, pitch_deg : float
        As in `body_to_level`.
    arm_u95_m : float
        Of each of the three offsets. Units: m.
    heading_u95_deg, attitude_u95_deg : float
        Of the heading, and of roll and pitch each: what they may have been, where nobody noted them.

    Examples
    --------
    >>> step = lever_arm(10.0, 0.0, 0.0, heading_deg=90.0, arm_u95_m=0.1, heading_u95_deg=1.0,
    ...                  attitude_u95_deg=2.0)
    >>> f"{step.distance_m:.1f} m toward {step.bearing_deg:.0f}"
    '10.0 m toward 90'
    """
    _check_doubts(arm_u95_m, heading_u95_deg, attitude_u95_deg)

    def at(roll: float, pitch: float) -> tuple[float, float, float]:
        east, north, down = body_to_level(
            forward_m, starboard_m, down_m, heading_deg=heading_deg, roll_deg=roll, pitch_deg=pitch
        )
        return float(east), float(north), float(down)

    east, north, down = at(roll_deg, pitch_deg)
    if not all(math.isfinite(v) for v in (east, north, down)):
        what = f"A lever arm of {forward_m}, {starboard_m}, {down_m} m at heading {heading_deg} is none."
        raise QuantityError(what, remedy="Give finite numbers.")
    sigma_attitude = attitude_u95_deg / U95_FACTOR
    step = 0.01
    slopes = []
    for up, low in (
        (at(roll_deg + step, pitch_deg), at(roll_deg - step, pitch_deg)),
        (at(roll_deg, pitch_deg + step), at(roll_deg, pitch_deg - step)),
    ):
        slopes.append(((up[0] - low[0]) / (2 * step), (up[1] - low[1]) / (2 * step)))
    swing = [(e * sigma_attitude, n * sigma_attitude) for e, n in slopes]
    sigma_arm = arm_u95_m / U95_FACTOR
    sigma_turn = math.radians(heading_u95_deg / U95_FACTOR)
    return Displacement(
        east_m=east,
        north_m=north,
        down_m=down,
        terms=(
            Term(source="lever arm as measured", east_m2=sigma_arm**2, north_m2=sigma_arm**2),
            Term.along(
                "heading",
                math.degrees(math.atan2(east, north)),
                sigma_along_m=0.0,
                sigma_across_m=math.hypot(east, north) * sigma_turn,
            ),
            Term(
                source="roll and pitch",
                east_m2=math.fsum(e * e for e, _ in swing),
                north_m2=math.fsum(n * n for _, n in swing),
                cross_m2=math.fsum(e * n for e, n in swing),
            ),
        ),
    )


def range_and_bearing(
    range_m: float, bearing_deg: float, *, range_u95_m: float, bearing_u95_deg: float
) -> Displacement:
    """
    Step from a known mark by a horizontal range and a true bearing.

    Raises
    ------
    QuantityError
        If the range is negative or a number is none.

    Examples
    --------
    >>> step = range_and_bearing(23.7, 118.5, range_u95_m=0.2, bearing_u95_deg=1.0)
    >>> lon, lat = step.move(-78.0, 33.0)
    >>> f"{lat:.10f} {lon:.10f}"
    '32.9998980322 -77.9997771297'
    """
    _check_doubts(range_u95_m, bearing_u95_deg)
    _check_polar(range_m, bearing_deg)
    return _polar(
        range_m,
        bearing_deg,
        (
            Term.along("range", bearing_deg, sigma_along_m=range_u95_m / U95_FACTOR),
            _bearing_term(range_m, bearing_deg, bearing_u95_deg),
        ),
    )


def acoustic(
    slant_m: float,
    bearing_deg: float,
    depression_deg: float,
    *,
    slant_u95_m: float,
    bearing_u95_deg: float,
    depression_u95_deg: float,
) -> Displacement:
    """
    Step from a transducer to what it hears: slant range, true bearing, and angle below the horizon.

    Raises
    ------
    QuantityError
        If the range is negative, or the angle is not from 0 to 90.

    Examples
    --------
    >>> step = acoustic(20.0, 90.0, 60.0, slant_u95_m=0.2, bearing_u95_deg=2.0, depression_u95_deg=2.0)
    >>> f"{step.east_m:.3f} {step.north_m:.3f} {step.down_m:.3f}"
    '10.000 0.000 17.321'
    """
    _check_doubts(slant_u95_m, bearing_u95_deg, depression_u95_deg)
    _check_polar(slant_m, bearing_deg)
    if not 0.0 <= depression_deg <= 90.0:
        what = f"A depression of {depression_deg} degrees is none."
        raise QuantityError(what, remedy="Give the angle below the horizon, from 0 to 90 degrees.")
    delta = math.radians(depression_deg)
    level, down = slant_m * math.cos(delta), slant_m * math.sin(delta)
    swing = down * math.radians(depression_u95_deg / U95_FACTOR)
    return _polar(
        level,
        bearing_deg,
        (
            Term.along("slant range", bearing_deg, sigma_along_m=math.cos(delta) * slant_u95_m / U95_FACTOR),
            _bearing_term(level, bearing_deg, bearing_u95_deg),
            Term.along("depression", bearing_deg, sigma_along_m=swing),
        ),
        down_m=down,
    )


def descent_drift(
    depth_m: float,
    fall_speed_mps: float,
    current_mps: float,
    current_toward_deg: float,
    *,
    depth_u95_m: float,
    fall_speed_u95_mps: float,
    current_u95_mps: float,
    current_direction_u95_deg: float,
    glide_r95_m: float = 0.0,
) -> Displacement:
    """
    Step from where a module was let go to where it came to rest: the water carried it on its way down.

    Definition: ``drift = current * depth / fall_speed``, toward where the current sets.

    Parameters
    ----------
    depth_m, fall_speed_mps : float
        Of water, and the mean speed of the fall or of the winch.
    current_mps, current_toward_deg : float
        Mean over the water column; the direction toward which it sets, true.
    glide_r95_m : float
        How far the module may have glided to any side by itself, 95 % radius. Units: m.

    Raises
    ------
    QuantityError
        If the depth or the current is negative, or nothing falls.

    Examples
    --------
    >>> step = descent_drift(20.0, 2.0, 0.5, 90.0, depth_u95_m=0.5, fall_speed_u95_mps=0.4,
    ...                      current_u95_mps=0.2, current_direction_u95_deg=20.0)
    >>> f"{step.distance_m:.1f} m toward {step.bearing_deg:.0f}"
    '5.0 m toward 90'
    """
    _check_doubts(depth_u95_m, fall_speed_u95_mps, current_u95_mps, current_direction_u95_deg, glide_r95_m)
    if not (depth_m >= 0 and fall_speed_mps > 0 and current_mps >= 0):
        what = f"A fall of {depth_m} m at {fall_speed_mps} m/s in a current of {current_mps} m/s is none."
        raise QuantityError(what, remedy="Give depth and current of zero or more, and a fall speed above 0.")
    _check_polar(depth_m, current_toward_deg)
    fall_s = depth_m / fall_speed_mps
    drift = current_mps * fall_s
    from_current = current_u95_mps / U95_FACTOR * fall_s
    # Where no current was seen, nobody knows whither the doubt of it points.
    sideways = from_current if current_mps == 0 else 0.0
    return _polar(
        drift,
        current_toward_deg,
        (
            Term.along("current", current_toward_deg, sigma_along_m=from_current, sigma_across_m=sideways),
            _bearing_term(drift, current_toward_deg, current_direction_u95_deg, "direction of the current"),
            Term.along(
                "fall speed",
                current_toward_deg,
                sigma_along_m=drift * fall_speed_u95_mps / U95_FACTOR / fall_speed_mps,
            ),
            Term.along(
                "depth in the drift",
                current_toward_deg,
                sigma_along_m=drift * depth_u95_m / U95_FACTOR / depth_m if depth_m > 0 else 0.0,
            ),
            Term.circle("glide on descent", glide_r95_m),
        ),
        down_m=depth_m,
    )


def surface_buoy(
    depth_m: float, line_m: float, *, current_toward_deg: float | None = None, direction_u95_deg: float = 20.0
) -> Displacement:
    """
    Step from a buoy at the surface to the module that its line is made fast to.

    Parameters
    ----------
    depth_m, line_m : float
        Depth of the point where the line is fast, below the surface of that moment, and length of the line
        between it and the buoy. Units: m.
    current_toward_deg : float, optional
        Where the current (or the wind) drove the buoy. None where nobody noted it.
    direction_u95_deg : float
        Of that direction.

    Returns
    -------
    Displacement
        Without a direction: none, and a doubt uniform over the whole watch circle. With it: half of the
        circle's radius up-current, and anything from straight above to a taut line.

    Raises
    ------
    QuantityError
        If the line does not reach the surface.

    Notes
    -----
    ``sqrt(line² - depth²)`` is the radius of the watch circle.

    Examples
    --------
    >>> step = surface_buoy(20.0, 25.0, current_toward_deg=90.0)
    >>> f"{step.distance_m:.1f} m toward {step.bearing_deg:.0f}"
    '7.5 m toward 270'
    """
    _check_doubts(direction_u95_deg)
    if not (math.isfinite(depth_m) and math.isfinite(line_m) and 0 < depth_m <= line_m):
        what = f"A line of {line_m:g} m does not reach the surface from {depth_m:g} m."
        raise QuantityError(what, remedy="Check both: the line is at least as long as the water is deep.")
    circle_m = math.sqrt(line_m**2 - depth_m**2)
    if current_toward_deg is None:
        # 95 % of a uniform disc lie within the root of 0.95 of its radius.
        return Displacement(
            east_m=0.0,
            north_m=0.0,
            down_m=depth_m,
            terms=(Term.circle("watch circle of the buoy", math.sqrt(0.95) * circle_m),),
        )
    _check_polar(line_m, current_toward_deg)
    back = (current_toward_deg + 180.0) % 360.0
    return _polar(
        circle_m / 2.0,
        back,
        (
            Term.along("scope of the buoy", back, sigma_along_m=circle_m / math.sqrt(12.0)),
            _bearing_term(circle_m, back, direction_u95_deg, "direction of the current at the buoy"),
        ),
        down_m=depth_m,
    )


def _polar(
    distance_m: float, bearing_deg: float, terms: tuple[Term, ...], *, down_m: float = 0.0
) -> Displacement:
    azimuth = math.radians(bearing_deg)
    return Displacement(
        east_m=distance_m * math.sin(azimuth),
        north_m=distance_m * math.cos(azimuth),
        down_m=down_m,
        terms=terms,
    )


def _bearing_term(distance_m: float, bearing_deg: float, u95_deg: float, source: str = "bearing") -> Term:
    across = distance_m * math.radians(u95_deg / U95_FACTOR)
    return Term.along(source, bearing_deg, sigma_along_m=0.0, sigma_across_m=across)


def _check_doubts(*u95: float) -> None:
    for value in u95:
        if not (math.isfinite(value) and value >= 0):
            what = f"{value} is no uncertainty."
            raise QuantityError(what, remedy="Give zero or more, at 95 %.")


def _check_polar(distance_m: float, bearing_deg: float) -> None:
    if not (math.isfinite(distance_m) and distance_m >= 0 and math.isfinite(bearing_deg)):
        what = f"{distance_m} m toward {bearing_deg} degrees is no measurement."
        raise QuantityError(what, remedy="Give zero metres or more, and a bearing in degrees.")
