"""
The tide of a day drawn: a curve with its doubt, high and low waters named, as SVG, and small as text.

The band around the curve is the 95 % doubt of a prediction. What the picture says in colour it says in words
as well.
"""

import math
from collections.abc import Callable
from datetime import datetime
from html import escape
from zoneinfo import ZoneInfo

from registry.measure.digits import metres_decimals, u95_rounded_up_m
from registry.records.tide_day import TideDay

__all__ = ["CAUTION", "doubt_text", "draw_tide_curve", "height_text", "write_tide_curve"]

FOOT_M = 0.3048
CAUTION = "A prediction without wind and weather. Not for navigation: official tables and charts decide."
WIDTH, HEIGHT = 800, 420
LEFT, RIGHT, TOP, BOTTOM = 64, 64, 88, 52
#: Space between gridlines: one of these, so that there are at most eight. Units: m.
STEPS_M = (0.1, 0.2, 0.5, 1.0, 2.0, 5.0)
INK, QUIET, WATER, BAND = "#1c2b30", "#55636a", "#0b5d6b", "#cfe3e6"
#: Columns of the small curve.
TEXT_WIDTH = 44
#: Labels nearer to a side than this are turned inward. Units: pixels.
_EDGE = 60
#: A longer name of a station would run off the picture. Characters.
_LONGEST_NAME = 40


def draw_tide_curve(tide: TideDay) -> str:
    """
    Draw the day as an SVG of its own, with no font or picture from outside.

    Parameters
    ----------
    tide : TideDay
        With its curve and its turns.

    Returns
    -------
    str
        SVG. Everything that a person typed is escaped.
    """
    low = min(tide.heights_m) - tide.u95_m
    high = max(tide.heights_m) + tide.u95_m
    step = next((s for s in STEPS_M if (high - low) / s <= 8), STEPS_M[-1])
    bottom_m, top_m = math.floor(low / step) * step, math.ceil(high / step) * step
    start, span_s = tide.times[0], (tide.times[-1] - tide.times[0]).total_seconds()

    def x(at: datetime) -> float:
        return LEFT + (at - start).total_seconds() / span_s * (WIDTH - LEFT - RIGHT)

    def y(height_m: float) -> float:
        return TOP + (top_m - height_m) / (top_m - bottom_m) * (HEIGHT - TOP - BOTTOM)

    curve = [(x(at), y(height)) for at, height in zip(tide.times, tide.heights_m, strict=True)]
    doubt = tide.u95_m / (top_m - bottom_m) * (HEIGHT - TOP - BOTTOM)
    edge = [(px, py - doubt) for px, py in curve] + [(px, py + doubt) for px, py in reversed(curve)]
    name = tide.station if len(tide.station) <= _LONGEST_NAME else f"{tide.station[:_LONGEST_NAME]}…"
    title = f"{name}: predicted tide of {tide.day.isoformat()}"
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH} {HEIGHT}" role="img"'
        f' font-family="system-ui, sans-serif" font-size="13" fill="{INK}">',
        f"<title>{escape(title)}</title>",
        f"<desc>{escape(_description(tide))}</desc>",
        f'<rect width="{WIDTH}" height="{HEIGHT}" fill="#fff"/>',
        f'<text x="{LEFT}" y="28" font-size="19" font-weight="600">{escape(title)}</text>',
        f'<text x="{LEFT}" y="50" fill="{QUIET}">{escape(_caption(tide))}</text>',
        f'<text x="{LEFT}" y="67" fill="{QUIET}">The band: within {doubt_text(tide)} at 95 %</text>',
        f'<path d="{_path(edge)}z" fill="{BAND}"/>',
        *_grid(bottom_m, top_m, step, y),
        *_hours(tide, x),
        f'<path d="{_path(curve)}" fill="none" stroke="{WATER}" stroke-width="2.5"/>',
        *_turns(tide, x, y),
        f'<text x="{LEFT}" y="{HEIGHT - 10}" fill="{QUIET}" font-size="12">{CAUTION}</text>',
        "</svg>",
    ]
    return "\n".join(parts) + "\n"


def write_tide_curve(tide: TideDay) -> tuple[str, ...]:
    r"""
    Draw the day small, one line for each hour, for a terminal.

    Examples
    --------
    >>> from datetime import date, timedelta
    >>> start = datetime(2026, 6, 14, tzinfo=ZoneInfo("UTC"))
    >>> day = TideDay(station="Gannet Pier", position="", source="", day=date(2026, 6, 14), zone="UTC",
    ...     datum="MLLW", datum_epoch="", times=(start, start + timedelta(hours=1)), heights_m=(0.0, 1.0),
    ...     turns=(), u95_m=0.3, u95_basis="")
    >>> print(*write_tide_curve(day), sep="\n")
    00:00   0.00 m |*
    01:00   1.00 m |-------------------------------------------*
    """
    low, high = min(tide.heights_m), max(tide.heights_m)
    scale = (TEXT_WIDTH - 1) / max(high - low, 1e-9)
    lines = []
    for at, height in zip(tide.times, tide.heights_m, strict=True):
        if at.minute == 0:
            column = round((height - low) * scale)
            # Adding zero takes the sign off a rounded zero.
            shown = round(height, _decimals(tide)) + 0.0
            lines.append(f"{at:%H:%M} {shown:6.{_decimals(tide)}f} m |{'-' * column}*")
    return tuple(lines)


