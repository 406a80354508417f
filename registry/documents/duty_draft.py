"""
The draft of a notice or report as a page: to be filled in, checked and signed by a person.

Every word on it is data; what Leadline does not hold is a marked blank. The same draft makes the same bytes.
"""

import re
from collections.abc import Iterable
from pathlib import Path
from typing import Any

from registry.documents.glyphs import FONT_FILES, SCRIPTS, missing_glyphs
from registry.documents.typeset import noon_of, typeset
from registry.errors import UnprintableTextError
from registry.records.duty_draft import TO_FILL_IN, DraftTable, DutyDraft

__all__ = ["render_duty_draft"]

_TEMPLATE = Path(__file__).with_suffix(".typ")
#: A table with more columns than this is printed on a page that lies on its side.
_MOST_UPRIGHT = 7
_HEAD_DIGITS = 16
_NUMBER = re.compile(r"-?[0-9]*\.?[0-9]*")


def render_duty_draft(draft: DutyDraft, font_folder: Path) -> bytes:
    """
    Draw a draft.

    Parameters
    ----------
    draft : DutyDraft
        What the page says.
    font_folder : pathlib.Path
        Where the shipped font files lie. No font of the system is used.

    Returns
    -------
    bytes
        A PDF file, PDF/A-2a and PDF/UA-1; the same bytes for the same draft.

    Raises
    ------
    UnprintableTextError
        If a text holds characters for which the shipped fonts have no glyphs.
    UnreadableFileError
        If a font file is absent.
    """
    data = _page_data(draft)
    missing = missing_glyphs(_shown(data), font_folder)
    if missing:
        what = f"The draft of {draft.duty.duty_id} holds characters that cannot be printed: {missing[0]}."
        raise UnprintableTextError(what, remedy=f"Write them in {SCRIPTS} letters.")
    return typeset(_TEMPLATE, data, font_folder=font_folder, made_at=noon_of(draft.made_on))


def _page_data(draft: DutyDraft) -> dict[str, Any]:
    """Give everything that the template prints."""
    duty = draft.duty
    due = f", due on {duty.due_on}" if duty.due_on else ""
    blanks = draft.blanks
    left = f"{blanks} field{'' if blanks == 1 else 's'} to be filled in." if blanks else ""
    return {
        "fonts": list(FONT_FILES),
        "title": draft.title,
        "description": f"Draft for {duty.duty_id}",
        "programme": draft.programme,
        "made": [draft.made_on.year, draft.made_on.month, draft.made_on.day],
        "wide": any(len(table.columns) > _MOST_UPRIGHT for table in draft.tables),
        "stamp": "DRAFT · PRIVATE PAPER" if draft.private else "DRAFT",
        "subtitle": f"To {draft.addressee or 'the office that asks for it, ' + TO_FILL_IN}{due}",
        "notice_title": f"Before this is sent. {left}".strip(),
        "cautions": list(draft.cautions),
        "sections": [
            {
                "title": section.title,
                "fields": [
                    {
                        "label": field.label,
                        "shown": field.shown,
                        "note": field.note,
                        "missing": field.missing,
                    }
                    for field in section.fields
                ],
            }
            for section in draft.sections
        ],
        "tables": [_table(table) for table in draft.tables],
        "bases": list(draft.bases),
        "bases_hint": "No paper is recorded on which the placements rest: leadline duties declare --basis.",
        "decides": list(draft.decides),
        "foot": (
            f"{duty.duty_id} · drafted {draft.made_on}, days of {draft.zone} · journal "
            f"{draft.journal_head[:_HEAD_DIGITS]}"
        ),
    }


def _table(table: DraftTable) -> dict[str, Any]:
    return {
        "title": table.title,
        "columns": list(table.columns),
        "rows": [list(row) for row in table.rows],
        "numeric": [_all_numbers(row[column] for row in table.rows) for column in range(len(table.columns))],
        "note": table.note,
    }


def _all_numbers(cells: Iterable[str]) -> bool:
    """Tell whether a column holds numbers alone, which stand under each other by their last digit."""
    return all(_NUMBER.fullmatch(cell) for cell in cells)


def _shown(data: Any) -> str:
    """Join every text of the page."""
    if isinstance(data, str):
        return data
    if isinstance(data, dict):
        return " ".join(_shown(value) for key, value in data.items() if key != "fonts")
    if isinstance(data, list):
        return " ".join(map(_shown, data))
    return ""
