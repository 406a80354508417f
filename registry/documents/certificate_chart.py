"""The small chart on a certificate: the permit area, the modules around and the one that is remembered."""

import math
from collections.abc import Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray
from shapely import LineString

from registry.documents.language import Language
from registry.documents.printed_degrees import minutes_text, wrapped
from registry.measure.geodesic import inverse
from registry.records.certificate import Certificate

__all__ = ["chart_data"]

#: Margin for the labels. Units: mm.
_LEFT_MM = 5.0
_BELOW_MM = 5.0
#: Clear space between the area's outline and the frame. Units: mm.
_PAD_MM = 6.0
#: Steps of the ticks. Units: minutes of arc.
_TICK_MINUTES = tuple(step * 10.0**power for power in range(-4, 7) for step in (1, 2, 5))

Plane = NDArray[np.float64]


def chart_data(c: Certificate, language: Language, side_mm: float) -> dict[str, Any]:
    """
    Lay out the chart: plane coordinates in mm from the frame's upper left corner, all to one scale.

    Parameters
    ----------
    c : Certificate
        Gives the place and what lies around it.
    language : Language
        Of the words on it.
    side_mm : float
        Side of its square frame. Units: mm.

    Returns
    -------
    dict
        What the template draws.

    Notes
    -----
    Points are set by true bearing and geodesic distance from the module (azimuthal equidistant), which over
    the few kilometres of a reef differs from any chart by less than the width of its lines.
    """
    rings = [_local(c, ring) for ring in c.plan.rings if len(ring) > 2]
    others = _local(c, c.plan.others)
    shown = np.vstack([np.zeros((1, 2)), *rings] if rings else [np.zeros((1, 2)), others])
    low, high = shown.min(axis=0), shown.max(axis=0)
    span_m = max(float((high - low).max()), 40.0 * max(c.r95_m, 1.0) if not rings else 10.0)
    middle = (low + high) / 2
    mm_per_m = (side_mm - 2 * _PAD_MM) / span_m

    def to_mm(points: Plane) -> Plane:
        scale = np.array([mm_per_m, -mm_per_m])
        return np.asarray((points - middle) * scale + side_mm / 2)

    dots = np.unique(np.round(to_mm(others), 1), axis=0)
    dots = dots[((dots > -1) & (dots < side_mm + 1)).all(axis=1)]
    bar_text, bar_m = _bar(0.4 * side_mm / mm_per_m, language)
    return {
        "side": side_mm,
        "left": _LEFT_MM,
        "below": _BELOW_MM,
        "rings": [_thinned(to_mm(ring)) for ring in rings],
        "dots": _dots(dots, side_mm),
        "here": np.round(to_mm(np.zeros((1, 2)))[0], 3).tolist(),
        "bar_mm": round(bar_m * mm_per_m, 3),
        "bar_text": bar_text,
        # Translators: the letter or word for north, above the arrow.
        "north": language.say("N"),
        **_graticule(c, middle, mm_per_m, side_mm),
        "alt": language.say_many(
            "Chart of {reef}, north up: a cross-haired ring marks this module, a faint dot {count} other. "
            "The scale bar shows {length}.",
            "Chart of {reef}, north up: a cross-haired ring marks this module, faint dots {count} others. "
            "The scale bar shows {length}.",
            len(c.plan.others),
            reef=c.reef,
            length=bar_text,
        ),
    }


def _local(c: Certificate, points: Sequence[tuple[float, float]]) -> Plane:
    """Give points as metres east and north of the module."""
    if not points:
        return np.zeros((0, 2))
    lon, lat = np.asarray(points, dtype=float).T
    distance_m, bearing_deg = inverse(c.lon_deg, c.lat_deg, lon, lat)
    bearing = np.radians(bearing_deg)
    return np.column_stack([distance_m * np.sin(bearing), distance_m * np.cos(bearing)])


def _dots(at_mm: Plane, side_mm: float) -> str:
    """Draw the other modules as SVG: short strokes with round ends, smaller where there are many."""
    width_mm = 1.3 if len(at_mm) < 400 else 0.7
    strokes = "".join(f"M{x:g} {y:g}h.01" for x, y in at_mm.tolist())
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {side_mm:g} {side_mm:g}"><path fill="none" '
        f'stroke="#6d838d" stroke-linecap="round" stroke-width="{width_mm:g}" d="M-9-9{strokes}"/></svg>'
    )


def _thinned(ring_mm: Plane) -> list[list[float]]:
    """Leave out corners that no printer shows (0.03 mm)."""
    line = LineString(ring_mm).simplify(0.03)
    return np.round(np.asarray(line.coords), 3).tolist()  # type: ignore[no-any-return]


def _round_length(longest_m: float) -> float:
    """Give the greatest 1, 2 or 5 times a power of ten that is not longer."""
    power = 10.0 ** math.floor(math.log10(longest_m))
    return max(step * power for step in (1, 2, 5) if step * power <= longest_m * (1 + 1e-9))


def _bar(longest_m: float, language: Language) -> tuple[str, float]:
    """Give the scale bar, its words and its length in metres."""
    bar_m = _round_length(longest_m)
    value, unit = (bar_m, "m") if bar_m < 1000 else (bar_m / 1000, "km")
    decimals = max(0, -math.floor(math.log10(value) + 1e-9))
    return f"{language.number(value, decimals)} {unit}", bar_m


def _graticule(c: Certificate, middle: Plane, mm_per_m: float, side_mm: float) -> dict[str, Any]:
    """Give the ticks along the frame: position in mm and the words beside them, two to four a side."""
    reach_m = side_mm / 2 / mm_per_m
    per_lat_m = float(inverse(c.lon_deg, c.lat_deg - 1 / 120, c.lon_deg, c.lat_deg + 1 / 120)[0])
    per_lon_m = float(inverse(c.lon_deg - 1 / 120, c.lat_deg, c.lon_deg + 1 / 120, c.lat_deg)[0])

    def ticks(
        value_deg: float, per_minute_m: float, offset_m: float, hemispheres: str
    ) -> list[tuple[float, str]]:
        reach = reach_m / per_minute_m
        centre = value_deg * 60 + offset_m / per_minute_m
        step = next(s for s in _TICK_MINUTES if 2 * reach / s < 4.2)
        places = max(0, -math.floor(math.log10(step) + 1e-9))
        found = []
        for i in range(math.ceil((centre - reach) / step), math.floor((centre + reach) / step) + 1):
            mm = (i * step - centre) * per_minute_m * mm_per_m + side_mm / 2
            if 9 < mm < side_mm - 9:
                degrees = wrapped(i * step / 60) if hemispheres == "EW" else i * step / 60
                found.append((round(mm, 3), minutes_text(degrees, places, hemispheres)))
        return found

    meridians = ticks(c.lon_deg, per_lon_m, float(middle[0]), "EW")
    parallels = ticks(c.lat_deg, per_lat_m, float(middle[1]), "NS")
    return {
        "meridians": meridians,
        "parallels": [(round(side_mm - mm, 3), words) for mm, words in parallels],
    }
