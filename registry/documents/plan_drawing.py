"""
What every plan is drawn with, as SVG to scale: the view, shapes as paths, keep-outs, scale bar, north arrow.

Drawn in the plane of :class:`registry.measure.geodesic.SitePlane`, true north up; colours as attributes, so
that a page's policy needs no inline style.
"""

import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import Polygon, box
from shapely.geometry.base import BaseGeometry

from registry.measure.edges import densify
from registry.measure.geodesic import SitePlane
from registry.records.permit import KeepOut

__all__ = [
    "LABEL_SIZE",
    "LEAST_SIDE_M",
    "STRIP",
    "View",
    "drawn_keep_out",
    "in_plane",
    "keep_out_in",
    "north_arrow",
    "path_of",
    "scale_bar",
    "view_of",
]

WIDTH, HIGHEST = 600.0, 560.0
#: The strip below the plan that holds scale bar and north arrow. Units: pixels.
STRIP = 46.0
#: Space around the area, and how far beyond it a module is still drawn, as shares of its greater side.
PADDING, REACH = 0.06, 0.35
#: No plan shows less than this. Units: m.
LEAST_SIDE_M = 40.0
LABEL_SIZE = 13
NICE = (1.0, 2.0, 5.0)


@dataclass(frozen=True, slots=True)
class View:
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


def in_plane(shape: BaseGeometry, plane: SitePlane) -> BaseGeometry:
    """Give a shape of longitudes and latitudes in the plane. Units: m."""
    return shapely.transform(shape, lambda xy: np.column_stack(plane.to_plane(xy[:, 0], xy[:, 1])))


def view_of(outline: BaseGeometry, east: NDArray[np.float64], north: NDArray[np.float64]) -> View:
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
    return View(west - pad - wide, south - pad - high, right + pad + wide, top + pad + high)


def _rings(shape: BaseGeometry) -> Iterator[tuple[NDArray[np.float64], bool]]:
    """Give the lines of a shape, and whether each is closed; of what is empty there are none."""
    for part in shapely.get_parts(shape):
        if part.is_empty:
            continue
        if isinstance(part, Polygon):
            for ring in (part.exterior, *part.interiors):
                yield shapely.get_coordinates(ring), True
        else:
            yield shapely.get_coordinates(part), False


def path_of(shape: BaseGeometry, view: View) -> str:
    """Give the path of a shape of the plane."""
    # Half a pixel of detail is enough, and keeps a surveyed coast from filling the page.
    steps = []
    for line, closed in _rings(shape.simplify(0.25 / view.scale)):
        points = [view.place(e, n) for e, n in line]
        steps.append("M" + "L".join(f"{x:.1f} {y:.1f}" for x, y in points) + ("z" if closed else ""))
    return "".join(steps)


def keep_out_in(keep_out: KeepOut, plane: SitePlane, view: View) -> tuple[BaseGeometry, BaseGeometry]:
    """Give a keep-out and the ground within its setback, as far as they are drawn."""
    whole = in_plane(densify(keep_out.shape, "geodesic", 500.0), plane)
    frame = box(view.west, view.south, view.east, view.north)
    zone = whole.buffer(max(keep_out.setback_m, 0.5 / view.scale))
    return whole.intersection(frame), zone.intersection(frame)


def drawn_keep_out(line: BaseGeometry, zone: BaseGeometry, view: View) -> str:
    """Draw what to stay clear of, and the ground within its setback."""
    drawn = (
        f'<path d="{path_of(zone, view)}" fill="#8f2f14" fill-opacity=".1" stroke="#8f2f14" '
        'stroke-width="1.2" stroke-dasharray="5 4"/>'
    )
    if not line.is_empty:
        path = path_of(line, view)
        drawn += f'<path d="{path}" fill="none" stroke="#8f2f14" stroke-width="3" stroke-linecap="round"/>'
    return drawn


def scale_bar(view: View) -> str:
    """Draw a bar of a round length, about a third of the width."""
    aim = view.width / 3 / view.scale
    power = 10.0 ** math.floor(math.log10(aim))
    length = max(step * power for step in NICE if step * power <= aim)
    pixels = length * view.scale
    told = f"{length / 1000:g} km" if length >= 1000 else f"{length:g} m"
    half = f"{length / 2000:g}" if length >= 1000 else f"{length / 2:g}"
    return (
        f'<g transform="translate(6 {view.height + 32:.0f})" font-size="{LABEL_SIZE}" fill="#14262f">'
        f'<path d="M0 0h{pixels:.1f}v-6h-{pixels:.1f}z" fill="#fff" stroke="#14262f"/>'
        f'<path d="M0 0h{pixels / 2:.1f}v-6h-{pixels / 2:.1f}z"/>'
        f'<text y="-10">0</text><text x="{pixels / 2:.1f}" y="-10" text-anchor="middle">{half}</text>'
        f'<text x="{pixels:.1f}" y="-10" text-anchor="middle">{told}</text></g>'
    )


def north_arrow(view: View) -> str:
    """Draw an arrow to true north, below the plan at its right."""
    return (
        f'<g transform="translate({view.width - 16:.0f} {view.height + 12:.0f})" fill="#14262f">'
        '<path d="M0 0l8 27-8-7-8 7z"/>'
        f'<text x="-14" y="18" font-size="{LABEL_SIZE}" font-weight="700" text-anchor="end">N</text></g>'
    )
