"""
What was built under a permit as a paper for its authority and for the chart office.

Every word on it is data. The same list makes the same bytes.
"""

from collections.abc import Sequence
from pathlib import Path
from typing import Any

from registry.documents.glyphs import FONT_FILES, SCRIPTS, missing_glyphs
from registry.documents.typeset import noon_of, typeset
from registry.errors import UnprintableTextError
from registry.measure.decision import Verdict
from registry.records.as_built import AreaAsBuilt, AsBuiltList, ModuleAsBuilt, Used
from registry.records.entry import instant_text
from registry.records.reported_value import reported_length, reported_mass

__all__ = ["render_as_built", "render_chart_office"]

_TEMPLATE = Path(__file__).with_suffix(".typ")
#: Rows of one table that are printed; the rest stands in the spreadsheet.
_MOST_MODULES = 1_000
_MOST_CORNERS = 60
#: To how much a height of concrete is told in words. Units: m.
_HEIGHT_M = 0.1
_VERDICTS = {
    Verdict.CONFORMING: "kept",
    Verdict.NONCONFORMING: "exceeded",
    Verdict.INCONCLUSIVE: "not certain",
}


def render_as_built(built: AsBuiltList, font_folder: Path) -> bytes:
    """
    Draw the list.

    Parameters
    ----------
    built : AsBuiltList
        What the paper says.
    font_folder : pathlib.Path
        Where the shipped font files lie. No font of the system is used.

    Returns
    -------
    bytes
        A PDF file, PDF/A-2a and PDF/UA-1.

    Raises
    ------
    UnprintableTextError
        If a text holds characters for which the shipped fonts have no glyphs.
    UnreadableFileError
        If a font file is absent.
    """
    return _printed(_page_data(built), built, font_folder)


def render_chart_office(built: AsBuiltList, font_folder: Path) -> bytes:
    """
    Draw of the list what a chart office asks for: areas, corners and attributes, and no single module.

    Parameters, returns and errors are those of :func:`render_as_built`.
    """
    number, head = built.permit.number, built.journal_head[:16]
    data = _page_data(built) | {
        "title": f"For the chart office, permit {number}",
        "subtitle": f"Areas of a fish haven permitted by {built.permit.authority}",
        "foot": f"{number} for the chart office · {built.made_on} · journal head {head}",
        "use": [],
        "modules": None,
    }
    return _printed(data, built, font_folder)


def _printed(data: dict[str, Any], built: AsBuiltList, font_folder: Path) -> bytes:
    missing = missing_glyphs(_shown(data), font_folder)
    if missing:
        what = f"The as-built list of permit {built.permit.number} holds characters that the shipped fonts "
        raise UnprintableTextError(
            f"{what}cannot print: {', '.join(missing)}.", remedy=f"Write them in {SCRIPTS} letters."
        )
    return typeset(_TEMPLATE, data, font_folder=font_folder, made_at=noon_of(built.made_on))


def _page_data(built: AsBuiltList) -> dict[str, Any]:
    permit = built.permit
    return {
        "fonts": list(FONT_FILES),
        "title": f"As-built list, permit {permit.number}",
        "programme": built.programme,
        "subtitle": f"For {permit.authority} and for the chart office",
        "made": [built.made_on.year, built.made_on.month, built.made_on.day],
        "foot": f"{permit.number} as built · {built.made_on} · journal head {built.journal_head[:16]}",
        "head": f"Digest of the journal's head: {built.journal_head}",
        "cautions": list(built.cautions),
        "facts": _facts(built),
        "use": [_use(used, built) for used in built.used],
        "areas": [_area(area, built) for area in built.areas],
        "coordinates": [_first_up(name) for name in built.coordinate_names],
        "modules": _modules(built),
        "notes": list(built.notes),
    }


def _facts(built: AsBuiltList) -> list[tuple[str, str]]:
    permit = built.permit
    since = f"; this version in force from {permit.in_force_from}" if permit.in_force_from else ""
    return [
        ("Programme", built.programme),
        *([("Holder of the permit", permit.holder)] if permit.holder else []),
        ("Permit", f"{permit.number} of {permit.authority}, {permit.valid_from} to {permit.valid_to}{since}"),
        ("Positions", f"{built.form}. {_by(built.operation)} ({built.software})"),
        ("Depths", f"in {_length_name(built)} below {permit.chart_datum}; ± is 95 %"),
        ("Days", f"of {built.zone}; this list is of {built.made_on}"),
        *([("As of", f"the registry as it stood at {instant_text(built.as_of)}")] if built.as_of else []),
    ]


def _by(operation: str) -> str:
    """Tell a datum operation, or that none was needed."""
    if operation == "none: same frame":
        return "No datum operation was needed"
    return f"Carried to the frame of this list by {operation}"


def _modules_counted(count: int) -> str:
    return "1 module" if count == 1 else f"{count} modules"


def _length_name(built: AsBuiltList) -> str:
    return {"m": "metres", "ft": "feet (0.3048 m)", "ftUS": "US survey feet", "fathoms": "fathoms"}[
        built.permit.reporting.length_unit
    ]


def _use(used: Used, built: AsBuiltList) -> list[str]:
    unit = built.permit.reporting.mass_unit
    where = f" in {', '.join(used.areas)}" if used.areas else ""
    return [
        f"{'Number' if used.what == 'modules' else 'Mass in air'}{where}",
        used.used_words(unit),
        used.authorised_words(unit),
        _VERDICTS.get(used.verdict, ""),
        used.cite,
    ]


