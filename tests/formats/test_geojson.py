import json

import pytest
from shapely.geometry import shape

from registry.formats.geojson import write_geojson
from tests.formats.public_sites import (
    ANTIMERIDIAN_SITE,
    EMPTY_SITE,
    EVERY_SITE,
    HOSTILE,
    HOSTILE_SITE,
    module,
    site,
)


def by_kind(content, kind):
    features = json.loads(content)["features"]
    return [feature for feature in features if feature["properties"]["feature"] == kind]


@pytest.mark.parametrize("name", EVERY_SITE)
def test_the_same_site_gives_the_same_text(name):
    assert write_geojson(EVERY_SITE[name]) == write_geojson(EVERY_SITE[name])


def test_a_module_carries_depth_as_a_property_and_no_height():
    first, second = by_kind(write_geojson(site()), "module")
    assert first["geometry"] == {"type": "Point", "coordinates": [-77.012346, 34.012346]}
    assert first["properties"] == {
        "feature": "module",
        "tag": "MC-0001",
        "memorial": None,
        "r95_m": 2.7,
        "charted_depth_m": 18.28,
        "depth_u95_m": 0.41,
        "chart_datum": "MLLW",
        "relief_m": 1.2,
        "placed_on": "2026-05-14",
        "area": "gannet-patch",
        "frame": "WGS 84 (G2296)",
        "epoch": 2026.9,
    }
    assert second["geometry"]["coordinates"] == [-77.011, 34.011]


def test_typed_text_comes_back():
    first, *_ = by_kind(write_geojson(HOSTILE_SITE), "module")
    assert first["properties"]["memorial"] == HOSTILE


def test_shapes_come_back():
    for area, feature in zip(
        HOSTILE_SITE.areas, by_kind(write_geojson(HOSTILE_SITE), "permit area"), strict=True
    ):
        assert shape(feature["geometry"]).symmetric_difference(area.shape).area < 1e-12


def test_box():
    assert json.loads(write_geojson(site()))["bbox"] == [-77.03, 34.0, -76.99, 34.03]


def test_box_across_the_180th_meridian_runs_from_east_to_west():
    assert json.loads(write_geojson(ANTIMERIDIAN_SITE))["bbox"] == [179.0, -17.0, -179.0, -15.0]


def test_box_of_modules_on_both_sides_is_the_short_one():
    both = site(areas=(), keep_outs=(), modules=(module(lon_deg=-179.5), module(tag="E", lon_deg=179.25)))
    west, _, east, _ = json.loads(write_geojson(both))["bbox"]
    assert (west, east) == (179.25, -179.5)


def test_nothing_has_no_box():
    document = json.loads(write_geojson(EMPTY_SITE))
    assert "bbox" not in document
    assert document["features"] == []
