"""
The plan of a permit area as SVG, to scale: outline, keep-outs, and every module by the shape of its verdict.

Drawn in the plane of :class:`registry.measure.geodesic.SitePlane` around the middle of the area, true north
up. A verdict is a shape and a colour, so that a plan printed in black reads the same. What lies far beyond
the area is told by an arrow at the edge: one swapped digit must not shrink the reef to a dot.
"""

import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from html import escape

import numpy as np
from numpy.typing import NDArray
from shapely.geometry import box
from shapely.geometry.base import BaseGeometry

from registry.documents.plan_drawing import (
    LABEL_SIZE,
    LEAST_SIDE_M,
    STRIP,
    View,
    drawn_keep_out,
    in_plane,
    keep_out_in,
    north_arrow,
    path_of,
    scale_bar,
    view_of,
)
from registry.measure.decision import Verdict
from registry.measure.edges import densify
from registry.measure.geodesic import SitePlane
from registry.records.audit_summary import PermitSummary
from registry.records.permit import KeepOut

__all__ = ["Beyond", "Highlight", "Plan", "draw_mark", "draw_plans"]

#: From this many on, labels would cover the plan; the tags are in the tables.
MOST_LABELS = 40
LETTER, LABEL_HEIGHT = 8.0, 14.0
#: Where the modules fill less of the area than this share, they get a detail of their own.
DETAIL_SHARE = 0.4
#: A base is drawn to scale from this size on. Units: pixels.
LEAST_BASE = 5.0
#: How strongly a module is drawn that nobody asked for; still to be seen, by its shape as well.
QUIET_OPACITY = 0.22
#: In the place of a verdict: of this placement no mark is drawn.
NOT_DRAWN = -1
#: Around a module, so much leads to it. Units: pixels.
LINK_RADIUS = 11

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

    title: str
    svg: str
    beyond: tuple[Beyond, ...]
    #: Whether tags were left out where they would have covered each other.
    labels_left_out: bool
    keep_outs: tuple[str, ...]
    #: Whether the circles are the bases of the modules in their true size.
    bases: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Highlight:
    """What of a plan is looked for, on a page that can be asked."""

    #: Which placements are drawn in full, the others faintly; shape (n,).
    shown: NDArray[np.bool_]
    #: Where a placement leads, by its row.
    links: Mapping[int, str] = field(default_factory=dict)
    #: The row of one that is ringed.
    chosen: int | None = None


def draw_mark(verdict: Verdict) -> str:
    """Give the mark of a verdict as a small drawing of its own, for a legend."""
    mark = _marks(verdict, [(8.0, 8.0)])
    return f'<svg class="mark" viewBox="0 0 16 16" width="16" height="16" aria-hidden="true">{mark}</svg>'


def draw_plans(
    summary: PermitSummary,
    index: int,
    keep_outs: Sequence[KeepOut],
    *,
    name: str,
    highlight: Highlight | None = None,
) -> tuple[Plan, ...]:
    """
    Draw one area of a permit with the modules in it and near it, and a detail where they lie close together.

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
    highlight : Highlight, optional
        What is looked for; by default all of it, and nothing leads anywhere.
    """
    area = summary.permit.areas[index]
    middle = area.shape.centroid
    plane = SitePlane(middle.x, middle.y)
    outline = in_plane(densify(area.shape, area.edges, 50.0), plane)
    rows = np.flatnonzero(summary.nearest_area == index)
    east, north = plane.to_plane(summary.placements.lon_deg[rows], summary.placements.lat_deg[rows])
    view = view_of(outline, east, north)
    drawn = view.holds(east, north)
    scene = _Scene(
        summary=summary,
        highlight=highlight or Highlight(shown=np.ones(len(summary.placements), dtype=bool)),
        outline=outline,
        keep_outs=[(f"{each.kind} {each.name}", *keep_out_in(each, plane, view)) for each in keep_outs],
        rows=rows[drawn],
        east=east[drawn],
        north=north[drawn],
    )
    beyond = _beyond(summary, rows[~drawn], east[~drawn], north[~drawn])
    detail = _detail(view, scene.east, scene.north)
    whole = _drawn(scene, view, f"Plan of {area.area_id}", name, beyond=beyond, marked=detail)
    if detail is None:
        return (whole,)
    return (whole, _drawn(scene, detail, f"Detail of {area.area_id}", f"{name}-detail"))


@dataclass(frozen=True, slots=True, kw_only=True)
class _Scene:
    """What there is to be drawn, in the plane; arrays have shape (n,)."""

    summary: PermitSummary
    highlight: Highlight
    outline: BaseGeometry
    #: Name, shape and ground within the setback.
    keep_outs: Sequence[tuple[str, BaseGeometry, BaseGeometry]]
    rows: NDArray[np.intp]
    east: NDArray[np.float64]
    north: NDArray[np.float64]


