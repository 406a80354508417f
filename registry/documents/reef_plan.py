"""
A plan of the reef around one module as SVG, to scale: the whole area, or what a diver finds near it.

Points are set by true bearing and geodesic distance from the module (azimuthal equidistant), true north up.
The module is a ring with a cross of hairs, others are dots, so that a plan printed in black reads the same.
"""

import math
from collections.abc import Sequence
from html import escape
from typing import Protocol

import numpy as np
from numpy.typing import NDArray
from shapely import LineString

from registry.measure.geodesic import inverse
from registry.records.position import Position
from registry.records.visit import ReefPlan

__all__ = ["draw_neighbours", "draw_reef"]

#: The side of a plan, and the space around what it shows. Units: mm.
_SIDE_MM, _PAD_MM = 80.0, 7.0
#: The detail shows at least and at most so much around the module. Units: m.
_LEAST_REACH_M, _MOST_REACH_M = 12.0, 150.0
#: So many neighbours are named.
_MOST_NAMED = 6
_INK, _QUIET, _MARK, _SHOAL, _SEA, _DOT = "#16303f", "#4c626e", "#9c2a1c", "#e6eef1", "#f6f9fa", "#5d7480"
_FONT = "EB Garamond"
Plane = NDArray[np.float64]


class PlannedPlace(Protocol):
    """A module with what lies around it."""

    @property
    def tag(self) -> str:
        """Its tag."""
        ...

    @property
    def reef(self) -> str:
        """The permit area in words."""
        ...

    @property
    def position(self) -> Position:
        """Where it lies, in WGS 84."""
        ...

    @property
    def plan(self) -> ReefPlan:
        """What lies around it."""
        ...


def draw_reef(visit: PlannedPlace) -> str:
    """
    Draw the whole permit area with the module in it.

    Parameters
    ----------
    visit : PlannedPlace
        A visit, or a resting place.

    Returns
    -------
    str
        SVG of a square; its unit is a millimetre. Everything that a person typed is escaped.
    """
    rings = [_local(visit, ring) for ring in visit.plan.rings if len(ring) > 2]
    shown = np.vstack([np.zeros((1, 2)), *rings])
    low, high = shown.min(axis=0), shown.max(axis=0)
    side_m = max(float((high - low).max()), 4 * _LEAST_REACH_M)
    view = _View((low + high) / 2, (_SIDE_MM - 2 * _PAD_MM) / side_m)
    dots = view.place(_local(visit, [(lon, lat) for _, lon, lat in visit.plan.others]))
    parts = [_area(rings, view), _dots(dots, 0.55), _here(view.place(np.zeros((1, 2)))[0])]
    return _framed(parts, view, f"Plan of {visit.reef}, with {visit.tag} marked")


def draw_neighbours(visit: PlannedPlace) -> str:
    """
    Draw what lies near the module, with its 95 % circle and the tags of the nearest.

    Parameters
    ----------
    visit : PlannedPlace
        A visit, or a resting place.
    """
    around = _local(visit, [(lon, lat) for _, lon, lat in visit.plan.others])
    distances = np.hypot(around[:, 0], around[:, 1])
    order = np.argsort(distances, kind="stable")
    near = [int(row) for row in order[:_MOST_NAMED] if distances[row] <= _MOST_REACH_M]
    reach_m = max(_LEAST_REACH_M, 2.2 * visit.position.r95_m, *(1.15 * distances[row] for row in near), 0.0)
    view = _View(np.zeros(2), (_SIDE_MM / 2 - _PAD_MM) / reach_m)
    dots = view.place(around)
    x, y = view.place(np.zeros((1, 2)))[0]
    radius = visit.position.r95_m * view.mm_per_m
    circle = (
        f'<circle cx="{x:.2f}" cy="{y:.2f}" r="{radius:.2f}" fill="{_MARK}" fill-opacity=".08" '
        f'stroke="{_MARK}" stroke-width=".25" stroke-dasharray="1 .8"/>'
    )
    rings = [_local(visit, ring) for ring in visit.plan.rings if len(ring) > 2]
    names = [(dots[row], visit.plan.others[row][0]) for row in near]
    parts = [_area(rings, view), circle, _dots(dots, 0.9), _here((x, y)), _labels(names, (x, y))]
    return _framed(parts, view, f"What lies near {visit.tag}, with the circle that holds it at 95 %")


class _View:
    """The part of the plane that is drawn, and its scale."""

    def __init__(self, middle: Plane, mm_per_m: float) -> None:
        self._middle = middle
        self.mm_per_m = mm_per_m

    def place(self, points: Plane) -> Plane:
        """Give the place on the paper, x to the right and y downward. Units: mm."""
        scale = np.array([self.mm_per_m, -self.mm_per_m])
        return np.asarray((points - self._middle) * scale + _SIDE_MM / 2)


def _local(visit: PlannedPlace, points: Sequence[tuple[float, float]]) -> Plane:
    """Give points as metres east and north of the module."""
    if not points:
        return np.zeros((0, 2))
    lon, lat = np.asarray(points, dtype=float).T
    distance_m, bearing_deg = inverse(visit.position.lon_deg, visit.position.lat_deg, lon, lat)
    bearing = np.radians(bearing_deg)
    return np.column_stack([distance_m * np.sin(bearing), distance_m * np.cos(bearing)])


