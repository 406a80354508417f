import json
import sqlite3
import subprocess
import sys
import zipfile
from contextlib import closing

import geopandas
import pytest
from pyproj import Transformer
from shapely.geometry import LineString, Point, Polygon, box

from registry.errors import FrameError, GeometryError, NotFoundError, UnreadableFileError
from registry.storage import fiona_process, layers
from registry.storage.layers import read_layer

PATCH = Polygon([(-77.02, 34.0), (-77.0, 34.0), (-77.0, 34.02), (-77.02, 34.02)])


def frame(shapes=(PATCH,), crs="EPSG:6318", **columns):
    return geopandas.GeoDataFrame(
        columns or {"name": ["north"] * len(shapes)}, geometry=list(shapes), crs=crs
    )


def written(path, *, driver, **given):
    frame(**given).to_file(path, driver=driver)
    return path


def same(layer, shape=PATCH, tolerance=1e-12):
    ((_, read),) = layer.shapes
    return read.symmetric_difference(shape).area < tolerance


def test_geopackage(tmp_path):
    layer = read_layer(written(tmp_path / "a.gpkg", driver="GPKG"))
    assert (layer.layer, layer.frame, layer.projection) == ("a", "EPSG:6318", None)
    assert layer.shapes[0][0] == "north"
    assert same(layer)


@pytest.mark.parametrize("code", ["EPSG:6318", "EPSG:4269", "EPSG:4326", "EPSG:7844", "EPSG:4258"])
def test_a_shapefile_states_its_frame_in_its_prj(tmp_path, code):
    layer = read_layer(written(tmp_path / "a.shp", driver="ESRI Shapefile", crs=code))
    assert layer.frame == code


def test_a_shapefile_without_prj_states_no_frame(tmp_path):
    path = written(tmp_path / "a.shp", driver="ESRI Shapefile")
    (tmp_path / "a.prj").unlink()
    layer = read_layer(path)
    assert layer.frame is None
    assert same(layer)


def test_a_shapefile_without_its_parts_says_which(tmp_path):
    path = written(tmp_path / "a.shp", driver="ESRI Shapefile")
    (tmp_path / "a.dbf").unlink()
    with pytest.raises(UnreadableFileError, match=r"lacks its \.dbf"):
        read_layer(path)


def zipped(tmp_path, *names, folder=""):
    path = tmp_path / "areas.zip"
    with zipfile.ZipFile(path, "w") as archive:
        for name in names:
            written(tmp_path / f"{name}.shp", driver="ESRI Shapefile")
            for ending in (".shp", ".shx", ".dbf", ".prj"):
                archive.write(tmp_path / f"{name}{ending}", f"{folder}{name}{ending}")
    return path


@pytest.mark.parametrize("folder", ["", "export/of today/"])
def test_a_shapefile_in_a_zip(tmp_path, folder):
    layer = read_layer(zipped(tmp_path, "north", folder=folder))
    assert (layer.layer, layer.frame) == ("north", "EPSG:6318")
    assert same(layer)


def test_several_shapefiles_in_a_zip_are_named(tmp_path):
    path = zipped(tmp_path, "north", "south")
    with pytest.raises(NotFoundError, match="north, south"):
        read_layer(path)
    assert read_layer(path, "south").layer == "south"


def test_a_zip_without_shapefile(tmp_path):
    path = tmp_path / "a.zip"
    with zipfile.ZipFile(path, "w") as archive:
        archive.writestr("readme.txt", "nothing")
    with pytest.raises(UnreadableFileError, match="no shapefile"):
        read_layer(path)


def test_geojson_is_wgs84_by_its_standard(tmp_path):
    path = tmp_path / "a.geojson"
    path.write_text(json.dumps(PATCH.__geo_interface__))
    layer = read_layer(path)
    assert layer.frame == "EPSG:4326"
    assert same(layer)


def test_an_old_crs_member_is_heard(tmp_path):
    path = tmp_path / "a.json"
    crs = {"type": "name", "properties": {"name": "urn:ogc:def:crs:EPSG::6318"}}
    feature = {"type": "Feature", "properties": {"id": 7}, "geometry": PATCH.__geo_interface__}
    path.write_text(json.dumps({"type": "FeatureCollection", "crs": crs, "features": [feature]}))
    layer = read_layer(path)
    assert layer.frame == "EPSG:6318"
    assert layer.shapes[0][0] == "7"


