"""A small plan of a drop as SVG, to scale and north up: the hook, who lies near, and where it should go."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from html import escape

import numpy as np
from numpy.typing import NDArray
from shapely import Polygon, clip_by_rect, make_valid

from registry.measure.clear_ground import Move
from registry.measure.edges import densify
from registry.measure.geodesic import inverse
from registry.records.permit import Area
from registry.records.position import Position
from registry.records.target import Target

__all__ = ["PlanMark", "draw_drop"]

Plane = NDArray[np.float64]

#: The side of the plan, the space around what it shows, and the height of its letters. Units: of the drawing.
_SIDE, _PAD, _LETTERS = 360.0, 38.0, 15.0
#: The plan shows at least and at most so much around the hook. Units: m.
_LEAST_M, _MOST_M = 8.0, 400.0
#: Edges of areas are drawn by points this far apart. Units: m.
_STEP_M = 200.0
#: Colours in sunlight: near black on near white, one red. Shapes differ as well.
_INK, _SEA, _AREA, _EDGE, _HOOK = "#0b1c26", "#ffffff", "#e3eef3", "#35596b", "#8f1d14"


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanMark:
    """Something seen from the hook."""

    name: str
    #: Units: m, and degrees from true north.
    distance_m: float
    bearing_deg: float
    #: Radius of its base. Units: m.
    radius_m: float = 0.0


def draw_drop(
    hook: Position,
    *,
    neighbours: Sequence[PlanMark] = (),
    move: Move | None = None,
    target: Target | None = None,
    areas: Sequence[Area] = (),
) -> str:
    """
    Draw what the crew must see before it lets go.

    Parameters
    ----------
    hook : Position
        In the registry's home frame.
    neighbours : sequence of PlanMark
        Modules near it, nearest first.
    move : Move, optional
        Where the hook should go.
    target : Target, optional
        Where the plan wants the module.
    areas : sequence of Area
        Of the permit.

    Returns
    -------
    str
        SVG of a square. Everything that a person typed is escaped; no style is in it.

    Notes
    -----
    The hook is a cross of hairs in its 95 % circle, modules are filled squares with their tags, the target is
    an open diamond, and an arrow leads to where the hook should go: nothing is told by colour alone.
    """
    wanted = _seen(hook, target) if target is not None else None
    r95_m = hook.r95_m
    far = [mark.distance_m for mark in neighbours[:3]]
    far += [mark.distance_m for mark in (move, wanted) if mark is not None]
    reach_m = min(max(_LEAST_M, 1.3 * r95_m, 1.12 * max(far, default=0.0)), _MOST_M)
    scale = (_SIDE / 2 - _PAD) / reach_m
    outlines = [part for area in areas for part in _local(hook, area)]
    parts = [_areas(outlines, scale), _circle(r95_m * scale)]
    names = _Names()
    parts += [_module(mark, scale, names) for mark in neighbours if mark.distance_m <= 1.35 * reach_m]
    if wanted is not None and wanted.distance_m <= 1.35 * reach_m:
        parts.append(_diamond(_at(wanted, scale), wanted.name, names))
    parts.append(_hook())
    if move is not None:
        parts.append(_arrow(_at(move, scale)))
    parts += [_north(), _bar(scale)]
    near = ", ".join(mark.name for mark in neighbours) or "no module"
    title = f"Plan, north up: the hook in its 95 % circle; near it {near}."
    return (
        f'<svg class="plan" viewBox="0 0 {_SIDE:g} {_SIDE:g}" role="img" aria-label="{escape(title)}" '
        f'font-size="{_LETTERS:g}" font-family="sans-serif"><rect width="{_SIDE:g}" height="{_SIDE:g}" '
        f'fill="{_SEA}" stroke="{_INK}" stroke-width="2"/>{"".join(parts)}</svg>'
    )


def _at(mark: PlanMark | Move, scale: float) -> tuple[float, float]:
    """Give the place on the drawing: x to the right, y downward."""
    angle = math.radians(mark.bearing_deg)
    away = mark.distance_m * scale
    return _SIDE / 2 + away * math.sin(angle), _SIDE / 2 - away * math.cos(angle)


def _seen(hook: Position, target: Target) -> PlanMark:
    distance_m, bearing_deg = inverse(hook.lon_deg, hook.lat_deg, target.lon_deg, target.lat_deg)
    return PlanMark(name="target", distance_m=float(distance_m), bearing_deg=float(bearing_deg))


def _local(hook: Position, area: Area) -> list[list[Plane]]:
    """Give the outlines of each part of an area as metres east and north of the hook."""
    shape = densify(area.shape, area.edges, _STEP_M)
    parts = []
    for part in getattr(shape, "geoms", [shape]):
        rings = []
        for ring in (part.exterior, *part.interiors):
            lon, lat = np.asarray(ring.coords, dtype=float)[:, :2].T
            distance_m, bearing_deg = inverse(hook.lon_deg, hook.lat_deg, lon, lat)
            bearing = np.radians(bearing_deg)
            rings.append(np.column_stack([distance_m * np.sin(bearing), distance_m * np.cos(bearing)]))
        parts.append(rings)
    return parts


def _areas(areas: Sequence[list[Plane]], scale: float) -> str:
    reach = _SIDE / scale
    steps = []
    for rings in areas:
        # What lies outside the drawing is cut off, a little beyond its edge.
        shape = Polygon(rings[0], rings[1:])
        seen = clip_by_rect(make_valid(shape), -reach, -reach, reach, reach).simplify(0.3 / scale)
        for part in getattr(seen, "geoms", [seen]):
            for ring in (part.exterior, *part.interiors) if isinstance(part, Polygon) and part.area else ():
                points = ((_SIDE / 2 + x * scale, _SIDE / 2 - y * scale) for x, y in ring.coords)
                steps.append("M" + "L".join(f"{x:.1f} {y:.1f}" for x, y in points) + "Z")
    if not steps:
        return ""
    return (
        f'<path d="{"".join(steps)}" fill="{_AREA}" fill-rule="evenodd" stroke="{_EDGE}" stroke-width="3" '
        'stroke-dasharray="10 5"/>'
    )


def _circle(radius: float) -> str:
    return (
        f'<circle cx="{_SIDE / 2:g}" cy="{_SIDE / 2:g}" r="{max(radius, 3.0):.1f}" fill="{_HOOK}" '
        f'fill-opacity=".12" stroke="{_HOOK}" stroke-width="2" stroke-dasharray="5 4"/>'
    )


def _hook() -> str:
    middle = _SIDE / 2
    hairs = f"M{middle - 14} {middle}h28M{middle} {middle - 14}v28"
    return f'<path d="{hairs}" fill="none" stroke="{_HOOK}" stroke-width="3.5"/>'


def _module(mark: PlanMark, scale: float, names: "_Names") -> str:
    x, y = _at(mark, scale)
    half = max(5.0, mark.radius_m * scale)
    box = f'<rect x="{x - half:.1f}" y="{y - half:.1f}" width="{2 * half:.1f}" height="{2 * half:.1f}"/>'
    return f'<g fill="{_INK}">{box}{names.beside(x, y, half, mark.name)}</g>'


def _diamond(at: tuple[float, float], name: str, names: "_Names") -> str:
    x, y = at
    shape = f'<path d="M{x:.1f} {y - 10:.1f}l10 10l-10 10l-10 -10Z" fill="none" stroke="{_EDGE}"'
    return f'{shape} stroke-width="3"/><g fill="{_EDGE}">{names.beside(x, y, 10.0, name)}</g>'


def _arrow(to: tuple[float, float]) -> str:
    middle = _SIDE / 2
    dx, dy = to[0] - middle, to[1] - middle
    length = math.hypot(dx, dy)
    if length < 1.0:
        return ""
    # A short move is drawn long enough to be seen; its end tells the direction, the words the distance.
    grown = max(length, 24.0) / length
    x, y = middle + dx * grown, middle + dy * grown
    ux, uy = dx / length, dy / length
    head = (
        f"M{x:.1f} {y:.1f}L{x - 15 * ux - 9 * uy:.1f} {y - 15 * uy + 9 * ux:.1f}"
        f"L{x - 15 * ux + 9 * uy:.1f} {y - 15 * uy - 9 * ux:.1f}Z"
    )
    shaft = f"M{middle} {middle}L{x - 10 * ux:.1f} {y - 10 * uy:.1f}"
    return f'<path d="{shaft}" stroke="{_INK}" stroke-width="5" fill="none"/><path d="{head}" fill="{_INK}"/>'


class _Names:
    """The names on a plan: none is written over another."""

    def __init__(self) -> None:
        self._taken: list[tuple[bool, float]] = []

    def beside(self, x: float, y: float, half: float, name: str) -> str:
        """Write a name beside its mark, on the side where the drawing has room and nearest to its height."""
        left = x > _SIDE / 2
        end, place = ("end", x - half - 4) if left else ("start", x + half + 4)
        shown = name if len(name) <= 16 else name[:15] + "…"
        wished = min(max(y + _LETTERS / 3, _LETTERS), _SIDE - 6)
        base = wished
        for step in (0, 1, -1, 2, -2, 3, -3):
            base = wished + step * 1.1 * _LETTERS
            if all(left != side or abs(base - other) >= _LETTERS for side, other in self._taken):
                break
        self._taken.append((left, base))
        return (
            f'<text x="{place:.1f}" y="{base:.1f}" text-anchor="{end}" stroke="{_SEA}" stroke-width="4" '
            f'paint-order="stroke" font-weight="600">{escape(shown)}</text>'
        )


def _north() -> str:
    x = _SIDE - 24
    return (
        f'<path d="M{x} 12l9 26l-9 -6l-9 6Z" fill="{_INK}"/>'
        f'<text x="{x}" y="56" text-anchor="middle" fill="{_INK}" font-weight="600">N</text>'
    )


def _bar(scale: float) -> str:
    most = 0.3 * _SIDE / scale
    length_m = max(
        step * 10.0**power for power in range(-2, 4) for step in (1, 2, 5) if step * 10.0**power <= most
    )
    width, y = length_m * scale, _SIDE - 14
    text = f"{length_m:g} m"
    return (
        f'<path d="M14 {y - 7}v7h{width:.1f}v-7" fill="none" stroke="{_INK}" stroke-width="2.5"/>'
        f'<text x="{14 + width / 2:.1f}" y="{y - 10}" text-anchor="middle" fill="{_INK}">{text}</text>'
    )
