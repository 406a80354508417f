"""
Letters of single strokes, for a tool that follows each line once: Hershey's simplex fonts with marks added.

The fonts hold plain Latin and Greek letters. One with marks is taken apart by Unicode's own decomposition
and its marks, drawn here, are set above, below or through it; so every Latin letter of Europe and of Vietnam
and the accents of Greek come out. Any other script is told.
"""

import math
import unicodedata
from functools import lru_cache
from pathlib import Path

from registry.documents.drawn_line import DrawnLine, Step
from registry.documents.glyphs import clusters_of
from registry.errors import UnprintableTextError, UnreadableFileError

__all__ = ["StrokedLetters"]

Stroke = tuple[tuple[float, float], ...]

#: Capital letters of the fonts reach from y = 9 up to y = -12. Source: NBS Special Publication 424, as data.
_BASELINE, _CAPITAL = 9.0, 21.0
#: Small letters without ascender end here. Units: capital heights.
_SMALL_TOP = 14.0 / 21.0
_FILES = {"Latin": "HersheyRomanSimplex.jhf", "Greek": "HersheyGreekSimplex.jhf"}
#: The Greek font in the order of ASCII: capitals on A to X, small letters on a to x.
_GREEK = "ΑΒΓΔΕΖΗΘΙΚΛΜΝΞΟΠΡΣΤΥΦΧΨΩ"
#: What is drawn as something else that looks the same.
_SAME = {
    "\N{EN DASH}": "-", "\N{EM DASH}": "-", "\N{MINUS SIGN}": "-", "\N{HYPHEN}": "-",
    "\N{NON-BREAKING HYPHEN}": "-", "\N{NO-BREAK SPACE}": " ", "\N{NARROW NO-BREAK SPACE}": " ",
    "\N{RIGHT SINGLE QUOTATION MARK}": "'", "\N{LEFT SINGLE QUOTATION MARK}": "'", "\N{PRIME}": "'",
    "\N{DOUBLE PRIME}": '"', "\N{LEFT DOUBLE QUOTATION MARK}": '"', "\N{RIGHT DOUBLE QUOTATION MARK}": '"',
}  # fmt: skip
#: Letters that are others with a stroke through them: from, to, in shares of the width and of capital height.
_BARRED = {
    "Đ": ("D", ((0.0, 0.5), (0.45, 0.5))), "Ð": ("D", ((0.0, 0.5), (0.45, 0.5))),
    "đ": ("d", ((0.45, 0.86), (1.0, 0.86))), "ħ": ("h", ((0.0, 0.86), (0.6, 0.86))),
    "Ħ": ("H", ((0.0, 0.78), (1.0, 0.78))), "Ł": ("L", ((0.02, 0.36), (0.55, 0.66))),
    "ł": ("l", ((0.0, 0.4), (1.0, 0.66))), "Ø": ("O", ((0.12, -0.06), (0.88, 1.06))),
    "ø": ("o", ((0.12, -0.06), (0.88, 0.73))),
}  # fmt: skip
#: Letters of two that share a stem: how much of the second's width lies on the first.
_JOINED = {"Æ": "AE", "æ": "ae", "Œ": "OE", "œ": "oe"}
_SHARED = 0.25


def _arc(x: float, y: float, radius: float, start_deg: float, end_deg: float) -> Stroke:
    """Give part of a circle, in steps of 30 degrees."""
    count = max(2, round(abs(end_deg - start_deg) / 30.0) + 1)
    angles = [math.radians(start_deg + (end_deg - start_deg) * i / (count - 1)) for i in range(count)]
    return tuple((x + radius * math.cos(angle), y + radius * math.sin(angle)) for angle in angles)