KML = """<?xml version="1.0" encoding="UTF-8"?><kml xmlns="http://www.opengis.net/kml/2.2"><Document>{}</Document></kml>"""
PLACEMARK = (
    "<Folder><name>{0}</name><Placemark><name>Patch</name><Polygon><outerBoundaryIs><LinearRing><coordinates>"
    "-77.02,34,5 -77,34,5 -77,34.02,5 -77.02,34.02,5 -77.02,34,5"
    "</coordinates></LinearRing></outerBoundaryIs></Polygon></Placemark></Folder>"
)


def test_kml_is_wgs84_and_its_heights_are_dropped(tmp_path):
    path = tmp_path / "a.kml"
    path.write_text(KML.format(PLACEMARK.format("areas")))
    layer = read_layer(path)
    assert layer.frame == "EPSG:4326"
    ((name, shape),) = layer.shapes
    assert name == "Patch"
    assert not shape.has_z
    assert same(layer)


def test_kml_with_two_folders(tmp_path):
    path = tmp_path / "a.kml"
    path.write_text(KML.format(PLACEMARK.format("one") + PLACEMARK.format("two")))
    with pytest.raises(NotFoundError, match="one, two"):
        read_layer(path)


def test_several_layers_are_listed(tmp_path):
    path = tmp_path / "a.gpkg"
    frame().to_file(path, layer="north", driver="GPKG")
    frame().to_file(path, layer="south", driver="GPKG")
    with pytest.raises(NotFoundError, match="north, south"):
        read_layer(path)
    with pytest.raises(NotFoundError, match=r"no layer 'east'.*north, south"):
        read_layer(path, "east")
    assert read_layer(path, "south").layer == "south"


@pytest.mark.parametrize(
    ("projection", "base"),
    [
        ("EPSG:6347", "EPSG:6318"),
        ("EPSG:26918", "EPSG:4269"),
        ("EPSG:2264", "EPSG:4269"),
        ("EPSG:32618", "EPSG:4326"),
    ],
    ids=["UTM 18N NAD83(2011)", "UTM 18N NAD83", "state plane in US feet", "UTM 18N WGS 84"],
)
@pytest.mark.parametrize("driver", ["GPKG", "ESRI Shapefile"])
def test_a_projection_is_undone_and_the_frame_kept(tmp_path, projection, base, driver):
    path = tmp_path / ("a.gpkg" if driver == "GPKG" else "a.shp")
    frame(crs=base).to_crs(projection).to_file(path, driver=driver)
    layer = read_layer(path)
    assert layer.frame == base
    assert layer.projection
    assert same(layer, tolerance=1e-11)
    # The corner as the projection alone has it, not by way of a datum operation.
    east, north = Transformer.from_crs(base, projection, always_xy=True).transform(-77.02, 34.0)
    lon, lat = Transformer.from_crs(projection, base, always_xy=True).transform(east, north)
    west, south, *_ = layer.shapes[0][1].bounds
    assert (west, south) == pytest.approx((lon, lat), abs=1e-9)


def test_a_frame_without_code_is_refused(tmp_path):
    path = written(tmp_path / "a.gpkg", driver="GPKG", crs="+proj=longlat +a=6378000 +b=6356000")
    with pytest.raises(FrameError, match="no EPSG code"):
        read_layer(path)


def test_a_compound_frame_gives_its_horizontal_part(tmp_path):
    solid = Polygon([(*corner, -20.0) for corner in PATCH.exterior.coords])
    layer = read_layer(written(tmp_path / "a.gpkg", driver="GPKG", shapes=[solid], crs="EPSG:6349"))
    assert layer.frame == "EPSG:6318"
    assert not layer.shapes[0][1].has_z


@pytest.mark.parametrize("setting", ["PROJ_DATA", "PROJ_LIB", "GDAL_DATA"])
def test_settings_of_another_installation_are_kept_out(tmp_path, monkeypatch, setting):
    path = written(tmp_path / "a.gpkg", driver="GPKG")
    monkeypatch.setenv(setting, "/usr/share/proj")
    assert read_layer(path).frame == "EPSG:6318"


def test_points_and_lines_are_refused_unless_wanted(tmp_path):
    shapes = [PATCH, LineString([(-77, 34), (-76, 34)])]
    path = written(tmp_path / "a.gpkg", driver="GPKG", shapes=shapes)
    with pytest.raises(GeometryError, match="LineString, not a polygon"):
        read_layer(path)
    kinds = [shape.geom_type for _, shape in read_layer(path, polygons_only=False).shapes]
    assert kinds == ["Polygon", "LineString"]


def test_a_feature_without_geometry_is_left_out(tmp_path):
    path = written(tmp_path / "a.gpkg", driver="GPKG", shapes=[None, PATCH])
    assert len(read_layer(path).shapes) == 1


