"""OGC API - Features: what the standard asks for, and a desktop GIS library that connects live."""

import json
import subprocess
import time

import pytest

from registry.cli.main import run
from tests.gdal_validator import need

ITEMS = "/features/collections/modules/items"


def links_of(answer):
    return {link["rel"]: link["href"] for link in answer.json()["links"]}


def path_of(href):
    return href.removeprefix("http://testserver")


def test_the_landing_page_leads_everywhere(site):
    """OGC 17-069r4, requirements 2, 5 and 11: links to the API definition, the conformance and the collections."""
    client = site.client()
    links = links_of(client.get("/features"))
    assert {"self", "service-desc", "conformance", "data"} <= set(links)
    for href in links.values():
        assert client.get(path_of(href)).status_code == 200
    conforms = client.get("/features/conformance").json()["conformsTo"]
    assert "http://www.opengis.net/spec/ogcapi-features-1/1.0/conf/core" in conforms


def test_each_collection_leads_to_its_features(site):
    client = site.client()
    collections = client.get("/features/collections").json()["collections"]
    assert [each["id"] for each in collections] == ["areas", "keep-outs", "modules"]
    for each in collections:
        links = {link["rel"]: link["href"] for link in each["links"]}
        answer = client.get(path_of(links["items"]))
        assert answer.headers["content-type"] == "application/geo+json"
        for feature in answer.json()["features"]:
            one = client.get(f"/features/collections/{each['id']}/items/{feature['id']}")
            assert one.json()["geometry"] == feature["geometry"]


def test_pages_follow_one_another(site):
    client = site.client()
    tags, href = [], f"{ITEMS}?limit=1"
    while href:
        answer = client.get(path_of(href))
        told = answer.json()
        assert (told["numberMatched"], told["numberReturned"]) == (2, 1)
        tags += [feature["id"] for feature in told["features"]]
        href = links_of(answer).get("next")
    assert tags == ["MC-0001", "MC-0002"]
    assert "prev" in links_of(answer)


@pytest.mark.parametrize(
    ("asked", "status"),
    [
        ("?bbox=-78,33,-76,35", 200),
        ("?bbox=1,2,3", 400),
        ("?datetime=yesterday", 400),
        ("?limit=0", 422),
        ("?limit=100000", 200),
        ("?colour=red", 400),
        ("/MC-9999", 404),
        ("/..%2f..%2fleadline.gpkg", 404),
    ],
)
def test_questions_are_answered_or_refused_in_words(site, asked, status):
    answer = site.client().get(f"{ITEMS}{asked}")
    assert answer.status_code == status
    if status >= 400:
        assert answer.json()["error"]


def test_a_box_beside_holds_nothing(site):
    assert site.client().get(f"{ITEMS}?bbox=0,0,1,1").json()["numberMatched"] == 0


def test_only_names_with_consent_are_told(site):
    text = site.client().get(ITEMS).text
    assert "Ada Quill" in text
    assert "Ben Marsh" not in text


def soon(client, matched):
    """Ask until the view is the new one: it may be late by ten times what it takes to make."""
    for _ in range(300):
        answer = client.get(ITEMS)
        if answer.json()["numberMatched"] == matched:
            return answer
        time.sleep(0.1)
    pytest.fail(f"{matched} modules never came: {answer.text[:500]}")


def test_what_the_programme_keeps_back_stays_back(site):
    client = site.client()
    assert client.get(ITEMS).json()["numberMatched"] == 2
    assert run(("publication", "declare", "--sites-only")) == 0
    soon(client, 0)


def test_a_new_placement_is_there_soon_and_the_tag_changes(site):
    client = site.client()
    tag = client.get(ITEMS).headers["etag"]
    assert client.get(ITEMS, headers={"if-none-match": tag}).status_code == 304
    line = ("place", "MC-0003", "--permit", "HB-0417", "--at", "34 00.2 N 077 00.0 W", "--frame", "EPSG:6318")
    run((*line, "--when", "2026-06-15T11:00-04:00", "--depth", "70 ft", "--r95", "2 m"))
    assert soon(client, 3).headers["etag"] != tag


@pytest.mark.gdal
def test_gdal_connects_live(served):
    """The driver OAPIF of GDAL, as a desktop GIS uses it, lists the layers and reads the modules."""
    need("ogrinfo", "--version")
    source = f"OAPIF:{served.url}/features"
    listed = subprocess.run(
        ["ogrinfo", "-ro", source], capture_output=True, text=True, check=True, timeout=60
    )
    assert "modules" in listed.stdout
    assert "areas" in listed.stdout
    asked = [
        "ogr2ogr",
        "-f",
        "GeoJSON",
        "/vsistdout/",
        source,
        "modules",
        "-spat",
        "-77.1",
        "33.9",
        "-76.9",
        "34.1",
    ]
    read = json.loads(subprocess.run(asked, capture_output=True, text=True, check=True, timeout=60).stdout)
    assert {feature["properties"]["tag"] for feature in read["features"]} == {"MC-0001", "MC-0002"}
