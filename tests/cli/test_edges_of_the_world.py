"""Places where longitudes jump and meridians meet: the 180th meridian and the poles."""

import json

import fiona
import pytest

from tests.cli.reef import GOOD_DEPTH, WHEN, Reef

PERMIT = """
[permit]
number = "AL-1"
authority = "Office of an Invented Island"
valid_from = 2024-05-01
valid_to = 2034-04-30
chart_datum = "LAT"

[[area]]
id = "dateline-patch"
corners = ["52 00.0000 N 179 59.0000 E", "52 00.0000 N 179 59.0000 W",
           "52 02.0000 N 179 59.0000 W", "52 02.0000 N 179 59.0000 E"]
frame = "EPSG:6318"
edges = "geodesic"

[[condition]]
rule = "spacing"
least_m = 6.0
cite = "Condition 1"
"""


@pytest.fixture
def dateline(reef: Reef) -> Reef:
    """Begin a permit across the 180th meridian, among islands that the home frame covers on both sides."""
    reef.write("al-1.toml", PERMIT)
    added = reef("permit", "add", "al-1.toml")
    assert (added.code, added.err) == (0, "")
    return reef


def place(reef: Reef, tag: str, at: str):
    return reef(
        "place", tag, "--type", "hump-60", "--permit", "AL-1", "--at", at, "--frame", "EPSG:6318", "--r95", "1 m",
        *GOOD_DEPTH, *WHEN, "--json",
    )  # fmt: skip


def test_placements_on_both_sides_lie_in_one_area_and_see_each_other(dateline):
    east = place(dateline, "E-1", "52 01.00000 N 179 59.99900 E")
    west = place(dateline, "W-1", "52 01.00000 N 179 59.99900 W")
    assert (east.code, west.code) == (0, 1), (east, west)
    inside = [f for answer in (east, west) for f in answer.json["findings"] if f["rule"] == "inside-area"]
    assert [f["verdict"] for f in inside] == ["conforming"] * 2
    assert [f["measured"] for f in inside] == pytest.approx([1141.5] * 2, abs=8)
    (spacing,) = [f for f in west.json["findings"] if f["rule"] == "spacing"]
    # Two thousandths of a minute of longitude at 52 N are 2.3 m, less two radii of 0.45 m.
    assert spacing["measured"] == pytest.approx(2.289 - 0.9, abs=0.02)
    assert place(dateline, "E-2", "52 01.00000 N 179 58.90000 E").code == 1


def test_exports_and_map_show_both_sides(dateline):
    place(dateline, "E-1", "52 01.00000 N 179 59.90000 E")
    place(dateline, "W-1", "52 01.00000 N 179 59.90000 W")
    for form in ("gpx", "kml", "csv", "geojson", "gpkg", "shp"):
        dateline.good("export", "--format", form, "--out", f"reef.{form}")
    dateline.good("map", "--out", "reef.html")
    features = json.loads((dateline.folder / "reef.geojson").read_text(encoding="utf-8"))["features"]
    points = [f["geometry"]["coordinates"][0] for f in features if f["geometry"]["type"] == "Point"]
    assert sorted(round(lon) for lon in points) == [-180, 180]
    # RFC 7946, section 3.1.9: a shape that crosses the 180th meridian is cut there.
    areas = [f["geometry"] for f in features if f["geometry"]["type"] != "Point"]
    (area,) = [a for a in areas if a["type"] == "MultiPolygon"]
    assert all(-180 <= x <= 180 for part in area["coordinates"] for ring in part for x, *_ in ring)
    with fiona.open(dateline.folder / "reef.gpkg", layer="modules") as layer:
        assert len(layer) == 2


@pytest.mark.parametrize("at", ["90.00000 N 0.00000 E", "90.00000 N 180.00000 E", "89.99999 N 179.99999 W"])
def test_a_position_at_a_pole_is_answered_or_refused_but_never_fails(reef, at):
    for frame in ("EPSG:6318", "EPSG:4326"):
        answer = reef(
            "check",
            "--permit",
            "HB-0417",
            "--type",
            "hump-60",
            "--at",
            at,
            "--frame",
            frame,
            "--r95",
            "2 m",
            "--json",
        )
        assert answer.code in (1, 2), answer
        assert "itself failed" not in answer.err
        if answer.code == 1:
            assert answer.json["verdict"] == "nonconforming"


@pytest.mark.parametrize("at", ["34.00000 N 180.00000 W", "34.00000 N 180.00000 E"])
def test_the_180th_meridian_has_one_place_and_two_names(reef, at):
    answer = reef("check", "--permit", "HB-0417", "--type", "hump-60", "--at", at, "--r95", "2 m", "--json")
    assert (answer.code, abs(answer.json["home"]["lon"])) == (1, 180.0)


@pytest.mark.parametrize("at", ["91 N 77 W", "34 N 181 W", "90.1 S 0 E", "34 N 361 E"])
def test_a_position_beyond_the_world_is_refused(reef, at):
    reef("check", "--permit", "HB-0417", "--type", "hump-60", "--at", at, "--r95", "2 m").is_told(code=2)