def test_a_layer_without_shapes(tmp_path):
    path = written(tmp_path / "a.gpkg", driver="GPKG", shapes=[None])
    with pytest.raises(GeometryError, match="no shapes"):
        read_layer(path)


@pytest.mark.parametrize("ending", [".gpkg", ".geojson", ".shp", ".zip", ".kml"])
def test_damaged_files_are_told(tmp_path, ending):
    path = tmp_path / f"a{ending}"
    path.write_bytes(b"\x00\x01 this is not what its name says")
    for part in (".shx", ".dbf"):
        (tmp_path / f"a{part}").write_bytes(b"neither")
    with pytest.raises(UnreadableFileError) as caught:
        read_layer(path)
    assert str(path) in caught.value.what
    assert caught.value.remedy


@pytest.mark.parametrize("ending", [".gpkg", ".geojson", ".shp", ".zip", ".kml"])
def test_empty_and_absent_files_are_told(tmp_path, ending):
    path = tmp_path / f"a{ending}"
    with pytest.raises(UnreadableFileError, match="There is no file"):
        read_layer(path)
    path.touch()
    with pytest.raises(UnreadableFileError, match="is empty"):
        read_layer(path)


def test_a_truncated_geopackage_is_told(tmp_path):
    path = written(tmp_path / "a.gpkg", driver="GPKG", shapes=[box(i, 0, i + 1, 1) for i in range(50)])
    content = path.read_bytes()
    path.write_bytes(content[: len(content) // 3])
    with pytest.raises(UnreadableFileError):
        read_layer(path)


def test_another_kind_of_file(tmp_path):
    with pytest.raises(UnreadableFileError, match=r"\.gpkg"):
        read_layer(tmp_path / "a.dwg")


def test_reading_changes_nothing(tmp_path):
    path = written(tmp_path / "a.gpkg", driver="GPKG")
    before = path.read_bytes()
    copy = tmp_path / "b.gpkg"
    copy.write_bytes(before)
    copy.chmod(0o444)
    read_layer(path)
    read_layer(copy)
    assert path.read_bytes() == before
    assert sorted(entry.name for entry in tmp_path.iterdir()) == ["a.gpkg", "b.gpkg"]


def test_features_are_named_by_number_where_no_field_names_them(tmp_path):
    path = written(tmp_path / "a.gpkg", driver="GPKG", shapes=[PATCH], depth=[3.0])
    assert read_layer(path).shapes[0][0] == "1"


def test_points_are_read(tmp_path):
    path = written(tmp_path / "a.gpkg", driver="GPKG", shapes=[Point(-77, 34)])
    assert read_layer(path, polygons_only=False).shapes[0][1] == Point(-77, 34)


def stand_in(tmp_path, monkeypatch, script):
    path = tmp_path / "stand_in.py"
    path.write_text(script)
    monkeypatch.setattr(fiona_process, "__file__", str(path))


def test_a_crash_of_the_library_is_only_a_message(tmp_path, monkeypatch):
    stand_in(tmp_path, monkeypatch, "import os; os.abort()")
    with pytest.raises(UnreadableFileError, match="is damaged"):
        read_layer(written(tmp_path / "a.gpkg", driver="GPKG"))


def test_a_file_that_takes_for_ever_is_given_up(tmp_path, monkeypatch):
    stand_in(tmp_path, monkeypatch, "import time; time.sleep(60)")
    monkeypatch.setattr(layers, "PATIENCE_S", 0.2)
    with pytest.raises(UnreadableFileError, match=r"within 0\.2 seconds"):
        read_layer(written(tmp_path / "a.gpkg", driver="GPKG"))


TAKE_THE_LOCK = """
import sqlite3, sys
connection = sqlite3.connect(sys.argv[1], timeout=0, isolation_level=None)
connection.execute("BEGIN IMMEDIATE")
"""


def test_reading_drops_no_lock_that_this_process_holds(tmp_path):
    """POSIX locks belong to a process: fiona in this one would let another writer in."""
    path = written(tmp_path / "a.gpkg", driver="GPKG")
    with closing(sqlite3.connect(path, isolation_level=None)) as connection:
        connection.execute("BEGIN IMMEDIATE")
        assert same(read_layer(path))
        other = subprocess.run(
            [sys.executable, "-c", TAKE_THE_LOCK, str(path)], capture_output=True, text=True, check=False
        )
    assert "database is locked" in other.stderr


def test_a_module_in_the_working_folder_is_not_loaded(tmp_path, monkeypatch):
    path = written(tmp_path / "a.gpkg", driver="GPKG")
    (tmp_path / "fiona.py").write_text("raise SystemExit('mine')")
    monkeypatch.chdir(tmp_path)
    assert same(read_layer(path))
