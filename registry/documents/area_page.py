"""The page of one area on the public site: where it is, how deep, under which permit, what to mind."""

import re
from collections.abc import Collection, Sequence
from html import escape
from itertools import groupby

import numpy as np
import shapely

from registry.documents.map_words import attribute_words, catalogues, fill, language_options, worded
from registry.documents.public_page import as_json, as_script, assembled, own_file, policy, typed_words
from registry.documents.public_values import FOOT_M, decimal_pair, depth_text, measured, plotter_text
from registry.documents.published_note import published_note
from registry.records.public_site import PublicArea, PublicCondition, PublicCorner, PublicModule, PublicSite

__all__ = ["render_area"]

#: What a page says beside what it was made with.
SPOKEN = ("area-title", "epoch-frame", "offline", "ready", "renewed")
#: To what the centre of an area is told: nobody is to steer by it to a module. Units: m.
CENTRE_M = 60.0
#: An R95, in units of a corner's last digit, that has it printed with a digit more than the permit writes: to
#: the same digit a shift of a metre between two frames would be rounded away.
CORNER_R95 = 0.3
#: The same for a corner out of a drawing, whose resolution is no written digit.
DRAWN_R95 = 3.0
#: How a limit of a permit is said; those with other names stand behind the name that the permit's file gives.
LIMIT_WORDS = {
    "least": "limit-least",
    "greatest": "limit-greatest",
    "greatest_count": "limit-greatest",
    "greatest_mass": "limit-greatest",
    "greatest_share": "limit-share",
    "setback": "limit-setback",
}
#: Length of the longer side of the sketch. Units: of its drawing.
SKETCH = 300.0


def render_area(
    site: PublicSite,
    number: int,
    *,
    modules: Sequence[PublicModule],
    downloads: Sequence[tuple[str, str]],
    head: str,
    language: str = "en",
) -> str:
    """
    Make the page of one area.

    Parameters
    ----------
    site : PublicSite
        What the public may see.
    number : int
        Place of the area among those of the site.
    modules : sequence of PublicModule
        Those in the area, or nearest to it, under its permit.
    downloads : sequence of (str, str)
        Files beside the page, each with the key of what it is called.
    head : str
        Markup of the head that makes the page one that can be kept.
    language : str
        Of a reader whose browser runs no script.

    Returns
    -------
    str
        The page. The same site gives the same text.
    """
    area = site.areas[number]
    values = {
        "programme": site.programme,
        "area": area.area_id,
        "issued": site.issued_on.isoformat(),
        "epoch": f"{site.epoch:.1f}",
        "datum": area.chart_datum or site.chart_datum,
    }
    marked = own_file("area.html")
    for name, part in {
        "facts": _facts(area, modules, str(values["datum"])),
        "published": published_note(site),
        "sketch": _sketch(area, modules),
        "rules": _rules(area),
        "downloads": "\n".join(
            f'<li><a href="{escape(file)}" download {attribute_words(key)}></a></li>'
            for file, key in downloads
        ),
        "corners": _corners(area),
        "conditions": _conditions(area.conditions),
    }.items():
        marked = marked.replace(f"<!--{name}-->", part)
    scripts = [as_script(own_file(name)) for name in ("words.js", "area.js", "kept.js")]
    parts = {
        "language": language,
        "languages": language_options(),
        "policy": policy(scripts, served=True),
        "app": head,
        "title": escape(fill(language, "area-title", values)),
        "styles": own_file("page.css"),
        "area": typed_words(area.area_id),
        "programme": escape(site.programme),
        "number": str(number),
        "site": as_json({"values": values}),
        "words": as_json(catalogues(_keys(marked))),
        "scripts": "\n".join(f"<script>{script}</script>" for script in scripts),
    }
    return assembled(worded(marked, language, values), parts)


def _keys(page: str) -> Collection[str]:
    """The sentences that the page or its scripts say."""
    return {*re.findall(r'data-(?:word|label)="([a-z0-9-]+)"', page), *SPOKEN}


