"""Draft a notice before work: who, when, where and how much."""

from datetime import UTC, datetime, time

import numpy as np
import shapely

from registry.actions.drafting import Drafting, contact
from registry.records.duty_draft import DraftSection, DraftTable, DutyDraft, blank, filled

__all__ = ["draft_notice"]

#: Corners are written to the decimetre or so; a drawn outline has more of them than anybody types.
_CORNER_R95_M = 1.0
_MOST_CORNERS = 60


def draft_notice(d: Drafting) -> DutyDraft:
    """
    Draft the notice of one work.

    Parameters
    ----------
    d : Drafting
        Of a duty with a first and a last day.
    """
    begins_on, ends_on = d.duty.from_day, d.duty.to_day
    targets = [target for target in d.register.targets() if target.permit == d.permit.number]
    placed = set(d.register.placements(permit=d.permit.number).tag.tolist())
    ahead = [target.tag for target in targets if target.tag not in placed]
    modules = (
        filled("Modules to be placed", str(len(ahead)), "targets on record that hold no module yet")
        if ahead
        else blank("Modules to be placed", "no targets are on record")
    )
    return d.paper(
        f"Notice before work under permit {d.permit.number}",
        (
            d.permit_section(),
            DraftSection(
                title="The work",
                fields=(
                    filled("First day", str(begins_on)),
                    filled("Last day", str(ends_on)),
                    modules,
                    blank("Working hours"),
                    blank("Method of placement", "lowered or released"),
                    blank("Buoys or marks during the work"),
                ),
            ),
            DraftSection(
                title="Vessel and persons",
                fields=(
                    blank("Vessel"),
                    contact("Vessel's point of contact"),
                    contact("Person in charge of the work"),
                ),
            ),
        ),
        tables=_areas(d),
        cautions=(
            "Ask which offices want it: those who permit, those who warn mariners, those who chart.",
            "Until they have answered, official charts and notices to mariners stand.",
        ),
    )


def _areas(d: Drafting) -> list[DraftTable]:
    """Give the corners of each area in the form asked for."""
    day = d.duty.from_day or d.made_on
    noon = datetime.combine(day, time(12), tzinfo=UTC)
    tables = []
    for area in d.permit.areas:
        rings = [ring for part in shapely.get_parts(area.shape) for ring in (part.exterior, *part.interiors)]
        corners = [(k, lon, lat) for k, ring in enumerate(rings) for lon, lat, *_ in ring.coords[:-1]]
        if len(corners) > _MOST_CORNERS:
            note = f"Its outline has {len(corners)} corners: attach the drawing ({area.written})."
            tables.append(DraftTable(title=f"Area {area.area_id}", columns=(), rows=(), note=note))
            continue
        _, lon, lat = (np.array(column, dtype=float) for column in zip(*corners, strict=True))
        written, operation = d.positions(lon, lat, np.full(len(lon), _CORNER_R95_M), noon)
        ring_of = {0: "outline"} | {k: f"hole {k}" for k in range(1, len(rings))}
        tables.append(
            DraftTable(
                title=f"Area {area.area_id}",
                columns=("ring", "corner", *d.coordinate_names()),
                rows=tuple(
                    (ring_of[k], str(number), *words)
                    for number, ((k, _, _), words) in enumerate(zip(corners, written, strict=True), start=1)
                ),
                note=f"{d.form_words()}; edges {area.edges}; datum operation {operation}.",
            )
        )
    return tables
