"""What every public file says in the same words: names, facts, cautions, and no digit that nobody knows."""

import re

from registry.measure import digits
from registry.records.public_site import PublicModule, PublicSite

__all__ = [
    "CAUTIONS",
    "FRAME",
    "coordinate_decimals",
    "frame_words",
    "length_decimals",
    "module_facts",
    "module_name",
    "module_properties",
    "rounded_depth",
    "rounded_position",
    "rounded_u95",
    "short_facts",
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
        facts.append(f"Depth of the seabed: {depth:.{decimals}f} m{doubt} below {site.chart_datum}.")
    if module.relief_m is not None:
        facts.append(f"Height of the module above the seabed: {module.relief_m:.1f} m.")
    facts.append(f"Position within {_said(module.r95_m)} m (95 %), {frame_words(site)}.")
    facts.append(f"Placed on {module.placed_on.isoformat()} at or near permit area {module.area_id}.")
    return tuple(facts)


def short_facts(module: PublicModule, site: PublicSite) -> str:
    """Say depth and R95 in the few characters that a plotter shows."""
    depth = rounded_depth(module)
    said = "depth unknown"
    if depth is not None:
        said = f"{depth:.{length_decimals(module.depth_u95_m)}f} m below {site.chart_datum}"
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
        "chart_datum": site.chart_datum,
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
