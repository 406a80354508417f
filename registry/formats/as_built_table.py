"""
What was built under a permit as spreadsheets: modules, corners, areas, use, and what a chart office asks.

UTF-8 with its mark; commas; headers whose names carry the units that the permit asks for. No person's name.
"""

import math
from collections.abc import Iterable, Sequence

from registry.formats.csv_table import write_csv_table
from registry.measure.digits import Notation, coordinate_decimals, unit_m
from registry.records.as_built import AsBuiltList, ModuleAsBuilt, Used
from registry.records.reported_value import reported_length, reported_mass

__all__ = [
    "write_areas_table",
    "write_chart_table",
    "write_corners_table",
    "write_modules_table",
    "write_use_table",
]


def write_modules_table(built: AsBuiltList) -> bytes:
    """Write a row for each module, in order of placement; positions with the digits that R95 supports."""
    length, mass = _units(built)
    datum = built.permit.chart_datum
    header = (
        *("tag", "type", "area", "inside_area", *built.coordinate_names, f"within_95_{length}"),
        *(f"depth_{length}", f"depth_u95_{length}", f"relief_{length}"),
        *(f"clearance_{length}", f"clearance_u95_{length}", f"mass_{mass}"),
        *("placed_on", "found_moved", "latitude_deg", "longitude_deg", "frame", "epoch", "chart_datum"),
        "placement",
    )

    def row(module: ModuleAsBuilt) -> Sequence[object]:
        unit = built.permit.reporting.length_unit
        depth = reported_length(module.depth_m, module.depth_u95_m, unit)
        clearance = reported_length(module.clearance_m, module.clearance_u95_m, unit)
        decimals = coordinate_decimals(Notation.DEGREES, max(module.r95_m, 0.001))
        return (
            module.tag,
            module.module_type,
            module.area_id,
            _yes(module.inside),
            *module.text,
            reported_length(0.0, module.r95_m, unit)[1],
            *depth,
            reported_length(module.height_m, module.height_u95_m, unit)[0],
            *clearance,
            reported_mass(module.mass_kg, built.permit.reporting.mass_unit),
            module.placed_on.isoformat(),
            _yes(module.moved),
            f"{module.lat_deg:.{decimals}f}",
            f"{module.lon_deg:.{decimals}f}",
            *_frame(built),
            datum,
            module.placement_id,
        )

    return _csv(header, map(row, built.modules))


def write_corners_table(built: AsBuiltList) -> bytes:
    """Write a row for each corner of each area, as the permit writes it and in the frame of the list."""
    header = (
        *("area", "ring", "corner", "as_written", *built.coordinate_names, "radius", "edges"),
        *("stated_in", "source", "latitude_deg", "longitude_deg", "frame", "epoch", "operation"),
    )
    rows = (
        (
            *(
                area.area_id,
                corner.ring,
                corner.number,
                corner.written,
                *corner.text,
                area.radius,
                area.edges,
            ),
            *(area.stated_in, area.source, *_degrees(corner.lat_deg, corner.lon_deg)),
            *(*_frame(built), area.operation),
        )
        for area in built.areas
        for corner in area.corners
    )
    return _csv(header, rows)


def write_areas_table(built: AsBuiltList) -> bytes:
    """Write a row for each area: what lies in it, since when, and the least water over it."""
    length, mass = _units(built)
    header = (
        *("area", "modules", f"mass_{mass}", "first_placed", "last_placed", f"least_clearance_{length}"),
        *(f"least_clearance_u95_{length}", "over", "modules_without_clearance", "authorised_clearance"),
        *("chart_datum", "material"),
    )
    unit, mass_unit = built.permit.reporting.length_unit, built.permit.reporting.mass_unit
    rows = (
        (
            area.area_id,
            area.count,
            "" if area.mass_kg is None else reported_mass(area.mass_kg, mass_unit),
            area.first_placed.isoformat() if area.first_placed else "",
            area.last_placed.isoformat() if area.last_placed else "",
            *(
                reported_length(area.clearance.value_m, area.clearance.u95_m, unit)
                if area.clearance
                else ("", "")
            ),
            area.clearance.tag if area.clearance else "",
            area.unmeasured,
            area.authorised_clearance,
            built.permit.chart_datum,
            "; ".join(f"{each.count} {each.type_id} ({each.note})" for each in area.materials),
        )
        for area in built.areas
    )
    return _csv(header, rows)


def write_use_table(built: AsBuiltList) -> bytes:
    """Write a row for each limit of number and mass, or for what is used where the permit states none."""

    def row(used: Used) -> Sequence[object]:
        unit = "modules" if used.what == "modules" else built.permit.reporting.mass_unit
        return (
            used.what,
            "; ".join(used.areas) or "every area",
            _amount(used, used.used, built),
            "" if used.authorised is None else _amount(used, used.authorised, built),
            unit,
            used.unknown,
            used.verdict.word,
            used.written,
            used.cite,
        )

    header = (
        *("what", "areas", "used", "authorised", "unit", "modules_of_unknown_mass", "verdict"),
        *("as_written", "cite"),
    )
    return _csv(header, map(row, built.used))


def write_chart_table(built: AsBuiltList) -> bytes:
    """Write a row for each attribute of each area; an empty value has its reason beside it."""
    rows = (
        (area.area_id, each.s57, each.s101, each.value, each.meaning, _yes(each.mandatory))
        for area in built.areas
        for each in area.chart
    )
    return _csv(("area", "s57", "s101", "value", "meaning", "mandatory_in_s101"), rows)


def _csv(header: Sequence[str], rows: Iterable[Sequence[object]]) -> bytes:
    return write_csv_table(header, rows).encode("utf-8-sig", errors="replace")


def _units(built: AsBuiltList) -> tuple[str, str]:
    reporting = built.permit.reporting
    return reporting.length_unit, reporting.mass_unit.replace(" ", "_")


def _frame(built: AsBuiltList) -> tuple[str, str]:
    return built.frame, "" if built.epoch is None else f"{built.epoch:g}"


def _degrees(lat_deg: float, lon_deg: float) -> tuple[str, str]:
    """Write a corner to the centimetre: it is what the permit says, and nothing that was measured."""
    decimals = next(k for k in range(10) if unit_m(Notation.DEGREES, k) <= 0.02)
    return f"{lat_deg:.{decimals}f}", f"{lon_deg:.{decimals}f}"


def _amount(used: Used, value: float, built: AsBuiltList) -> str:
    if used.what == "modules" or not math.isfinite(value):
        return f"{value:.0f}"
    return reported_mass(value, built.permit.reporting.mass_unit)


def _yes(value: bool) -> str:  # noqa: FBT001
    return "yes" if value else "no"
