"""
What a permit allows, drawn without a module: an area with its keep-outs, targets and baselines, to scale.

For whoever transcribes a paper and wants to see at once whether the corners are where they belong.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from html import escape

import numpy as np
from shapely.geometry import box
from shapely.geometry.base import BaseGeometry

from registry.documents.plan_drawing import (
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
from registry.measure.edges import densify
from registry.measure.geodesic import SitePlane
from registry.records.baseline import Baseline
from registry.records.permit import Area, KeepOut
from registry.records.target import Target

__all__ = ["AreaPlan", "draw_area", "draw_shapes"]


@dataclass(frozen=True, slots=True, kw_only=True)
class AreaPlan:
    """A drawing, and what stands on it."""

    title: str
    svg: str
    keep_outs: tuple[str, ...]
    #: How many targets are drawn.
    targets: int


def draw_area(
    area: Area,
    keep_outs: Sequence[KeepOut],
    targets: Sequence[Target],
    baselines: Sequence[Baseline] = (),
    *,
    name: str,
) -> AreaPlan:
    """
    Draw one area of a permit.

    Parameters
    ----------
    area : Area
        In the home frame.
    keep_outs, targets, baselines : sequence
        Those of the registry; what lies near the area is drawn.
    name : str
        An identifier for the drawing, unlike every other on the page.
    """
    middle = area.shape.centroid
    plane = SitePlane(middle.x, middle.y)
    outline = in_plane(densify(area.shape, area.edges, 50.0), plane)
    planned = list(targets)
    east, north = plane.to_plane(
        np.array([t.lon_deg for t in planned]), np.array([t.lat_deg for t in planned])
    )
    view = view_of(outline, east, north)
    inside = view.holds(east, north)
    frame = box(view.west, view.south, view.east, view.north)
    near = [(f"{each.kind} {each.name}".strip(), *keep_out_in(each, plane, view)) for each in keep_outs]
    near = [(told, line, zone) for told, line, zone in near if not zone.is_empty]
    shore = [
        in_plane(densify(each.shape, "geodesic", 500.0), plane).intersection(frame) for each in baselines
    ]
    marks = [view.place(e, n) for e, n in zip(east[inside], north[inside], strict=True)]
    parts = [
        f'<path d="{path_of(outline.intersection(frame), view)}" fill="#e3f0f4" fill-rule="evenodd"/>',
        f'<path d="{path_of(outline.boundary.intersection(frame), view)}" fill="none" stroke="#0b3a53" '
        'stroke-width="2"/>',
        *(_shore(shape, view) for shape in shore if not shape.is_empty),
        *(drawn_keep_out(line, zone, view) for _, line, zone in near),
        *(_target(x, y) for x, y in marks),
    ]
    told = f"{len(marks)} targets, {len(near)} keep-outs. True north is up."
    title = f"Plan of {area.area_id}"
    return AreaPlan(
        title=title,
        svg=_framed(parts, view, title, told, name),
        keep_outs=tuple(words for words, *_ in near),
        targets=len(marks),
    )


def draw_shapes(keep_outs: Sequence[KeepOut], baselines: Sequence[Baseline], *, name: str) -> str:
    """Draw keep-outs and baselines by themselves, all of them, as SVG; empty where there is none."""
    shapes = [*(each.shape for each in keep_outs), *(each.shape for each in baselines)]
    if not shapes:
        return ""
    bounds = np.array([shape.bounds for shape in shapes])
    whole = box(*bounds[:, :2].min(axis=0), *bounds[:, 2:].max(axis=0))
    plane = SitePlane(whole.centroid.x, whole.centroid.y)
    reach = max((each.setback_m for each in keep_outs), default=0.0)
    outline = in_plane(whole, plane).buffer(max(reach, 1.0))
    view = view_of(outline, np.empty(0), np.empty(0))
    frame = box(view.west, view.south, view.east, view.north)
    shore = [
        in_plane(densify(each.shape, "geodesic", 500.0), plane).intersection(frame) for each in baselines
    ]
    parts = [
        *(_shore(shape, view) for shape in shore if not shape.is_empty),
        *(drawn_keep_out(*keep_out_in(each, plane, view), view) for each in keep_outs),
    ]
    told = f"{len(keep_outs)} keep-outs, {len(baselines)} baselines. True north is up."
    return _framed(parts, view, "Plan of what is to be added", told, name)


def _shore(shape: BaseGeometry, view: View) -> str:
    return (
        f'<path d="{path_of(shape, view)}" fill="none" stroke="#6b5a2e" stroke-width="2.5" '
        'stroke-dasharray="12 4 2 4"/>'
    )


def _target(x: float, y: float) -> str:
    """Draw a ring with a cross: where a module is to lie, not where one lies."""
    return (
        f'<path d="M{x - 6:.1f} {y:.1f}h12M{x:.1f} {y - 6:.1f}v12" stroke="#3b1d5e" stroke-width="1.6"/>'
        f'<circle cx="{x:.1f}" cy="{y:.1f}" r="4" fill="none" stroke="#3b1d5e" stroke-width="1.6"/>'
    )


def _framed(parts: Sequence[str], view: View, title: str, told: str, name: str) -> str:
    edge = f'<rect width="{view.width:.0f}" height="{view.height:.0f}"'
    return (
        f'<svg class="plan" viewBox="-1 -1 {view.width + 2:.0f} {view.height + STRIP:.0f}" '
        f'width="{view.width:.0f}" role="img" aria-labelledby="{name}-t {name}-d" font-family="inherit">'
        f'<title id="{name}-t">{escape(title)}</title><desc id="{name}-d">{told}</desc>'
        f'{edge} fill="#fff"/>{"".join(parts)}{edge} fill="none" stroke="#0b3a53"/>'
        f"{scale_bar(view)}{north_arrow(view)}</svg>"
    )
