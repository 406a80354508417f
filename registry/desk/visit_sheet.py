"""The sheet for a visit: the position in every notation, and the page that is taken aboard."""

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from registry.records.visit import Visit

__all__ = ["visit_positions", "visit_sheet", "visit_stem"]


def visit_positions(visit: "Visit") -> dict[str, str]:
    """Write where the module lies as plotters and phones take it: "ddm", "dd", "dms" and "geo"."""
    from registry.formats.printed_notation import write_in_notation
    from registry.measure.datum import resolve

    place = visit.position
    frame = resolve(place.frame)
    return {
        notation: write_in_notation(
            place.lat_deg, place.lon_deg, notation=notation, r95_m=place.r95_m, frame=frame
        )
        for notation in ("ddm", "dd", "dms", "geo")
    }


def visit_sheet(visit: "Visit") -> bytes:
    """Print the sheet as PDF; UnprintableTextError where it cannot be set on one page."""
    from registry.documents.visit import render_visit
    from registry.storage.shipped import shipped_path

    texts = visit_positions(visit)
    written = [texts[each] for each in ("ddm", "dd", "dms")]
    return render_visit(visit, written, texts["geo"], shipped_path("fonts"))


def visit_stem(visit: "Visit") -> str:
    """Name the files of a visit, without their ending: nothing but letters, digits, dots and dashes."""
    name = f"visit-{visit.tag}-{visit.day.isoformat()}"
    return "".join(c if c.isalnum() or c in "-._" else "_" for c in name)
