"""
A plaque as artwork for the engraver: every letter a path, true to scale in millimetres.

All lines grow together until the plate is full; none is set below the smallest legible size. A text that does
not fit is refused, with how much is lacking, and never squeezed, cut or silently made smaller.
"""

import io
import json
import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from html import escape
from itertools import combinations, pairwise
from typing import Any

import segno
import shapely

from registry.documents.drawn_line import DrawnLine, Lettering, path_data
from registry.errors import UnprintableTextError
from registry.records.plaque import Plaque, PlateSize

__all__ = ["LEAST_CAPITAL_MM", "LEAST_CODE_MM", "Artwork", "SetLine", "draw_plaque", "plaque_pdf"]

#: Height of the smallest capital that is engraved, and side of the smallest square of a code.
#: Common practice, no source.
LEAST_CAPITAL_MM = 3.0
LEAST_CODE_MM = 0.8
#: Width of the line by which a single stroke is shown; the tool makes the true one. Units: mm.
STROKE_MM = 0.3
#: No letter is larger than this share of the plate's height.
_GREATEST_SHARE = 0.17
#: Clear edge, as a share of the shorter side, and at least. Units: mm.
_EDGE_SHARE, _LEAST_EDGE_MM = 0.07, 5.0
#: Space between two lines, in their capital heights; between the two groups, as a share of the height.
_LEADING, _GROUP_SHARE = 0.68, 0.06
#: A name on one more line must come out larger by so much, or it is not worth the break.
_BREAK_PAYS = 0.15
#: Capital heights of the lines against each other.
_WEIGHTS = {"heading": 0.4, "name": 1.0, "dates": 0.55, "words": 0.42, "position": 0.5, "small": 0.3}
_MOST_NAME_LINES = 3
#: A code takes no more than this share of the width.
_GREATEST_CODE_SHARE = 0.45


@dataclass(frozen=True, slots=True, kw_only=True)
class SetLine:
    """A line as it is engraved. Units: mm from the upper left corner of the plate."""

    text: str
    capital_mm: float
    x_mm: float
    baseline_mm: float
    drawn: DrawnLine


@dataclass(frozen=True, slots=True, kw_only=True)
class Artwork:
    """A plaque, set."""

    size: PlateSize
    lines: tuple[SetLine, ...]
    #: Side of one square of the code, None without one. Units: mm.
    code_mm: float | None
    svg: str


@dataclass(frozen=True, slots=True, kw_only=True)
class _Wanted:
    """A line before it has a size."""

    text: str
    drawn: DrawnLine
    weight: float

    @property
    def above(self) -> float:
        """Room above the baseline in capital heights; marks may need more than a capital."""
        return max(1.0, self.drawn.top)

    @property
    def below(self) -> float:
        return max(0.0, -self.drawn.bottom)


@dataclass(frozen=True, slots=True)
class _Box:
    """Where lines go. Units: mm."""

    x: float
    y: float
    width: float
    height: float


def draw_plaque(plaque: Plaque, size: PlateSize, lettering: Lettering) -> Artwork:
    """
    Set a plaque.

    Parameters
    ----------
    plaque : Plaque
        What it says.
    size : PlateSize
        The plate.
    lettering : Lettering
        Who draws the letters.

    Returns
    -------
    Artwork
        With an SVG whose user unit is a millimetre; the same bytes for the same plaque.

    Raises
    ------
    UnprintableTextError
        If a letter cannot be drawn, or the text does not fit at the smallest legible size.
    """
    edge = max(_LEAST_EDGE_MM, _EDGE_SHARE * min(size.width_mm, size.height_mm))
    inside = _Box(edge, edge, size.width_mm - 2 * edge, size.height_mm - 2 * edge)
    squares = _squares(plaque.code)
    side = _code_side(squares, inside)
    lower_width = inside.width - (side + edge if squares else 0.0)
    choices = _choices(plaque, lettering, inside.width, lower_width)
    best = max(
        (_sized(upper, lower, inside, lower_width, side) for upper, lower in choices),
        key=lambda choice: (-choice.lacking_mm, choice.worth),
    )
    if best.lacking_mm > 0:
        raise UnprintableTextError(best.complaint, remedy="Take a larger plaque, or shorten the text.")
    lines = tuple(_placed(best, inside, lower_width, side))
    code_mm = side / len(squares) if squares else None
    code = ""
    if code_mm is not None:
        fill = _code_strokes if lettering.single_stroke else _code_path
        code = fill(squares, (inside.x + inside.width - side, inside.y + inside.height - side), code_mm)
    svg = _svg(plaque, size, lines, code, single=lettering.single_stroke)
    return Artwork(size=size, lines=lines, code_mm=code_mm, svg=svg)


