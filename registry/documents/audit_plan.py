"""
The plan of a permit area as SVG, to scale: outline, keep-outs, and every module by the shape of its verdict.

Drawn in the plane of :class:`registry.measure.geodesic.SitePlane` around the middle of the area, true north
up. A verdict is a shape and a colour, so that a plan printed in black reads the same. What lies far beyond
the area is told by an arrow at the edge: one swapped digit must not shrink the reef to a dot.
"""

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from html import escape

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import Polygon, box
from shapely.geometry.base import BaseGeometry

from registry.measure.decision import Verdict
from registry.measure.edges import densify
from registry.measure.geodesic import SitePlane
from registry.records.audit_summary import PermitSummary
from registry.records.permit import Area, KeepOut

__all__ = ["Beyond", "Plan", "draw_mark", "draw_plan"]

WIDTH, HIGHEST = 680.0, 620.0
#: Space around the area, and how far beyond it a module is still drawn, as shares of its greater side.
PADDING, REACH = 0.06, 0.35
#: No plan shows less than this. Units: m.
LEAST_SIDE_M = 40.0
#: From this many on, labels would cover the plan; the tags are in the tables.
MOST_LABELS = 40
LETTER, LABEL_HEIGHT = 6.6, 13.0
NICE = (1.0, 2.0, 5.0)

