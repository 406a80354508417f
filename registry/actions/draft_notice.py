"""Draft a notice before work: who, when, where and how much."""

from registry.actions.area_corners import outline_of
from registry.actions.drafting import Drafting, contact
from registry.records.duty_draft import DraftSection, DraftTable, DutyDraft, blank, filled

__all__ = ["draft_notice"]

#: A radius of which the last digit is a third has as many decimals as were written, but for rounding.
_AS_WRITTEN = 3.0 * (1.0 + 1e-6)
#: A drawn outline has more corners than anybody types.
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
    form = d.form
    tables = []
    for area in d.permit.areas:
        outline = outline_of(
            area,
            home=d.register.programme().frame,
            target=form.frame.base,
            epoch=form.moving_epoch,
            read_position=d.read_position,
        )
        title = f"Area {area.area_id}"
        if len(outline.corners) > _MOST_CORNERS:
            note = f"Its outline has {len(outline.corners)} corners: attach the drawing {outline.source}."
            tables.append(DraftTable(title=title, columns=(), rows=(), note=note))
            continue
        circle = f"; a circle of radius {outline.radius}" if outline.radius else ""
        tables.append(
            DraftTable(
                title=title,
                columns=("ring", "corner", *form.names),
                rows=tuple(
                    (
                        corner.ring,
                        str(corner.number),
                        *form.text(
                            corner.lat_deg,
                            corner.lon_deg,
                            max(corner.resolution_m * _AS_WRITTEN, outline.accuracy_m),
                        ),
                    )
                    for corner in outline.corners
                ),
                note=f"{form.words}{circle}; edges {area.edges}; datum operation {outline.operation}.",
            )
        )
    return tables