#: Marks around x = 0, from y = 0 upward, in capital heights.
_ABOVE: dict[str, tuple[Stroke, ...]] = {
    "\N{COMBINING GRAVE ACCENT}": (((-0.12, 0.22), (0.08, 0.0)),),
    "\N{COMBINING ACUTE ACCENT}": (((0.12, 0.22), (-0.08, 0.0)),),
    "\N{COMBINING CIRCUMFLEX ACCENT}": (((-0.17, 0.0), (0.0, 0.2), (0.17, 0.0)),),
    "\N{COMBINING CARON}": (((-0.17, 0.2), (0.0, 0.0), (0.17, 0.2)),),
    "\N{COMBINING TILDE}": (
        ((-0.2, 0.02), (-0.12, 0.12), (-0.04, 0.12), (0.04, 0.04), (0.12, 0.04), (0.2, 0.14)),
    ),
    "\N{COMBINING MACRON}": (((-0.18, 0.08), (0.18, 0.08)),),
    "\N{COMBINING BREVE}": (_arc(0.0, 0.18, 0.17, 190, 350),),
    "\N{COMBINING DOT ABOVE}": (_arc(0.0, 0.08, 0.035, 0, 360),),
    "\N{COMBINING DIAERESIS}": (_arc(-0.14, 0.08, 0.035, 0, 360), _arc(0.14, 0.08, 0.035, 0, 360)),
    "\N{COMBINING RING ABOVE}": (_arc(0.0, 0.11, 0.11, 0, 360),),
    "\N{COMBINING DOUBLE ACUTE ACCENT}": (((-0.02, 0.22), (-0.16, 0.0)), ((0.2, 0.22), (0.06, 0.0))),
    "\N{COMBINING HOOK ABOVE}": ((*_arc(0.0, 0.18, 0.08, 160, -60), (0.0, 0.06), (0.0, 0.0)),),
    "\N{COMBINING COMMA ABOVE}": (((0.04, 0.16), (0.04, 0.08), (-0.04, 0.0)),),
}  # fmt: skip
_BELOW: dict[str, tuple[Stroke, ...]] = {
    "\N{COMBINING DOT BELOW}": (_arc(0.0, -0.17, 0.035, 0, 360),),
    "\N{COMBINING CEDILLA}": (((0.02, 0.0), (0.0, -0.08), *_arc(0.0, -0.16, 0.08, 80, -120)),),
    "\N{COMBINING COMMA BELOW}": (((0.02, -0.1), (0.02, -0.18), (-0.06, -0.28)),),
    "\N{COMBINING OGONEK}": (((0.12, 0.0), (0.02, -0.1), (0.04, -0.18), (0.14, -0.18)),),
}
_HORN = "\N{COMBINING HORN}"
#: Signs that the fonts lack, with their width.
_SIGNS: dict[str, tuple[tuple[Stroke, ...], float]] = {
    "±": ((((0.2, 0.66), (0.7, 0.66)), ((0.45, 0.9), (0.45, 0.42)), ((0.2, 0.2), (0.7, 0.2))), 0.9),
    "ς": (
        (
            ((0.52, 0.6), (0.4, 0.66), (0.26, 0.6), (0.15, 0.46), (0.11, 0.28), (0.17, 0.12), (0.3, 0.04),
             (0.42, -0.02), (0.47, -0.12), (0.42, -0.22), (0.32, -0.26)),
        ),
        0.62,
    ),
    "·": ((_arc(0.19, 0.42, 0.035, 0, 360),), 0.38),
    "°": ((_arc(0.22, 0.83, 0.15, 0, 360),), 0.44),
    "ß": (
        (
            ((0.2, 0.0), (0.2, 0.8), *_arc(0.4, 0.8, 0.2, 180, -60), (0.4, 0.56), (0.62, 0.48), (0.72, 0.28),
             (0.64, 0.06), (0.48, 0.0), (0.36, 0.04)),
        ),
        0.9,
    ),
}  # fmt: skip