COLOURS = {
    Verdict.CONFORMING: "#0b5d6b",
    Verdict.NONCONFORMING: "#a3160a",
    Verdict.INCONCLUSIVE: "#7a4b00",
    Verdict.NOT_APPLICABLE: "#55636a",
}
#: The path of one mark around its place.
SHAPES = {
    Verdict.CONFORMING: "h0",
    Verdict.NONCONFORMING: "m-5-5l10 10m0-10l-10 10",
    Verdict.INCONCLUSIVE: "m0-6.5l6 11h-12z",
    Verdict.NOT_APPLICABLE: "m-4-4h8v8h-8z",
}
STROKES = {
    Verdict.CONFORMING: 'stroke-width="7" stroke-linecap="round" fill="none"',
    Verdict.NONCONFORMING: 'stroke-width="3.2" stroke-linecap="square" fill="none"',
    Verdict.INCONCLUSIVE: 'stroke-width="2.2" stroke-linejoin="round" fill="#fff"',
    Verdict.NOT_APPLICABLE: 'stroke-width="1.8" fill="none"',
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Beyond:
    """A module that lies beyond the plan."""

    tag: str
    verdict: Verdict
    #: From the middle of the area. Units: m, and degrees from true north.
    distance_m: float
    bearing_deg: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """A drawing, and what did not fit on it."""

    area_id: str
    svg: str
    beyond: tuple[Beyond, ...]
    #: Whether tags were left out where they would have covered each other.
    labels_left_out: bool
    keep_outs: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class _View:
    """The part of the plane that is drawn, and its place on the paper."""

    west: float
    south: float
    east: float
    north: float

    @property
    def scale(self) -> float:
        """Pixels for a metre."""
        return min(WIDTH / (self.east - self.west), HIGHEST / (self.north - self.south))

    @property
    def width(self) -> float:
        """In pixels."""
        return (self.east - self.west) * self.scale

    @property
    def height(self) -> float:
        """In pixels."""
        return (self.north - self.south) * self.scale

    def place(self, east: float, north: float) -> tuple[float, float]:
        """Give the place on the paper, x to the right and y downward."""
        return (east - self.west) * self.scale, (self.north - north) * self.scale

    def holds(self, east: NDArray[np.float64], north: NDArray[np.float64]) -> NDArray[np.bool_]:
        """Tell which points are drawn."""
        return (east >= self.west) & (east <= self.east) & (north >= self.south) & (north <= self.north)


def draw_mark(verdict: Verdict) -> str:
    """Give the mark of a verdict as a small drawing of its own, for a legend."""
    mark = _marks(verdict, [(8.0, 8.0)])
    return f'<svg class="mark" viewBox="0 0 16 16" width="16" height="16" aria-hidden="true">{mark}</svg>'


def draw_plan(summary: PermitSummary, index: int, keep_outs: Sequence[KeepOut], *, name: str) -> Plan:
    """
    Draw one area of a permit with the modules in it and near it.

    Parameters
    ----------
    summary : PermitSummary
        What the audit says of the permit.
    index : int
        Which of its areas.
    keep_outs : sequence of KeepOut
        Those of the registry; the near ones are drawn with their setback.
    name : str
        An identifier for the drawing, unlike every other on the page.
    """
    area = summary.permit.areas[index]
    middle = area.shape.centroid
    plane = SitePlane(middle.x, middle.y)
    outline = _in_plane(densify(area.shape, area.edges, 50.0), plane)
    rows = np.flatnonzero(summary.nearest_area == index)
    east, north = plane.to_plane(summary.placements.lon_deg[rows], summary.placements.lat_deg[rows])
    view = _view(outline, east, north)
    drawn = view.holds(east, north)
    places = [view.place(e, n) for e, n in zip(east[drawn], north[drawn], strict=True)]
    verdicts = summary.verdict[rows[drawn]]
    tags = [str(tag) for tag in summary.placements.tag[rows[drawn]]]
    near = [(each, *_keep_out(each, plane, view)) for each in keep_outs]
    near = [(each, line, zone) for each, line, zone in near if not zone.is_empty]
    beyond = _beyond(summary, rows, east, north, drawn)
    flagged = [row for row in range(len(places)) if verdicts[row] >= Verdict.INCONCLUSIVE]
    labels, complete = _labels([(places[row], tags[row]) for row in flagged], view)
    parts = [
        f'<rect width="{view.width:.0f}" height="{view.height:.0f}" fill="#fff"/>',
        f'<path d="{_path(outline, view)}" fill="#e3f0f4" fill-rule="evenodd" '
        'stroke="#0b3a53" stroke-width="2"/>',
        *(_drawn_keep_out(line, zone, view) for _, line, zone in near),
        *_all_marks(places, verdicts),
        *(_arrow(each, view) for each in beyond),
        *labels,
        _scale_bar(view),
        _north_arrow(view),
        f'<rect width="{view.width:.0f}" height="{view.height:.0f}" fill="none" stroke="#0b3a53"/>',
    ]
    told = _described(area, verdicts, len(beyond))
    svg = (
        f'<svg class="plan" viewBox="0 0 {view.width:.0f} {view.height:.0f}" width="{view.width:.0f}" '
        f'role="img" aria-labelledby="{name}-t {name}-d" font-family="inherit">'
        f'<title id="{name}-t">Plan of {escape(area.area_id)}</title>'
        f'<desc id="{name}-d">{escape(told)}</desc>'
        f"{''.join(parts)}</svg>"
    )
    return Plan(
        area_id=area.area_id,
        svg=svg,
        beyond=beyond,
        labels_left_out=not complete,
        keep_outs=tuple(f"{each.kind} {each.name}" for each, *_ in near),
    )


def _described(area: Area, verdicts: NDArray[np.int8], beyond: int) -> str:
    counted = [
        f"{int((verdicts == verdict).sum())} {verdict.word}"
        for verdict in (Verdict.CONFORMING, Verdict.NONCONFORMING, Verdict.INCONCLUSIVE)
    ]
    more = f" {beyond} lie beyond the plan." if beyond else ""
    return f"Outline of {area.area_id} with its modules: {', '.join(counted)}.{more} True north is up."


def _in_plane(shape: BaseGeometry, plane: SitePlane) -> BaseGeometry:
    return shapely.transform(shape, lambda xy: np.column_stack(plane.to_plane(xy[:, 0], xy[:, 1])))


def _view(outline: BaseGeometry, east: NDArray[np.float64], north: NDArray[np.float64]) -> _View:
    """Give the area with what lies near it, and some space around."""
    west, south, right, top = outline.bounds
    side = max(right - west, top - south, LEAST_SIDE_M)
    reach = REACH * side
    near = (east > west - reach) & (east < right + reach) & (north > south - reach) & (north < top + reach)
    if near.any():
        west, right = min(west, east[near].min()), max(right, east[near].max())
        south, top = min(south, north[near].min()), max(top, north[near].max())
    pad = PADDING * side
    # A long and narrow area still gets a plan on which a label can be read.
    wide = max(0.0, LEAST_SIDE_M + 0.35 * (top - south) - (right - west)) / 2
    high = max(0.0, LEAST_SIDE_M + 0.35 * (right - west) - (top - south)) / 2
    return _View(west - pad - wide, south - pad - high, right + pad + wide, top + pad + high)


def _rings(shape: BaseGeometry) -> Iterator[tuple[NDArray[np.float64], bool]]:
    """Give the lines of a shape, and whether each is closed."""
    for part in shapely.get_parts(shape):
        if isinstance(part, Polygon):
            for ring in (part.exterior, *part.interiors):
                yield shapely.get_coordinates(ring), True
        else:
            yield shapely.get_coordinates(part), False


def _path(shape: BaseGeometry, view: _View) -> str:
    # Half a pixel of detail is enough, and keeps a surveyed coast from filling the page.
    steps = []
    for line, closed in _rings(shape.simplify(0.25 / view.scale)):
        points = [view.place(e, n) for e, n in line]
        steps.append("M" + "L".join(f"{x:.1f} {y:.1f}" for x, y in points) + ("z" if closed else ""))
    return "".join(steps)


def _keep_out(keep_out: KeepOut, plane: SitePlane, view: _View) -> tuple[BaseGeometry, BaseGeometry]:
    """Give a keep-out and the ground within its setback, as far as they are drawn."""
    whole = _in_plane(densify(keep_out.shape, "geodesic", 500.0), plane)
    frame = box(view.west, view.south, view.east, view.north)
    zone = whole.buffer(max(keep_out.setback_m, 0.5 / view.scale))
    return whole.intersection(frame), zone.intersection(frame)


def _drawn_keep_out(line: BaseGeometry, zone: BaseGeometry, view: _View) -> str:
    drawn = (
        f'<path d="{_path(zone, view)}" fill="#8f2f14" fill-opacity=".1" stroke="#8f2f14" stroke-width="1.2" '
        'stroke-dasharray="5 4"/>'
    )
    if not line.is_empty:
        path = _path(line, view)
        drawn += f'<path d="{path}" fill="none" stroke="#8f2f14" stroke-width="3" stroke-linecap="round"/>'
    return drawn


def _marks(verdict: Verdict, places: Iterable[tuple[float, float]]) -> str:
    """Draw all marks of a verdict as one path; those on the same pixel as one."""
    unique = dict.fromkeys((round(x), round(y)) for x, y in places)
    if not unique:
        return ""
    steps = "".join(f"M{x} {y}{SHAPES[verdict]}" for x, y in unique)
    return f'<path d="{steps}" stroke="{COLOURS[verdict]}" {STROKES[verdict]}/>'


def _all_marks(places: Sequence[tuple[float, float]], verdicts: NDArray[np.int8]) -> list[str]:
    """Draw the worst last, so that nothing covers it."""
    return [
        _marks(verdict, [place for place, each in zip(places, verdicts, strict=True) if each == verdict])
        for verdict in sorted(Verdict)
    ]


def _beyond(
    summary: PermitSummary,
    rows: NDArray[np.intp],
    east: NDArray[np.float64],
    north: NDArray[np.float64],
    drawn: NDArray[np.bool_],
) -> tuple[Beyond, ...]:
    return tuple(
        Beyond(
            tag=str(summary.placements.tag[rows[i]]),
            verdict=Verdict(int(summary.verdict[rows[i]])),
            distance_m=math.hypot(east[i], north[i]),
            bearing_deg=math.degrees(math.atan2(east[i], north[i])) % 360.0,
        )
        for i in np.flatnonzero(~drawn)
    )


def _arrow(beyond: Beyond, view: _View) -> str:
    """Draw an arrow at the edge, toward what lies beyond it."""
    bearing = math.radians(beyond.bearing_deg)
    x0, y0 = view.place(0.0, 0.0)
    dx, dy = math.sin(bearing), -math.cos(bearing)
    inset = 6.0
    reaches = [
        (limit - start) / step
        for start, step, low, high in (
            (x0, dx, inset, view.width - inset),
            (y0, dy, inset, view.height - inset),
        )
        for limit in ((high if step > 0 else low),)
        if abs(step) > 1e-9
    ]
    reach = min(reaches)
    x, y = x0 + reach * dx, y0 + reach * dy
    placed = f"translate({x:.1f} {y:.1f}) rotate({beyond.bearing_deg:.1f})"
    return f'<path d="M0 0l-6 13 6-4 6 4z" transform="{placed}" fill="{COLOURS[beyond.verdict]}"/>'


def _labels(flagged: Sequence[tuple[tuple[float, float], str]], view: _View) -> tuple[list[str], bool]:
    """Write the tags beside their marks where there is room; tell whether there was for all."""
    if len(flagged) > MOST_LABELS:
        return [], False
    taken = [(x - 7, y - 7, x + 7, y + 7) for (x, y), _ in flagged]
    # The corners of scale bar and north arrow.
    taken += [(0.0, view.height - 44, 210.0, view.height), (view.width - 50, 0.0, view.width, 64.0)]
    labels = []
    for (x, y), tag in flagged:
        wide = LETTER * len(tag)
        spots = ((x + 9, y + 4), (x - 9 - wide, y + 4), (x - wide / 2, y - 10), (x - wide / 2, y + 19))
        for left, base in spots:
            room = (left, base - LABEL_HEIGHT + 2, left + wide, base + 3)
            if _free(room, taken, view):
                taken.append(room)
                labels.append(f'<text x="{left:.0f}" y="{base:.0f}">{escape(tag)}</text>')
                break
    style = 'font-size="12" fill="#14262f" stroke="#fff" stroke-width="3" paint-order="stroke"'
    return ([f"<g {style}>{''.join(labels)}</g>"] if labels else []), len(labels) == len(flagged)


def _free(
    room: tuple[float, float, float, float],
    taken: Iterable[tuple[float, float, float, float]],
    view: _View,
) -> bool:
    left, top, right, bottom = room
    if left < 2 or top < 2 or right > view.width - 2 or bottom > view.height - 2:
        return False
    return not any(left < t[2] and right > t[0] and top < t[3] and bottom > t[1] for t in taken)


def _scale_bar(view: _View) -> str:
    """Draw a bar of a round length, about a quarter of the width."""
    aim = view.width / 4 / view.scale
    power = 10.0 ** math.floor(math.log10(aim))
    length = max(step * power for step in NICE if step * power <= aim)
    pixels = length * view.scale
    y = view.height - 16
    told = f"{length / 1000:g} km" if length >= 1000 else f"{length:g} m"
    half = f"{length / 2000:g}" if length >= 1000 else f"{length / 2:g}"
    return (
        f'<g transform="translate(16 {y:.0f})" font-size="12" fill="#14262f">'
        f'<path d="M-8 8v-34h{pixels + 62:.0f}v34z" fill="#fff" fill-opacity=".85"/>'
        f'<path d="M0 0h{pixels:.1f}v-6h-{pixels:.1f}z" fill="#fff" stroke="#14262f"/>'
        f'<path d="M0 0h{pixels / 2:.1f}v-6h-{pixels / 2:.1f}z"/>'
        f'<text y="-10">0</text><text x="{pixels / 2:.1f}" y="-10" text-anchor="middle">{half}</text>'
        f'<text x="{pixels:.1f}" y="-10" text-anchor="middle">{told}</text></g>'
    )


def _north_arrow(view: _View) -> str:
    return (
        f'<g transform="translate({view.width - 26:.0f} 12)" fill="#14262f">'
        '<circle cx="0" cy="26" r="23" fill="#fff" fill-opacity=".85"/><path d="M0 18l8 24-8-6-8 6z"/>'
        '<text y="15" font-size="14" font-weight="700" text-anchor="middle">N</text></g>'
    )
