"""Public sites to write: an ordinary one, and one with everything that makes writing hard."""

from datetime import date
from typing import Any

from shapely import LineString, MultiPolygon, Point, Polygon

from registry.records.public_site import (
    PublicArea,
    PublicClearance,
    PublicDepths,
    PublicKeepOut,
    PublicModule,
    PublicSite,
)
from registry.records.publication import Publication

PATCH = Polygon([(-77.02, 34.00), (-77.02, 34.02), (-77.00, 34.02), (-77.00, 34.00)])


def module(**changed) -> PublicModule:
    given: dict[str, Any] = {
        "tag": "MC-0001",
        "name": None,
        "lat_deg": 34.0123456789,
        "lon_deg": -77.0123456789,
        "r95_m": 2.613,
        "charted_depth_m": 18.2834,
        "depth_u95_m": 0.41,
        "relief_m": 1.2,
        "placed_on": date(2026, 5, 14),
        "area_id": "gannet-patch",
    }
    return PublicModule(**(given | changed))


def site(**changed) -> PublicSite:
    given: dict[str, Any] = {
        "programme": "Marram Coast Memorial Reefs",
        "chart_datum": "MLLW",
        "epoch": 2026.9,
        "issued_on": date(2026, 11, 20),
        "areas": (PublicArea(area_id="gannet-patch", permit="HB-0417", shape=PATCH),),
        "keep_outs": (
            PublicKeepOut(
                name="Cable 7",
                kind="cable",
                setback_m=150.0,
                shape=LineString([(-77.03, 34.01), (-76.99, 34.03)]),
            ),
        ),
        "modules": (
            module(),
            module(tag="MC-0002", name="Ada Quill", lat_deg=34.011, lon_deg=-77.011, r95_m=12.0),
        ),
    }
    return PublicSite(**(given | changed))


HOSTILE = "<b>\"Æsa\" & 'Zoë' ]]> =1+1\x07 金子</b>"

#: Text that would break out of its place, a wreck that is a point, unknown depths, and shapes with a hole and
#: in parts.
HOSTILE_SITE = site(
    programme=HOSTILE,
    chart_datum='"LAT" <&>',
    areas=(
        PublicArea(
            area_id=HOSTILE,
            permit="=HB&1",
            shape=MultiPolygon(
                [
                    (
                        [(-77.0, 34.0), (-76.9, 34.0), (-76.9, 34.1), (-77.0, 34.1)],
                        [[(-76.98, 34.02), (-76.92, 34.02), (-76.92, 34.08)]],
                    ),
                    ([(-76.8, 34.0), (-76.8, 34.1), (-76.7, 34.1)], []),
                ]
            ),
        ),
    ),
    keep_outs=(PublicKeepOut(name=HOSTILE, kind="wreck", setback_m=0.0, shape=Point(-77.0, 34.2)),),
    modules=(
        module(tag="=CMD|'/c'!A1", name=HOSTILE),
        module(tag="MC-3", charted_depth_m=None, depth_u95_m=None, relief_m=None),
        module(tag="MC-4", charted_depth_m=-0.04, depth_u95_m=0.5, r95_m=0.0),
    ),
)

#: Across the 180th meridian, its ring running on past 180, with a cable that crosses too.
ANTIMERIDIAN_SITE = site(
    areas=(
        PublicArea(
            area_id="date-line",
            permit="HB-0500",
            shape=Polygon([(179.9, -17.0), (180.1, -17.0), (180.1, -16.9), (179.9, -16.9)]),
        ),
    ),
    keep_outs=(
        PublicKeepOut(
            name="Cable 9",
            kind="cable",
            setback_m=10.0,
            shape=LineString([(179.0, -17.0), (181.0, -16.0), (179.5, -15.0)]),
        ),
    ),
    modules=(
        module(tag="E", lon_deg=179.9999999, lat_deg=-16.95, r95_m=5.0, area_id="date-line"),
        module(tag="W", lon_deg=-179.95, lat_deg=-16.95, area_id="date-line"),
    ),
)

#: What lies in each area is told all together, and no module stands in the record.
SITES_ONLY = site(
    published=Publication(sites_only=True),
    areas=(
        PublicArea(
            area_id="gannet-patch",
            permit="HB-0417",
            authority="Harbour Bay Coastal Office",
            shape=PATCH,
            chart_datum="MLLW",
            clearance=PublicClearance(value_m=17.083, u95_m=0.41),
            module_count=2,
            depths=PublicDepths(
                least_m=18.2834, least_u95_m=0.41, greatest_m=19.5, greatest_u95_m=None, unmeasured=1
            ),
            first_placed=date(2026, 5, 14),
            last_placed=date(2026, 6, 1),
        ),
        PublicArea(area_id=HOSTILE, permit="=HB&1", shape=HOSTILE_SITE.areas[0].shape, module_count=1),
        PublicArea(area_id="nothing there", permit="HB-0500", shape=ANTIMERIDIAN_SITE.areas[0].shape),
    ),
    modules=(),
)

#: Every position in the middle of a square of 100 m, and doubtful by as much.
ROUNDED_SITE = site(
    published=Publication(rounded_m=100.0, rounded="100 m"),
    modules=(
        module(lat_deg=34.01230, lon_deg=-77.01210, r95_m=75.1),
        module(tag="MC-0002", lat_deg=34.01230, lon_deg=-77.01210, r95_m=84.5),
    ),
)

EMPTY_SITE = site(areas=(), keep_outs=(), modules=())
EVERY_SITE = {
    "ordinary": site(),
    "hostile": HOSTILE_SITE,
    "antimeridian": ANTIMERIDIAN_SITE,
    "empty": EMPTY_SITE,
    "sites only": SITES_ONLY,
    "rounded": ROUNDED_SITE,
}
