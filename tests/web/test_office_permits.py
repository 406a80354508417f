"""Permits in the office: looked at before they are added, amended by one at a time, drawn to scale and on the map."""

import json
import re

import pytest

from registry.storage.clock import SystemClock
from registry.storage.geopackage import open_register
from tests.cli.reef import PERMIT
from tests.web.conftest import form_token

NEW = PERMIT.replace("HB-0417", "../TP/22 ä").replace("gannet-patch", "tern-patch")
AMENDED = PERMIT.replace("least_m = 6.0", "least_m = 9.0")
CABLE = {
    "type": "FeatureCollection",
    "features": [
        {
            "type": "Feature",
            "properties": {"name": "<i>north</i> cable"},
            "geometry": {"type": "LineString", "coordinates": [[-77.02, 34.005], [-76.98, 34.006]]},
        }
    ],
}
AREA = {
    "type": "Feature",
    "properties": {},
    "geometry": {
        "type": "Polygon",
        "coordinates": [[[-77.3, 34.0], [-77.28, 34.0], [-77.28, 34.02], [-77.3, 34.02], [-77.3, 34.0]]],
    },
}


def kinds(site):
    with open_register(site.registry, clock=SystemClock(), writable=False) as register:
        return [(entry.kind, entry.actor) for entry in register.journal()]


def hidden(text, action):
    form = text.split(f'action="{action}"', 1)[1].split("</form>", 1)[0]
    found = re.findall(r'<input type="hidden" name="([^"]+)" value="([^"]*)"', form)
    return {name: [value for key, value in found if key == name] for name, _ in found}


def look(client, path, files, **fields):
    data = {"form_token": form_token(client, "/office/permits"), **fields}
    return client.post(path, data=data, files=files)


def toml(text=NEW, name="permit.toml", field="file"):
    return (field, (name, text.encode(), "application/toml"))


def seen(client, path="/office/permits/HB-0417"):
    return re.findall(r'name="seen" value="([^"]+)"', client.get(path).text)[0]


def test_a_permit_is_looked_at_and_then_added(site):
    ada = site.client("Ada")
    before = len(kinds(site))
    shown = look(ada, "/office/permits", [toml()])
    assert shown.status_code == 200, shown.text
    for words in ("Nothing is recorded yet", "tern-patch", "least 6.0 m [Special condition 4]", "<svg"):
        assert words in shown.text
    assert len(kinds(site)) == before
    added = ada.post("/office/permits/add", data=hidden(shown.text, "/office/permits/add"))
    assert added.status_code == 303
    assert kinds(site)[-1] == ("permit.added", "Ada")
    page = ada.get(added.headers["location"])
    assert page.status_code == 200, page.text
    assert "Permit ../TP/22 ä" in page.text
    assert "in force" in ada.get("/office/permits").text
    again = ada.post("/office/permits/add", data=hidden(shown.text, "/office/permits/add"))
    assert again.status_code == 409
    assert "recorded already" in again.text
    assert len(kinds(site)) == before + 1


def test_a_permit_takes_its_area_from_a_file_that_was_sent_with_it(site):
    ada = site.client("Ada")
    text = re.sub(r"corners = \[.*?\]\n", 'source = "../area.geojson"\n', NEW, flags=re.S).replace(
        "6318", "4326"
    )
    alone = look(ada, "/office/permits", [toml(text)])
    assert alone.status_code == 400
    assert "area.geojson, which was not sent with it" in alone.text
    files = [toml(text), ("areas", ("area.geojson", json.dumps(AREA).encode(), "application/json"))]
    shown = look(ada, "/office/permits", files)
    assert shown.status_code == 200, shown.text
    assert ada.post("/office/permits/add", data=hidden(shown.text, "/office/permits/add")).status_code == 303


@pytest.mark.parametrize(
    ("files", "told"),
    [
        ([toml("not toml at all [")], "is not TOML"),
        ([toml(PERMIT)], "Permit HB-0417 is recorded already"),
        ([toml(NEW, "permit.txt")], "its name ends in .toml"),
        ([toml(), toml(NEW, "permit.toml", "areas")], "Two files are called permit.toml"),
        ([toml(NEW.replace('rule = "spacing"', 'rule = "spacings"'))], "spacing"),
        ([toml("\x00\x01")], "not TOML"),
        ([], "its name ends in .toml"),
    ],
)
def test_what_cannot_be_a_permit_is_told_and_not_added(site, files, told):
    ada = site.client("Ada")
    before = len(kinds(site))
    answer = look(ada, "/office/permits", files or [("none", ("", b"", "text/plain"))])
    assert answer.status_code in {400, 409}
    assert told in answer.text
    assert len(kinds(site)) == before


def test_an_amendment_tells_what_changes_and_the_second_of_two_is_told_of_the_first(site):
    ada, eve = site.client("Ada"), site.client("Ada")
    fields = {"effective": "2026-03-01", "why": "Amendment 1", "seen": seen(ada)}
    shown = look(ada, "/office/permits/HB-0417/amendment", [toml(AMENDED)], **fields)
    assert shown.status_code == 200, shown.text
    assert "spacing: least 6.0 m [Special condition 4] -&gt; least 9.0 m" in shown.text
    late = look(eve, "/office/permits/HB-0417/amendment", [toml(PERMIT.replace("50 ft", "60 ft"))], **fields)
    assert late.status_code == 200
    done = ada.post("/office/permits/HB-0417/amend", data=hidden(shown.text, "/office/permits/HB-0417/amend"))
    assert done.status_code == 303, done.text
    assert kinds(site)[-1] == ("permit.amended", "Ada")
    refused = eve.post(
        "/office/permits/HB-0417/amend", data=hidden(late.text, "/office/permits/HB-0417/amend")
    )
    assert refused.status_code == 409
    assert "was amended since you looked at it" in refused.text
    assert "Ada, 20" in refused.text
    assert "least 9.0 m" in refused.text
    page = ada.get("/office/permits/HB-0417").text
    assert "Amendment 1" in page
    assert "as first issued" in page