def plaque_pdf(artwork: Artwork, title: str) -> bytes:
    """
    Give the same artwork as a PDF file whose page is the plate: paths alone, no font.

    Parameters
    ----------
    artwork : Artwork
        As drawn.
    title : str
        Of the file.
    """
    import typst

    source = (
        b"#let d = json(bytes(sys.inputs.data))\n#set document(title: d.title)\n"
        b"#set page(width: d.width * 1mm, height: d.height * 1mm, margin: 0mm)\n"
        b'#image(bytes(d.svg), format: "svg", width: 100%, height: 100%, fit: "stretch", alt: d.title)\n'
    )
    data = {
        "title": title,
        "width": artwork.size.width_mm,
        "height": artwork.size.height_mm,
        "svg": artwork.svg,
    }
    # Typed loosely: the overloads that the typesetter declares exclude each other.
    compile_page: Any = typst.compile
    pdf: bytes = compile_page(
        source,
        ignore_system_fonts=True,
        format="pdf",
        sys_inputs={"data": json.dumps(data, ensure_ascii=False, sort_keys=True)},
        pdf_tags=False,
        timestamp=datetime(2000, 1, 1, tzinfo=UTC),
    )
    return pdf


# --- which lines, and how large


@dataclass(frozen=True, slots=True, kw_only=True)
class _Sized:
    """One choice of lines with the sizes that it allows."""

    upper: tuple[_Wanted, ...]
    lower: tuple[_Wanted, ...]
    #: Capital heights, upper lines first. Units: mm.
    capitals: tuple[float, ...]
    #: How good it looks: the height of the name, less for each break, and a little for that of the position.
    worth: float
    #: What the plate is short of, zero where all fits; and how that is said. Units: mm.
    lacking_mm: float
    complaint: str


def _choices(
    plaque: Plaque, lettering: Lettering, upper_width: float, lower_width: float
) -> Iterator[tuple[list[_Wanted], list[_Wanted]]]:
    """Give the ways of breaking a plaque into lines: the name on one to three, the position on one or two."""

    def lines(kind: str, text: str, width: float) -> list[_Wanted]:
        """Break a text only where it is too long at the smallest size."""
        if not text:
            return []
        for count in range(1, len(text.split(" ")) + 1):
            parts = _broken(text, count, lettering)
            if all(part.drawn.width * LEAST_CAPITAL_MM <= width for part in parts):
                break
        return [_Wanted(text=p.text, drawn=p.drawn, weight=_WEIGHTS[kind]) for p in parts]

    before = lines("heading", plaque.heading, upper_width)
    after = [*lines("dates", plaque.dates, upper_width)]
    for words in plaque.words:
        after += lines("words", words, upper_width)
    small = [
        *lines("small", plaque.frame_words, lower_width),
        *lines("small", plaque.placed_words, lower_width),
    ]
    for name_lines in range(1, min(_MOST_NAME_LINES, len(plaque.name.split(" "))) + 1):
        name = _broken(plaque.name, name_lines, lettering)
        for place in ([f"{plaque.latitude}  {plaque.longitude}"], [plaque.latitude, plaque.longitude]):
            position = [_Wanted(text=t, drawn=lettering.draw(t), weight=_WEIGHTS["position"]) for t in place]
            yield [*before, *name, *after], [*position, *small]


def _broken(text: str, count: int, lettering: Lettering) -> list[_Wanted]:
    """Break a text between words into so many lines, the longest of them as short as can be."""
    words = text.split(" ")
    ways = (
        [" ".join(words[start:end]) for start, end in pairwise((0, *cuts, len(words)))]
        for cuts in combinations(range(1, len(words)), count - 1)
    )
    # Of long texts there are too many ways to draw each; the number of letters is near enough.
    best = min(ways, key=lambda parts: max(map(len, parts)))
    return [_Wanted(text=part, drawn=lettering.draw(part), weight=_WEIGHTS["name"]) for part in best]


