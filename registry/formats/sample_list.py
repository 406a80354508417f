"""A sample of modules as a page of plain text: for the screen, and to be printed for the boat."""

import unicodedata

from registry.formats.sample_words import depth_words, drawn_lines, position_words, radius_words
from registry.records.inspection_sample import HOW_TO_FILL, InspectionSample
from registry.records.public_wording import CAUTIONS, FRAME

__all__ = ["sample_lines", "write_sample_list"]

_HEADINGS = ("", "tag", "position", "R95", "depth", "verdict", "chance")


def sample_lines(sample: InspectionSample) -> list[str]:
    """Give the lines of the list: what it is, each module and why, how it was drawn."""
    rows = [
        (
            str(visit),
            module.tag,
            position_words(module),
            radius_words(module.r95_m),
            depth_words(module, sample.chart_datum).removesuffix(f" below {sample.chart_datum}"),
            module.verdict.word,
            f"{module.chance:.2f}",
        )
        for visit, module in enumerate(sample.modules, start=1)
    ]
    widths = [max(_width(row[column]) for row in (_HEADINGS, *rows)) for column in range(len(_HEADINGS))]
    return [
        f"{len(sample.modules)} of the {sample.population} modules under permit {sample.permit}, "
        "to be looked at again",
        f"Positions in {FRAME}, epoch {sample.epoch:.1f}; depths below {sample.chart_datum}. "
        "In the order of the course.",
        "",
        *(
            "  ".join(_padded(*cell) for cell in zip(row, widths, strict=True)).rstrip()
            for row in (_HEADINGS, *rows)
        ),
        "",
        *(f"Note: {note}" for note in sample.notes),
        *drawn_lines(sample),
    ]


def write_sample_list(sample: InspectionSample) -> bytes:
    """
    Write the list with what to fill in and how to give it back.

    Returns
    -------
    bytes
        UTF-8 text, the same bytes for the same sample.
    """
    lines = [
        *sample_lines(sample),
        "",
        "How to fill in sample.csv, a row for each module that was looked at:",
        *(f"  {column}" for column in HOW_TO_FILL),
        "Leave the other columns as they are, and delete rows that were not visited. Then:",
        "  leadline accuracy sample.csv --out accuracy.svg",
        "What every row shares can be said there once: --frame, --when, --r95 or --receiver.",
        "",
        "The officer names the seed after the journal head was handed over: then nobody could have chosen "
        "the modules.",
        *CAUTIONS,
    ]
    return ("\n".join(lines) + "\n").encode("utf-8", errors="replace")


def _width(text: str) -> int:
    return sum(2 if unicodedata.east_asian_width(c) in "WF" else 1 for c in text)


def _padded(text: str, width: int) -> str:
    return text + " " * (width - _width(text))
