"""
The public map: one page that opens from disk, needs no network and names nobody without consent.

The layers are made by folium from numbers alone. It reads what its elements hold as templates, twice, so
typed text would be executed there; every typed word goes into the page by :func:`_page`, escaped. Modules are
no layer of folium: the page draws those in sight, from columns, so that a hundred thousand stay quick.
"""

import json
import math
import re
from collections import Counter
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from html import escape
from typing import Any

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry, BaseMultipartGeometry

from registry.documents.map_coast import Box, coast_layer
from registry.documents.map_words import attribute_words, catalogues, fill, language_options, told, worded
from registry.documents.public_page import as_json, as_script, assembled, own_file, policy, typed_words
from registry.documents.public_values import decimal_pair, depth_text, measured, plotter_text
from registry.documents.published_note import published_note
from registry.records.public_site import PublicModule, PublicSite

__all__ = ["MapAssets", "Served", "render_map"]

#: Rows of the list that stand in the page for a browser without scripts.
TABLE_ROWS = 5000
#: One pixel is then about 2 cm, so that neighbours a module apart stand apart.
MAX_ZOOM = 22
#: How the whole site is fitted into the map, in Leaflet's words.
FIT = {"padding": [24, 24], "maxZoom": 19, "animate": False}
#: Degrees are kept to a tenth of a millimetre and written with the digits that R95 supports.
STORED_DECIMALS = 9


@dataclass(frozen=True, slots=True, kw_only=True)
class MapAssets:
    """Text that ships with Leadline and that a map carries inside it."""

    leaflet_js: str
    leaflet_css: str
    supercluster_js: str
    #: GeoJSON FeatureCollections of land, each feature with its bbox: in detail, and the world in outline.
    coast: str
    coast_world: str
    #: Licence texts of all of these, as they are to stand in the page.
    licences: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Served:
    """What lies beside a map that is one page of a folder."""

    #: The page of each area, in the order of the areas.
    pages: tuple[str, ...]
    #: File and the key of what it is called.
    downloads: tuple[tuple[str, str], ...]
    #: Markup of the head that makes the page one that can be installed.
    head: str


def render_map(
    site: PublicSite, assets: MapAssets, *, language: str = "en", served: Served | None = None
) -> str:
    """
    Draw a site as one HTML page.

    Parameters
    ----------
    site : PublicSite
        What the public may see. What lies beyond the 180th meridian is drawn beside the rest.
    assets : MapAssets
        The scripts, styles and coast that go into the page.
    language : str
        Of a reader whose browser runs no script or asks for none of the page's languages.
    served : Served, optional
        What lies beside the page; None for a page that is one file.

    Returns
    -------
    str
        The page. The same site and assets give the same text.

    Notes
    -----
    The chart is a Mercator of the ellipsoid (EPSG:3395), as sea charts are; distances on it are geodesics.
    A policy in the page lets it load nothing and run only the scripts it was made with.
    """
    middle_deg = _middle_lon(site)
    module_lons = [_beside(module.lon_deg, middle_deg) for module in site.modules]
    areas = [_shape_beside(area.shape, middle_deg) for area in site.areas]
    keep_outs = [_shape_beside(keep_out.shape, middle_deg) for keep_out in site.keep_outs]
    bounds = _bounds(site, module_lons, [*areas, *keep_outs])
    layers = _layers(
        coast=coast_layer(assets.coast, assets.coast_world, bounds, middle_deg),
        areas=_collection(areas),
        keep_outs=_collection(keep_outs),
        bounds=bounds,
    )
    data = _site_data(site, bounds, middle_deg, served)
    return _page(site, assets, layers, data, language=language, served=served)


def _middle_lon(site: PublicSite) -> float:
    """Longitude around which the site lies, found on the circle: the 180th meridian is like any other."""
    centres = [
        (part.bounds[0] + part.bounds[2]) / 2 for area in site.areas for part in shapely.get_parts(area.shape)
    ]
    lons = np.radians([*centres, *(module.lon_deg for module in site.modules)])
    if not lons.size:
        lons = np.radians([0.0])
    east, north = float(np.sin(lons).sum()), float(np.cos(lons).sum())
    return round(math.degrees(math.atan2(east, north)), 6)


