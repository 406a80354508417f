"""
The public map: one page that opens from disk, needs no network and names nobody without consent.

The layers are made by folium from numbers alone. It reads what its elements hold as templates, twice, so
typed text would be executed there; every typed word goes into the page by :func:`_page`, escaped.
"""

import base64
import hashlib
import json
import math
import re
from collections import Counter
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from html import escape
from importlib.resources import files
from typing import Any

import numpy as np
import shapely
from shapely import affinity
from shapely.geometry.base import BaseGeometry, BaseMultipartGeometry

from registry.measure.digits import (
    Notation,
    coordinate_decimals,
    metres_decimals,
    split_degrees,
    split_minutes,
    u95_rounded_up_m,
)
from registry.records.public_site import PublicModule, PublicSite

__all__ = ["MapAssets", "render_map"]

#: Rows in the table of positions; beyond them it only slows the page: search and GPX hold every module.
TABLE_ROWS = 5000
#: Rows up to which the table stands open; a longer one is laid out when it is asked for, or printed.
OPEN_ROWS = 200
#: Bytes of coast that a page may carry.
COAST_BYTES = 400_000
#: Least distance from the site to the edge of the detailed coast. Units: degrees of latitude.
COAST_MARGIN_DEG = 2.0
#: One pixel is then about 2 cm, so that neighbours a module apart stand apart.
MAX_ZOOM = 22
#: How the whole site is fitted into the map, in Leaflet's words.
FIT = {"padding": [24, 24], "maxZoom": 19, "animate": False}
FOOT_M = 0.3048


@dataclass(frozen=True, slots=True, kw_only=True)
class MapAssets:
    """Text that ships with Leadline and that a map carries inside it."""

    leaflet_js: str
    leaflet_css: str
    cluster_js: str
    cluster_css: str
    #: GeoJSON FeatureCollections of land, each feature with its bbox: in detail, and the world in outline.
    coast: str
    coast_world: str
    #: Licence texts of all of these, as they are to stand in the page.
    licences: str


