"""The sheet for a visit: the page that is taken aboard, and what its file is called."""

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from registry.records.visit import Visit

__all__ = ["visit_sheet", "visit_stem"]


def visit_sheet(visit: "Visit") -> bytes:
    """Print the sheet as PDF; UnprintableTextError where it cannot be set on one page."""
    from registry.documents.visit import render_visit
    from registry.formats.printed_notation import written_position
    from registry.storage.shipped import shipped_path

    texts = written_position(visit.position)
    written = [texts[each] for each in ("ddm", "dd", "dms")]
    return render_visit(visit, written, texts["geo"], shipped_path("fonts"))


def visit_stem(visit: "Visit") -> str:
    """Name the files of a visit, without their ending: nothing but letters, digits, dots and dashes."""
    name = f"visit-{visit.tag}-{visit.day.isoformat()}"
    return "".join(c if c.isalnum() or c in "-._" else "_" for c in name)