def _sized(
    upper: Sequence[_Wanted], lower: Sequence[_Wanted], inside: _Box, lower_width: float, side: float
) -> _Sized:
    """Find the greatest sizes at which lines fit, or say what is lacking at the smallest."""
    lines = [*((line, inside.width) for line in upper), *((line, lower_width) for line in lower)]

    def capitals(unit: float) -> list[float]:
        return [
            max(LEAST_CAPITAL_MM, min(line.weight * unit, width / line.drawn.width)) for line, width in lines
        ]

    def height(sizes: Sequence[float]) -> float:
        below = _height(lower, sizes[len(upper) :])
        return (_height(upper, sizes[: len(upper)]) + max(below, side)) / (1 - _GROUP_SHARE)

    small = capitals(0.0)
    wide = max(lines, key=lambda line: line[0].drawn.width * LEAST_CAPITAL_MM - line[1])
    too_wide = wide[0].drawn.width * LEAST_CAPITAL_MM - wide[1]
    too_high = height(small) - inside.height
    said = f"with capitals of {LEAST_CAPITAL_MM:g} mm, the smallest that stay legible"
    complaint = ""
    if too_wide > max(too_high, 0.0):
        complaint = (
            f"“{wide[0].text}” needs {wide[1] + too_wide:.1f} mm {said}; between its edges the plaque has "
            f"{wide[1]:.1f} mm there: {_up(too_wide)} mm too narrow."
        )
    elif too_high > 0:
        complaint = (
            f"The text needs {inside.height + too_high:.1f} mm of height {said}; between its edges the "
            f"plaque has {inside.height:.1f} mm: {_up(too_high)} mm too low."
        )
    names = [line for line in upper if line.weight == _WEIGHTS["name"]]
    # Where the width holds the name back, no other line outgrows it.
    reach = min(inside.width / line.drawn.width for line in names)
    low, high = 0.0, min(_GREATEST_SHARE * (inside.height + 2 * inside.y), reach)
    for _ in range(40):
        middle = (low + high) / 2
        low, high = (middle, high) if height(capitals(middle)) <= inside.height else (low, middle)
    sizes = capitals(low)
    return _Sized(
        upper=tuple(upper),
        lower=tuple(lower),
        capitals=tuple(sizes),
        worth=low / (1 + _BREAK_PAYS * (len(names) - 1)) + 0.3 * sizes[len(upper)],
        lacking_mm=max(too_wide, too_high, 0.0),
        complaint=complaint,
    )


def _height(lines: Sequence[_Wanted], sizes: Sequence[float]) -> float:
    """Give the height of a group of lines."""
    ink = sum((line.above + line.below) * size for line, size in zip(lines, sizes, strict=True))
    return ink + sum(_gap(*pair) for pair in pairwise(sizes))


def _gap(size: float, following: float) -> float:
    return _LEADING * (size + following) / 2


def _up(excess_mm: float) -> str:
    """Say how much is lacking, never less than it is."""
    return f"{math.ceil(excess_mm * 10 - 1e-9) / 10:.1f}"


def _placed(best: _Sized, inside: _Box, lower_width: float, side: float) -> Iterator[SetLine]:
    """Give each line its place: the two groups centred, what is left over spread around them."""
    count = len(best.upper)
    upper, lower = best.capitals[:count], best.capitals[count:]
    upper_height, lower_height = _height(best.upper, upper), _height(best.lower, lower)
    block = max(lower_height, side)
    spare = inside.height - upper_height - _GROUP_SHARE * inside.height - block
    # A code keeps its corner; without one the lower group comes up a little, to look at one with the upper.
    y = inside.y + spare * (0.35 if side else 0.3)
    yield from _group(best.upper, upper, inside.x, inside.width, y)
    bottom = inside.y + inside.height - (0.0 if side else spare * 0.3)
    y = bottom - block + (block - lower_height) / 2
    yield from _group(best.lower, lower, inside.x, lower_width, y)


def _group(
    lines: Sequence[_Wanted], sizes: Sequence[float], x: float, width: float, y: float
) -> Iterator[SetLine]:
    for index, (line, size) in enumerate(zip(lines, sizes, strict=True)):
        if index:
            y += _gap(sizes[index - 1], size)
        y += line.above * size
        left = x + (width - line.drawn.width * size) / 2
        yield SetLine(text=line.text, capital_mm=size, x_mm=left, baseline_mm=y, drawn=line.drawn)
        y += line.below * size


