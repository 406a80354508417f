"""The sheets that papers are printed on."""

from typing import Literal, get_args

__all__ = ["PAPERS", "Paper", "sheet_mm"]

Paper = Literal["a4", "letter"]

#: The names, in the order in which they are offered.
PAPERS: tuple[Paper, ...] = get_args(Paper)


def sheet_mm(paper: Paper) -> tuple[float, float]:
    """
    Give the width and height of an upright sheet. Units: mm.

    Sources
    -------
    ISO 216 (A4: 210 mm by 297 mm); ANSI/ASME Y14.1 (size A: 8.5 in by 11 in); both from memory.
    """
    return (210.0, 297.0) if paper == "a4" else (8.5 * 25.4, 11 * 25.4)
