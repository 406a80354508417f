"""
How the measured values of many placements lie about a limit: a histogram as SVG.

No bar is narrower than a typical value is doubtful, so that the drawing tells nothing which nobody measured;
and one edge lies on the limit itself. What is inconclusive is hatched and what is nonconforming is dark, so
that the drawing reads in grey. The band about the limit is one uncertainty wide to either side: there one
value settles nothing.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from html import escape

import numpy as np
from numpy.typing import NDArray

from registry.measure.decision import Verdict
from registry.measure.digits import metres_decimals, u95_rounded_up_m

__all__ = ["Histogram", "draw_histogram"]

WIDTH, HEIGHT = 600.0, 210.0
LEFT, RIGHT, TOP, BOTTOM = 46.0, 12.0, 30.0, 44.0
#: No more bars than this; values farther out share the last bar of their side.
MOST_BINS = 30
#: Bars aimed at where the doubt would allow more.
AIM_BINS = 20
NICE = (1.0, 2.0, 2.5, 5.0, 10.0)
#: What lies farther out than so many times the spread, or so many times the limit, is gathered at the end:
#: what happens about the limit must not be flattened by strays, nor by what is far from any doubt.
FAR, FAR_LIMITS = 2.0, 4.0
#: From the lightest to the darkest, as they are stacked.
ORDER = (Verdict.CONFORMING, Verdict.INCONCLUSIVE, Verdict.NONCONFORMING)
FILLS = {Verdict.CONFORMING: "#a9d3db", Verdict.INCONCLUSIVE: "#fff", Verdict.NONCONFORMING: "#7c1108"}
#: Between the strokes of a hatched bar. Units: pixels.
HATCH = 5.0
EDGES = {Verdict.CONFORMING: "#0b5d6b", Verdict.INCONCLUSIVE: "#7a4b00", Verdict.NONCONFORMING: "#7c1108"}
INK, QUIET = "#14262f", "#55636a"

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Histogram:
    """A drawing, and the same in words."""

    title: str
    svg: str
    told: str


def draw_histogram(
    value: Floats,
    u95: Floats,
    verdict: NDArray[np.int8],
    limits: Sequence[tuple[float, str]],
    *,
    title: str,
    axis: str,
    name: str,
) -> Histogram | None:
    """
    Draw the values of one condition against its limits.

    Parameters
    ----------
    value, u95 : numpy.ndarray
        Measured values and their expanded uncertainties (95 %); NaN where unknown. Shape (n,). Units: m.
    verdict : numpy.ndarray of int8
        Of each; what is not applicable is left out. Shape (n,).
    limits : sequence of (float, str)
        Each limit in metres, with the words beside its line.
    title, axis : str
        What stands over the drawing, and under its axis.
    name : str
        An identifier for the drawing, unlike every other on the page.

    Returns
    -------
    Histogram or None
        None where no value is known.
    """
    asked = verdict != Verdict.NOT_APPLICABLE
    known = asked & np.isfinite(value)
    if not known.any():
        return None
    values, kinds = value[known], verdict[known]
    doubts = u95[known]
    finite = doubts[np.isfinite(doubts)]
    doubt = float(np.median(finite)) if len(finite) else 0.0
    first = next((limit for limit, _ in limits if math.isfinite(limit)), 0.0)
    bins = _bins(values, doubt, [limit for limit, _ in limits if math.isfinite(limit)], first)
    drawing = _Drawing(bins, values, kinds)
    unknown = int(asked.sum() - known.sum())
    told = _told(bins, doubt, unknown)
    return Histogram(
        title=title, svg=drawing.svg(limits, doubt, title=title, axis=axis, told=told, name=name), told=told
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Bins:
    """Equal bars from `low` on; the first and the last also hold what lies beyond them."""

    low: float
    width: float
    count: int
    below: int
    beyond: int

    @property
    def high(self) -> float:
        return self.low + self.width * self.count


def _bins(values: Floats, doubt: float, limits: Sequence[float], origin: float) -> _Bins:
    """Choose bars no narrower than the doubt, that meet the limit and show nearly everything."""
    least, most = float(values.min()), float(values.max())
    first, middle, third = np.quantile(values, [0.25, 0.5, 0.75])
    spread = max([third - first, doubt, *(abs(limit - middle) for limit in limits)])
    low, high = max(least, first - FAR * spread), min(most, third + FAR * spread)
    size = max((abs(limit) for limit in limits), default=0.0)
    if size > 0:
        low, high = max(low, -FAR_LIMITS * size), min(high, FAR_LIMITS * size)
    low, high = min([low, *limits]) - doubt, max([high, *limits]) + doubt
    width = _nice(max(doubt, (high - low) / AIM_BINS, 1e-3))
    start = origin + math.floor((low - origin) / width) * width
    count = max(2, math.ceil((high - start) / width))
    if count > MOST_BINS:
        width = _nice((high - start) / MOST_BINS)
        start = origin + math.floor((low - origin) / width) * width
        count = math.ceil((high - start) / width)
    return _Bins(
        low=start,
        width=width,
        count=count,
        below=int((values < start).sum()),
        beyond=int((values >= start + width * count).sum()),
    )


def _nice(least: float) -> float:
    """Give the least round width that is not narrower."""
    power = 10.0 ** math.floor(math.log10(least))
    return next(step * power for step in NICE if step * power >= least * (1 - 1e-9))


class _Drawing:
    """The bars in pixels."""

    def __init__(self, bins: _Bins, values: Floats, verdicts: NDArray[np.int8]) -> None:
        self.bins = bins
        place = np.clip(np.floor((values - bins.low) / bins.width).astype(int), 0, bins.count - 1)
        self.counts = {
            verdict: np.bincount(place[verdicts == verdict], minlength=bins.count) for verdict in ORDER
        }
        self.most = max(1, int(sum(self.counts.values(), np.zeros(bins.count, dtype=int)).max()))

    def x(self, value: float) -> float:
        share = (value - self.bins.low) / (self.bins.high - self.bins.low)
        return LEFT + share * (WIDTH - LEFT - RIGHT)

    def y(self, count: float) -> float:
        return HEIGHT - BOTTOM - count / self.most * (HEIGHT - TOP - BOTTOM)

    def svg(
        self,
        limits: Sequence[tuple[float, str]],
        doubt: float,
        *,
        title: str,
        axis: str,
        told: str,
        name: str,
    ) -> str:
        drawn = [(limit, words) for limit, words in limits if math.isfinite(limit)]
        parts = [
            *(self._band(limit, doubt) for limit, _ in drawn),
            *self._grid(),
            *self._bars(),
            *self._axis(axis),
            *self._lines(drawn),
        ]
        return (
            f'<svg class="plan histogram" '
            f'viewBox="0 0 {WIDTH:.0f} {HEIGHT:.0f}" width="{WIDTH:.0f}" role="img" '
            f'aria-labelledby="{name}-t {name}-d" font-family="inherit" font-size="12" fill="{INK}">'
            f'<title id="{name}-t">{escape(title)}</title><desc id="{name}-d">{escape(told)}</desc>'
            f"{''.join(parts)}</svg>"
        )

    def _band(self, limit: float, doubt: float) -> str:
        left, right = (min(max(self.x(edge), LEFT), WIDTH - RIGHT) for edge in (limit - doubt, limit + doubt))
        return (
            f'<path d="M{left:.1f} {TOP:.0f}h{right - left:.1f}v{HEIGHT - TOP - BOTTOM:.0f}'
            f'h{left - right:.1f}z" fill="#eceff0"/>'
        )

    def _bars(self) -> list[str]:
        paths: dict[Verdict, list[str]] = {verdict: [] for verdict in ORDER}
        hatches: list[str] = []
        for bar in range(self.bins.count):
            left = self.x(self.bins.low + bar * self.bins.width) + 0.6
            wide = self.x(self.bins.low + (bar + 1) * self.bins.width) - 0.6 - left
            base = 0
            # The worst at the foot, where they are compared with one another.
            for verdict in reversed(ORDER):
                count = int(self.counts[verdict][bar])
                if count:
                    foot, top = self.y(base), self.y(base + count)
                    # One module among thousands is still to be seen.
                    high = max(foot - top, 1.5)
                    paths[verdict].append(f"M{left:.1f} {foot:.1f}v-{high:.1f}h{wide:.1f}v{high:.1f}z")
                    if verdict == Verdict.INCONCLUSIVE:
                        hatches += _hatched(left, foot - high, wide, high)
                base += count
        drawn = [
            f'<path d="{"".join(steps)}" fill="{FILLS[verdict]}" stroke="{EDGES[verdict]}"/>'
            for verdict, steps in paths.items()
            if steps
        ]
        if hatches:
            drawn.append(
                f'<path d="{"".join(hatches)}" stroke="{EDGES[Verdict.INCONCLUSIVE]}" stroke-width="1.4"/>'
            )
        return drawn

    def _grid(self) -> list[str]:
        step = max(1.0, _nice(self.most / 4))
        step = math.ceil(step)
        lines = []
        for count in range(0, self.most + 1, int(step)):
            y = self.y(count)
            lines.append(
                f'<path d="M{LEFT:.0f} {y:.1f}h{WIDTH - LEFT - RIGHT:.0f}" stroke="#d3dcdf"/>'
                f'<text x="{LEFT - 6:.0f}" y="{y + 4:.1f}" text-anchor="end">{count:,}</text>'
            )
        return lines

    def _axis(self, axis: str) -> list[str]:
        foot = HEIGHT - BOTTOM
        step = _nice((self.bins.high - self.bins.low) / 8)
        decimals = max(0, -math.floor(math.log10(step)) + (1 if f"{step:e}"[:3] == "2.5" else 0))
        parts = [f'<path d="M{LEFT:.0f} {foot:.1f}h{WIDTH - LEFT - RIGHT:.0f}" stroke="{INK}"/>']
        tick = math.ceil(self.bins.low / step - 1e-9)
        while tick * step <= self.bins.high + 1e-9:
            x = self.x(tick * step)
            value = f"{tick * step + 0.0:.{decimals}f}".replace("-", "\N{MINUS SIGN}")
            parts.append(
                f'<path d="M{x:.1f} {foot:.1f}v5" stroke="{INK}"/>'
                f'<text x="{x:.1f}" y="{foot + 18:.1f}" text-anchor="middle">{value}</text>'
            )
            tick += 1
        middle = (LEFT + WIDTH - RIGHT) / 2
        parts.append(
            f'<text x="{middle:.0f}" y="{HEIGHT - 8:.0f}" text-anchor="middle" fill="{QUIET}">'
            f"{escape(axis)}</text>"
        )
        if self.bins.below:
            parts.append(
                f'<text x="{LEFT:.0f}" y="{HEIGHT - 8:.0f}" fill="{QUIET}">\N{LEFTWARDS ARROW} '
                f"{self.bins.below:,} below</text>"
            )
        if self.bins.beyond:
            parts.append(
                f'<text x="{WIDTH - RIGHT:.0f}" y="{HEIGHT - 8:.0f}" text-anchor="end" fill="{QUIET}">'
                f"{self.bins.beyond:,} beyond \N{RIGHTWARDS ARROW}</text>"
            )
        return parts

    def _lines(self, limits: Sequence[tuple[float, str]]) -> list[str]:
        parts = []
        for number, (limit, words) in enumerate(limits):
            x = self.x(limit)
            anchor, start = ("end", x - 5) if x > (LEFT + WIDTH - RIGHT) / 2 else ("start", x + 5)
            parts.append(
                f'<path d="M{x:.1f} {TOP - 22:.0f}V{HEIGHT - BOTTOM:.0f}" stroke="{INK}" stroke-width="2.4" '
                'stroke-dasharray="7 3"/>'
                f'<text x="{start:.1f}" y="{TOP - 10 + 15 * number:.0f}" text-anchor="{anchor}" '
                'font-weight="700" stroke="#fff" stroke-width="3" paint-order="stroke">'
                f"{escape(words)}</text>"
            )
        return parts


def _hatched(left: float, top: float, wide: float, high: float) -> list[str]:
    """
    Draw strokes that rise to the right through a bar; one pattern runs through all bars.

    Examples
    --------
    >>> _hatched(0.0, 0.0, 4.0, 4.0)
    ['M0.0 0.0L0.0 0.0', 'M1.0 4.0L4.0 1.0']
    """
    strokes = []
    # Along a stroke x + y stays the same.
    total = math.ceil((left + top) / HATCH) * HATCH
    while total <= left + wide + top + high:
        start, end = max(left, total - top - high), min(left + wide, total - top)
        strokes.append(f"M{start:.1f} {total - start:.1f}L{end:.1f} {total - end:.1f}")
        total += HATCH
    return strokes


def _told(bins: _Bins, doubt: float, unknown: int) -> str:
    """Say what a bar is, and what is not drawn."""
    width = f"{bins.width:.6g}"
    told = f"Each bar is {width} m wide"
    if doubt > 0:
        up = f"{u95_rounded_up_m(doubt):.{metres_decimals(doubt)}f}"
        told += f": no narrower than a typical value is sure (\N{PLUS-MINUS SIGN} {up} m, 95 %)"
        told += ", which is also how far the grey band reaches to either side of the limit"
    told += "."
    if bins.below or bins.beyond:
        told += " What lies beyond the ends is in the last bar of its side."
    if unknown:
        told += f" Not drawn, for want of a measured value: {unknown:,}."
    return told