def _area(rings: Sequence[Plane], view: _View) -> str:
    steps = []
    for ring in rings:
        line = LineString(view.place(ring)).simplify(0.03)
        steps.append("M" + "L".join(f"{x:.2f} {y:.2f}" for x, y in line.coords) + "Z")
    style = f'fill="{_SHOAL}" fill-rule="evenodd" stroke="{_QUIET}" stroke-width=".3"'
    return f'<path d="{"".join(steps)}" {style}/>'


def _dots(dots: Plane, radius: float) -> str:
    drawn = dict.fromkeys((round(float(x), 1), round(float(y), 1)) for x, y in dots)
    inside = [(x, y) for x, y in drawn if -1 < x < _SIDE_MM + 1 and -1 < y < _SIDE_MM + 1]
    circles = "".join(f'<circle cx="{x}" cy="{y}" r="{radius}"/>' for x, y in inside)
    return f'<g fill="{_DOT}">{circles}</g>'


def _here(at: Sequence[float] | Plane) -> str:
    x, y = float(at[0]), float(at[1])
    hairs = "".join(
        f"M{x + dx * 1.9:.2f} {y + dy * 1.9:.2f}L{x + dx * 3.6:.2f} {y + dy * 3.6:.2f}"
        for dx, dy in ((1, 0), (-1, 0), (0, 1), (0, -1))
    )
    return (
        f'<g stroke="{_MARK}" stroke-width=".35"><circle cx="{x:.2f}" cy="{y:.2f}" r="1.9" fill="#fff" '
        f'fill-opacity=".6"/><circle cx="{x:.2f}" cy="{y:.2f}" r=".75" fill="{_MARK}"/>'
        f'<path d="{hairs}"/></g>'
    )


def _labels(names: Sequence[tuple[Plane, str]], here: tuple[float, float]) -> str:
    """Write tags beside their dots where there is room; what does not fit is left out."""
    taken = [(here[0] - 4, here[1] - 4, here[0] + 4, here[1] + 4)]
    taken += [(float(x) - 1, float(y) - 1, float(x) + 1, float(y) + 1) for (x, y), _ in names]
    drawn = []
    for (x, y), name in names:
        wide = 1.55 * len(name)
        spots = (
            ("start", x + 1.6, y + 1.0),
            ("end", x - 1.6 - wide, y + 1.0),
            ("middle", x - wide / 2, y - 2.4),
            ("middle", x - wide / 2, y + 3.6),
        )
        for anchor, left, base in spots:
            room = (float(left), float(base) - 2.6, float(left) + wide, float(base) + 0.6)
            clear = not any(
                room[0] < t[2] and room[2] > t[0] and room[1] < t[3] and room[3] > t[1] for t in taken
            )
            if clear and room[0] > 1 and room[2] < _SIDE_MM - 1 and room[1] > 1 and room[3] < _SIDE_MM - 8:
                at = {"start": left, "end": left + wide, "middle": left + wide / 2}[anchor]
                taken.append(room)
                where = f'x="{float(at):.2f}" y="{float(base):.2f}" text-anchor="{anchor}"'
                drawn.append(f"<text {where}>{escape(name)}</text>")
                break
    return f'<g font-size="3.1" fill="{_INK}">{"".join(drawn)}</g>'


def _framed(parts: Sequence[str], view: _View, title: str) -> str:
    edge = f'<rect width="{_SIDE_MM}" height="{_SIDE_MM}"'
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {_SIDE_MM} {_SIDE_MM}" width="{_SIDE_MM}mm" '
        f'height="{_SIDE_MM}mm" font-family="{_FONT}"><title>{escape(title)}</title>'
        f'<clipPath id="frame">{edge}/></clipPath>{edge} fill="{_SEA}"/><g clip-path="url(#frame)">'
        f'{"".join(parts)}</g>{_scale_bar(view)}{_north()}{edge} fill="none" stroke="{_INK}" '
        'stroke-width=".35"/></svg>'
    )


def _scale_bar(view: _View) -> str:
    """Draw a bar of a round length, about a third of the width."""
    aim = 0.35 * _SIDE_MM / view.mm_per_m
    power = 10.0 ** math.floor(math.log10(aim))
    length = max(step * power for step in (1.0, 2.0, 5.0) if step * power <= aim)
    bar = length * view.mm_per_m
    told = f"{length / 1000:g} km" if length >= 1000 else f"{length:g} m"
    y = _SIDE_MM - 4.0
    return (
        f'<rect x="2" y="{y - 4.2}" width="{bar + 12:.2f}" height="7" fill="{_SEA}" fill-opacity=".85"/>'
        f'<g font-size="3" fill="{_INK}"><rect x="4" y="{y}" width="{bar:.2f}" height="1" fill="#fff" '
        f'stroke="{_INK}" stroke-width=".2"/><rect x="4" y="{y}" width="{bar / 2:.2f}" height="1"/>'
        f'<text x="4" y="{y - 1}" text-anchor="middle">0</text>'
        f'<text x="{4 + bar:.2f}" y="{y - 1}" text-anchor="middle">{told}</text></g>'
    )


def _north() -> str:
    x = _SIDE_MM - 6.0
    return (
        f'<g fill="{_INK}"><text x="{x}" y="5.6" font-size="3.6" text-anchor="middle">N</text>'
        f'<path d="M{x} 6.6l-1.6 7 1.6-1.5z"/><path d="M{x} 6.6l1.6 7-1.6-1.5z" fill="#fff" stroke="{_INK}" '
        'stroke-width=".15"/></g>'
    )