def test_a_permit_is_transferred_and_the_list_says_so(site):
    ada = site.client("Ada")
    data = {
        "form_token": form_token(ada, "/office/permits"),
        "holder": "Tern Reef Trust",
        "effective": "2026-04-01",
        "why": "Letter of 3 March",
        "seen": seen(ada),
    }
    assert ada.post("/office/permits/HB-0417/transfer", data=data).status_code == 303
    assert "from 2026-04-01 on to Tern Reef Trust" in ada.get("/office/permits").text
    assert ada.post("/office/permits/HB-0417/transfer", data=data).status_code == 409
    assert ada.post("/office/permits/HB-0417/transfer", data=data | {"effective": "soon"}).status_code == 400


def cable(**changes):
    said = {"what": "keep-out", "kind": "cable", "setback": "200 ft", "frame": "EPSG:4326"} | changes
    return said, [("file", ("cable.geojson", json.dumps(CABLE).encode(), "application/geo+json"))]


def test_keep_outs_and_baselines_are_looked_at_and_then_added_once(site):
    ada = site.client("Ada")
    for said, kind in (
        (cable()[0], "keepout.added"),
        (cable(what="baseline", name="low water")[0], "baseline.added"),
    ):
        shown = look(ada, "/office/keep-outs", cable()[1], **said)
        assert shown.status_code == 200, shown.text
        assert "<svg" in shown.text
        form = hidden(shown.text, "/office/keep-outs/add")
        assert ada.post("/office/keep-outs/add", data=form).status_code == 303
        assert kinds(site)[-1] == (kind, "Ada")
        again = ada.post("/office/keep-outs/add", data=form)
        assert again.status_code == 409
        assert "recorded already" in again.text
    page = ada.get("/office/keep-outs").text
    assert "60.96 m" in page
    assert "<i>north" not in page
    plan = ada.get("/office/permits/HB-0417").text
    assert "cable &lt;i&gt;north&lt;/i&gt; cable" in plan


@pytest.mark.parametrize(
    ("changes", "told"),
    [
        ({"frame": ""}, "The frame is empty"),
        ({"frame": "other", "other_frame": ""}, "nothing typed"),
        ({"frame": "EPSG:4267"}, "but its source says"),
        ({"setback": "200"}, "unit"),
        ({"kind": ""}, "kind of the keep-out is empty"),
        ({"epoch": "soon"}, "no epoch"),
        ({"layer": "../x"}, "<strong>cable.geojson has no layer"),
    ],
)
def test_what_is_not_stated_of_shapes_is_asked_for(site, changes, told):
    ada = site.client("Ada")
    said, files = cable(**changes)
    answer = look(ada, "/office/keep-outs", files, **said)
    assert answer.status_code in {400, 404}, answer.text
    assert told in answer.text
    assert "/leadline-" not in answer.text
    assert "keepout.added" not in dict(kinds(site))


def test_the_layers_of_the_map_hold_what_the_permit_says_as_text(site):
    ada = site.client("Ada")
    said, files = cable()
    form = hidden(look(ada, "/office/keep-outs", files, **said).text, "/office/keep-outs/add")
    ada.post("/office/keep-outs/add", data=form)
    data = ada.get("/office/map/permit/HB-0417").json()
    told = {each["properties"]["kind"]: each["properties"]["name"] for each in data["layers"]["features"]}
    assert told["area"] == "gannet-patch"
    assert told["keep-out"] == "cable <i>north</i> cable, stay clear by 60.96 m"
    assert data["bounds"] == pytest.approx([33.99, -77.01, 34.01, -76.99])
    assert ada.get("/vendor/leaflet.js").headers["content-type"].startswith("text/javascript")
    assert ada.get("/vendor/..%2f..%2fleadline.gpkg").status_code == 404
    assert ada.get("/office/map/permit/none").status_code == 404


@pytest.mark.parametrize("name", ["Bo", "Cy", None])
def test_only_the_office_sees_or_changes_permits_here(site, name):
    client = site.client(name)
    for page in (
        "/office/permits",
        "/office/permits/HB-0417",
        "/office/keep-outs",
        "/office/map/permit/HB-0417",
    ):
        assert client.get(page).status_code == (303 if name is None else 403), page
    data = {"form_token": form_token(client, "/")} if name else {}
    for page in ("", "/add", "/HB-0417/amendment", "/HB-0417/amend", "/HB-0417/transfer"):
        assert client.post(f"/office/permits{page}", data=data).status_code == 403, page
    for page in ("/office/keep-outs", "/office/keep-outs/add"):
        assert client.post(page, data=data).status_code == 403, page


def test_a_form_without_the_sessions_token_changes_nothing(site):
    ada = site.client("Ada")
    shown = look(ada, "/office/permits", [toml()])
    form = hidden(shown.text, "/office/permits/add") | {"form_token": "x"}
    assert ada.post("/office/permits/add", data=form).status_code == 403
    forged = hidden(shown.text, "/office/permits/add") | {"sent": ["../../etc/passwd permit.toml"]}
    assert ada.post("/office/permits/add", data=forged).status_code == 404
