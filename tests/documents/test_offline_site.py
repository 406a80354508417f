"""The public site as files: what each page tells, that nothing typed is markup or a path, and what a device keeps."""

import json
import re
from dataclasses import replace
from datetime import date

import gpxpy
import pytest

from registry.documents.area_page import render_area
from registry.documents.offline_site import KEPT_BYTES, NAMES
from registry.records.public_site import PublicClearance
from tests.documents.map_sites import HOSTILE, a_hostile_site, a_module, a_site, an_area
from tests.documents.site_files import site_files
from tests.documents.test_map import Page


def found_in(pattern, text):
    """Give the one group of a pattern, which must be there."""
    found = re.search(pattern, text)
    assert found, pattern
    return found[1]


def a_whole_site(**changes):
    modules = (
        a_module(),
        a_module(
            tag="MC-0002",
            lat_deg=34.0205,
            charted_depth_m=20.06,
            depth_u95_m=0.63,
            placed_on=date(2025, 3, 9),
        ),
        a_module(tag="MC-0003", permit="HB-0522"),
    )
    return a_site(0, **({"areas": (an_area(),), "keep_outs": (), "modules": modules} | changes))


def page_of(site, **settings):
    (area, *_) = site.areas
    modules = [m for m in site.modules if (m.area_id, m.permit) == (area.area_id, area.permit)]
    return render_area(site, 0, modules=modules, downloads=[], head="", **settings)


def test_an_area_tells_what_a_visitor_must_know():
    text = Page(page_of(a_whole_site())).text
    for words in (
        "HB-0417, Harbour Bay Coastal Office",
        "2024-05-01 to 2034-04-30",
        # The mean of the corners of the leaning patch is 34 01.266 N 077 20.033 W, its centroid some metres west.
        "34 01.27 N 077 20.04 W",
        "19.68 m ± 0.31 m to 20.06 m ± 0.63 m below MLLW",
        # 18.17 m is 59.6 ft, by 0.3048 m to the foot.
        "18.17 m ± 0.63 m below MLLW (59.6 ft)",
        "2025-03-09 to 2026-05-04",
        "34 01.400 N 077 20.400 W",
        # A digit more than the permit writes, after the move to another frame: 34.02334 is 34 01.4004.
        "34 01.4004 N 077 20.4006 W",
        "34.023340, -77.340010",
        "As the permit writes it (NAD83(2011))",
        "at least 55 ft; at most 80 ft Special condition 3",
        "types: hump-60, hump-90 Appendix B",
        "Do not anchor on the reef",
        "Dive only within your training",
        "Not for navigation",
        "ask the authority before you anchor, fish or dive",
        "Issued 2026-11-25",
    ):
        assert words in text
    # The third lies under another permit.
    assert "Modules2Depth" in text


def test_the_programme_s_own_words_stand_as_they_were_written():
    told = an_area(rules="No <b>anchors</b>, no spears.", young_reef="From the second summer on.")
    html = page_of(a_whole_site(areas=(told,)))
    assert "<p><bdi>No &lt;b&gt;anchors&lt;/b&gt;, no spears.</bdi></p>" in html
    assert "From the second summer on." in Page(html).text
    text = Page(page_of(a_whole_site())).text
    assert "has published no rules" in text
    # Leadline itself says nothing of what grows on a reef.
    assert "young reef" not in text


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"areas": (an_area(clearance=None),)}, "not known: the depth of a module here is not measured"),
        ({"modules": ()}, "no module yet"),
        ({"modules": (a_module(),)}, "19.68 m ± 0.31 m below MLLW"),
        (
            {"modules": (a_module(), a_module(charted_depth_m=None, depth_u95_m=None))},
            "1 module not measured",
        ),
        (
            {"areas": (an_area(clearance=PublicClearance(value_m=18.2, u95_m=12.0)),)},
            "18 m ± 12 m below MLLW (60 ft)",
        ),
        ({"areas": (an_area(radius="500 ft"),)}, "A circle with the radius 500 ft around:"),
    ],
)
def test_what_is_not_known_is_said(changes, words):
    assert words in Page(page_of(a_whole_site(**changes))).text


def test_a_page_knows_every_sentence_that_it_or_its_scripts_say():
    html = page_of(a_whole_site(areas=(an_area(radius="500 ft", young_reef="From the second summer on."),)))
    words = json.loads(found_in(r'<script type="application/json" id="words">(.*?)</script>', html))
    scripts = "".join(re.findall(r"<script>(.*?)</script>", html, re.DOTALL))
    said = set(re.findall(r'data-(?:word|label)="([a-z0-9-]+)"', html))
    said |= set(re.findall(r'(?:told|tell)\("([a-z0-9-]+)"', scripts)) | {"renewed", "ready"}
    for language in words.values():
        assert said <= set(language["text"])