def _facts(area: PublicArea, modules: Sequence[PublicModule], datum: str) -> str:
    lines = [("permit", _said("permit-from", permit=area.permit, authority=area.authority))]
    if area.valid_from and area.valid_to:
        days = {"from": area.valid_from.isoformat(), "until": area.valid_to.isoformat()}
        lines.append(("valid", _said("valid-text", **days)))
    centre = area.shape.centroid
    lon_deg = (centre.x + 180.0) % 360.0 - 180.0
    where = plotter_text(centre.y, lon_deg, CENTRE_M), ", ".join(decimal_pair(centre.y, lon_deg, CENTRE_M))
    lines.append(("middle", "<br>".join(f'<span class="place">{text}</span>' for text in where)))
    count = len(modules) or area.module_count
    lines.append(("count", str(count) if count else _said("none-yet")))
    if count:
        lines += [("depth-range", _depths(area, modules, datum)), ("clearance", _clearance(area, datum))]
    # Where the programme publishes sites alone, the area itself tells of its modules together.
    placed = [m.placed_on for m in modules] or [day for day in (area.first_placed, area.last_placed) if day]
    if placed:
        first, last = min(placed), max(placed)
        same = first == last
        told = (
            first.isoformat() if same else _said("dates-text", first=first.isoformat(), last=last.isoformat())
        )
        lines.append(("dates", told))
    return "".join(f"<div><dt {attribute_words(key)}></dt><dd>{said}</dd></div>" for key, said in lines)


def _said(key: str, **values: object) -> str:
    return f"<span {attribute_words(key, values)}></span>"


def _depths(area: PublicArea, modules: Sequence[PublicModule], datum: str) -> str:
    known = [(m.charted_depth_m, m.depth_u95_m) for m in modules if m.charted_depth_m is not None]
    known.sort(key=lambda depth: depth[0])
    unmeasured = len(modules) - len(known)
    if not modules and area.depths is not None:
        together = area.depths
        known = [(together.least_m, together.least_u95_m), (together.greatest_m, together.greatest_u95_m)]
        unmeasured = together.unmeasured
    elif not modules:
        unmeasured = area.module_count
    said = []
    if known:
        ends = [_metres(*known[0]), _metres(*known[-1])]
        one = ends[0] == ends[1]
        said.append(
            _said("one-depth-text", least=ends[0], datum=datum)
            if one
            else _said("depth-range-text", least=ends[0], most=ends[1], datum=datum)
        )
    if unmeasured:
        said.append(_said("unmeasured", n=unmeasured))
    return "<br>".join(said)


def _metres(depth_m: float, u95_m: float | None) -> str:
    text = depth_text(depth_m, u95_m)
    return f"{text.depth} m ± {text.u95} m" if text.u95 else f"{text.depth} m"


def _clearance(area: PublicArea, datum: str) -> str:
    if area.clearance is None or area.clearance.u95_m <= 0:
        return _said("clearance-unknown")
    value_m, u95_m = area.clearance.value_m, area.clearance.u95_m
    return _said(
        "clearance-text",
        value=measured(value_m, u95_m),
        u95=measured(u95_m),
        feet=measured(value_m / FOOT_M, u95_m / FOOT_M),
        datum=datum,
    )


def _rules(area: PublicArea) -> str:
    """What the programme tells visitors, in its own words and under its own name for them."""
    told = (
        f"<p><bdi>{escape(area.rules)}</bdi></p>"
        if area.rules
        else f"<p {attribute_words('rules-none')}></p>"
    )
    if area.young_reef:
        told += f"<h3 {attribute_words('young-reef')}></h3><p><bdi>{escape(area.young_reef)}</bdi></p>"
    return told