class StrokedLetters:
    """The single-stroke letters."""

    single_stroke = True

    def __init__(self, font_folder: Path) -> None:
        self._fonts = {script: _font(font_folder / file) for script, file in _FILES.items()}

    def draw(self, text: str) -> DrawnLine:
        """
        Draw a line.

        Raises
        ------
        UnprintableTextError
            If it holds a letter that is neither Latin nor Greek, or a mark that is not drawn here.
        """
        strokes: list[Stroke] = []
        x = 0.0
        for cluster in clusters_of(unicodedata.normalize("NFC", text)):
            drawn = self._letter(cluster)
            if drawn is None:
                codes = " ".join(
                    f"U+{ord(char):04X} {unicodedata.name(char, '')}".strip() for char in cluster
                )
                what = f"{text!r} holds {cluster!r} ({codes}), which the single-stroke letters cannot draw."
                remedy = "They draw Latin and Greek; leave out --single-stroke for the outlines of the fonts."
                raise UnprintableTextError(what, remedy=remedy)
            letter, width = drawn
            strokes += [tuple((x + px, py) for px, py in stroke) for stroke in letter]
            x += width
        heights = [py for stroke in strokes for _, py in stroke] or [0.0]
        steps: list[Step] = []
        for stroke in strokes:
            steps.append(("M", stroke[0]))
            steps += [("L", point) for point in stroke[1:]]
        return DrawnLine(steps=tuple(steps), width=x, top=max(heights), bottom=min(heights))

    def _letter(self, cluster: str) -> tuple[list[Stroke], float] | None:
        """Draw one letter with its marks; None where that cannot be done."""
        plain = self._plain(_SAME.get(cluster, cluster))
        if plain is not None:
            return plain
        parts = unicodedata.normalize("NFD", cluster)
        base, marks = parts[0], list(parts[1:])
        # Under a mark the i and the j lose their dots.
        dotless = base in "ij" and any(mark in _ABOVE for mark in marks)
        plain = self._plain(_SAME.get(base, base))
        if plain is None or not marks:
            return None
        strokes, width = plain
        if base in _GREEK and marks == ["\N{COMBINING ACUTE ACCENT}"]:
            # The tonos of a Greek capital stands before it.
            room = 0.3
            tonos = tuple((room / 2 + x, 0.78 + y) for x, y in _ABOVE[marks[0]][0])
            return [tonos, *(tuple((x + room, y) for x, y in stroke) for stroke in strokes)], width + room
        if dotless:
            strokes = [stroke for stroke in strokes if max(y for _, y in stroke) <= _SMALL_TOP + 0.01]
        return _marked(strokes, width, marks)

    def _plain(self, char: str) -> tuple[list[Stroke], float] | None:
        """Draw a letter that needs no marks."""
        if char in _SIGNS:
            signs, width = _SIGNS[char]
            return list(signs), width
        if char in _JOINED:
            return self._joined(_JOINED[char])
        if char in _BARRED:
            base, ((x0, y0), (x1, y1)) = _BARRED[char]
            strokes, width = self._fonts["Latin"][base]
            return [*strokes, ((x0 * width, y0), (x1 * width, y1))], width
        if len(char) == 1 and char.upper() in _GREEK:
            place = _GREEK.index(char.upper())
            strokes, width = self._fonts["Greek"][chr(ord("A" if char in _GREEK else "a") + place)]
            return list(strokes), width
        if char in self._fonts["Latin"] and char != "\x7f":
            strokes, width = self._fonts["Latin"][char]
            return list(strokes), width
        return None

    def _joined(self, pair: str) -> tuple[list[Stroke], float]:
        (first, width), (second, more) = (self._fonts["Latin"][char] for char in pair)
        x = width - _SHARED * more
        return [*first, *(tuple((x + px, py) for px, py in s) for s in second)], x + more


def _marked(strokes: list[Stroke], width: float, marks: list[str]) -> tuple[list[Stroke], float] | None:
    """Set marks on a letter, those above on top of each other."""
    points = [point for stroke in strokes for point in stroke]
    left, right = min(x for x, _ in points), max(x for x, _ in points)
    middle, top = (left + right) / 2, max(y for _, y in points)
    out = list(strokes)
    for mark in marks:
        if mark == _HORN:
            out.append(((right, top - 0.1), (right + 0.1, top - 0.02), (right + 0.1, top + 0.1)))
            width += 0.05
        elif mark in _ABOVE:
            shift = top + 0.1
            out += [tuple((middle + x, shift + y) for x, y in stroke) for stroke in _ABOVE[mark]]
            top = shift + max(y for stroke in _ABOVE[mark] for _, y in stroke)
        elif mark in _BELOW:
            out += [tuple((middle + x, y) for x, y in stroke) for stroke in _BELOW[mark]]
        else:
            return None
    return out, width


@lru_cache(maxsize=4)
def _font(file: Path) -> dict[str, tuple[tuple[Stroke, ...], float]]:
    """
    Read a font: strokes and width of each character, in capital heights.

    One glyph a line: number (5 characters), count of pairs (3), then pairs of letters, each a number from
    "R"; the first pair is left and right side, the pair " R" lifts the tool. Behind # stands a remark.
    """
    try:
        lines = [row for row in file.read_text(encoding="ascii").splitlines() if not row.startswith("#")]
    except OSError as error:
        what = f"The font file {file} is absent or unreadable."
        raise UnreadableFileError(what, remedy="Install Leadline anew: its fonts ship with it.") from error
    font = {}
    for code, line in enumerate(lines, start=32):
        left, right = (ord(char) - ord("R") for char in line[8:10])
        strokes = [
            tuple(
                (
                    (ord(pair[0]) - ord("R") - left) / _CAPITAL,
                    (_BASELINE - (ord(pair[1]) - ord("R"))) / _CAPITAL,
                )
                for pair in (part[i : i + 2] for i in range(0, len(part), 2))
            )
            for part in line[10:].split(" R")
            if part
        ]
        font[chr(code)] = (tuple(strokes), (right - left) / _CAPITAL)
    return font