def test_a_page_without_scripts_speaks_the_language_asked_for():
    text = Page(page_of(a_whole_site(), language="de")).text
    assert "18,17 m ± 0,63 m unter MLLW (59,6 ft)" in text
    assert "mindestens 55 ft; höchstens 80 ft" in text
    # Coordinates keep their point in every language: a plotter takes no comma.
    assert "34 01.400 N 077 20.400 W" in text


def test_the_folder_holds_what_it_says_and_nothing_else():
    site = a_site()
    files = site_files(site)
    assert {path.partition("/")[0] for path in files} == set(NAMES)
    assert {path for path in files if path.startswith("areas/")} == {
        "areas/gannet-patch.html",
        "areas/tern-patch.html",
    }
    endings = ("gpx", "kml", "geojson", "csv")
    assert {path for path in files if path.startswith("files/")} == {
        f"files/{name}.{ending}" for name in ("reef", "gannet-patch", "tern-patch") for ending in endings
    }
    index = files["index.html"].decode()
    links = set(re.findall(r'href="((?:areas|files)/[^"]+)"', index))
    assert links == {"areas/gannet-patch.html", "areas/tern-patch.html"} | {
        f"files/reef.{e}" for e in endings
    }
    for page in ("areas/gannet-patch.html", "areas/tern-patch.html"):
        for link in re.findall(r'href="\.\./([^"#]+)', files[page].decode()):
            assert link in files
    waypoints = gpxpy.parse(files["files/tern-patch.gpx"].decode()).waypoints
    tags = {module.tag for module in site.modules if module.area_id == "Tern Patch"}
    assert {
        name for name in (str(point.name).partition(":")[0] for point in waypoints) if name.startswith("MC")
    } == tags


def test_the_same_site_gives_the_same_bytes_and_any_change_another_issue():
    files, again = site_files(a_site()), site_files(a_site())
    assert files == again
    other = site_files(replace(a_site(), issued_on=date(2026, 11, 26)))
    issue = rb'const ISSUE = "(reef [0-9a-f]{16})"'
    assert found_in(issue, files["sw.js"]) != found_in(issue, other["sw.js"])


def test_what_is_kept_is_there_and_not_too_much():
    files = site_files(a_site())
    kept = json.loads(found_in(rb"const FILES = (\[.*?\]);", files["sw.js"]))
    assert kept[0] == "./"
    assert set(kept[1:]) == set(files) - {"sw.js"}
    assert sum(len(files[path]) for path in kept[1:]) < KEPT_BYTES


def test_the_manifest_names_the_programme_and_icons_that_are_there():
    files = site_files(a_site())
    manifest = json.loads(files["manifest.webmanifest"])
    assert manifest["name"] == "Marram Coast Memorial Reefs"
    assert manifest["display"] == "standalone"
    for icon in manifest["icons"]:
        assert icon["src"] in files
        if icon["type"] == "image/png":
            # Width and height stand in the header of a PNG file, at its bytes 16 to 23 (PNG, ISO/IEC 15948).
            png = files[icon["src"]]
            size = int.from_bytes(png[16:20], "big"), int.from_bytes(png[20:24], "big")
            assert f"{size[0]}x{size[1]}" == icon["sizes"]


def test_typed_words_are_text_and_never_a_path():
    site = a_hostile_site()
    site = replace(
        site,
        areas=(*site.areas, an_area(area_id="../../etc"), an_area(area_id="金子"), an_area(area_id="reef")),
    )
    files = site_files(site)
    paths = [path for path in files if path.startswith("areas/")]
    assert len(paths) == len(site.areas)
    assert all(re.fullmatch(r"areas/[a-z0-9-]+\.html", path) for path in paths)
    assert {"areas/etc.html", "areas/area.html", "areas/reef-2.html"} <= set(paths)
    plain = {tag for tag, _ in Page(page_of(a_whole_site())).elements} | {"bdi", "br", "h3"}
    for path in paths:
        page = Page(files[path].decode())
        assert {tag for tag, _ in page.elements} <= plain | {"link", "meta"}
        assert sum(tag == "script" for tag, _ in page.elements) == 5
        assert not any(name.startswith("on") for _, attrs in page.elements for name in attrs)
    assert any(HOSTILE[0] in Page(files[path].decode()).text for path in paths)


def test_pages_that_are_served_ask_their_own_server_alone():
    for path, content in site_files(a_site()).items():
        if not path.endswith(".html"):
            continue
        html = content.decode()
        policy = found_in(r'Content-Security-Policy" content="([^"]*)"', html)
        assert policy.startswith("default-src 'none'")
        assert "connect-src" not in policy
        for tag, attrs in Page(html).elements:
            assert "src" not in attrs
            assert not re.match(r"(?:[a-z]+:)?//", attrs.get("href") or ""), (tag, attrs)
