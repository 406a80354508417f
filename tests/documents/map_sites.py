"""Invented sites for the map."""

from datetime import date
from typing import Any

from shapely import LineString, Point, Polygon

from registry.documents.map import MapAssets
from registry.records.public_site import (
    PublicArea,
    PublicClearance,
    PublicCondition,
    PublicCorner,
    PublicKeepOut,
    PublicModule,
    PublicSite,
)
from registry.storage.shipped import shipped_text

NAMES = ("Ada Brightwater", "Tomás Fennel", "Wren Oakley", "Ines Calloway", None)
HOSTILE = (
    "<script>alert(1)</script>",
    '"><img src=x onerror=alert(1)>',
    "</script><script>alert(1)</script>",
    "{{ 7 * 7 }}{% raw %}{# #}",
    "<!--programme--><!-- <script>",
    "line\u2028break\u2029&amp;",
    "\u202egnirts\u0007 ${1+1} `'\\",
)


def map_assets() -> MapAssets:
    """Everything as it ships."""
    licences = ("leaflet", "supercluster", "world-atlas")
    return MapAssets(
        leaflet_js=shipped_text("vendor/leaflet.js"),
        leaflet_css=shipped_text("vendor/leaflet.css"),
        supercluster_js=shipped_text("vendor/supercluster.js"),
        coast=shipped_text("coast.geojson"),
        coast_world=shipped_text("coast_world.geojson"),
        licences="\n\n".join(shipped_text(f"vendor/{name}.LICENSE.txt") for name in licences),
    )


def a_module(**changes: Any) -> PublicModule:
    """One module of Gannet Patch."""
    values: dict[str, Any] = {
        "tag": "MC-0001",
        "name": "Ada Brightwater",
        "lat_deg": 34.0208333,
        "lon_deg": -77.3351667,
        "r95_m": 6.0,
        "charted_depth_m": 19.684,
        "depth_u95_m": 0.305,
        "relief_m": 1.5,
        "placed_on": date(2026, 5, 4),
        "area_id": "Gannet Patch",
        "permit": "HB-0417",
    }
    return PublicModule(**(values | changes))


def patch(west_deg: float, south_deg: float) -> Polygon:
    """A leaning four-sided area some 500 m across."""
    w, s = west_deg, south_deg
    return Polygon([(w, s), (w + 0.006, s + 0.0002), (w + 0.0062, s + 0.004), (w + 0.0003, s + 0.0042)])


def an_area(**changes: Any) -> PublicArea:
    """Gannet Patch with all that a permit says of it."""
    values: dict[str, Any] = {
        "area_id": "Gannet Patch",
        "permit": "HB-0417",
        "shape": patch(-77.337, 34.019),
        "authority": "Harbour Bay Coastal Office",
        "valid_from": date(2024, 5, 1),
        "valid_to": date(2034, 4, 30),
        "chart_datum": "MLLW",
        "stated_in": "NAD83(2011)",
        "corners": (
            PublicCorner(
                ring="outline",
                number=1,
                written="34 01.400 N 077 20.400 W",
                lat_deg=34.02334,
                lon_deg=-77.34001,
                resolution_m=1.86,
            ),
        ),
        "conditions": (
            PublicCondition(rule="spacing", limits=(("least", "6.0 m"),), cite="Special condition 4"),
            PublicCondition(
                rule="depth-band",
                limits=(("greatest", "80 ft"), ("least", "55 ft")),
                cite="Special condition 3",
            ),
            PublicCondition(rule="module-type", limits=(("types", "hump-60,hump-90"),), cite="Appendix B"),
        ),
        "clearance": PublicClearance(value_m=18.17, u95_m=0.63),
    }
    return PublicArea(**(values | changes))


def a_site(
    count: int = 40, *, west_deg: float = -77.335, south_deg: float = 34.02, **changes: Any
) -> PublicSite:
    """Two areas, three keep-outs and modules laid out in rows; may stand on the 180th meridian."""
    corners = ((west_deg, south_deg), (west_deg + 0.035, south_deg - 0.018))
    names = ("Gannet Patch", "Tern Patch")
    side = max(2, round((count / 2) ** 0.5) + 1)
    modules = []
    for i in range(count):
        (w, s), k = corners[i % 2], i // 2
        lon = w + 0.0008 + 0.0045 * (k % side) / side
        modules.append(
            a_module(
                tag=f"MC-{i + 1:04d}",
                name=NAMES[i % len(NAMES)],
                lat_deg=s + 0.0006 + 0.003 * (k // side) / side,
                lon_deg=(lon + 180) % 360 - 180,
                r95_m=(1.32, 2.1, 6.0)[i % 3],
                area_id=names[i % 2],
                permit=("HB-0417", "HB-0522")[i % 2],
            )
        )
    values: dict[str, Any] = {
        "programme": "Marram Coast Memorial Reefs",
        "chart_datum": "MLLW",
        "epoch": 2026.9,
        "issued_on": date(2026, 11, 25),
        "areas": tuple(
            PublicArea(area_id=name, permit=permit, shape=patch(*corner))
            for name, permit, corner in zip(names, ("HB-0417", "HB-0522"), corners, strict=True)
        ),
        "keep_outs": (
            PublicKeepOut(
                name="Old telegraph cable",
                kind="cable",
                setback_m=50.0,
                shape=LineString(
                    [(west_deg - 0.02, south_deg - 0.012), (west_deg + 0.06, south_deg + 0.004)]
                ),
            ),
            PublicKeepOut(
                name="Pale ledge",
                kind="hard bottom",
                setback_m=30.0,
                shape=patch(west_deg + 0.02, south_deg - 0.01),
            ),
            PublicKeepOut(
                name="The Bessie",
                kind="wreck",
                setback_m=100.0,
                shape=Point(west_deg + 0.016, south_deg + 0.004),
            ),
        ),
        "modules": tuple(modules),
    }
    return PublicSite(**(values | changes))


def a_hostile_site() -> PublicSite:
    """Every typed word is one that would break a page."""
    first = HOSTILE[0]
    modules = tuple(
        a_module(tag=f"T{i} {text}", name=text, area_id=text, permit=text, lat_deg=34.0205 + i * 0.0004)
        for i, text in enumerate(HOSTILE)
    )
    return PublicSite(
        programme=" ".join(HOSTILE),
        chart_datum=first,
        epoch=2026.9,
        issued_on=date(2026, 11, 25),
        areas=tuple(
            an_area(area_id=text, permit=text, authority=text, rules=text, young_reef=text)
            for text in HOSTILE
        ),
        keep_outs=tuple(
            PublicKeepOut(name=text, kind=text, setback_m=5.0, shape=patch(-77.32, 34.019))
            for text in HOSTILE
        ),
        modules=modules,
    )
