"""
Measure how long a map takes until a person sees it: Leadline's page, and plain folium, a marker a module.

``python scripts/painted_maps.py`` prints one JSON document. Pages are opened in turn in headless Chromium,
from a file, without a network. Painted: loaded, marks of modules in the page, and a frame drawn after that.
"""

import json
import math
import os
import sys
import tempfile
import time
from datetime import date
from pathlib import Path
from statistics import median
from typing import Any

import folium
from shapely import box

from registry.documents.map import MapAssets, render_map
from registry.documents.public_values import decimal_pair, depth_text, plotter_text
from registry.records.public_site import PublicArea, PublicModule, PublicSite
from registry.storage.shipped import shipped_text

CHROMIUM = Path(os.environ.get("CHROMIUM", "/usr/bin/chromium"))
FEW, MANY, TURNS = 3_000, 100_000, 5
#: A page that takes longer is broken.
LONGEST_S = 120.0
#: Per area, laid out in rows 20 m apart.
AREA_MODULES, STEP_DEG = 500, 0.0002
QUIET = (
    "--no-sandbox",
    "--disable-gpu",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-sync",
)
#: Tells when the frame after the load was drawn.
WATCH = """addEventListener("load", () => requestAnimationFrame(() => requestAnimationFrame(() => {
  window.painted_ms = performance.now(); })));"""
#: Folium asks jQuery only to make an element of a popup's markup; these lines do so, faster than jQuery.
STAND_IN = """window.$ = (html) => { const made = document.createElement("template");
  made.innerHTML = html.trim(); return [made.content.firstChild]; };"""