# --- the code


def _squares(text: str) -> list[list[bool]]:
    """Give the dark squares of a code, without the clear space around it."""
    if not text:
        return []
    code = segno.make(text, error="m", micro=False, boost_error=True)
    return [[bool(square) for square in row] for row in code.matrix]


def _code_side(squares: Sequence[Sequence[bool]], inside: _Box) -> float:
    """Give the side of a code: about a third of the plate, but no square below the smallest."""
    if not squares:
        return 0.0
    least = LEAST_CODE_MM * len(squares)
    room = min(inside.height, _GREATEST_CODE_SHARE * inside.width)
    if least > room:
        what = (
            f"The code needs {least:.1f} mm with squares of {LEAST_CODE_MM:g} mm, the smallest that a "
            f"telephone reads surely; the plaque has {room:.1f} mm for it: {_up(least - room)} mm too small."
        )
        raise UnprintableTextError(what, remedy="Take a larger plaque, or leave out --qr.")
    return max(least, min(0.36 * inside.height, 0.3 * inside.width))


def _code_path(squares: Sequence[Sequence[bool]], corner: tuple[float, float], square_mm: float) -> str:
    """Draw the dark squares as outlines, each patch of them as one."""
    x0, y0 = corner
    boxes = [
        shapely.box(column, row, column + 1, row + 1)
        for row, values in enumerate(squares)
        for column, dark in enumerate(values)
        if dark
    ]
    parts = []
    for patch in shapely.get_parts(shapely.union_all(boxes)):
        for ring in (patch.exterior, *patch.interiors):
            corners = shapely.get_coordinates(ring.simplify(0))[:-1]
            places = (f"{x0 + x * square_mm:.3f} {y0 + y * square_mm:.3f}" for x, y in corners)
            parts.append("M" + "L".join(places) + "Z")
    return "".join(parts)


def _code_strokes(squares: Sequence[Sequence[bool]], corner: tuple[float, float], square_mm: float) -> str:
    """Fill the dark squares with strokes side by side, for a tool that only draws lines."""
    x0, y0 = corner
    passes = max(1, math.ceil(square_mm / STROKE_MM))
    parts = []
    for row, values in enumerate(squares):
        runs: list[list[int]] = []
        for column, dark in enumerate(values):
            if dark and runs and runs[-1][1] == column:
                runs[-1][1] = column + 1
            elif dark:
                runs.append([column, column + 1])
        for stroke in range(passes):
            y = y0 + (row + (stroke + 0.5) / passes) * square_mm
            for start, end in runs:
                left, right = x0 + start * square_mm + STROKE_MM / 2, x0 + end * square_mm - STROKE_MM / 2
                parts.append(f"M{left:.3f} {y:.3f}H{right:.3f}")
    return "".join(parts)


# --- the drawing


def _svg(plaque: Plaque, size: PlateSize, lines: Sequence[SetLine], code: str, *, single: bool) -> str:
    width, height = (f"{side:.3f}".rstrip("0").rstrip(".") for side in (size.width_mm, size.height_mm))
    style = (
        f'fill="none" stroke="#000" stroke-width="{STROKE_MM}" stroke-linecap="round" stroke-linejoin="round"'
        if single
        else 'fill="#000" fill-rule="nonzero"'
    )
    out = io.StringIO()
    out.write(
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width}mm" height="{height}mm" '
        f'viewBox="0 0 {width} {height}" role="img" aria-labelledby="title desc">\n'
        f'<title id="title">{escape(f"Plaque of {plaque.name}")}</title>\n'
        f'<desc id="desc">{escape("; ".join(line.text for line in lines))}. User unit: 1 mm.</desc>\n'
        f"<g {style}>\n"
    )
    for line in lines:
        data = path_data(
            line.drawn.steps, x_mm=line.x_mm, baseline_mm=line.baseline_mm, size_mm=line.capital_mm
        )
        out.write(f'<path d="{data}"/>\n')
    if code:
        how = 'stroke-linecap="butt"' if single else 'fill-rule="evenodd"'
        out.write(f'<path {how} d="{code}"/>\n')
    out.write("</g>\n</svg>\n")
    return out.getvalue()
