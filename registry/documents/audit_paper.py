"""
An audit as a paper to file: the same words and drawings as the page, on A4 with numbered pages.

Tagged PDF/A-2a and PDF/UA-1: made to be read in decades, and read aloud. The same audit gives the same bytes.
A letter for which the shipped fonts have no glyph is printed as its code point, never left out.
"""

import re
from datetime import UTC
from pathlib import Path
from typing import Any

from registry.documents.audit_words import audit_words
from registry.documents.glyphs import FONT_FILES, printable
from registry.documents.typeset import typeset
from registry.records.audit_summary import AuditSummary

__all__ = ["render_audit_paper"]

_TEMPLATE = Path(__file__).with_suffix(".typ")
_UNIT = re.compile(r"(\d) (m|km|ft|kg|t)\b")
#: A word of so many letters may break after so many.
_LONGEST_WORD, _WORD_PART = 18, 8


def render_audit_paper(summary: AuditSummary, font_folder: Path) -> bytes:
    """
    Set the paper.

    Parameters
    ----------
    summary : AuditSummary
        What the audit found.
    font_folder : pathlib.Path
        Where the shipped font files lie. No font of the system is used.

    Returns
    -------
    bytes
        A PDF file, PDF/A-2a and PDF/UA-1.

    Raises
    ------
    UnreadableFileError
        If a font file is absent.
    """
    words = _printable(audit_words(summary), font_folder)
    data = {
        **words,
        "fonts": list(FONT_FILES),
        "made": [summary.audited_at.year, summary.audited_at.month, summary.audited_at.day],
    }
    return typeset(
        _TEMPLATE,
        data,
        font_folder=font_folder,
        made_at=summary.audited_at.astimezone(UTC).replace(microsecond=0),
    )


def _printable(value: Any, font_folder: Path, key: str = "") -> Any:
    """Make every text one that the fonts can show, whose words fit between the margins."""
    if isinstance(value, dict):
        return {name: _printable(inner, font_folder, name) for name, inner in value.items()}
    if isinstance(value, list):
        return [_printable(inner, font_folder, key) for inner in value]
    if not isinstance(value, str):
        return value
    shown = printable(value, font_folder)
    if key in {"svg", "mark"}:
        # On the page the drawing is part of the document; here it stands by itself.
        return shown.replace("<svg ", '<svg xmlns="http://www.w3.org/2000/svg" ', 1)
    return _breakable(shown)


def _breakable(text: str) -> str:
    """Let a word that a narrow column cannot hold break between letters, and a number from its unit never."""
    text = _UNIT.sub("\\1\u00a0\\2", text)
    if len(text) <= _LONGEST_WORD:
        return text
    return " ".join(
        "\N{ZERO WIDTH SPACE}".join(word[i : i + _WORD_PART] for i in range(0, len(word), _WORD_PART))
        if len(word) > _LONGEST_WORD
        else word
        for word in text.split(" ")
    )