def _beside(lon_deg: float, middle_deg: float) -> float:
    """The same longitude, within half a turn of the middle."""
    return lon_deg + 360.0 * round((middle_deg - lon_deg) / 360.0)


def _shape_beside(shape: BaseGeometry, middle_deg: float) -> BaseGeometry:
    """The same shape with every part within half a turn of the middle, to the centimetre."""
    if isinstance(shape, BaseMultipartGeometry):
        kind: Callable[[list[BaseGeometry]], BaseGeometry] = type(shape)
        return kind([_shape_beside(part, middle_deg) for part in shape.geoms])
    if shape.is_empty:
        return shape
    centre = (shape.bounds[0] + shape.bounds[2]) / 2
    turn = _beside(centre, middle_deg) - centre
    return shapely.transform(shape, lambda lonlat: np.round(lonlat + np.array([turn, 0.0]), 7))


def _bounds(site: PublicSite, module_lons: Iterable[float], shapes: Iterable[BaseGeometry]) -> Box | None:
    """West, south, east and north of everything shown, None for an empty site. Units: degrees."""
    boxes = [shape.bounds for shape in shapes if not shape.is_empty]
    boxes += [(lon, m.lat_deg, lon, m.lat_deg) for lon, m in zip(module_lons, site.modules, strict=True)]
    if not boxes:
        return None
    west, south, east, north = np.array(boxes).T
    return float(west.min()), float(south.min()), float(east.max()), float(north.max())


def _collection(shapes: Iterable[BaseGeometry]) -> dict[str, Any]:
    """A GeoJSON FeatureCollection whose features hold nothing but their place in the list."""
    return {
        "type": "FeatureCollection",
        "features": [
            {"type": "Feature", "id": str(i), "properties": {"i": i}, "geometry": _geometry(shape)}
            for i, shape in enumerate(shapes)
            if not shape.is_empty
        ],
    }


def _geometry(shape: BaseGeometry) -> Any:
    return json.loads(shapely.to_geojson(shape))


def _layers(
    *,
    coast: dict[str, Any],
    areas: dict[str, Any],
    keep_outs: dict[str, Any],
    bounds: tuple[float, float, float, float] | None,
) -> str:
    """The script that makes the map and its layers: numbers only, no word that a person typed."""
    import folium
    from folium.template import Template

    def named(element: Any, name: str) -> Any:
        """Give an element its own name instead of a random one; the classes, shared by all maps, stay."""
        element._id = name
        return element

    def styled(class_of: Callable[[Mapping[str, Any]], str]) -> Callable[[Mapping[str, Any]], dict[str, str]]:
        return lambda feature: {"className": class_of(feature)}

    def keep_out_class(feature: Mapping[str, Any]) -> str:
        return "keepout-line" if "Line" in feature["geometry"]["type"] else "keepout"

    chart = named(
        folium.Map(
            location=[0, 0],
            zoom_start=2,
            tiles=None,
            crs="EPSG3395",
            zoom_control="topright",
            attributionControl=False,
            maxZoom=MAX_ZOOM,
            minZoom=1,
            zoomSnap=0.5,
        ),
        "reef",
    )
    if bounds:
        # Before the layers, so that they are drawn once.
        west, south, east, north = bounds
        fit = named(folium.FitBounds([[south, west], [north, east]]), "site")
        fit.options.update(FIT)
        fit.add_to(chart)
    point = folium.CircleMarker(location=[0, 0], radius=10)
    for layer in (
        named(
            folium.GeoJson(
                coast, style_function=styled(lambda f: str(f["properties"]["kind"])), interactive=False
            ),
            "coast",
        ),
        named(folium.GeoJson(areas, style_function=styled(lambda _: "area")), "areas"),
        named(folium.GeoJson(keep_outs, style_function=styled(keep_out_class), marker=point), "keepouts"),
    ):
        layer.add_to(chart)
    figure = chart.get_root()
    figure._template = Template("{{ this.script.render() }}")
    return str(figure.render())


