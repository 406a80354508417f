import sqlite3
from dataclasses import replace
from xml.etree import ElementTree as ET

import geopandas
import numpy as np
import pyogrio
import pytest
from shapely.geometry import Point, Polygon

from registry.errors import ConflictError, UnwritableError
from registry.measure.decision import Verdict, at_least
from registry.storage.findings_layers import write_findings_layers
from tests.audited import PRIVATE_NAME, audit_summary, audited_registry, strict_permit
from tests.builders import ACTOR, a_keep_out, a_programme, an_area, keep_out_added
from tests.fakes import FixedClock, MemoryRegister
from tests.gdal_validator import assert_valid

LAYERS = (
    "placements",
    "findings",
    "permit_areas",
    "keep_out_points",
    "keep_out_lines",
    "keep_out_areas",
)


@pytest.fixture(scope="module")
def written(tmp_path_factory):
    path = tmp_path_factory.mktemp("audit") / "findings.gpkg"
    write_findings_layers(audit_summary(), path)
    return path


def test_it_is_a_geopackage_by_the_bytes_of_the_standard(written):
    # OGC GeoPackage 1.3, requirements 1, 2, 6 and 7; spatial reference rows by requirement 11.
    head = written.read_bytes()[:100]
    assert int.from_bytes(head[60:64], "big") == 10300
    assert head[:16] == b"SQLite format 3\0"
    assert head[68:72] == b"GPKG"
    with sqlite3.connect(written) as connection:
        assert connection.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
        assert connection.execute("PRAGMA foreign_key_check").fetchall() == []
        systems = {row[0] for row in connection.execute("SELECT srs_id FROM gpkg_spatial_ref_sys")}
        contents = connection.execute("SELECT table_name, srs_id, description FROM gpkg_contents").fetchall()
        columns = connection.execute("SELECT table_name, srs_id FROM gpkg_geometry_columns").fetchall()
    connection.close()
    assert systems >= {4326, -1, 0, 6318}
    assert [row[0] for row in contents] == [*LAYERS, "layer_styles"]
    assert {row[1] for row in contents[:-1]} == {row[1] for row in columns} == {6318}
    assert all("epoch 2010" in row[2] and "Journal head" in row[2] for row in contents[:-1])


@pytest.mark.gdal
def test_the_validator_of_an_older_gdal_finds_nothing(written):
    assert_valid(written)


def test_every_layer_has_the_home_frame(written):
    for layer in LAYERS:
        assert geopandas.read_file(written, layer=layer).crs.to_epsg() == 6318


def test_placements_carry_the_worst_verdict_and_its_rule(written):
    placements = geopandas.read_file(written, layer="placements").set_index("tag")
    assert placements.loc["MR-0001", "verdict"] == "conforming"
    assert placements.loc["MR-0001", "worst_rule"] == ""
    assert tuple(placements.loc["MR-0005", ["verdict", "worst_rule", "area"]]) == (
        "nonconforming",
        "inside-area",
        "",
    )
    assert tuple(placements.loc["MR-0004", ["verdict", "worst_rule"]]) == ("inconclusive", "spacing")
    assert placements.loc["MR-0001", "placed_at"] == "2026-06-01T16:00:00.000Z"
    point = placements.loc["MR-0005"].geometry
    assert (point.x, point.y) == (-77.0 + 0.012, 34.0)


def test_a_verdict_can_be_worked_out_again_from_the_findings(written):
    findings = geopandas.read_file(written, layer="findings")
    inside = findings[findings["rule"] == "inside-area"]
    again = at_least(inside["measured"], inside["u95"], inside["limit_value"])
    assert [Verdict(v).word for v in again] == list(inside["verdict"])
    assert set(inside["verdict"]) == {"conforming", "nonconforming"}
    assert len(findings) == 8 * 8


def test_nothing_private_is_in_the_file(written):
    assert PRIVATE_NAME.encode() not in written.read_bytes()


def test_the_same_audit_gives_the_same_bytes(written, tmp_path):
    write_findings_layers(audit_summary(), tmp_path / "again.gpkg")
    assert (tmp_path / "again.gpkg").read_bytes() == written.read_bytes()


def test_an_empty_registry_keeps_its_layers(tmp_path):
    register = MemoryRegister(a_programme(), actor=ACTOR, clock=FixedClock())
    path = tmp_path / "findings.gpkg"
    write_findings_layers(audit_summary(register), path)
    for layer in LAYERS:
        assert len(geopandas.read_file(path, layer=layer)) == 0
    assert "worst_rule" in geopandas.read_file(path, layer="placements")


def test_an_area_across_the_180th_meridian_is_cut(tmp_path):
    across = an_area(shape=Polygon([(179.99, -17.01), (180.01, -17.01), (180.01, -16.99), (179.99, -16.99)]))
    path = tmp_path / "findings.gpkg"
    write_findings_layers(audit_summary(audited_registry(permit=strict_permit(areas=(across,)))), path)
    shape = geopandas.read_file(path, layer="permit_areas").geometry.iloc[0]
    assert shape.geom_type == "MultiPolygon"
    assert np.all(np.abs([shape.bounds[0], shape.bounds[2]]) <= 180)


