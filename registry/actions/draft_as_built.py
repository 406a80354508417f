"""Draft an as-built report: each module of a day with its place, depth and mass, in the permit's own form."""

from collections.abc import Sequence
from dataclasses import replace
from datetime import UTC, datetime, time

import numpy as np

from registry.actions.as_built_list import as_built_list
from registry.actions.drafting import Drafting, contact
from registry.records.as_built import AsBuiltList, ModuleAsBuilt, Used
from registry.records.duty_draft import DraftField, DraftSection, DraftTable, DutyDraft, blank, filled
from registry.records.permit import MassUnit
from registry.records.placement import Placement
from registry.records.reported_value import reported_length, reported_mass

__all__ = ["draft_as_built"]

#: So many warnings are repeated on the paper.
MOST_WARNINGS = 8
_AMENDED = (
    "The permit was amended after that day: areas, limits and the form of the figures are those of today, "
    "the chart datum is that of the day."
)


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
    noon = datetime.combine(d.made_on, time(12), tzinfo=UTC)
    built = as_built_list(
        d.register,
        d.permit.number,
        now=noon,
        read_position=d.read_position,
        write_position=d.write_position,
    )
    # The office is told in the form that it asks for today; a depth stays below the datum of its own day.
    today = replace(d, permit=built.permit)
    datum = d.permit.chart_datum
    reported = set(d.duty.placements)
    those = [module for module in built.modules if module.placement_id in reported]
    placements = [d.register.placement(each) for each in d.duty.placements]
    return d.paper(
        f"As-built report under permit {d.permit.number}, placed on {d.duty.from_day}",
        (
            d.permit_section(),
            DraftSection(
                title="What was placed",
                fields=(
                    *_sums(today, those, datum),
                    *(_used(each, built.permit.reporting.mass_unit) for each in built.used),
                ),
            ),
            DraftSection(
                title="Vessel and persons",
                fields=(
                    filled("Vessel", ", ".join(sorted({each.vessel for each in placements} - {""}))),
                    contact("Vessel's point of contact"),
                    contact("Person in charge of the work"),
                    blank("Sketch or photographs"),
                ),
            ),
        ),
        tables=(_modules(built, those, datum),),
        cautions=(
            "Every row stands as it was recorded, also where it does not conform: leadline audit judges it.",
            *((_AMENDED,) if d.permit.begins_on != built.permit.begins_on else ()),
            *_warnings(placements),
            *built.notes,
        ),
    )


def _warnings(placements: Sequence[Placement]) -> list[str]:
    """Repeat what a person should look at again before it is reported."""
    found = [f"{each.tag}: {warning}" for each in placements for warning in each.warnings]
    more = len(found) - MOST_WARNINGS
    if more > 0:
        found[MOST_WARNINGS:] = [f"There are {more} warnings more: leadline audit."]
    return found


def _sums(d: Drafting, those: Sequence[ModuleAsBuilt], datum: str) -> tuple[DraftField, ...]:
    """Give count, mass and least clearance of the day."""
    unit = d.permit.reporting.mass_unit
    mass = reported_mass(sum(module.mass_kg for module in those), unit)
    unknown = [module.tag for module in those if not np.isfinite(module.clearance_m - module.clearance_u95_m)]
    label = "Least clearance over a module"
    if unknown:
        clearance = blank(
            label, f"not known for {len(unknown)} of {len(those)}: no depth or height on record"
        )
    else:
        least = min(those, key=lambda module: module.clearance_m)
        note = f"below {datum}, over {least.tag}"
        # Another module, less well known, may reach higher than the one that seems the highest.
        lowest_m = min(module.clearance_m - module.clearance_u95_m for module in those)
        clearance = filled(label, d.length(least.clearance_m, least.clearance_m - lowest_m), note)
    return (
        filled("Modules placed that day", str(len(those))),
        filled("Their mass in air", f"{mass} {unit}")
        if mass
        else blank("Their mass in air", "the mass of some module is not recorded"),
        clearance,
    )


def _used(used: Used, unit: MassUnit) -> DraftField:
    """Tell how much of what is authorised is used by all that stands under the permit."""
    amount, authorised = f"{used.used:.0f}", used.written
    if used.what == "mass":
        amount = f"{reported_mass(used.used, unit)} {unit}"
        if used.authorised is not None:
            authorised = f"{used.written} ({reported_mass(used.authorised, unit)} {unit})"
    limit = f"of {authorised} authorised [{used.cite}]" if authorised else "the file states no limit"
    unknown = f"; {used.unknown} modules of unknown mass come to it" if used.unknown else ""
    where = f" in {', '.join(used.areas)}" if used.areas else ""
    return filled(f"All {used.what} under the permit{where}", amount, f"{limit}{unknown}")


def _modules(built: AsBuiltList, those: Sequence[ModuleAsBuilt], datum: str) -> DraftTable:
    """Give a row for each module."""
    unit, mass_unit = built.permit.reporting.length_unit, built.permit.reporting.mass_unit
    rows = []
    for module in those:
        _, within = reported_length(0.0, module.r95_m, unit)
        relief, _ = reported_length(module.height_m, module.height_u95_m, unit)
        rows.append(
            (
                *(module.tag, module.module_type, module.area_id if module.inside else "outside"),
                *module.text,
                within,
                *reported_length(module.depth_m, module.depth_u95_m, unit),
                relief,
                *reported_length(module.clearance_m, module.clearance_u95_m, unit),
                reported_mass(module.mass_kg, mass_unit),
            )
        )
    return DraftTable(
        title="Modules",
        columns=(
            *("tag", "type", "area", *built.coordinate_names, f"within ({unit}, 95 %)"),
            *(f"depth ({unit} below {datum})", f"± depth ({unit}, 95 %)", f"relief ({unit})"),
            *(f"clearance ({unit} below {datum})", f"± clearance ({unit}, 95 %)", f"mass ({mass_unit})"),
        ),
        rows=tuple(rows),
        note=f"{built.form}; datum operation {built.operation}.",
    )
