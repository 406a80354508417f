"""What every public file says in the same words: names, facts, cautions, and no digit that nobody knows."""

import re

from registry.measure import digits
from registry.measure.site_circle import site_circle
from registry.records.public_site import PublicArea, PublicModule, PublicSite
from registry.records.short_names import LongName, short_names

__all__ = [
    "CAUTIONS",
    "FRAME",
    "area_facts",
    "area_properties",
    "coordinate_decimals",
    "datum_of",
    "depth_range",
    "frame_words",
    "least_clearance",
    "length_decimals",
    "module_facts",
    "module_name",
    "module_names",
    "module_properties",
    "publication_words",
    "rounded_depth",
    "rounded_position",
    "rounded_u95",
    "short_area_facts",
    "short_facts",
    "shown_sites",
    "xml_text",
]

MOST_DECIMALS = 7

#: The realisation of WGS 84 in which the public gets every coordinate.
FRAME = "WGS 84 (G2296)"

CAUTIONS = (
    "Not for navigation: use official charts and notices to mariners.",
    "Depths are at chart datum; tide, swell and growth change the water above the reef.",
    "Dive only within your training and local rules; check current, visibility and traffic first.",
    "Do not anchor on the reef. These are memorials: look, and leave them as they are.",
)

_NOT_IN_XML = re.compile("[^\t\n\r\u0020-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")


def coordinate_decimals(r95_m: float) -> int:
    """
    Give the decimals of a degree that a radius of 95 % supports, 7 at most.

    Examples
    --------
    >>> [coordinate_decimals(r95_m) for r95_m in (0.0, 1.0, 3.0, 5.0, 20.0)]
    [7, 6, 6, 5, 5]
    """
    return min(MOST_DECIMALS, digits.coordinate_decimals(digits.Notation.DEGREES, r95_m)) if r95_m > 0 else 7


def length_decimals(u95_m: float | None) -> int:
    """
    Give the decimals of a metre that a 95 % uncertainty supports; one where it is unknown.

    Examples
    --------
    >>> [length_decimals(u95_m) for u95_m in (0.41, 3.0, 12.0, 0.0, None)]
    [2, 1, 0, 2, 1]
    """
    if u95_m is None:
        return 1
    return digits.metres_decimals(u95_m) if u95_m > 0 else 2


def rounded_position(module: PublicModule) -> tuple[float, float]:
    """Give longitude and latitude with the digits that R95 supports, longitude in [-180, 180)."""
    decimals = coordinate_decimals(module.r95_m)
    lon_deg = round(module.lon_deg, decimals) + 0.0
    return (-180.0 if lon_deg == 180 else lon_deg), round(module.lat_deg, decimals) + 0.0


def rounded_u95(u95_m: float) -> float:
    """
    Give a 95 % uncertainty with two figures, never less than it is.

    Examples
    --------
    >>> rounded_u95(2.613), rounded_u95(0.0), rounded_u95(12.0)
    (2.7, 0.0, 12.0)
    """
    return digits.u95_rounded_up_m(u95_m) if u95_m > 0 else 0.0


def rounded_depth(module: PublicModule) -> float | None:
    """Give the charted depth with the digits that its uncertainty supports."""
    if module.charted_depth_m is None:
        return None
    return round(module.charted_depth_m, length_decimals(module.depth_u95_m)) + 0.0


def frame_words(site: PublicSite) -> str:
    """Name the frame of every coordinate in a public file, with its epoch."""
    return f"{FRAME}, the same as ITRF2020, at epoch {site.epoch:.1f}"


def module_name(module: PublicModule) -> str:
    """Give what a public file calls a module: its tag, and the memorial's name where it may be listed."""
    return f"{module.tag}: {module.name}" if module.name else module.tag


def module_names(site: PublicSite, longest: int | None = None) -> list[str]:
    """
    Give what a file calls each module, cut to what a plotter shows where a length is asked for.

    A memorial's name stands there whole or not at all.

    Raises
    ------
    RequestError
        If the names cannot be told apart within so few characters.
    """
    if longest is None:
        return [module_name(module) for module in site.modules]
    return short_names([_spelled(module) for module in site.modules], longest)


def _spelled(module: PublicModule) -> LongName:
    bare = re.sub(r"[\W_]+", "", module.tag)
    return LongName((module_name(module), module.tag, bare), keep_tail=True)


def publication_words(site: PublicSite) -> str:
    """Say how much of the positions the programme publishes; empty where that is everything."""
    return site.published.words


def shown_sites(site: PublicSite) -> tuple[PublicArea, ...]:
    """Give the sites that stand for their modules, where no module is published: those that have any."""
    if not site.published.sites_only:
        return ()
    return tuple(area for area in site.areas if area.module_count)


def area_facts(area: PublicArea, site: PublicSite) -> tuple[str, ...]:
    """Say what is known of a site as a whole, one sentence each; no sentence is about one module."""
    datum = area.chart_datum or site.chart_datum
    by = f" of {area.authority}" if area.authority else ""
    facts = [f"Permit {area.permit}{by}."]
    if area.module_count:
        count = (
            "1 memorial reef module"
            if area.module_count == 1
            else f"{area.module_count} memorial reef modules"
        )
        facts.append(f"{count} at or near permit area {area.area_id}{_placed(area)}.")
    if area.depths is not None:
        facts.append(f"Depth of the seabed at the modules: {depth_range(area)} m below {datum}.")
        if area.depths.unmeasured:
            facts.append(f"Not measured at {area.depths.unmeasured} of them.")
    if area.clearance is not None:
        least, doubt = least_clearance(area)
        facts.append(f"Least water over them: {least} ± {doubt} m (95 %) below {datum}.")
    return tuple(facts)