def _page(
    site: PublicSite,
    assets: MapAssets,
    layers: str,
    data: Mapping[str, Any],
    *,
    language: str,
    served: Served | None,
) -> str:
    """Put words, styles, data and scripts into the page, each escaped for where it stands."""
    own = ["geodesy.js", "words.js"], ["marks.js", "page.js"]
    scripts = [as_script(text) for text in (assets.leaflet_js, assets.supercluster_js)]
    scripts += [as_script(own_file(name)) for name in own[0]]
    scripts.append(as_script(layers))
    scripts += [as_script(own_file(name)) for name in own[1]]
    if served:
        scripts.append(as_script(own_file("kept.js")))
    parts = {
        "language": language,
        "languages": language_options(),
        "policy": policy(scripts, served=served is not None),
        "app": served.head if served else "",
        "title": escape(fill(language, "title", data["values"])),
        "styles": "\n".join((assets.leaflet_css, own_file("page.css"))),
        "programme": escape(site.programme),
        "areas": _area_list(site, served),
        "downloads": _downloads(served),
        "published": published_note(site),
        "table-note": f"<span {attribute_words('list-note', {'n': len(site.modules)})}></span>",
        "rows": _without_scripts(site, language),
        "about-page": "about-page-site" if served else "about-page-file",
        "site": as_json(data),
        "words": as_json(catalogues()),
        "scripts": "\n".join(f"<script>{script}</script>" for script in scripts),
        "licences": f"<!--\n{assets.licences.replace('--', '- -')}\n-->",
    }
    template = own_file("page.html")
    for name in ("areas", "downloads", "published", "table-note", "about-page"):
        template = template.replace(f"<!--{name}-->", parts.pop(name))
    return assembled(worded(template, language, data["values"]), parts)


def _site_data(
    site: PublicSite, bounds: Box | None, middle_deg: float, served: Served | None
) -> dict[str, Any]:
    """What the page's own scripts read; modules are columns, in the order of their tags."""
    west, south, east, north = bounds or (0.0, 0.0, 0.0, 0.0)
    places = _places(site)
    days = sorted({module.placed_on.isoformat() for module in site.modules})
    day_of = {day: i for i, day in enumerate(days)}
    modules = sorted(site.modules, key=lambda module: _natural(module.tag))
    depths = [depth_text(module.charted_depth_m, module.depth_u95_m) for module in modules]
    return {
        "file": re.sub(r"[^a-z0-9]+", "-", site.programme.lower()).strip("-")[:60] or "memorial-reef",
        "middle": middle_deg,
        "fit": FIT,
        "bounds": [[south, west], [north, east]] if bounds else None,
        #: What sentences may name.
        "values": {
            "programme": site.programme,
            "issued": site.issued_on.isoformat(),
            "epoch": f"{site.epoch:.1f}",
            "datum": site.chart_datum,
        },
        "areas": [
            {"id": area.area_id, "permit": area.permit, "page": served.pages[i] if served else ""}
            for i, area in enumerate(site.areas)
        ],
        "keepOuts": [
            {"name": k.name, "kind": k.kind, "setback": f"{k.setback_m:.4g} m"} for k in site.keep_outs
        ],
        "places": [{"id": area_id, "datum": datum} for (area_id, _), datum in places.items()],
        "days": days,
        #: Modules that are not shown, one by one, since the programme publishes sites alone.
        "unshown": sum(area.module_count for area in site.areas) if site.published.sites_only else 0,
        "modules": {
            "tag": [module.tag for module in modules],
            "name": [module.name or "" for module in modules],
            "lat": [round(module.lat_deg, STORED_DECIMALS) + 0.0 for module in modules],
            "lon": [round(module.lon_deg, STORED_DECIMALS) + 0.0 for module in modules],
            "r95": [measured(module.r95_m) for module in modules],
            "depth": [depth.depth for depth in depths],
            "u95": [depth.u95 for depth in depths],
            "feet": [depth.feet for depth in depths],
            "relief": [_relief(module) for module in modules],
            "placed": [day_of[module.placed_on.isoformat()] for module in modules],
            "place": _numbered(places, modules),
        },
    }


def _places(site: PublicSite) -> dict[tuple[str, str], str]:
    """Give the datum of the depths at each area and permit that a module names."""
    datums = {(area.area_id, area.permit): area.chart_datum for area in site.areas}
    named = dict.fromkeys((module.area_id, module.permit) for module in site.modules)
    return {place: datums.get(place) or site.chart_datum for place in named}


def _numbered(places: Mapping[tuple[str, str], str], modules: Sequence[PublicModule]) -> list[int]:
    number = {place: i for i, place in enumerate(places)}
    return [number[module.area_id, module.permit] for module in modules]