def a_reef(count: int) -> PublicSite:
    """Invent a site of so many modules, in areas of some hundreds, from 12 to 48 m deep."""
    areas = math.ceil(count / AREA_MODULES)
    side = math.ceil(math.sqrt(areas))
    modules, shapes = [], []
    for a in range(areas):
        west, south = -77.3 + 0.01 * (a % side), 34.0 + 0.01 * (a // side)
        shapes.append(
            PublicArea(
                area_id=f"Patch {a + 1}",
                permit=f"AR-{a:05d}",
                shape=box(west, south, west + 0.006, south + 0.006),
            )
        )
        modules += [
            PublicModule(
                tag=f"AR-{a * AREA_MODULES + k + 1:06d}",
                name=f"Ada Brightwater {k}" if k % 3 else None,
                lat_deg=south + 0.0005 + STEP_DEG * (k // 25) + 1e-7 * (k % 7),
                lon_deg=west + 0.0005 + STEP_DEG * (k % 25) + 1e-7 * (k % 11),
                r95_m=(1.3, 2.1, 6.0)[k % 3],
                charted_depth_m=12.0 + 36.0 * ((a + k / AREA_MODULES) % side) / side,
                depth_u95_m=0.4,
                relief_m=1.2,
                placed_on=date(2026, 1 + a % 12, 1 + k % 28),
                area_id=f"Patch {a + 1}",
                permit=f"AR-{a:05d}",
            )
            for k in range(min(AREA_MODULES, count - a * AREA_MODULES))
        ]
    return PublicSite(
        programme="A reef to be measured",
        chart_datum="MLLW",
        epoch=2026.9,
        issued_on=date(2026, 11, 27),
        areas=tuple(shapes),
        keep_outs=(),
        modules=tuple(modules),
    )


def naive_page(site: PublicSite) -> str:
    """Draw the site as one would with folium at first: a marker with its popup for each module."""
    chart = folium.Map(tiles=None, maxZoom=22)
    for module in site.modules:
        where = f"{plotter_text(module.lat_deg, module.lon_deg, module.r95_m)}<br>" + ", ".join(
            decimal_pair(module.lat_deg, module.lon_deg, module.r95_m)
        )
        depth = depth_text(module.charted_depth_m, module.depth_u95_m)
        words = (
            f"<b>{module.name or module.tag}</b><br>{module.tag}<br>{where}<br>"
            f"within {module.r95_m} m (95 %)<br>"
            f"{depth.depth} m ± {depth.u95} m below {site.chart_datum} ({depth.feet} ft)<br>"
            f"placed {module.placed_on}, {module.area_id}"
        )
        folium.Marker([module.lat_deg, module.lon_deg], popup=words, tooltip=module.tag).add_to(chart)
    for area in site.areas:
        folium.GeoJson(area.shape.__geo_interface__).add_to(chart)
    west, south, east, north = (
        min(m.lon_deg for m in site.modules),
        min(m.lat_deg for m in site.modules),
        max(m.lon_deg for m in site.modules),
        max(m.lat_deg for m in site.modules),
    )
    chart.fit_bounds([[south, west], [north, east]])
    chart.default_js = chart.default_css = []
    page = chart.get_root().render()
    own = f"<script>{STAND_IN}</script><script>{shipped_text('vendor/leaflet.js')}</script>"
    own += f"<style>{shipped_text('vendor/leaflet.css')}</style>"
    return page.replace("<head>", f"<head>{own}", 1)


def main() -> None:
    """Measure and print."""
    from playwright.sync_api import sync_playwright

    assets = MapAssets(
        leaflet_js=shipped_text("vendor/leaflet.js"),
        leaflet_css=shipped_text("vendor/leaflet.css"),
        supercluster_js=shipped_text("vendor/supercluster.js"),
        coast=shipped_text("coast.geojson"),
        coast_world=shipped_text("coast_world.geojson"),
        licences="",
    )
    few, many = a_reef(FEW), a_reef(MANY)
    pages = {
        "naive": (naive_page(few), ".leaflet-marker-icon", FEW),
        "few": (render_map(few, assets), ".cluster, .module", 1),
        "many": (render_map(many, assets), ".cluster, .module", 1),
    }
    told: dict[str, Any] = {"few": FEW, "many": MANY, "turns": TURNS, "bytes": {}, "painted_ms": {}}
    with tempfile.TemporaryDirectory(prefix="leadline-maps-") as scratch, sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=str(CHROMIUM), args=list(QUIET))
        took: dict[str, list[float]] = {name: [] for name in pages}
        for name, (page, _, _) in pages.items():
            Path(scratch, f"{name}.html").write_text(page, encoding="utf-8")
            told["bytes"][name] = len(page.encode())
        for turn in range(TURNS + 1):
            for name, (_, marks, least) in pages.items():
                painted_ms = _painted(browser, Path(scratch, f"{name}.html"), marks, least)
                if turn:  # the first round only warms the caches of the disk
                    took[name].append(painted_ms)
        told["version"] = browser.version
        browser.close()
    told["painted_ms"] = {name: median(each) for name, each in took.items()}
    print(json.dumps(told))


def _painted(browser: Any, file: Path, marks: str, least: int) -> float:
    """Open a page as new; stop where it asks a network, or its marks are not there."""
    context = browser.new_context(viewport={"width": 1280, "height": 900})
    asked: list[str] = []
    context.route("http*://**", lambda route: (asked.append(route.request.url), route.abort()))
    context.add_init_script(WATCH)
    page = context.new_page()
    page.set_default_timeout(120_000)
    page.goto(file.as_uri())
    # The page's own policy forbids what waits within it.
    until = time.monotonic() + LONGEST_S
    while (painted_ms := page.evaluate("window.painted_ms")) is None:
        if time.monotonic() > until:
            sys.exit(f"{file.name} was not painted within {LONGEST_S:.0f} s.")
        time.sleep(0.02)
    seen = page.locator(marks).count()
    if asked or seen < least:
        sys.exit(f"{file.name} shows {seen} marks and asks for {asked[:3]}.")
    context.close()
    return float(painted_ms)


if __name__ == "__main__":
    main()