def _drawn(
    scene: _Scene,
    view: View,
    title: str,
    name: str,
    *,
    beyond: tuple[Beyond, ...] = (),
    marked: View | None = None,
) -> Plan:
    inside = view.holds(scene.east, scene.north)
    rows = scene.rows[inside]
    places = [view.place(e, n) for e, n in zip(scene.east[inside], scene.north[inside], strict=True)]
    verdicts = scene.summary.verdict[rows]
    frame = box(view.west, view.south, view.east, view.north)
    near = [
        (told, line.intersection(frame), zone.intersection(frame))
        for told, line, zone in scene.keep_outs
        if zone.intersects(frame)
    ]
    bases = _bases(places, scene.summary.placements.base_radius_m[rows] * view.scale)
    shown = scene.highlight.shown[rows]
    flagged = [row for row in range(len(places)) if verdicts[row] >= Verdict.INCONCLUSIVE and shown[row]]
    tags = [str(scene.summary.placements.tag[rows[row]]) for row in flagged]
    labels, complete = _labels([places[row] for row in flagged], tags, places, view)
    edge = f'<rect width="{view.width:.0f}" height="{view.height:.0f}"'
    parts = [
        f'{edge} fill="#fff"/>',
        f'<path d="{path_of(scene.outline.intersection(frame), view)}" fill="#e3f0f4" fill-rule="evenodd"/>',
        f'<path d="{path_of(scene.outline.boundary.intersection(frame), view)}" fill="none" stroke="#0b3a53" '
        'stroke-width="2"/>',
        *(drawn_keep_out(line, zone, view) for _, line, zone in near),
        bases,
        *_quiet(_all_marks(places, np.where(shown, NOT_DRAWN, verdicts))),
        *_all_marks(places, np.where(shown, verdicts, NOT_DRAWN)),
        *(_arrow(each, view) for each in beyond),
        *([_frame_of(marked, view)] if marked else []),
        *labels,
        *_links(scene, rows, places),
        f'{edge} fill="none" stroke="#0b3a53"/>',
        scale_bar(view),
        north_arrow(view),
    ]
    told = _described(verdicts, len(beyond))
    # What holds links is no picture to who hears the page.
    role = "group" if scene.highlight.links else "img"
    svg = (
        f'<svg class="plan" viewBox="-1 -1 {view.width + 2:.0f} {view.height + STRIP:.0f}" '
        f'width="{view.width:.0f}" role="{role}" aria-labelledby="{name}-t {name}-d" font-family="inherit">'
        f'<title id="{name}-t">{escape(title)}</title><desc id="{name}-d">{told}</desc>'
        f"{''.join(parts)}</svg>"
    )
    return Plan(
        title=title,
        svg=svg,
        beyond=beyond,
        labels_left_out=not complete,
        keep_outs=tuple(told for told, *_ in near),
        bases=bool(bases),
    )


def _detail(view: View, east: NDArray[np.float64], north: NDArray[np.float64]) -> View | None:
    """Give the part that most of the modules fill, where that is small; a few strays do not widen it."""
    if len(east) < 2:
        return None
    (west, right), (south, top) = (np.quantile(axis, (0.1, 0.9)) for axis in (east, north))
    reach = 0.5 * max(right - west, top - south, LEAST_SIDE_M)
    most = (
        (east >= west - reach) & (east <= right + reach) & (north >= south - reach) & (north <= top + reach)
    )
    west, right, south, top = east[most].min(), east[most].max(), north[most].min(), north[most].max()
    side = max(right - west, top - south, LEAST_SIDE_M)
    if side > DETAIL_SHARE * max(view.east - view.west, view.north - view.south):
        return None
    pad = 0.12 * side
    wide, high = max(0.0, 0.5 * side - (right - west)) / 2, max(0.0, 0.5 * side - (top - south)) / 2
    return View(west - pad - wide, south - pad - high, right + pad + wide, top + pad + high)


def _frame_of(marked: View, view: View) -> str:
    """Draw the outline of a detail."""
    x, y = view.place(marked.west, marked.north)
    wide, high = (marked.east - marked.west) * view.scale, (marked.north - marked.south) * view.scale
    return (
        f'<rect x="{x:.1f}" y="{y:.1f}" width="{wide:.1f}" height="{high:.1f}" fill="none" '
        'stroke="#14262f" stroke-dasharray="2 3"/>'
    )


