"""Modules observed again, in the office: the verdict is seen before anything is recorded, and recorded once."""

import re

import pytest

from registry.storage.clock import SystemClock
from registry.storage.geopackage import open_register
from tests.web.conftest import form_token

#: MC-0001 lies at 34 00.1000 N 077 00.0000 W to 2 m.
STILL = {
    "tag": "MC-0001",
    "at": "34 00.1003 N 077 00.0000 W",
    "when": "2026-09-01",
    "frame": "EPSG:6318",
    "r95": "2 m",
}
MOVED = STILL | {"at": "34 00.1200 N 077 00.0000 W"}
LIST = (
    "tag,position,when,r95\n"
    "MC-0001,34 00.1200 N 077 00.0000 W,2026-09-01,2 m\n"
    "MC-0002,34 00.1015 N 077 00.0000 W,2026-09-01,2 m\n"
    "MC-0099,34 00.1015 N 077 00.0000 W,2026-09-01,2 m\n"
    "MC-0001,34 00.1,2026-09-01,2 m\n"
)


def resurveys(site):
    with open_register(site.registry, clock=SystemClock(), writable=False) as register:
        return [
            (entry.content()["tag"], entry.actor) for entry in register.journal(kind="placement.resurveyed")
        ]


def hidden(text, action):
    form = text.split(f'action="{action}"', 1)[1].split("</form>", 1)[0]
    return dict(re.findall(r'<input type="hidden" name="([^"]+)" value="([^"]*)"', form))


def look(client, **typed):
    return client.post(
        "/office/resurveys", data={"form_token": form_token(client, "/office/resurveys"), **typed}
    )


def send(client, content=LIST, name="storm.csv", **stated):
    data = {"form_token": form_token(client, "/office/resurveys"), "frame": "EPSG:6318", **stated}
    files = {"file": (name, content.encode() if isinstance(content, str) else content, "text/csv")}
    return client.post("/office/resurveys/list", data=data, files=files)


@pytest.mark.parametrize(
    ("typed", "verdict", "words"),
    [
        (STILL, "not shown to have moved", "would have shown (95 %)"),
        (MOVED, "moved", "moved 37.0 ± 2.9 m toward 000° true"),
    ],
)
def test_the_verdict_is_seen_first_and_then_recorded_once(site, typed, verdict, words):
    ada = site.client("Ada")
    shown = look(ada, **typed)
    assert shown.status_code == 200, shown.text
    assert f"</svg>{verdict}</span>" in shown.text
    assert words in shown.text
    assert resurveys(site) == []
    form = hidden(shown.text, "/office/resurveys/record")
    assert ada.post("/office/resurveys/record", data=form).status_code == 303
    again = ada.post("/office/resurveys/record", data=form)
    assert again.status_code == 409
    assert "taken in before" in again.text
    assert resurveys(site) == [("MC-0001", "Ada")]
    assert words in ada.get("/office/resurveys").text
    kind = "MOVED" if verdict == "moved" else "NOT_SHOWN"
    assert words in ada.get(f"/office/resurveys?show={kind}").text
    assert words not in ada.get("/office/resurveys?show=INCONCLUSIVE").text


@pytest.mark.parametrize(
    ("changes", "told"),
    [
        ({"frame": ""}, "The frame of the position is empty"),
        ({"tag": "MC-0009"}, "MC-0009"),
        ({"at": "34.1 77.0"}, "hemisphere"),
        ({"when": "01/09/26"}, "01/09/26"),
        ({"r95": "2"}, "unit"),
        ({"receiver": "rtk"}, "Both"),
        ({"tag": "MC-0003"}, "MC-0003"),
        ({"tag": "<b>"}, "&lt;b&gt;"),
    ],
)
def test_what_cannot_be_an_observation_is_told_and_what_was_typed_stays(site, changes, told):
    ada = site.client("Ada")
    answer = look(ada, **(STILL | changes))
    assert answer.status_code in {400, 404}, answer.text
    assert told in answer.text
    assert 'value="2026-09-01"' in answer.text or "when" in changes
    assert resurveys(site) == []


def test_a_list_is_looked_at_recorded_and_its_bad_rows_given_back(site):
    ada = site.client("Ada")
    shown = send(ada)
    assert shown.status_code == 200, shown.text
    assert "MC-0001 moved" in shown.text
    assert "MC-0002 not shown to have moved" in shown.text
    assert "2 modules compared" in shown.text
    assert "the NSSDA asks for at least 20" in shown.text
    assert "With fewer than five modules" in shown.text
    assert resurveys(site) == []
    rejects = ada.post(
        "/office/resurveys/list/rejected", data=hidden(shown.text, "/office/resurveys/list/rejected")
    )
    assert rejects.text.count("\r\n") == 3
    assert "MC-0099" in rejects.text
    form = hidden(shown.text, "/office/resurveys/list/record")
    done = ada.post("/office/resurveys/list/record", data=form)
    assert "2 observations are recorded" in done.text
    assert resurveys(site) == [("MC-0001", "Ada"), ("MC-0002", "Ada")]
    again = ada.post("/office/resurveys/list/record", data=form)
    assert "0 observations are recorded" in again.text
    assert len(resurveys(site)) == 2
    assert "Nothing new" in send(ada).text


def test_what_is_stated_stands_for_rows_that_do_not_say(site):
    ada = site.client("Ada")
    bare = "tag,lat,lon\nMC-0001,34.0016667 N,77.0000000 W\n"
    assert "when (or date)" in send(ada, bare).text
    shown = send(ada, bare, when="2026-09-01", receiver="rtk", crew="Bo")
    assert shown.status_code == 200, shown.text
    ada.post("/office/resurveys/list/record", data=hidden(shown.text, "/office/resurveys/list/record"))
    with open_register(site.registry, clock=SystemClock(), writable=False) as register:
        (body,) = register.resurveys()
    assert body["crew"] == "Bo"
    assert body["observed"]["r95_m"] < 1.0
    assert send(ada, bare, when="2026-09-01", receiver="rtk", r95="1 m").status_code == 400


@pytest.mark.parametrize(
    "content", [b"", b"PK\x03\x04xx", b"\x00\x01", b"tag;position\n", b"a,b\n1,2\n", b"\xff\xfet\x00a"]
)
def test_what_is_no_list_is_told(site, content):
    answer = send(site.client("Ada"), content)
    assert answer.status_code in {400, 503}
    assert "Not done" in answer.text
    assert resurveys(site) == []


@pytest.mark.parametrize("name", ["Bo", "Cy", None])
def test_only_the_office_sees_or_records_them_here(site, name):
    client = site.client(name)
    assert client.get("/office/resurveys").status_code == (303 if name is None else 403)
    data = {"form_token": form_token(client, "/")} if name else {}
    for page in ("", "/record", "/list", "/list/record", "/list/rejected"):
        assert client.post(f"/office/resurveys{page}", data=data | STILL).status_code == 403, page


def test_a_forged_file_or_token_records_nothing(site):
    ada = site.client("Ada")
    shown = send(ada)
    form = hidden(shown.text, "/office/resurveys/list/record")
    assert (
        ada.post("/office/resurveys/list/record", data=form | {"sent": "../../leadline.gpkg"}).status_code
        == 404
    )
    assert ada.post("/office/resurveys/list/record", data=form | {"form_token": "x"}).status_code == 403
    assert resurveys(site) == []