def _corners(area: PublicArea) -> str:
    if not area.corners:
        return ""
    head = (
        f'<thead><tr><th scope="col" {attribute_words("corner")}></th>'
        f'<th scope="col" {attribute_words("notation-ddm")}></th>'
        f'<th scope="col" {attribute_words("notation-dd")}></th>'
        f'<th scope="col" {attribute_words("as-written", {"frame": area.stated_in})}></th></tr></thead>'
    )
    bodies = []
    for ring, corners in groupby(area.corners, key=lambda corner: corner.ring):
        of_ring = "".join(
            f"{_said(kind, n=int(number))}, " for kind, number in re.findall(r"(part|hole) (\d+)", ring)
        )
        rows = "".join(
            f'<tr><th scope="row">{of_ring}{each.number}</th>{_corner(each)}</tr>' for each in corners
        )
        bodies.append(f"<tbody>{rows}</tbody>")
    circle = f"<p>{_said('circle', radius=area.radius)}</p>" if area.radius else ""
    box = '<div class="scroll" role="group" aria-labelledby="corners-title" tabindex="0">'
    note = f'<p class="aside-note" {attribute_words("corners-note")}></p>'
    return f"{circle}{box}<table>{head}{''.join(bodies)}</table></div>{note}"


def _corner(corner: PublicCorner) -> str:
    r95_m = (CORNER_R95 if corner.written else DRAWN_R95) * corner.resolution_m
    texts = (
        plotter_text(corner.lat_deg, corner.lon_deg, r95_m),
        ", ".join(decimal_pair(corner.lat_deg, corner.lon_deg, r95_m)),
        typed_words(corner.written) if corner.written else _said("drawn"),
    )
    return "".join(f"<td>{text}</td>" for text in texts)


def _conditions(conditions: Sequence[PublicCondition]) -> str:
    if not conditions:
        return ""
    items = []
    for condition in conditions:
        rule = f"rule-{condition.rule}"
        limits = [
            _said(LIMIT_WORDS[name], written=written) if name in LIMIT_WORDS else _as_named(name, written)
            for name, written in sorted(condition.limits, key=lambda limit: not limit[0].startswith("least"))
        ]
        said = f"<strong {attribute_words(rule)}></strong>"
        items.append(f"<li>{said} {'; '.join(limits)} <cite>{typed_words(condition.cite)}</cite></li>")
    title = f'<h2 id="asks-title" {attribute_words("permit-asks")}></h2>'
    note = f'<p class="aside-note" {attribute_words("permit-note")}></p>'
    return (
        f'<section aria-labelledby="asks-title">{title}<ul class="asks">{"".join(items)}</ul>{note}</section>'
    )


def _as_named(name: str, written: str) -> str:
    listed = ", ".join(word.strip() for word in written.split(","))
    return f"{escape(name.replace('_', ' '))}: {typed_words(listed)}"


def _sketch(area: PublicArea, modules: Sequence[PublicModule]) -> str:
    """Draw the outline and the modules, north up, so that a reader knows the area again on a chart."""
    west, south, east, north = area.shape.bounds
    middle = (west + east) / 2
    shrink = float(np.cos(np.radians((south + north) / 2)))
    span = max((east - west) * shrink, north - south) or 1e-9
    scale = SKETCH / span
    width, height = (east - west) * shrink * scale + 40, (north - south) * scale + 40

    def x(lon_deg: float) -> float:
        beside = lon_deg + 360.0 * round((middle - lon_deg) / 360.0)
        return (beside - west) * shrink * scale + 20

    def y(lat_deg: float) -> float:
        return (north - lat_deg) * scale + 20

    rings = []
    for part in shapely.get_parts(area.shape).tolist():
        for ring in (part.exterior, *part.interiors):
            points = " L".join(
                f"{x(lon):.1f} {y(lat):.1f}" for lon, lat in shapely.get_coordinates(ring)[:-1]
            )
            rings.append(f"M{points}Z")
    dots = sorted({(round(x(m.lon_deg), 1), round(y(m.lat_deg), 1)) for m in modules})
    inside = [(a, b) for a, b in dots if 0 <= a <= width and 0 <= b <= height]
    marks = "".join(f'<circle cx="{a}" cy="{b}" r="3" class="point"/>' for a, b in inside)
    return (
        f'<svg viewBox="0 0 {width:.0f} {height:.0f}" class="plan" aria-hidden="true" focusable="false">'
        f'<path d="{" ".join(rings)}" class="area" fill-rule="evenodd"/>{marks}</svg>'
    )