def _bases(places: Sequence[tuple[float, float]], radii: NDArray[np.float64]) -> str:
    """Draw the bases in their true size, where that can be seen."""
    large = {
        (round(x), round(y)): (x, y, radius)
        for (x, y), radius in zip(places, radii, strict=True)
        if radius >= LEAST_BASE
    }
    steps = "".join(
        f"M{x - r:.1f} {y:.1f}a{r:.1f} {r:.1f} 0 1 0 {2 * r:.1f} 0a{r:.1f} {r:.1f} 0 1 0 {-2 * r:.1f} 0"
        for x, y, r in large.values()
    )
    return f'<path d="{steps}" fill="#cfd6d3" stroke="#55636a"/>' if steps else ""


def _described(verdicts: NDArray[np.int8], beyond: int) -> str:
    counted = [
        f"{int((verdicts == verdict).sum())} {verdict.word}"
        for verdict in (Verdict.CONFORMING, Verdict.NONCONFORMING, Verdict.INCONCLUSIVE)
    ]
    more = f" {beyond} lie beyond the plan." if beyond else ""
    return f"Modules drawn: {', '.join(counted)}.{more} True north is up."


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
        _marks(verdict, [places[row] for row in np.flatnonzero(verdicts == int(verdict)).tolist()])
        for verdict in sorted(Verdict)
    ]


def _quiet(marks: Sequence[str]) -> list[str]:
    drawn = "".join(marks)
    return [f'<g opacity="{QUIET_OPACITY}">{drawn}</g>'] if drawn else []


def _links(scene: _Scene, rows: NDArray[np.intp], places: Sequence[tuple[float, float]]) -> Iterator[str]:
    """Lay over each module that leads somewhere what can be pressed, and ring the chosen one."""
    for row, (x, y) in zip(rows.tolist(), places, strict=True):
        if row == scene.highlight.chosen:
            yield (
                f'<circle class="chosen" cx="{x:.0f}" cy="{y:.0f}" r="14" fill="none" stroke="#14262f" '
                'stroke-width="3"/>'
            )
        if row in scene.highlight.links:
            tag = str(scene.summary.placements.tag[row])
            told = f"{tag}: {Verdict(int(scene.summary.verdict[row])).word}"
            yield (
                f'<a class="module" href="{escape(scene.highlight.links[row])}" data-tag="{escape(tag)}" '
                f'aria-label="{escape(told)}"><title>{escape(told)}</title><circle cx="{x:.0f}" cy="{y:.0f}" '
                f'r="{LINK_RADIUS}" fill="#fff" fill-opacity="0"/></a>'
            )


def _beyond(
    summary: PermitSummary,
    rows: NDArray[np.intp],
    east: NDArray[np.float64],
    north: NDArray[np.float64],
) -> tuple[Beyond, ...]:
    return tuple(
        Beyond(
            tag=str(summary.placements.tag[rows[i]]),
            verdict=Verdict(int(summary.verdict[rows[i]])),
            distance_m=math.hypot(east[i], north[i]),
            bearing_deg=math.degrees(math.atan2(east[i], north[i])) % 360.0,
        )
        for i in range(len(rows))
    )


def _arrow(beyond: Beyond, view: View) -> str:
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


def _labels(
    flagged: Sequence[tuple[float, float]],
    tags: Sequence[str],
    places: Sequence[tuple[float, float]],
    view: View,
) -> tuple[list[str], bool]:
    """Write the tags beside their marks where there is room; tell whether there was for all."""
    if len(flagged) > MOST_LABELS:
        return [], False
    taken = [(x - 6.0, y - 6.0, x + 6.0, y + 6.0) for x, y in {(round(x), round(y)) for x, y in places}]
    labels = []
    for (x, y), tag in zip(flagged, tags, strict=True):
        wide = LETTER * len(tag)
        spots = (
            (x + 10, x + 10, y + 4.5, "start"),
            (x - 10, x - 10 - wide, y + 4.5, "end"),
            (x, x - wide / 2, y - 11, "middle"),
            (x, x - wide / 2, y + 21, "middle"),
        )
        for anchor, left, base, how in spots:
            room = (left, base - LABEL_HEIGHT + 3, left + wide, base + 3)
            if _free(room, taken, view):
                taken.append(room)
                labels.append(
                    f'<text x="{anchor:.0f}" y="{base:.0f}" text-anchor="{how}">{escape(tag)}</text>'
                )
                break
    style = f'font-size="{LABEL_SIZE}" fill="#14262f" stroke="#fff" stroke-width="3" paint-order="stroke"'
    return ([f"<g {style}>{''.join(labels)}</g>"] if labels else []), len(labels) == len(flagged)


def _free(
    room: tuple[float, float, float, float],
    taken: Iterable[tuple[float, float, float, float]],
    view: View,
) -> bool:
    left, top, right, bottom = room
    if left < 2 or top < 2 or right > view.width - 2 or bottom > view.height - 2:
        return False
    return not any(left < t[2] and right > t[0] and top < t[3] and bottom > t[1] for t in taken)
