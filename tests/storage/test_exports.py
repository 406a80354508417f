import os
import sqlite3
import zipfile

import fiona
import geopandas
import pyogrio.errors
import pytest

from registry.errors import ConflictError, RequestError, UnwritableError
from registry.storage.exports import SHORT_NAMES, write_layers
from registry.storage.layers import read_layer
from tests.formats.public_sites import ANTIMERIDIAN_SITE, EMPTY_SITE, HOSTILE, HOSTILE_SITE, module, site
from tests.gdal_validator import assert_valid

FORMATS = [".gpkg", ".zip"]


def layers_of(path):
    if path.suffix == ".gpkg":
        return fiona.listlayers(path)
    return fiona.listlayers(f"zip://{path}")


def table(path, layer):
    where = path if path.suffix == ".gpkg" else f"zip://{path}!/{layer}.shp"
    return geopandas.read_file(where, layer=layer)


@pytest.mark.parametrize("ending", FORMATS)
def test_layers_come_back(tmp_path, ending):
    path = tmp_path / f"site{ending}"
    write_layers(site(), path)
    keep_outs = "keep_outs" if ending == ".gpkg" else "keep_outs_lines"
    assert sorted(layers_of(path)) == ["areas", keep_outs, "modules"]
    modules = table(path, "modules")
    assert modules.crs.to_epsg() == 4326
    assert [(point.x, point.y) for point in modules.geometry] == [(-77.012346, 34.012346), (-77.011, 34.011)]
    short = SHORT_NAMES if ending == ".zip" else {}
    first = modules.iloc[0]
    assert first[short.get("charted_depth_m", "charted_depth_m")] == 18.28
    assert first[short.get("depth_u95_m", "depth_u95_m")] == 0.41
    assert (first["tag"], first["frame"], first["epoch"]) == ("MC-0001", "WGS 84 (G2296)", 2026.9)
    assert table(path, keep_outs).iloc[0]["setback_m"] == 150.0


@pytest.mark.gdal
@pytest.mark.parametrize("each", [site(), HOSTILE_SITE, ANTIMERIDIAN_SITE])
def test_the_validator_of_an_older_gdal_finds_nothing(tmp_path, each):
    write_layers(each, tmp_path / "site.gpkg")
    assert_valid(tmp_path / "site.gpkg")


@pytest.mark.parametrize("ending", FORMATS)
def test_text_in_any_script_comes_back(tmp_path, ending):
    path = tmp_path / f"site{ending}"
    write_layers(HOSTILE_SITE, path)
    modules = table(path, "modules")
    typed = modules.iloc[0]["memorial"]
    assert typed == HOSTILE
    depth = "charted_depth_m" if ending == ".gpkg" else "depth_m"
    assert list(modules[depth].isna()) == [False, True, False]
    assert modules.iloc[2][depth] == -0.04


@pytest.mark.parametrize("ending", FORMATS)
def test_the_same_site_gives_the_same_rows(tmp_path, ending):
    for name in ("a", "b"):
        write_layers(HOSTILE_SITE, tmp_path / f"{name}{ending}")
    assert (tmp_path / f"a{ending}").read_bytes() == (tmp_path / f"b{ending}").read_bytes()


@pytest.mark.parametrize("ending", FORMATS)
def test_shapes_across_the_180th_meridian_are_split(tmp_path, ending):
    path = tmp_path / f"site{ending}"
    write_layers(ANTIMERIDIAN_SITE, path)
    for layer in layers_of(path):
        west, _, east, _ = table(path, layer).total_bounds
        assert west >= -180
        assert east <= 180
    (area,) = table(path, "areas").geometry
    assert sorted(part.bounds[0] for part in area.geoms) == [-180.0, 179.9]


def test_fields_of_a_shapefile_fit(tmp_path):
    path = tmp_path / "site.zip"
    write_layers(HOSTILE_SITE, path)
    with zipfile.ZipFile(path) as archive:
        assert archive.read("modules.cpg") == b"UTF-8"
        assert "Not for navigation" in archive.read("README.txt").decode()
    for layer in layers_of(path):
        assert all(len(name) <= 10 for name in table(path, layer).columns)
    assert len(set(SHORT_NAMES.values())) == len(SHORT_NAMES)


def test_a_geopackage_says_what_its_coordinates_are(tmp_path):
    path = tmp_path / "site.gpkg"
    write_layers(site(), path)
    connection = sqlite3.connect(path)
    try:
        rows = connection.execute("select description, last_change from gpkg_contents").fetchall()
        assert connection.execute("pragma integrity_check").fetchone() == ("ok",)
        assert connection.execute("pragma application_id").fetchone() == (0x47504B47,)
    finally:
        connection.close()
    assert all("WGS 84 (G2296)" in description for description, _ in rows)
    assert {change[:10] for _, change in rows} == {"2026-11-20"}


def test_a_long_name_is_not_cut_in_a_shapefile(tmp_path):
    long = site(modules=(module(name="金" * 90),))
    with pytest.raises(RequestError, match="254 bytes"):
        write_layers(long, tmp_path / "site.zip")
    assert list(tmp_path.iterdir()) == []
    write_layers(long, tmp_path / "site.gpkg")
    assert table(tmp_path / "site.gpkg", "modules").iloc[0]["memorial"] == "金" * 90


@pytest.mark.parametrize("ending", FORMATS)
def test_a_file_that_is_there_is_left_alone(tmp_path, ending):
    path = tmp_path / f"site{ending}"
    path.write_text("mine")
    with pytest.raises(ConflictError, match="There is a file"):
        write_layers(site(), path)
    assert path.read_text() == "mine"


@pytest.mark.parametrize("ending", FORMATS)
def test_nothing_to_export(tmp_path, ending):
    with pytest.raises(RequestError, match="nothing to export"):
        write_layers(EMPTY_SITE, tmp_path / f"site{ending}")


def test_another_ending(tmp_path):
    with pytest.raises(RequestError, match=r"\.gpkg.*\.zip"):
        write_layers(site(), tmp_path / "site.shp")


def test_a_folder_that_is_not_there(tmp_path):
    with pytest.raises(UnwritableError, match="cannot be written"):
        write_layers(site(), tmp_path / "absent" / "site.gpkg")


@pytest.mark.parametrize("ending", FORMATS)
def test_a_failure_leaves_nothing_behind(tmp_path, monkeypatch, ending):
    def full(*_):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(UnwritableError, match="No space left"):
        write_layers(site(), tmp_path / f"site{ending}")
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("ending", FORMATS)
def test_a_failure_of_the_library_is_told(tmp_path, monkeypatch, ending):
    def failing(*_, **__):
        raise pyogrio.errors.DataSourceError("disk I/O error")

    monkeypatch.setattr(geopandas.GeoDataFrame, "to_file", failing)
    with pytest.raises(UnwritableError, match="disk I/O error"):
        write_layers(site(), tmp_path / f"site{ending}")
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("ending", FORMATS)
def test_what_was_exported_can_be_read_as_areas(tmp_path, ending):
    path = tmp_path / f"site{ending}"
    write_layers(site(), path)
    layer = read_layer(path, "areas")
    assert layer.frame == "EPSG:4326"
    assert layer.shapes[0][1].symmetric_difference(site().areas[0].shape).area < 1e-12