def height_text(height_m: float, u95_m: float) -> str:
    """
    Write a height in metres and feet, with no more digits than its doubt supports.

    Examples
    --------
    >>> height_text(1.6136, 0.304)
    '1.61 m (5.3 ft)'
    """
    in_metres, in_feet = metres_decimals(u95_m), metres_decimals(u95_m / FOOT_M)
    # Adding zero takes the sign off a rounded zero.
    metres, feet = round(height_m, in_metres) + 0.0, round(height_m / FOOT_M, in_feet) + 0.0
    return f"{metres:.{in_metres}f} m ({feet:.{in_feet}f} ft)"


def doubt_text(tide: TideDay) -> str:
    """Write the 95 % doubt of a day, rounded up: "0.31 m (1.0 ft)"."""
    return height_text(u95_rounded_up_m(tide.u95_m), tide.u95_m)


def _decimals(tide: TideDay) -> int:
    return metres_decimals(tide.u95_m)


def _caption(tide: TideDay) -> str:
    epoch = f" ({tide.datum_epoch})" if tide.datum_epoch else ""
    return f"Heights above {tide.datum}{epoch}, times of {tide.zone}"


def _description(tide: TideDay) -> str:
    turns = "; ".join(
        f"{turn.kind} water {_clock(turn.at, tide)} {height_text(turn.height_m, tide.u95_m)}"
        for turn in tide.turns
    )
    return f"{_caption(tide)}, within {doubt_text(tide)} at 95 %. {turns}."


def _clock(at: datetime, tide: TideDay) -> str:
    return f"{at.astimezone(ZoneInfo(tide.zone)):%H:%M}"


def _path(points: list[tuple[float, float]]) -> str:
    return "M" + "L".join(f"{px:.1f} {py:.1f}" for px, py in points)


def _grid(bottom_m: float, top_m: float, step: float, y: Callable[[float], float]) -> list[str]:
    parts = []
    for place in range(round((top_m - bottom_m) / step) + 1):
        level = bottom_m + place * step
        datum = abs(level) < step / 100
        stroke = f'stroke="{INK}"' if datum else 'stroke="#d5dcde"'
        at = y(level)
        parts.append(f'<path d="M{LEFT} {at:.1f}H{WIDTH - RIGHT}" {stroke} stroke-width="1"/>')
        label = f"{abs(level) if datum else level:.1f}"
        parts.append(f'<text x="{LEFT - 8}" y="{at + 4:.1f}" text-anchor="end">{label} m</text>')
        feet = f"{(0.0 if datum else level) / FOOT_M:.1f} ft"
        parts.append(f'<text x="{WIDTH - RIGHT + 8}" y="{at + 4:.1f}" fill="{QUIET}">{feet}</text>')
    return parts


def _hours(tide: TideDay, x: Callable[[datetime], float]) -> list[str]:
    parts = []
    floor = HEIGHT - BOTTOM
    last = tide.times[-1]
    for at in tide.times:
        if at.minute == 0 and at.hour % 3 == 0:
            parts.append(f'<path d="M{x(at):.1f} {floor}v5" stroke="{INK}"/>')
            label = "24" if at == last else f"{at:%H}"
            parts.append(f'<text x="{x(at):.1f}" y="{floor + 19}" text-anchor="middle">{label}</text>')
    return parts


def _turns(tide: TideDay, x: Callable[[datetime], float], y: Callable[[float], float]) -> list[str]:
    parts = []
    for turn in tide.turns:
        px, py = x(turn.at), y(turn.height_m)
        anchor = "start" if px < LEFT + _EDGE else "end" if px > WIDTH - RIGHT - _EDGE else "middle"
        first, second = (py - 26, py - 11) if turn.kind == "high" else (py + 21, py + 36)
        label = height_text(turn.height_m, tide.u95_m)
        parts.append(f'<circle cx="{px:.1f}" cy="{py:.1f}" r="4.5" fill="{WATER}"/>')
        parts.append(
            f'<text x="{px:.1f}" y="{first:.1f}" text-anchor="{anchor}" font-weight="600">'
            f"{turn.kind.capitalize()} {_clock(turn.at, tide)}</text>"
        )
        parts.append(f'<text x="{px:.1f}" y="{second:.1f}" text-anchor="{anchor}">{label}</text>')
    return parts
