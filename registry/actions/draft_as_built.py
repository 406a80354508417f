"""Draft an as-built report: each module of a day with its place, depth and mass, in the permit's own form."""

from collections.abc import Sequence
from datetime import UTC, datetime

import numpy as np

from registry.actions.drafting import Drafting, contact
from registry.measure.clearance import clearance_arrays
from registry.records.duty_draft import DraftField, DraftSection, DraftTable, DutyDraft, blank, filled
from registry.records.permit import LengthUnit
from registry.records.placement import Placement, PlacementTable
from registry.records.reported_value import reported_length, reported_mass

__all__ = ["draft_as_built"]

#: So many warnings are repeated on the paper.
MOST_WARNINGS = 8


def draft_as_built(d: Drafting) -> DutyDraft:
    """
    Draft the report of one day of placing.

    Parameters
    ----------
    d : Drafting
        Of a duty with at least one placement.

    Notes
    -----
    Names of memorials and of families do not enter: the report is about concrete.
    """
    standing = d.register.placements(permit=d.permit.number)
    those = standing.rows(np.isin(standing.placement_id, d.duty.placements))
    placements = [d.register.placement(each) for each in d.duty.placements]
    day = str(d.duty.from_day)
    upto = standing.rows(standing.placed_at_s <= those.placed_at_s.max())
    return d.paper(
        f"As-built report under permit {d.permit.number}, placed on {day}",
        (
            d.permit_section(),
            DraftSection(title="What was placed", fields=_sums(d, those, upto)),
            DraftSection(
                title="Vessel and persons",
                fields=(
                    *_vessels(placements),
                    contact("Person in charge of the work"),
                    blank("Sketch or photographs"),
                ),
            ),
        ),
        tables=(_modules(d, those),),
        cautions=(
            "Every row stands as it was recorded, also where it does not conform: leadline audit judges it.",
            *_warnings(placements),
        ),
    )


def _warnings(placements: Sequence[Placement]) -> list[str]:
    """Repeat what a person should look at again before it is reported."""
    found = [f"{each.tag}: {warning}" for each in placements for warning in each.warnings]
    more = len(found) - MOST_WARNINGS
    return (
        found if more <= 0 else [*found[:MOST_WARNINGS], f"There are {more} warnings more: leadline audit."]
    )


def _sums(d: Drafting, those: PlacementTable, upto: PlacementTable) -> tuple[DraftField, ...]:
    """Give count and mass of the day and since the permit began, and the least clearance."""
    unit = d.permit.reporting.mass_unit
    authorised = {
        name: limit
        for condition in d.permit.conditions
        if condition.rule == "capacity"
        for name, limit in condition.limits.items()
    }
    counted = f"{len(those)} on the day, {len(upto)} under the permit by then"
    weighed = f"{_mass(those, unit)} {unit} on the day, {_mass(upto, unit)} {unit} under the permit by then"
    return (
        filled("Modules", counted, _of(authorised.get("greatest_count"))),
        filled("Mass in air", weighed, _of(authorised.get("greatest_mass")))
        if _mass(upto, unit)
        else blank("Mass in air", "the registry does not know the mass of every module"),
        _least_clearance(d, those),
    )


def _of(limit: object) -> str:
    written = getattr(limit, "written", "")
    return f"the permit authorises {written}" if written else "the permit's file states no limit"


def _mass(table: PlacementTable, unit: object) -> str:
    return reported_mass(float(table.mass_kg.sum()), unit)  # type: ignore[arg-type]


def _least_clearance(d: Drafting, those: PlacementTable) -> DraftField:
    label = "Least clearance over a module"
    clearance_m, u95_m = _clearance(those)
    known = np.isfinite(clearance_m)
    if not known.all():
        unknown = int((~known).sum())
        return blank(label, f"not known for {unknown} of {len(those)}: depth or height is not recorded")
    least = int(clearance_m.argmin())
    note = f"below {d.permit.chart_datum}, over {those.tag[least]}"
    return filled(label, d.length(float(clearance_m[least]), float(u95_m[least])), note)


def _clearance(table: PlacementTable) -> tuple[np.ndarray, np.ndarray]:
    return clearance_arrays(table.depth_m, table.depth_u95_m, table.height_m, table.height_u95_m)


def _vessels(placements: Sequence[Placement]) -> tuple[DraftField, ...]:
    names = ", ".join(sorted({each.vessel for each in placements} - {""}))
    return (filled("Vessel", names) if names else blank("Vessel"), contact("Vessel's point of contact"))


def _modules(d: Drafting, those: PlacementTable) -> DraftTable:
    """Give a row for each module."""
    unit: LengthUnit = d.permit.reporting.length_unit
    mass_unit = d.permit.reporting.mass_unit
    at = datetime.fromtimestamp(float(those.placed_at_s[0]), UTC)
    written, operation = d.positions(those.lon_deg, those.lat_deg, those.r95_m, at)
    clearance_m, clearance_u95_m = _clearance(those)
    datum = d.permit.chart_datum
    rows = []
    for k in range(len(those)):
        local = datetime.fromtimestamp(float(those.placed_at_s[k]), UTC).astimezone(d.zone)
        _, within = reported_length(0.0, float(those.r95_m[k]), unit)
        depth, depth_u95 = reported_length(float(those.depth_m[k]), float(those.depth_u95_m[k]), unit)
        relief, _ = reported_length(float(those.height_m[k]), float(those.height_u95_m[k]), unit)
        clear, clear_u95 = reported_length(float(clearance_m[k]), float(clearance_u95_m[k]), unit)
        mass = reported_mass(float(those.mass_kg[k]), mass_unit)
        rows.append(
            (
                *(str(those.tag[k]), str(those.module_type[k]), f"{local:%H:%M}", *written[k], within),
                *(depth, depth_u95, relief, clear, clear_u95, mass),
            )
        )
    return DraftTable(
        title="Modules",
        columns=(
            *("tag", "type", f"time ({_zone_name(d, at)})", *d.coordinate_names(), f"within ({unit}, 95 %)"),
            *(f"depth ({unit} below {datum})", f"± depth ({unit}, 95 %)", f"relief ({unit})"),
            *(f"clearance ({unit} below {datum})", f"± clearance ({unit}, 95 %)", f"mass ({mass_unit})"),
        ),
        rows=tuple(rows),
        note=f"{d.form_words()}; datum operation {operation}.",
    )


def _zone_name(d: Drafting, at: datetime) -> str:
    """Name the zone as its clocks do on a day."""
    return f"{at.astimezone(d.zone):%Z}"
