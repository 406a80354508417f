"""A page set by typst from a template and data: with the shipped fonts alone, tagged and made to last."""

import json
from collections.abc import Mapping
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Any

__all__ = ["noon_of", "typeset"]

#: What lasts and what a screen reader can follow: PDF/A-2a and PDF/UA-1.
_STANDARDS = ["a-2a", "ua-1"]


def typeset(template: Path, data: Mapping[str, Any], *, font_folder: Path, made_at: datetime) -> bytes:
    """
    Set a paper.

    Parameters
    ----------
    template : Path
        The typst file, which reads ``sys.inputs.data``.
    data : mapping
        Everything that the template prints, as JSON has it.
    font_folder : Path
        The shipped fonts; no other is looked for.
    made_at : datetime
        What the file says of when it was made, with its zone: the same paper gives the same bytes.

    Raises
    ------
    typst.TypstError
        If the template refuses what it is given.
    """
    import typst

    fonts = typst.Fonts(
        include_system_fonts=False, include_embedded_fonts=False, font_paths=[str(font_folder)]
    )
    # Typed loosely: the overloads that the typesetter declares exclude each other.
    compile_page: Any = typst.compile
    pdf: bytes = compile_page(
        template.read_bytes(),
        font_paths=fonts,
        ignore_system_fonts=True,
        format="pdf",
        sys_inputs={"data": json.dumps(data, ensure_ascii=False, sort_keys=True, allow_nan=False)},
        pdf_standards=_STANDARDS,
        timestamp=made_at,
    )
    return pdf


def noon_of(day: date) -> datetime:
    """Give the noon of a day, UTC: of a paper that is dated to the day."""
    return datetime(day.year, day.month, day.day, 12, tzinfo=UTC)
