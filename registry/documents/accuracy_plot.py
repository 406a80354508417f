"""
The differences of a check survey as an SVG: one mark for each module, seen from where the check found it.

Drawn to scale, true north up. Whatever is told by a colour is told by a shape as well.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from html import escape

from registry.measure.accuracy import Accuracy

__all__ = ["PlotPoint", "draw_accuracy"]

WIDTH, HEIGHT = 640.0, 720.0
CENTRE_X, CENTRE_Y, REACH_PX = 320.0, 340.0, 250.0
NICE = (1.0, 2.0, 5.0)
MOST_LABELS = 12
INK, SEA, GOOD, WILD, QUIET = "#0b3a53", "#e3f0f4", "#0b5d6b", "#a3160a", "#55636a"


@dataclass(frozen=True, slots=True, kw_only=True)
class PlotPoint:
    """One difference: registry minus check."""

    tag: str
    #: Units: m.
    east_m: float
    north_m: float
    outlier: bool


def draw_accuracy(
    points: Sequence[PlotPoint], accuracy: Accuracy, *, title: str, lines: Sequence[str] = ()
) -> str:
    """
    Draw the differences with their mean and their 95 % radius.

    Parameters
    ----------
    points : sequence of PlotPoint
        One for each module.
    accuracy : Accuracy
        Over all of them.
    title : str
        What was checked.
    lines : sequence of str
        Said below the drawing; three at most.

    Returns
    -------
    str
        An SVG document, the same for the same figures.
    """
    reach_m = _reach(points, accuracy)
    scale = REACH_PX / reach_m
    step_m = _step(reach_m)
    parts = [
        f'<rect width="{WIDTH:.0f}" height="{HEIGHT:.0f}" fill="#fff"/>',
        _text(CENTRE_X, 34, title, size=19, weight="bold"),
        _text(CENTRE_X, 58, "Registry minus check, in metres; true north up", size=13, colour=QUIET),
        *_rings(reach_m, step_m, scale),
        _radius(accuracy.ellipse_r95_m * scale),
        *_marks(points, scale),
        _mean(accuracy, scale),
        *_legend(accuracy, any(point.outlier for point in points)),
        *(_text(CENTRE_X, 664 + 18 * i, line, size=12, colour=QUIET) for i, line in enumerate(lines[:3])),
    ]
    wild = sum(point.outlier for point in points)
    many = "1 module" if len(points) == 1 else f"{len(points)} modules"
    told = (
        f"{many}, outliers among them: {wild}; 95 % lie within {accuracy.ellipse_r95_m:.2f} m; "
        f"mean {accuracy.mean_east_m:.2f} m east, {accuracy.mean_north_m:.2f} m north."
    )
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH:.0f} {HEIGHT:.0f}" '
        f'width="{WIDTH:.0f}" height="{HEIGHT:.0f}" role="img" aria-labelledby="t d" '
        f'font-family="Helvetica, Arial, sans-serif"><title id="t">{escape(title)}</title>'
        f'<desc id="d">{told}</desc>{"".join(parts)}</svg>\n'
    )


def _reach(points: Sequence[PlotPoint], accuracy: Accuracy) -> float:
    """Give the distance that the edge of the drawing stands for."""
    farthest = max((math.hypot(point.east_m, point.north_m) for point in points), default=0.0)
    return 1.08 * max(farthest, accuracy.ellipse_r95_m, 0.01)


def _step(reach_m: float) -> float:
    """Give the greatest round step of which at least three fit."""
    decade = 10.0 ** math.floor(math.log10(reach_m / 3.0))
    return max(nice * decade for nice in NICE if nice * decade <= reach_m / 3.0)


def _rings(reach_m: float, step_m: float, scale: float) -> list[str]:
    decimals = max(0, -math.floor(math.log10(step_m)))
    parts = [
        f'<circle cx="{CENTRE_X:.0f}" cy="{CENTRE_Y:.0f}" r="{REACH_PX:.0f}" fill="{SEA}" stroke="{INK}"/>'
    ]
    for count in range(1, int(reach_m / step_m) + 1):
        r = count * step_m * scale
        parts.append(
            f'<circle cx="{CENTRE_X:.0f}" cy="{CENTRE_Y:.0f}" r="{r:.1f}" fill="none" stroke="#fff" '
            'stroke-width="1.5"/>'
        )
        label = f"{count * step_m:.{decimals}f}" + (" m" if count == 1 else "")
        parts.append(_text(CENTRE_X + r + 3, CENTRE_Y - 4, label, size=11, anchor="start", colour=QUIET))
    for x1, y1, x2, y2 in ((-1, 0, 1, 0), (0, -1, 0, 1)):
        parts.append(
            f'<line x1="{CENTRE_X + x1 * REACH_PX:.0f}" y1="{CENTRE_Y + y1 * REACH_PX:.0f}" '
            f'x2="{CENTRE_X + x2 * REACH_PX:.0f}" y2="{CENTRE_Y + y2 * REACH_PX:.0f}" stroke="{INK}" '
            'stroke-width="0.8" opacity="0.5"/>'
        )
    for dx, dy, letter in ((0, -9, "N"), (0, 19, "S"), (12, 5, "E"), (-14, 5, "W")):
        x = CENTRE_X + dx + (REACH_PX if letter == "E" else -REACH_PX if letter == "W" else 0)
        y = CENTRE_Y + dy + (REACH_PX if letter == "S" else -REACH_PX if letter == "N" else 0)
        parts.append(_text(x, y, letter, size=13, weight="bold"))
    return parts


def _radius(r: float) -> str:
    return (
        f'<circle cx="{CENTRE_X:.0f}" cy="{CENTRE_Y:.0f}" r="{r:.1f}" fill="none" stroke="{GOOD}" '
        'stroke-width="2.5" stroke-dasharray="8 5"/>'
    )


def _marks(points: Sequence[PlotPoint], scale: float) -> list[str]:
    parts = []
    labels = 0
    for point in points:
        x, y = CENTRE_X + point.east_m * scale, CENTRE_Y - point.north_m * scale
        if not point.outlier:
            parts.append(f'<circle cx="{x:.1f}" cy="{y:.1f}" r="4.5" fill="{GOOD}" fill-opacity="0.75"/>')
            continue
        parts.append(_cross(x, y))
        labels += 1
        if labels <= MOST_LABELS:
            left = x > CENTRE_X + REACH_PX / 2
            parts.append(
                _text(
                    x + (-10 if left else 10),
                    y + 4,
                    point.tag,
                    size=12,
                    anchor="end" if left else "start",
                    colour=WILD,
                )
            )
    return parts


def _cross(x: float, y: float) -> str:
    return (
        f'<path d="M{x - 5:.1f} {y - 5:.1f}l10 10m0 -10l-10 10" stroke="{WILD}" stroke-width="3" '
        'stroke-linecap="square" fill="none"/>'
    )


def _mean(accuracy: Accuracy, scale: float) -> str:
    x, y = CENTRE_X + accuracy.mean_east_m * scale, CENTRE_Y - accuracy.mean_north_m * scale
    return (
        f'<path d="M{x:.1f} {y - 8:.1f}l8 8l-8 8l-8 -8z" fill="#fff" fill-opacity="0.85" stroke="{INK}" '
        'stroke-width="2"/>'
    )


def _legend(accuracy: Accuracy, wild: bool) -> list[str]:  # noqa: FBT001
    y = 634.0
    parts = [
        f'<circle cx="42" cy="{y:.0f}" r="4.5" fill="{GOOD}"/>',
        _text(54, y + 4, "module", size=12, anchor="start"),
        f'<path d="M142 {y - 8:.0f}l8 8l-8 8l-8 -8z" fill="#fff" stroke="{INK}" stroke-width="2"/>',
        _text(156, y + 4, "mean", size=12, anchor="start"),
        f'<line x1="226" y1="{y:.0f}" x2="262" y2="{y:.0f}" stroke="{GOOD}" stroke-width="2.5" '
        'stroke-dasharray="8 5"/>',
        _text(
            270,
            y + 4,
            f"95 % within {accuracy.ellipse_r95_m:.{accuracy.decimals}f} m",
            size=12,
            anchor="start",
        ),
    ]
    if wild:
        parts += [_cross(452, y), _text(466, y + 4, "outlier, counted in", size=12, anchor="start")]
    return parts


def _text(
    x: float,
    y: float,
    text: str,
    *,
    size: int,
    weight: str = "normal",
    anchor: str = "middle",
    colour: str = INK,
) -> str:
    return (
        f'<text x="{x:.1f}" y="{y:.1f}" font-size="{size}" font-weight="{weight}" text-anchor="{anchor}" '
        f'fill="{colour}">{escape(text)}</text>'
    )