def render_map(site: PublicSite, assets: MapAssets) -> str:
    """
    Draw a site as one HTML page.

    Parameters
    ----------
    site : PublicSite
        What the public may see. What lies beyond the 180th meridian is drawn beside the rest.
    assets : MapAssets
        The scripts, styles and coast that go into the page.

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
    module_lons = [_beside(float(_decimal(module)[1]), middle_deg) for module in site.modules]
    areas = [_shape_beside(area.shape, middle_deg) for area in site.areas]
    keep_outs = [_shape_beside(keep_out.shape, middle_deg) for keep_out in site.keep_outs]
    bounds = _bounds(site, module_lons, [*areas, *keep_outs])
    layers = _layers(
        coast=_coast(assets, bounds, middle_deg),
        areas=_collection(areas),
        keep_outs=_collection(keep_outs),
        modules=[
            [float(_decimal(module)[0]), lon, row]
            for row, (module, lon) in enumerate(zip(site.modules, module_lons, strict=True))
        ],
        bounds=bounds,
    )
    return _page(site, assets, layers, bounds, middle_deg)


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


def _bounds(
    site: PublicSite, module_lons: Iterable[float], shapes: Iterable[BaseGeometry]
) -> tuple[float, float, float, float] | None:
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


def _coast(
    assets: MapAssets, bounds: tuple[float, float, float, float] | None, middle_deg: float
) -> dict[str, Any]:
    """Land as GeoJSON: in detail around the site, in outline over the rest of the world."""
    west, south, east, north = bounds or (middle_deg, 0.0, middle_deg, 0.0)
    margin = max(COAST_MARGIN_DEG, (north - south) / 2, (east - west) / 2)
    margin_lon = min(margin / max(math.cos(math.radians((south + north) / 2)), 0.1), 30.0)
    near = (
        max(west - margin_lon, middle_deg - 180.0),
        max(south - margin, -90.0),
        min(east + margin_lon, middle_deg + 180.0),
        min(north + margin, 90.0),
    )
    detail = _land(assets.coast, near)
    world = _land(assets.coast_world, (middle_deg - 180.0, -90.0, middle_deg + 180.0, 90.0))
    world = shapely.difference(world, shapely.box(*near))
    shore = shapely.difference(detail.boundary, shapely.box(*near).boundary.buffer(1e-6))
    tolerance_deg = 0.001
    while True:
        shapes = (world, shapely.simplify(detail, tolerance_deg), shapely.simplify(shore, tolerance_deg))
        text = [
            shapely.to_geojson(shapely.transform(shape, lambda lonlat: np.round(lonlat, 3)))
            for shape in shapes
        ]
        if sum(map(len, text)) <= COAST_BYTES or tolerance_deg > 1.0:
            break
        tolerance_deg *= 2
    return {
        "type": "FeatureCollection",
        "features": [
            {"type": "Feature", "id": str(i), "properties": {"kind": kind}, "geometry": json.loads(geometry)}
            for i, (kind, geometry) in enumerate(zip(("land", "land", "shore"), text, strict=True))
            if json.loads(geometry)["coordinates"]
        ],
    }


def _land(collection: str, box: tuple[float, float, float, float]) -> BaseGeometry:
    """The land of a collection inside a box, whose longitudes may run past 180."""
    west, south, east, north = box
    pieces = []
    for feature in json.loads(collection)["features"]:
        left, bottom, right, top = feature["bbox"]
        for turn in (-360, 0, 360):
            if left + turn < east and right + turn > west and bottom < north and top > south:
                tile = shapely.from_geojson(json.dumps(feature["geometry"]))
                moved = affinity.translate(tile, xoff=turn)
                pieces.append(shapely.clip_by_rect(moved, *box))
    land = shapely.union_all(pieces) if pieces else shapely.MultiPolygon()
    return shapely.MultiPolygon([part for part in shapely.get_parts(land) if part.geom_type == "Polygon"])


def _layers(
    *,
    coast: dict[str, Any],
    areas: dict[str, Any],
    keep_outs: dict[str, Any],
    modules: list[list[float]],
    bounds: tuple[float, float, float, float] | None,
) -> str:
    """The script that makes the map and its layers: numbers only, no word that a person typed."""
    import folium
    from folium.plugins import FastMarkerCluster
    from folium.template import Template

    def named(element: Any, name: str) -> Any:
        """Give an element its own name instead of a random one; the classes, shared by all maps, stay."""
        element._id = name
        return element

    cluster: Callable[..., Any] = FastMarkerCluster

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
        named(
            cluster(
                modules,
                callback="moduleMarker",
                icon_create_function="clusterIcon",
                disableClusteringAtZoom=MAX_ZOOM,
                maxClusterRadius=64,
                showCoverageOnHover=False,
                animate=False,
            ),
            "modules",
        ),
    ):
        layer.add_to(chart)
    figure = chart.get_root()
    figure._template = Template("{{ this.script.render() }}")
    return str(figure.render())


def _page(
    site: PublicSite,
    assets: MapAssets,
    layers: str,
    bounds: tuple[float, float, float, float] | None,
    middle_deg: float,
) -> str:
    """Put words, styles, data and scripts into the page, each escaped for where it stands."""
    scripts = {
        "leaflet": _script(assets.leaflet_js),
        "cluster": _script(assets.cluster_js),
        "geodesy": _script(_shipped("geodesy.js")),
        "marks": _script(_shipped("marks.js")),
        "layers": _script(layers),
        "page": _script(_shipped("page.js")),
    }
    parts = {
        **scripts,
        "policy": _policy(scripts.values()),
        "styles": "\n".join((assets.leaflet_css, assets.cluster_css, _shipped("page.css"))),
        "programme": escape(site.programme),
        "issued": site.issued_on.isoformat(),
        "frame": escape(_frame(site)),
        "datum": escape(site.chart_datum),
        "areas": _area_list(site),
        "table-note": _table_note(site),
        "open": " open" if len(site.modules) <= OPEN_ROWS else "",
        "rows": "\n".join(_table_row(site, module) for module in site.modules[:TABLE_ROWS]),
        "site": _json(_site_data(site, bounds, middle_deg)),
        "licences": f"<!--\n{assets.licences.replace('--', '- -')}\n-->",
    }
    page = re.sub(r"<!--([a-z-]+)-->", lambda mark: parts[mark[1]], _shipped("page.html"))
    return page.encode("utf-8", "replace").decode("utf-8")


def _shipped(name: str) -> str:
    return files("registry.documents").joinpath("map_page", name).read_text(encoding="utf-8")


def _script(text: str) -> str:
    """A script as it may stand in a page: it closes no element, asks for no file and keeps its digest."""
    text = re.sub(r"//# sourceMappingURL=\S+", "", text.replace("\r\n", "\n"))
    return re.sub(r"<(?=/script|!--)", r"\\x3c", text, flags=re.IGNORECASE)


def _policy(scripts: Iterable[str]) -> str:
    """A content security policy: no request at all, and no script but these."""
    digests = (base64.b64encode(hashlib.sha256(script.encode()).digest()).decode() for script in scripts)
    allowed = " ".join(f"'sha256-{digest}'" for digest in digests)
    nothing = "default-src 'none'; base-uri 'none'; form-action 'none'"
    return f"{nothing}; img-src data:; style-src 'unsafe-inline'; script-src {allowed}"


def _json(data: object) -> str:
    """JSON that may stand inside an element of a page."""
    text = json.dumps(data, ensure_ascii=False, separators=(",", ":"))
    return re.sub("[<>&\u2028\u2029]", lambda char: f"\\u{ord(char[0]):04x}", text)


def _frame(site: PublicSite) -> str:
    return f"WGS 84 (ITRF2020), epoch {site.epoch:.1f}"


def _site_data(
    site: PublicSite, bounds: tuple[float, float, float, float] | None, middle_deg: float
) -> dict[str, Any]:
    """What the page's own script reads; modules are rows, in the order that page.js names."""
    west, south, east, north = bounds or (0.0, 0.0, 0.0, 0.0)
    return {
        "programme": site.programme,
        "file": re.sub(r"[^a-z0-9]+", "-", site.programme.lower()).strip("-")[:60] or "memorial-reef",
        "frame": _frame(site),
        "issued": site.issued_on.isoformat(),
        "middle": middle_deg,
        "fit": FIT,
        "bounds": [[south, west], [north, east]] if bounds else None,
        "areas": [{"id": area.area_id, "permit": area.permit} for area in site.areas],
        "keepOuts": [
            {"name": k.name, "kind": k.kind, "setback": f"{k.setback_m:.4g} m"} for k in site.keep_outs
        ],
        "modules": [
            [
                module.tag,
                module.name or "",
                *_decimal(module),
                _plotter(module),
                _within(module),
                _depth(module, site.chart_datum),
                _relief(module),
                module.placed_on.isoformat(),
                module.area_id,
            ]
            for module in site.modules
        ],
    }


