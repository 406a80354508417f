"""Public layers: every feature once, named so that it can be asked for again, found where and when it is."""

from dataclasses import replace
from datetime import date

import pytest
from shapely import Polygon

from registry.formats.feature_layers import public_layers
from registry.formats.feature_query import FeatureQuery
from registry.records.public_site import PublicArea, PublicKeepOut, PublicModule, PublicSite


def a_module(tag, lon_deg, *, on=date(2026, 6, 14)):
    return PublicModule(
        tag=tag, name=None, lat_deg=34.0, lon_deg=lon_deg, r95_m=2.0, charted_depth_m=20.0, depth_u95_m=0.5,
        relief_m=0.9, placed_on=on, area_id="north", permit="HB-0417",
    )  # fmt: skip


SITE = PublicSite(
    programme="Marram Coast Memorial Reefs",
    chart_datum="MLLW",
    epoch=2026.5,
    issued_on=date(2026, 7, 1),
    areas=(
        PublicArea(area_id="north", permit="HB-0417", shape=Polygon([(-77.1, 33.9), (-76.9, 33.9), (-76.9, 34.1)])),
        # Runs on past 180, as the record keeps it.
        PublicArea(
            area_id="line", permit="HB-0418", valid_from=date(2020, 1, 1), valid_to=date(2021, 1, 1),
            shape=Polygon([(179.9, -17.0), (180.1, -17.0), (180.1, -16.9), (179.9, -16.9)]),
        ),
    ),
    keep_outs=(PublicKeepOut(name="cable", kind="cable", setback_m=50.0, shape=Polygon([(-77, 34), (-77, 34.01), (-76.99, 34)])),),
    modules=(a_module("MC-1", -77.0), a_module("MC-2", -77.05, on=date(2025, 6, 1)), a_module("MC-1", 179.95)),
)  # fmt: skip
AREAS, KEEP_OUTS, MODULES = public_layers(SITE)


def ids(found):
    return [feature["id"] for feature in found.features]


def test_every_feature_stands_in_one_layer_under_a_name_of_its_own():
    assert ids(AREAS.find(FeatureQuery())) == ["HB-0417.north", "HB-0418.line"]
    assert ids(KEEP_OUTS.find(FeatureQuery())) == ["1"]
    assert ids(MODULES.find(FeatureQuery())) == ["MC-1", "MC-2", "MC-1~2"]
    second = MODULES.feature("MC-1~2")
    assert second is not None
    assert second["geometry"]["coordinates"][0] == pytest.approx(179.95)
    assert MODULES.feature("MC-9") is None


@pytest.mark.parametrize(
    ("box", "areas", "modules"),
    [
        ((-77.01, 33.0, -76.5, 35.0), ["HB-0417.north"], ["MC-1"]),
        ((179.0, -18.0, -179.0, 35.0), ["HB-0418.line"], ["MC-1~2"]),
        ((-179.95, -18.0, -179.0, 0.0), ["HB-0418.line"], []),
        ((0.0, 0.0, 1.0, 1.0), [], []),
    ],
)
def test_a_box_finds_what_touches_it_on_both_sides_of_the_180th_meridian(box, areas, modules):
    assert ids(AREAS.find(FeatureQuery(box=box))) == areas
    assert ids(MODULES.find(FeatureQuery(box=box))) == modules


def test_a_period_finds_what_was_placed_or_valid_in_it():
    assert ids(MODULES.find(FeatureQuery(period=(date(2026, 1, 1), None)))) == ["MC-1", "MC-1~2"]
    assert ids(AREAS.find(FeatureQuery(period=(date(2022, 1, 1), None)))) == ["HB-0417.north"]
    assert ids(AREAS.find(FeatureQuery(period=(date(2021, 1, 1), date(2021, 1, 1))))) == [
        "HB-0417.north",
        "HB-0418.line",
    ]


def test_pages_together_are_the_whole():
    pages = [MODULES.find(FeatureQuery(limit=1, offset=offset)) for offset in range(4)]
    assert [name for page in pages for name in ids(page)] == ["MC-1", "MC-2", "MC-1~2"]
    assert {page.matched for page in pages} == {3}


def test_an_empty_site_has_empty_layers():
    empty = public_layers(replace(SITE, areas=(), keep_outs=(), modules=()))
    assert [
        (layer.extent, layer.find(FeatureQuery(box=(-180.0, -90.0, 180.0, 90.0))).matched) for layer in empty
    ] == [(None, 0)] * 3
