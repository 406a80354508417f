"""
Letters as outlines to be filled: the shipped fonts, shaped as their scripts ask and drawn as paths.

Marks stand where the font puts them, ligatures and joined letters come out as in print, and contours that
overlap are united, since a cutter would follow each of them.
"""

import unicodedata
from collections.abc import Iterable
from functools import lru_cache
from itertools import pairwise
from pathlib import Path
from typing import Any

from registry.documents.drawn_line import DrawnLine, Step
from registry.documents.glyphs import FONT_FILES, SCRIPTS, missing_glyphs
from registry.errors import UnprintableTextError, UnreadableFileError

__all__ = ["OutlinedLetters"]

#: A heavier cut than on paper, so that thin strokes stay on metal and stone; fonts without it keep their own.
_WEIGHT = {"wght": 600.0}
#: Characters that steer shaping and leave no glyph behind that could be missing.
_UNSEEN = {"Cf", "Zs"}


class OutlinedLetters:
    """The shipped fonts, in the order in which they are preferred."""

    single_stroke = False

    def __init__(self, font_folder: Path) -> None:
        self._folder = font_folder

    def draw(self, text: str) -> DrawnLine:
        """
        Draw a line.

        Parameters
        ----------
        text : str
            One line, in one direction of writing.

        Raises
        ------
        UnprintableTextError
            If no shipped font draws all of it, or it mixes both directions of writing.
        UnreadableFileError
            If a font file is absent.
        """
        text = unicodedata.normalize("NFC", text)
        _check_direction(text)
        missing = missing_glyphs(text, self._folder)
        if missing:
            what = f"{text!r} holds characters that the shipped fonts cannot draw: {', '.join(missing)}."
            raise UnprintableTextError(what, remedy=f"Write it in {SCRIPTS} letters, as the family chooses.")
        for file in FONT_FILES.values():
            drawn = _drawn(text, self._folder / file)
            if drawn is not None:
                return drawn
        what = f"{text!r} mixes letters that no single shipped font draws."
        raise UnprintableTextError(what, remedy="Put each script on a line of its own.")


def _check_direction(text: str) -> None:
    kinds = {unicodedata.bidirectional(char) for char in text}
    if kinds & {"R", "AL"} and kinds & {"L", "EN", "AN"}:
        what = f"{text!r} mixes letters that are read from the right with others or with digits."
        raise UnprintableTextError(what, remedy="Put each on a line of its own.")


@lru_cache(maxsize=8)
def _font(file: Path) -> tuple[Any, float]:
    """Open a font at our weight; its capital height comes with it, in its own units."""
    import uharfbuzz as hb
    from fontTools.ttLib import TTFont

    try:
        data = file.read_bytes()
        with TTFont(file, lazy=True) as table:
            capital = float(table["OS/2"].sCapHeight)
    except OSError as error:
        what = f"The font file {file} is absent or unreadable."
        raise UnreadableFileError(what, remedy="Install Leadline anew: its fonts ship with it.") from error
    font = hb.Font(hb.Face(data))
    font.set_variations(_WEIGHT)
    return font, capital


def _drawn(text: str, file: Path) -> DrawnLine | None:
    """Shape and draw a text with one font; None where it lacks a glyph."""
    import pathops
    import uharfbuzz as hb
    from fontTools.pens.transformPen import TransformPen

    font, capital = _font(file)
    buffer = hb.Buffer()
    buffer.add_str(text)
    buffer.guess_segment_properties()
    # Old-style figures read less surely from metal.
    hb.shape(font, buffer, {"kern": True, "liga": True, "lnum": True})
    path = pathops.Path()
    x = y = 0
    for glyph, place in zip(buffer.glyph_infos, buffer.glyph_positions, strict=True):
        if glyph.codepoint == 0 and unicodedata.category(text[glyph.cluster]) not in _UNSEEN:
            return None
        offset = (1, 0, 0, 1, x + place.x_offset, y + place.y_offset)
        font.draw_glyph_with_pen(glyph.codepoint, TransformPen(path.getPen(), offset))
        x, y = x + place.x_advance, y + place.y_advance
    path.simplify(fix_winding=True)
    _, bottom, _, top = path.bounds
    return DrawnLine(
        steps=tuple(_steps(path, 1.0 / capital)),
        width=x / capital,
        top=top / capital,
        bottom=bottom / capital,
    )


def _steps(path: Any, scale: float) -> list[Step]:
    """Turn a path into steps, scaled."""
    letters = {"moveTo": "M", "lineTo": "L", "qCurveTo": "Q", "curveTo": "C", "closePath": "Z"}
    steps: list[Step] = []
    for name, points in path.segments:
        controls, end = points[:-1], points[-1:]
        if name == "qCurveTo":
            # A TrueType curve of several pieces: between two control points lies a point of the curve.
            for here, following in pairwise(controls):
                middle = ((here[0] + following[0]) / 2, (here[1] + following[1]) / 2)
                steps.append(("Q", _flat((here, middle), scale)))
            controls = controls[-1:]
        if name in letters:
            steps.append((letters[name], _flat((*controls, *end), scale)))
    return steps


def _flat(points: Iterable[tuple[float, float]], scale: float) -> tuple[float, ...]:
    return tuple(value * scale for point in points for value in point)