def _area_list(site: PublicSite) -> str:
    """Areas and keep-outs as links that the page's script leads to their place."""
    counts = Counter(module.area_id for module in site.modules)
    items = [
        f'<li><a href="#map_reef" data-group="area" data-i="{i}">{_words(area.area_id)}</a> '
        f"<span>permit {_words(area.permit)}, {_modules(counts[area.area_id])}</span></li>"
        for i, area in enumerate(site.areas)
    ]
    items += [
        f'<li><a href="#map_reef" data-group="keepout" data-i="{i}">{_words(keep_out.name)}</a> '
        f"<span>keep-out, {_words(keep_out.kind)}, setback {keep_out.setback_m:.4g} m</span></li>"
        for i, keep_out in enumerate(site.keep_outs)
    ]
    return "\n".join(items)


def _words(typed: str) -> str:
    """Typed words as they may stand in a page; a script of another direction does not turn what follows."""
    return escape(typed) if typed.isascii() else f"<bdi>{escape(typed)}</bdi>"


def _modules(count: int) -> str:
    return f"{count} module{'' if count == 1 else 's'}"


def _table_note(site: PublicSite) -> str:
    count = len(site.modules)
    note = f"{_modules(count)}, positions in {escape(_frame(site))}."
    if count > TABLE_ROWS:
        note += f" The first {TABLE_ROWS} stand here; search and the file for a plotter hold them all."
    return note