def test_an_older_audit_is_replaced_whole(tmp_path):
    path = tmp_path / "findings.gpkg"
    path.write_bytes(b"an older audit")
    write_findings_layers(audit_summary(), path)
    assert len(geopandas.read_file(path, layer="placements")) == 8
    assert [each.name for each in tmp_path.iterdir()] == ["findings.gpkg"]


def test_the_registry_itself_is_never_written_over(tmp_path):
    live = tmp_path / "findings.gpkg"
    live.write_bytes(b"the registry")
    with pytest.raises(ConflictError, match="the registry itself"):
        write_findings_layers(audit_summary(), tmp_path / "." / "findings.gpkg", live=live)
    assert live.read_bytes() == b"the registry"


def test_a_folder_that_is_not_there_is_told(tmp_path):
    with pytest.raises(UnwritableError, match="cannot be written"):
        write_findings_layers(audit_summary(), tmp_path / "absent" / "findings.gpkg")


def test_a_failure_of_the_library_is_told_and_leaves_nothing(tmp_path, monkeypatch):
    def full(*_, **__):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(geopandas.GeoDataFrame, "to_file", full)
    with pytest.raises(UnwritableError, match="No space left on device"):
        write_findings_layers(audit_summary(), tmp_path / "findings.gpkg")
    assert list(tmp_path.iterdir()) == []


# How the layers are drawn.


def styles_of(path):
    with sqlite3.connect(path) as connection:
        rows = connection.execute(
            "SELECT f_table_name, f_geometry_column, styleQML, styleSLD, useAsDefault FROM layer_styles"
        ).fetchall()
    connection.close()
    return {row[0]: row[1:] for row in rows}


def test_every_layer_is_drawn_as_it_is_meant_to_be(written):
    styles = styles_of(written)
    assert set(styles) == set(LAYERS)
    with sqlite3.connect(written) as connection:
        geometry = dict(
            connection.execute("SELECT table_name, column_name FROM gpkg_geometry_columns").fetchall()
        )
    connection.close()
    assert {name: style[0] for name, style in styles.items()} == geometry
    assert all(style[3] == 1 for style in styles.values())


def test_a_verdict_is_a_shape_and_a_colour_in_both_forms(written):
    _, qml, sld, _ = styles_of(written)["placements"]
    root = ET.fromstring(qml.split("\n", 1)[1])
    categories = {each.get("value"): each.get("symbol") for each in root.iter("category")}
    assert set(categories) == {verdict.word for verdict in Verdict}
    drawn = {}
    for symbol in root.iter("symbol"):
        properties = {prop.get("k"): prop.get("v") for prop in symbol.iter("prop")}
        drawn[symbol.get("name")] = (properties["name"], properties["outline_color"])
    assert len({shape for shape, _ in drawn.values()}) == len({colour for _, colour in drawn.values()}) == 4
    assert drawn[categories["nonconforming"]][0] == "cross2"
    # OGC SLD 1.0.0, 11.3.2: the well-known marks.
    names = {"sld": "http://www.opengis.net/sld", "ogc": "http://www.opengis.net/ogc"}
    sheet = ET.fromstring(sld.split("\n", 1)[1])
    marks = [each.text for each in sheet.iterfind(".//sld:WellKnownName", names)]
    assert set(marks) == {"square", "circle", "triangle", "x"}
    assert [each.text for each in sheet.iterfind(".//ogc:Literal", names)][-1] == "nonconforming"


def test_a_layer_of_findings_opens_with_what_is_flagged(written):
    _, qml, _, _ = styles_of(written)["findings"]
    root = ET.fromstring(qml.split("\n", 1)[1])
    shown = {each.get("value") for each in root.iter("category") if each.get("render") == "true"}
    assert shown == {"nonconforming", "inconclusive"}


def test_a_keep_out_stands_in_the_layer_of_its_kind(tmp_path):
    path = tmp_path / "findings.gpkg"
    wreck = keep_out_added(
        a_keep_out(keep_out_id="wreck-1", kind="wreck", name="Auk", shape=Point(-77.0, 34.02))
    )
    write_findings_layers(audit_summary(audited_registry(wreck)), path)
    names = {layer: list(geopandas.read_file(path, layer=layer)["name"]) for layer in LAYERS[3:]}
    assert names == {"keep_out_points": ["Auk"], "keep_out_lines": ["Skua cable"], "keep_out_areas": []}


def test_placements_written_in_several_goes_are_one_layer(written, tmp_path, monkeypatch):
    whole = geopandas.read_file(written, layer="placements")
    monkeypatch.setattr("registry.storage.findings_layers.MOST_ROWS", 1)
    parts = tmp_path / "parts.gpkg"
    one = audit_summary()
    summary = replace(one, permits=one.permits * 3)
    write_findings_layers(summary, parts)
    found = geopandas.read_file(parts, layer="placements")
    assert found.tag.tolist() == [tag for each in summary.permits for tag in each.placements.tag.tolist()]
    assert found.crs == whole.crs
    assert list(found.columns) == list(whole.columns)
    assert len(pyogrio.list_layers(parts)) == len(pyogrio.list_layers(written))
