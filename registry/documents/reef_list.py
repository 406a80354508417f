"""
The public list of a programme's reefs as a paper to take aboard: every module, or every site, on one table.

Every word on it is data. The same record makes the same bytes.
"""

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any, Literal

from registry.documents.glyphs import FONT_FILES, printable
from registry.documents.paper import Paper, sheet_mm
from registry.documents.typeset import noon_of, typeset
from registry.errors import RequestError
from registry.measure.site_circle import site_circle
from registry.records.public_site import PublicArea, PublicModule, PublicSite
from registry.records.public_wording import (
    CAUTIONS,
    area_facts,
    datum_of,
    depth_range,
    frame_words,
    least_clearance,
    length_decimals,
    module_names,
    publication_words,
    rounded_depth,
    rounded_u95,
    shown_sites,
)

__all__ = ["WriteDegrees", "render_reef_list"]

#: Writes latitude and longitude with the digits that a radius supports.
WriteDegrees = Callable[[float, float, float], tuple[str, str]]

_TEMPLATE = Path(__file__).with_suffix(".typ")
#: More rows than this are no list to take aboard.
_MOST_MODULES = 5_000
_NOTATIONS = {
    "dd": "decimal degrees",
    "ddm": "degrees and decimal minutes",
    "dms": "degrees, minutes and seconds",
}
#: A position that is stated without doubt, when it comes to digits. Units: m.
_LEAST_R95_M = 0.01


def render_reef_list(
    site: PublicSite,
    font_folder: Path,
    *,
    write_degrees: WriteDegrees,
    notation: Literal["dd", "ddm", "dms"] = "ddm",
    longest_name: int | None = None,
    paper: Paper = "a4",
) -> bytes:
    """
    Draw the list.

    Parameters
    ----------
    site : PublicSite
        What the public may see.
    font_folder : pathlib.Path
        Where the shipped font files lie. No font of the system is used.
    write_degrees : callable
        Writes a position, in the notation that is named.
    notation : {"dd", "ddm", "dms"}
        How positions are written, for the words above them.
    longest_name : int, optional
        Print beside each tag the name that a plotter shows which takes so many characters.
    paper : {"a4", "letter"}
        The sheet.

    Returns
    -------
    bytes
        A PDF file, PDF/A-2a and PDF/UA-1.

    Raises
    ------
    RequestError
        If there is nothing to print, or far too much.
    UnreadableFileError
        If a font file is absent.

    Notes
    -----
    A letter that no shipped font has is printed as its code point, never left out.
    """
    if len(site.modules) > _MOST_MODULES:
        what = f"{len(site.modules)} modules are no list for paper."
        raise RequestError(what, remedy="Print the sites with --sites-only, or export CSV.")
    data = _page_data(site, write_degrees, notation, longest_name)
    data = _printable(data, font_folder) | {"fonts": list(FONT_FILES), "sheet": sheet_mm(paper)}
    return typeset(_TEMPLATE, data, font_folder=font_folder, made_at=noon_of(site.issued_on))


def _page_data(
    site: PublicSite, write_degrees: WriteDegrees, notation: str, longest_name: int | None
) -> dict[str, Any]:
    sites = shown_sites(site)
    if not sites and not site.modules:
        raise RequestError("There is nothing to print.", remedy="Place a module first.")
    names = module_names(site, longest_name)
    rows: dict[tuple[str, str], list[int]] = {}
    for row, module in enumerate(site.modules):
        rows.setdefault((module.permit, module.area_id), []).append(row)
    areas = {(area.permit, area.area_id): area for area in site.areas}
    groups = []
    for where, those in sorted(rows.items(), key=lambda group: (group[0][1], group[0][0])):
        area = areas.get(where)
        groups.append(
            {
                "title": where[1] or "At no permit area",
                "facts": " ".join(area_facts(area, site)) if area else "",
                "rows": [
                    _module_row(site, site.modules[row], names[row], write_degrees, longest_name)
                    for row in sorted(those, key=lambda row: site.modules[row].tag)
                ],
            }
        )
    if sites:
        groups.append(
            {"title": "Sites", "facts": "", "rows": [_site_row(site, area, write_degrees) for area in sites]}
        )
    return {
        "title": "Memorial reefs",
        "programme": site.programme,
        "made": [site.issued_on.year, site.issued_on.month, site.issued_on.day],
        "foot": f"{site.programme} · {site.issued_on.isoformat()}",
        "cautions": list(CAUTIONS),
        "frame": f"Positions: {frame_words(site)}, in {_NOTATIONS[notation]}.",
        "published": publication_words(site),
        "columns": _columns(sites, longest_name),
        "groups": groups,
        "note": _note(sites),
    }


def _columns(sites: Sequence[PublicArea], longest_name: int | None) -> list[str]:
    if sites:
        return [
            "Site",
            "Middle, latitude",
            "Longitude",
            "Reaches (m)",
            "Modules",
            "Seabed (m)",
            "Least water (m)",
        ]
    plotter = ["On the plotter"] if longest_name is not None else []
    return ["Tag", *plotter, "Memorial", "Latitude", "Longitude", "Within (m)", "Seabed (m)", "Placed on"]


def _note(sites: Sequence[PublicArea]) -> str:
    if sites:
        return (
            "Reaches: the whole permit area lies within so much of its middle. Seabed and least water over "
            "the modules are below chart datum."
        )
    return (
        "Within: the module lies within so much of the position with 95 % probability. Seabed: depth below "
        "chart datum, ± 95 %; a module stands above it. Numbers end where their doubt begins."
    )


def _module_row(
    site: PublicSite,
    module: PublicModule,
    name: str,
    write_degrees: WriteDegrees,
    longest_name: int | None,
) -> list[str]:
    r95_m = max(module.r95_m, _LEAST_R95_M)
    depth = rounded_depth(module)
    said = "not measured"
    if depth is not None:
        said = f"{depth:.{length_decimals(module.depth_u95_m)}f}"
        if module.depth_u95_m is not None:
            said += f" ± {_radius(module.depth_u95_m)}"
        said += f" {datum_of(module, site)}"
    return [
        module.tag,
        *([name] if longest_name is not None else []),
        module.name or "",
        *write_degrees(module.lat_deg, module.lon_deg, r95_m),
        _radius(r95_m),
        said,
        module.placed_on.isoformat(),
    ]


def _site_row(site: PublicSite, area: PublicArea, write_degrees: WriteDegrees) -> list[str]:
    circle, datum = site_circle(area.shape), area.chart_datum or site.chart_datum
    depth = "not measured" if area.depths is None else f"{depth_range(area)} {datum}"
    water = "not known" if area.clearance is None else " ± ".join(least_clearance(area))
    return [
        area.area_id,
        *write_degrees(circle.lat_deg, circle.lon_deg, circle.radius_m / 10.0),
        f"{rounded_u95(circle.radius_m):.0f}",
        str(area.module_count),
        depth,
        water,
    ]


def _radius(u95_m: float) -> str:
    return f"{rounded_u95(u95_m):.{length_decimals(u95_m)}f}"


def _printable(data: Any, font_folder: Path) -> Any:
    """Have every text printed, whatever letters it holds: each that no font shows as its code point."""
    if isinstance(data, str):
        return data if data.isascii() and data.isprintable() else printable(data, font_folder)
    if isinstance(data, dict):
        return {name: _printable(value, font_folder) for name, value in data.items()}
    if isinstance(data, list):
        return [_printable(value, font_folder) for value in data]
    return data