def _table_row(site: PublicSite, module: PublicModule) -> str:
    lat, lon = _decimal(module)
    cells = (
        _words(module.name) if module.name else "",
        _plotter(module),
        f"{lat}, {lon}",
        f"{_within(module)} m",
        escape(_depth(module, "")),
        escape(_relief(module)),
        module.placed_on.isoformat(),
        _words(module.area_id),
    )
    head = f'<tr><th scope="row"><a href="#map_reef">{_words(module.tag)}</a>'
    return head + "".join(f"<td>{cell}" for cell in cells)


def _decimal(module: PublicModule) -> tuple[str, str]:
    """Latitude and longitude in decimal degrees, with the digits that R95 supports."""
    decimals = coordinate_decimals(Notation.DEGREES, module.r95_m)
    signed = []
    for degrees in (module.lat_deg, module.lon_deg):
        text = split_degrees(degrees, decimals)
        # Longitude runs up to 180 but never reaches it.
        below = float(text) != 0 and (degrees < 0 or float(text) == 180)
        signed.append("-" + text if below else text)
    return signed[0], signed[1]


def _plotter(module: PublicModule) -> str:
    """The position as a plotter takes it, "34 01.250 N 077 20.110 W"."""
    decimals = coordinate_decimals(Notation.MINUTES, module.r95_m)
    lat, lon = split_minutes(module.lat_deg, decimals), split_minutes(module.lon_deg, decimals)
    north_south = "S" if module.lat_deg < 0 and lat.degrees + float(lat.minutes) > 0 else "N"
    below = module.lon_deg < 0 and lon.degrees + float(lon.minutes) > 0
    east_west = "W" if below or lon.degrees == 180 else "E"
    return f"{lat.degrees:02d} {lat.minutes} {north_south} {lon.degrees:03d} {lon.minutes} {east_west}"


def _measured(value: float, u95: float | None = None) -> str:
    """A length, or with no second value its own uncertainty, in the digits that the uncertainty supports."""
    decimals = metres_decimals(value if u95 is None else u95)
    return f"{u95_rounded_up_m(value) if u95 is None else value:.{decimals}f}"


def _within(module: PublicModule) -> str:
    """R95 in metres, rounded up: it never claims more than is known."""
    return _measured(module.r95_m)


def _depth(module: PublicModule, datum: str) -> str:
    """Charted depth with its uncertainty, in metres, and in feet as far as that supports."""
    if module.charted_depth_m is None:
        return "not measured"
    below = f" below {datum}" if datum else ""
    if not module.depth_u95_m:
        return f"about {module.charted_depth_m:.0f} m{below}, uncertainty unknown"
    depth_m, u95_m = module.charted_depth_m, module.depth_u95_m
    feet = _measured(depth_m / FOOT_M, u95_m / FOOT_M)
    return f"{_measured(depth_m, u95_m)} m ± {_measured(u95_m)} m{below} ({feet} ft)"


def _relief(module: PublicModule) -> str:
    return "" if module.relief_m is None else f"{module.relief_m:.4g} m"