def short_area_facts(area: PublicArea, site: PublicSite) -> str:
    """Say number, depth and reach of a site in the few characters that a plotter shows."""
    datum = area.chart_datum or site.chart_datum
    depth = "depth unknown" if area.depths is None else f"{depth_range(area)} m below {datum}"
    reach_m = digits.u95_rounded_up_m(site_circle(area.shape).radius_m)
    return f"{area.module_count} modules, {depth}, whole area within {reach_m:.0f} m"


def area_properties(area: PublicArea, site: PublicSite) -> dict[str, str | float | None]:
    """Give what public data say of a site as a whole, under names with units; None if unknown."""
    depths, clearance = area.depths, None if area.clearance is None else least_clearance(area)
    return {
        "area": area.area_id,
        "permit": area.permit,
        "modules": area.module_count,
        "least_depth_m": None if depths is None else float(_metres(depths.least_m, depths.least_u95_m)),
        "greatest_depth_m": None
        if depths is None
        else float(_metres(depths.greatest_m, depths.greatest_u95_m)),
        "least_clearance_m": None if clearance is None else float(clearance[0]),
        "least_clearance_u95_m": None if clearance is None else float(clearance[1]),
        "chart_datum": area.chart_datum or site.chart_datum,
        "first_placed": None if area.first_placed is None else area.first_placed.isoformat(),
        "last_placed": None if area.last_placed is None else area.last_placed.isoformat(),
    }


def _placed(area: PublicArea) -> str:
    if area.first_placed is None or area.last_placed is None:
        return ""
    if area.first_placed == area.last_placed:
        return f", placed on {area.last_placed.isoformat()}"
    return f", placed from {area.first_placed.isoformat()} to {area.last_placed.isoformat()}"


def depth_range(area: PublicArea) -> str:
    """Write the shoalest and the deepest seabed under the modules of a site, which is known. Units: m."""
    assert area.depths is not None
    least = _metres(area.depths.least_m, area.depths.least_u95_m)
    greatest = _metres(area.depths.greatest_m, area.depths.greatest_u95_m)
    return least if least == greatest else f"{least} to {greatest}"


def least_clearance(area: PublicArea) -> tuple[str, str]:
    """Write the least water over a site, which is known, and its 95 % uncertainty. Units: m."""
    assert area.clearance is not None
    return _metres(area.clearance.value_m, area.clearance.u95_m), _said(area.clearance.u95_m)


def _metres(value_m: float, u95_m: float | None) -> str:
    decimals = length_decimals(u95_m)
    return f"{round(value_m, decimals) + 0.0:.{decimals}f}"


def datum_of(module: PublicModule, site: PublicSite) -> str:
    """Name the vertical datum of a module's depth: that of its own permit, where permits have several."""
    if "," in site.chart_datum:
        for area in site.areas:
            if (area.area_id, area.permit) == (module.area_id, module.permit) and area.chart_datum:
                return area.chart_datum
    return site.chart_datum


def module_facts(module: PublicModule, site: PublicSite) -> tuple[str, ...]:
    """Say what is known of a module, one sentence each."""
    facts = [f"Memorial reef module {module.tag}."]
    if module.name:
        facts.append(f"In memory of {module.name}.")
    depth = rounded_depth(module)
    if depth is None:
        facts.append("Depth of the seabed: not measured.")
    else:
        decimals = length_decimals(module.depth_u95_m)
        doubt = "" if module.depth_u95_m is None else f" ± {_said(module.depth_u95_m)} m (95 %)"
        facts.append(f"Depth of the seabed: {depth:.{decimals}f} m{doubt} below {datum_of(module, site)}.")
    if module.relief_m is not None:
        facts.append(f"Height of the module above the seabed: {module.relief_m:.1f} m.")
    facts.append(f"Position within {_said(module.r95_m)} m (95 %), {frame_words(site)}.")
    if site.published.rounded_m is not None:
        facts.append(f"This position was rounded to {site.published.rounded}: search around it.")
    facts.append(f"Placed on {module.placed_on.isoformat()} at or near permit area {module.area_id}.")
    return tuple(facts)


def short_facts(module: PublicModule, site: PublicSite) -> str:
    """Say depth and R95 in the few characters that a plotter shows."""
    depth = rounded_depth(module)
    said = "depth unknown"
    if depth is not None:
        said = f"{depth:.{length_decimals(module.depth_u95_m)}f} m below {datum_of(module, site)}"
    return f"{said}, position ± {_said(module.r95_m)} m"


def module_properties(module: PublicModule, site: PublicSite) -> dict[str, str | float | None]:
    """Give what public data say of a module beside its position, under names with units; None if unknown."""
    doubt_m = module.depth_u95_m
    return {
        "tag": module.tag,
        "memorial": module.name,
        "r95_m": rounded_u95(module.r95_m),
        "charted_depth_m": rounded_depth(module),
        "depth_u95_m": None if doubt_m is None else rounded_u95(doubt_m),
        "chart_datum": datum_of(module, site),
        "relief_m": None if module.relief_m is None else round(module.relief_m, 2),
        "placed_on": module.placed_on.isoformat(),
        "area": module.area_id,
        "frame": FRAME,
        "epoch": round(site.epoch, 1),
    }


def _said(u95_m: float) -> str:
    return f"{rounded_u95(u95_m):.{length_decimals(u95_m)}f}"


def xml_text(text: str) -> str:
    """Give a text as XML 1.0 may carry it: characters that it forbids become the replacement character."""
    return _NOT_IN_XML.sub("\ufffd", text)
