"""
One line of letters as a drawing: what an engraver's machine follows instead of a font.

Units are capital heights: the baseline is at 0, the top of a capital at 1, y upward. So a line is drawn once
and set in any size. Scripts without capitals are measured by the Latin capitals of their font.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Protocol

__all__ = ["DrawnLine", "Lettering", "Step", "path_data"]

#: A step of a path: its SVG letter (M, L, Q, C or Z) and its points x, y.
Step = tuple[str, tuple[float, ...]]


@dataclass(frozen=True, slots=True, kw_only=True)
class DrawnLine:
    """A line of letters."""

    steps: tuple[Step, ...]
    #: From the start of the first letter to the end of the last, with the space around them.
    width: float
    #: What the ink reaches above and below the baseline; marks on capitals reach above 1.
    top: float
    bottom: float


class Lettering(Protocol):
    """Something that draws lines of letters."""

    #: Whether its paths are the middle of strokes, to be followed once, and not outlines to be filled.
    single_stroke: bool

    def draw(self, text: str) -> DrawnLine:
        """Draw a text, or raise UnprintableTextError where a letter cannot be drawn."""
        ...


def path_data(steps: Iterable[Step], *, x_mm: float, baseline_mm: float, size_mm: float) -> str:
    """
    Write a path as SVG does, in mm with y downward, to the micrometre.

    Examples
    --------
    >>> path_data([("M", (0.0, 0.0)), ("L", (0.5, 1.0)), ("Z", ())], x_mm=10, baseline_mm=20, size_mm=3)
    'M10 20L11.5 17Z'
    """
    written = []
    for letter, points in steps:
        places = (
            f"{x_mm + value * size_mm:.3f}" if axis % 2 == 0 else f"{baseline_mm - value * size_mm:.3f}"
            for axis, value in enumerate(points)
        )
        written.append(letter + " ".join(place.rstrip("0").rstrip(".") for place in places))
    return "".join(written)