def _natural(tag: str) -> list[tuple[int, str]]:
    """Order tags as people do: MC-9 before MC-10."""
    parts = re.split(r"([0-9]+)", tag)
    return [(int(part), "") if i % 2 else (0, part) for i, part in enumerate(parts)]


def _area_list(site: PublicSite, served: Served | None) -> str:
    """Areas and keep-outs as links that the page's script leads to their place."""
    counts = Counter((module.area_id, module.permit) for module in site.modules)
    items = []
    for i, area in enumerate(site.areas):
        # Where the programme publishes sites alone, the area itself tells how many lie there.
        values = {"permit": area.permit, "n": counts[area.area_id, area.permit] or area.module_count}
        link = f'<a href="#map_reef" data-group="area" data-i="{i}">{typed_words(area.area_id)}</a> '
        if served:
            link += f'<a class="page" href="{escape(served.pages[i])}" {attribute_words("site-page")}></a> '
        items.append(f"<li>{link}<span {attribute_words('area-line', values)}></span></li>")
    for i, keep_out in enumerate(site.keep_outs):
        values = {"kind": keep_out.kind, "setback": f"{keep_out.setback_m:.4g} m"}
        link = f'<a href="#map_reef" data-group="keepout" data-i="{i}">{typed_words(keep_out.name)}</a> '
        items.append(f"<li>{link}<span {attribute_words('keepout-line', values)}></span></li>")
    return "\n".join(items)


def _downloads(served: Served | None) -> str:
    if not served:
        return ""
    links = "\n".join(
        f'<li><a href="{escape(file)}" download {attribute_words(key)}></a></li>'
        for file, key in served.downloads
    )
    head = f'<h2 id="downloads-title" {attribute_words("downloads")}></h2>'
    note = f'<p class="aside-note" {attribute_words("downloads-all")}></p>'
    return (
        f'<section aria-labelledby="downloads-title">{head}{note}<ul class="downloads">{links}</ul></section>'
    )


def _without_scripts(site: PublicSite, language: str) -> str:
    """The list as a table for browsers that run no script."""
    modules = sorted(site.modules, key=lambda module: _natural(module.tag))
    places = _places(site)
    rows = "\n".join(
        _table_row(module, places[module.area_id, module.permit], language) for module in modules[:TABLE_ROWS]
    )
    names = ("tag", "name", "position", "position", "within", "depth", "height", "placed", "area")
    head = "".join(f'<th scope="col">{escape(fill(language, name, {}))}</th>' for name in names)
    note = ""
    if len(modules) > TABLE_ROWS:
        note = f"<p>{escape(fill(language, 'list-cut', {'most': TABLE_ROWS}))}</p>"
    return f'{note}<table class="plain"><thead><tr>{head}</tr></thead><tbody>{rows}</tbody></table>'


def _table_row(module: PublicModule, datum: str, language: str) -> str:
    cells = (
        typed_words(module.name) if module.name else "",
        plotter_text(module.lat_deg, module.lon_deg, module.r95_m),
        ", ".join(decimal_pair(module.lat_deg, module.lon_deg, module.r95_m)),
        told(language, f"{measured(module.r95_m)} m"),
        escape(_depth(module, datum, language)),
        told(language, f"{_relief(module)} m") if module.relief_m is not None else "",
        module.placed_on.isoformat(),
        typed_words(module.area_id),
    )
    head = f'<tr><th scope="row">{typed_words(module.tag)}</th>'
    return head + "".join(f"<td>{cell}</td>" for cell in cells) + "</tr>"


def _depth(module: PublicModule, datum: str, language: str) -> str:
    """Say charted depth with its uncertainty, in metres, and in feet as far as that supports."""
    text = depth_text(module.charted_depth_m, module.depth_u95_m)
    if not text.depth:
        return fill(language, "not-measured", {})
    kind = "depth-about" if not text.u95 else "depth"
    key = f"{kind}-below" if datum else kind if kind == "depth-about" else "depth-plain"
    return fill(language, key, {"depth": text.depth, "u95": text.u95, "feet": text.feet, "datum": datum})


def _relief(module: PublicModule) -> str:
    return "" if module.relief_m is None else f"{module.relief_m:.4g}"
