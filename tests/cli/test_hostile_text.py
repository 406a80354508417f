"""Whatever a person typed stays text: in the map, exports, papers, tables and names of files."""

import csv
import json
import re
import xml.etree.ElementTree as ET

import fiona
import pytest

from tests.cli.reef import GOOD, GOOD_DEPTH, PERMIT, WHEN

NAMES = {
    "script": "<script>alert('x')</script>",
    "formula": '=HYPERLINK("http://example.org","x")',
    "path": "../../etc/passwd",
    "line ends": "Ada\nQuill\r\nand Ben",
    "override": "Ada \u202egnp.exe\u202c",
    "entity": "A&amp;B <b>\"'`",
    "cdata": "]]></name><name>",
    "template": "{{7*7}} ${7*7} #{x} \\input{x}",
    "control": "Ada\x0bQuill",
    "very long": "Ada " * 50,
}
PLACE = (*GOOD, *GOOD_DEPTH, *WHEN)


@pytest.fixture(params=NAMES)
def told(reef, request):
    """Record a module with such a memorial name, placed with such words beside it, or a clear refusal."""
    name = NAMES[request.param]
    out = reef.folder / "modules.csv"
    with out.open("w", newline="", encoding="utf-8") as file:
        csv.writer(file).writerows(
            [
                ["tag", "type", "memorial", "consent"],
                ["MC-7", "hump-60", name, "yes"],
                ["MC-8", "hump-60", "", ""],
            ]
        )
    answer = reef("module", "import", "modules.csv", "--json")
    assert answer.err == ""
    assert answer.json["taken"] + len(answer.json["rejected"]) == 2
    if answer.json["taken"] == 2:
        words = ("--note", name, "--crew", name, "--vessel", name, "--actor", name)
        placed = reef("place", "MC-7", *PLACE, *words, "--json")
        assert placed.code in (0, 2), placed
        if placed.code:
            assert reef("place", "MC-7", *PLACE, "--json").code == 0
    else:
        assert reef("place", "MC-8", *PLACE, "--json").code == 0
    return name


def test_a_name_is_never_markup_on_the_map(reef, told):
    reef.good("map", "--out", "reef.html")
    page = (reef.folder / "reef.html").read_text(encoding="utf-8")
    assert "<script>alert(" not in page
    assert "<b>\"'" not in page


def test_a_name_is_never_markup_in_any_page_of_the_site_nor_a_path(reef, told):
    reef.good("visitors", "tell", "--rules", "<script>alert(1)</script> =HYPERLINK(1) ../../etc")
    reef.good("map", "--site", "--out", "public")
    files = sorted(path for path in (reef.folder / "public").rglob("*") if path.is_file())
    pages = [path for path in files if path.suffix == ".html"]
    assert len(pages) >= 2
    for page in pages:
        html = page.read_text(encoding="utf-8")
        assert "<script>alert(" not in html
        assert "<b>\"'" not in html
    for path in files:
        assert re.fullmatch(r"[a-z0-9-]+\.[a-z]+", path.name)


@pytest.mark.parametrize("form", ["gpx", "kml"])
def test_a_name_is_never_markup_in_an_export(reef, told, form):
    reef.good("export", "--format", form, "--out", f"reef.{form}")
    content = (reef.folder / f"reef.{form}").read_bytes()
    ET.fromstring(content)
    assert b"<script" not in content
    assert content.count(b"</trkpt>") == 0


def test_a_name_is_one_value_in_geojson_and_layers(reef, told):
    reef.good("export", "--format", "geojson", "--out", "reef.geojson")
    json.loads((reef.folder / "reef.geojson").read_text(encoding="utf-8"))
    reef.good("export", "--format", "gpkg", "--out", "reef")
    with fiona.open(reef.folder / "reef.gpkg", layer="modules") as layer:
        assert len(layer) == 1


def test_no_cell_of_a_spreadsheet_acts(reef, told):
    reef.good("export", "--format", "csv", "--out", "reef.csv")
    assert reef("audit", "--out", "audit").code == 0
    files = [reef.folder / "reef.csv", *(reef.folder / "audit").rglob("*.csv")]
    assert len(files) > 1
    for file in files:
        with file.open(newline="", encoding="utf-8-sig") as stream:
            for row in csv.reader(stream):
                for cell in row:
                    assert not re.match(r"[=+@\t\r]", cell), (file.name, cell)


def test_a_certificate_prints_the_name_or_says_why_not(reef, told):
    answer = reef("certificate", "MC-7", "--out", "papers", "--json")
    if answer.code == 0:
        (paper,) = (reef.folder / "papers").iterdir()
        assert re.fullmatch(r"[A-Z0-9-]+-v1\.pdf", paper.name)
        assert reef("authenticate", paper, "--json").json["genuine"] is True
    else:
        answer.is_told(code=answer.code)
        assert answer.code in (2, 4)
    assert not (reef.folder.parent / "etc").exists()


def test_the_audit_and_the_journal_go_on(reef, told):
    assert reef("audit").code == 0
    assert reef("audit", "--json").json["verdict"] == "conforming"
    reef.good("journal", "show")
    reef.is_sound()


@pytest.mark.parametrize("tag", ["../../x", "a/b", "a\\b", "a\nb", "", " ", "x" * 41, "\x1b[31m", "\0"])
def test_a_tag_that_no_file_name_can_carry_is_refused(reef, tag):
    reef("module", "add", tag, "--type", "hump-60").is_told(code=2)
    reef("place", tag, "--type", "hump-60", *PLACE).is_told(code=2)
    assert reef.tags() == []


@pytest.mark.parametrize("name", ["-rf.csv", "a b;c.csv", "<script>.csv", "=1+1.csv", "名前.csv", "a\nb.csv"])
def test_files_of_any_name_are_taken_in(reef, name):
    content = (
        "tag,type,position,when,r95,depth\nMC-9,hump-60,34.00100 N 77.00100 W,2026-06-14T10:00Z,2 m,70 ft\n"
    )
    path = reef.write(name, content)
    assert reef("intake", "--permit", "HB-0417", "--json", "--", path.name).json["taken"]


def test_words_of_a_permit_stay_text(reef):
    permit = PERMIT.replace("HB-0417", "<script>alert(1)</script>").replace("gannet-patch", "=1+1<b>")
    reef.write("odd.toml", permit)
    answer = reef("permit", "add", "odd.toml")
    if answer.code:
        answer.is_told(code=2)
        return
    reef.good("map", "--out", "reef.html")
    page = (reef.folder / "reef.html").read_text(encoding="utf-8")
    assert "<script>alert(1)" not in page
    assert "=1+1<b>" not in page