def _area(area: AreaAsBuilt, built: AsBuiltList) -> dict[str, Any]:
    more = len(area.corners) - _MOST_CORNERS
    return {
        "title": area.area_id,
        "facts": _area_facts(area, built),
        "corners": [
            [_corner_name(area, i), corner.written, *corner.text]
            for i, corner in enumerate(area.corners[:_MOST_CORNERS])
        ],
        "written": any(corner.written for corner in area.corners),
        "corners_note": f"{more} further corners stand in corners.csv." if more > 0 else "",
        "chart": [
            [each.s57, f"{each.s101}{' *' if each.mandatory else ''}", each.value or "–", each.meaning]
            for each in area.chart
        ],
    }


def _corner_name(area: AreaAsBuilt, index: int) -> str:
    corner = area.corners[index]
    return "Centre" if corner.ring == "centre" else f"{_first_up(corner.ring)}, {corner.number}"


def _area_facts(area: AreaAsBuilt, built: AsBuiltList) -> list[tuple[str, str]]:
    reporting, datum = built.permit.reporting, built.permit.chart_datum
    stated = f"{area.stated_in}; edges are {'geodesics' if area.edges == 'geodesic' else 'rhumb lines'}"
    if area.source:
        stated = f"{stated}; drawn in {area.source}"
    facts = [("Stated in", f"{stated}. {_by(area.operation)}")]
    if area.radius:
        facts.append(("Circle", f"radius {area.radius} around the centre"))
    days = "none" if area.first_placed is None else f"{area.first_placed} to {area.last_placed}"
    mass = (
        "mass not known"
        if area.mass_kg is None
        else f"{reported_mass(area.mass_kg, reporting.mass_unit)} {reporting.mass_unit}"
    )
    facts.append(("Modules", f"{area.count}, {mass}; placed {days}" if area.count else "none lies in it"))
    if area.clearance is not None:
        value, u95 = reported_length(area.clearance.value_m, area.clearance.u95_m, reporting.length_unit)
        least = f"{value} ± {u95} {reporting.length_unit} below {datum}, over {area.clearance.tag}"
    elif area.count:
        least = f"not known: no depth or height for {area.unmeasured} of {_modules_counted(area.count)}"
    else:
        least = "no module lies in it"
    facts.append(("Least clearance", least))
    facts.append(("Authorised clearance", area.authorised_clearance or "the permit's file states none"))
    if area.materials:
        facts.append(
            ("Material", "Concrete modules: " + "; ".join(_material(each, built) for each in area.materials))
        )
    return facts


def _material(each: Any, built: AsBuiltList) -> str:
    unit = built.permit.reporting.length_unit
    height = (
        "" if each.height_m is None else f", {reported_length(each.height_m, _HEIGHT_M, unit)[0]} {unit} high"
    )
    words = f" ({each.note}{height})" if each.note else height
    return f"{each.count} {each.type_id or 'of unknown type'}{words}"


def _modules(built: AsBuiltList) -> dict[str, Any]:
    reporting = built.permit.reporting
    unit = reporting.length_unit
    several = len(built.areas) > 1
    outside = any(not module.inside for module in built.modules)

    def row(module: ModuleAsBuilt) -> list[str]:
        depth, depth_u95 = reported_length(module.depth_m, module.depth_u95_m, unit)
        clear, clear_u95 = reported_length(module.clearance_m, module.clearance_u95_m, unit)
        where = module.area_id if module.inside else f"outside; nearest {module.area_id}"
        return [
            module.tag + (" †" if module.moved else ""),
            module.module_type,
            *([where] if several or outside else []),
            *module.text,
            reported_length(0.0, module.r95_m, unit)[1],
            _measured(depth, depth_u95),
            _measured(clear, clear_u95),
            reported_mass(module.mass_kg, reporting.mass_unit) or "not known",
            module.placed_on.isoformat(),
        ]

    shown = built.modules[:_MOST_MODULES]
    columns = [
        "Tag",
        "Type",
        *(["Area"] if several or outside else []),
        *(_first_up(name) for name in built.coordinate_names),
        f"Within ({unit}, 95 %)",
        f"Seabed ({unit})",
        f"Clearance ({unit})",
        f"Mass ({reporting.mass_unit})",
        "Placed on",
    ]
    more = len(built.modules) - len(shown)
    notes = [
        f"Seabed and clearance are below {built.permit.chart_datum}; numbers end where their doubt begins.",
        *(["† found moved by a resurvey; listed where it was found."] if any(m.moved for m in shown) else []),
        *([f"{more} further modules stand in modules.csv."] if more > 0 else []),
    ]
    return {
        "columns": columns,
        # The column that takes what is left of the page.
        "wide": 2 if several or outside else 1,
        # Where figures stand in columns, their digits must stand under one another.
        "right": [name.startswith(("Within", "Mass")) for name in columns],
        "rows": [row(module) for module in shown],
        "note": " ".join(notes),
    }


def _measured(value: str, u95: str) -> str:
    if not value:
        return "not known"
    return f"{value} ± {u95}" if u95 else value


def _first_up(text: str) -> str:
    return text[:1].upper() + text[1:]


def _shown(data: Any) -> str:
    """Join every text of the page."""
    if isinstance(data, str):
        return data
    if isinstance(data, dict):
        return " ".join(_shown(value) for key, value in data.items() if key != "fonts")
    if isinstance(data, Sequence):
        return " ".join(map(_shown, data))
    return ""
