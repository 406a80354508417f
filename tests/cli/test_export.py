"""``leadline export``: each format by its own readers, options where they belong, names only with consent."""

import csv
import json
import xml.etree.ElementTree as ET

import fiona
import pyogrio
import pytest

from tests.cli.reef import GOOD, GOOD_DEPTH, WHEN

PLACE = (*GOOD, *GOOD_DEPTH, *WHEN)
NAMES = (
    "<script>alert(1)</script>",
    '=HYPERLINK("http://x.example")',
    "../../etc/passwd",
    "Perdita Unlisted",
)


@pytest.fixture
def placed(reef):
    """Four modules whose names are hostile; three families agreed to be listed."""
    with (reef.folder / "modules.csv").open("w", newline="", encoding="utf-8") as file:
        rows = [
            [f"MC-{n}", "hump-60", name, "" if "Unlisted" in name else "yes"] for n, name in enumerate(NAMES)
        ]
        csv.writer(file).writerows([["tag", "type", "memorial", "consent"], *rows])
    reef.good("module", "import", "modules.csv")
    for n in range(len(NAMES)):
        at = ("--permit", "HB-0417", "--at", f"34 00.{1 + n}000 N 077 00.0000 W", "--frame", "EPSG:6318")
        reef(*("place", f"MC-{n}", *at, "--r95", "2 m", *GOOD_DEPTH, *WHEN))
    return reef


FORMS = ("gpx", "kml", "geojson", "csv", "pdf", "gpkg", "shp")
ENDINGS = {"shp": "zip"}


@pytest.mark.parametrize("form", FORMS)
@pytest.mark.parametrize(
    "choice", [(), ("--sites-only",), ("--rounded", "100 m")], ids=["known", "sites", "rounded"]
)
def test_every_format_is_written_and_tells_no_name_without_consent(placed, form, choice):
    out = f"reef.{ENDINGS.get(form, form)}"
    told = placed.good("export", "--format", form, "--out", out, *choice, "--json").json
    assert told["modules"] == (0 if choice == ("--sites-only",) else 4)
    assert told["sites"] == 1
    content = (placed.folder / out).read_bytes()
    assert b"Perdita" not in content
    assert "Perdita".encode("utf-16-be") not in content


@pytest.mark.parametrize(
    "choice", [(), ("--sites-only",), ("--rounded", "100 m")], ids=["known", "sites", "rounded"]
)
def test_gdal_reads_what_is_written(placed, choice):
    for form in ("gpx", "kml", "geojson", "gpkg", "shp"):
        out = placed.folder / f"reef.{ENDINGS.get(form, form)}"
        placed.good("export", "--format", form, "--out", out, *choice)
        layers = [name for name, _ in pyogrio.list_layers(out)]
        found = {name: len(pyogrio.read_dataframe(out, layer=name)) for name in layers}
        assert sum(found.values()) >= 1, form
        if form in ("gpkg", "shp"):
            assert ("modules" in found) == (choice != ("--sites-only",))
            with fiona.open(f"zip://{out}" if form == "shp" else out, layer="areas") as areas:
                (area,) = areas
                assert area.properties["modules"] == 4


def test_hostile_names_stay_text_in_every_format(placed):
    for form in ("gpx", "kml"):
        placed.good("export", "--format", form, "--out", f"reef.{form}")
        content = (placed.folder / f"reef.{form}").read_bytes()
        assert b"<script" not in content
        assert NAMES[0] in "".join(ET.fromstring(content).itertext())
    placed.good("export", "--format", "csv", "--out", "reef.csv")
    with (placed.folder / "reef.csv").open(encoding="utf-8-sig", newline="") as file:
        for row in csv.DictReader(file):
            assert all(not cell.startswith(("=", "+", "@")) for cell in row.values())
    placed.good("export", "--format", "pdf", "--out", "reef.pdf")
    assert sorted(path.name for path in placed.folder.glob("**/passwd")) == []


def test_a_plotter_gets_short_names_and_its_notation(placed):
    placed.good("export", "--format", "csv", "--notation", "ddm", "--longest-name", "3", "--out", "reef.csv")
    with (placed.folder / "reef.csv").open(encoding="utf-8-sig", newline="") as file:
        rows = list(csv.DictReader(file))
    assert [row["name"] for row in rows] == ["MC0", "MC1", "MC2", "MC3"]
    assert rows[0]["latitude_deg_min"].startswith("34 00.1")
    assert rows[0]["latitude_deg_min"].endswith(" N")
    placed.good("export", "--format", "gpx", "--longest-name", "3", "--out", "reef.gpx")
    route = ET.fromstring((placed.folder / "reef.gpx").read_bytes()).find("{*}rte")
    assert route is not None
    assert {each.findtext("{*}name") for each in route.findall("{*}rtept")} == {"MC0", "MC1", "MC2", "MC3"}


def test_what_was_declared_holds_for_files_and_the_map(placed):
    placed.good("publication", "declare", "--rounded", "200 m")
    placed.good("map", "--out", "reef.html")
    page = (placed.folder / "reef.html").read_text(encoding="utf-8")
    placed.good("export", "--format", "geojson", "--out", "reef.geojson")
    features = json.loads((placed.folder / "reef.geojson").read_text(encoding="utf-8"))["features"]
    shown = [f["geometry"]["coordinates"] for f in features if f["properties"]["feature"] == "module"]
    # 34 00.1 N in NAD83(2011) is 34.00167 to within what the datum moves it.
    assert "34.0016" not in page
    assert all(abs(lat - round(lat / 1e-4) * 1e-4) < 1e-9 for _, lat in shown)
    placed("export", "--format", "csv", "--rounded", "50 m", "--out", "finer.csv").is_told(
        "would show more", code=2
    )
    assert not (placed.folder / "finer.csv").exists()
    placed.good("export", "--format", "csv", "--rounded", "1 km", "--out", "coarser.csv")
    placed.good("publication", "declare", "--sites-only")
    assert placed.good("export", "--format", "gpx", "--out", "reef.gpx", "--json").json["modules"] == 0


@pytest.mark.parametrize(
    ("options", "said"),
    [
        (("--format", "geojson", "--longest-name", "6"), "--longest-name changes nothing in geojson"),
        (("--format", "gpx", "--notation", "ddm"), "--notation changes nothing in gpx"),
        (("--format", "csv", "--paper", "letter"), "--paper changes nothing in csv"),
        (("--format", "csv", "--longest-name", "0"), "0"),
        (("--format", "csv", "--sites-only", "--rounded", "1 km"), "Sites alone"),
        (("--format", "csv", "--rounded", "100"), "100"),
    ],
    ids=["names", "notation", "paper", "no characters", "contradiction", "no unit"],
)
def test_what_would_change_nothing_or_means_nothing_is_told(placed, options, said):
    placed("export", *options, "--out", "reef.x").is_told(said, code=2)
    assert not (placed.folder / "reef.x").exists()
