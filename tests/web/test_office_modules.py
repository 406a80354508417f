"""Modules in the office: found, added, read in, mended without overwriting a colleague, their placements set right."""

import re

import pytest

from registry.storage.clock import SystemClock
from registry.storage.geopackage import open_register
from tests.web.conftest import form_token
from tests.web.found import found


def opened(site):
    return open_register(site.registry, clock=SystemClock(), writable=False)


@pytest.fixture
def ada(site):
    return site.client("Ada")


def send(client, page, path, **fields):
    return client.post(path, data=fields | {"form_token": form_token(client, page)})


def test_the_list_is_searched(ada):
    told = ada.get("/office/modules?q=quill").text
    assert "MC-0001" in told
    assert "MC-0002" not in told
    assert "1 module with “quill”" in told


def test_a_module_is_added_with_its_actor(site, ada):
    answer = send(
        ada, "/office/modules/add", "/office/modules/add",
        tag="MC-0100", type="hump-90", cast="2026-03-02", mass="612 kg", memorial="Zoë Ångström", consent="yes",
    )  # fmt: skip
    assert (answer.status_code, answer.headers["location"]) == (303, "/office/module?tag=MC-0100")
    told = ada.get(answer.headers["location"]).text
    assert "Zoë Ångström" in told
    assert "612 kg" in told
    with opened(site) as register:
        *_, last = register.journal()
    assert (last.kind, last.actor) == ("module.added", "Ada")


@pytest.mark.parametrize(
    ("fields", "said"),
    [
        ({"mass": "612"}, "unit"),
        ({"cast": "02/03/2026"}, "02/03/2026"),
        ({"tag": "MC-0001"}, "recorded already"),
        ({"memorial": "", "language": "fr"}, "no name to which it belongs"),
        ({"type": "of-nobody"}, "no type"),
    ],
)
def test_what_cannot_be_recorded_is_told_and_what_was_typed_is_kept(ada, fields, said):
    typed = {"tag": "MC-0100", "type": "hump-90", "memorial": "<b>Zoë</b>"} | fields
    answer = send(ada, "/office/modules/add", "/office/modules/add", **typed)
    assert answer.status_code in (400, 404, 409)
    assert said in answer.text
    if typed["memorial"]:
        assert 'value="&lt;b&gt;Zoë&lt;/b&gt;"' in answer.text


def seen(client, tag="MC-0001"):
    text = client.get(f"/office/module/amend?tag={tag}").text
    return found(r'name="seen" value="(\w+)"', text)


def amended(client, version, **fields):
    said = {
        "tag": "MC-0001",
        "type": "hump-90",
        "memorial": "Ada Quill",
        "consent": "yes",
        "reason": "letter",
    }
    return send(
        client, "/office/module/amend?tag=MC-0001", "/office/module/amend", **(said | fields), seen=version
    )


def test_the_second_of_two_who_mend_a_module_is_told_who_changed_what(site, ada):
    eve = site.client("Ada")
    first = second = seen(ada)
    assert amended(ada, first, memorial="Ada Quille").status_code == 303
    answer = amended(eve, second, memorial="Ada Quill of Tern", reason="casting sheet")
    assert answer.status_code == 409
    told = answer.text.replace("&#39;", "'")
    assert "Ada changed it on 20" in told
    assert "memorial from “Ada Quill” to “Ada Quille”" in told
    assert 'value="Ada Quill of Tern"' in told
    assert 'value="casting sheet"' in told
    with opened(site) as register:
        assert register.module("MC-0001").memorial.name == "Ada Quille"
    again = found(r'name="seen" value="(\w+)"', answer.text)
    assert amended(eve, again, memorial="Ada Quill of Tern", reason="casting sheet").status_code == 303
    page = eve.get("/office/module?tag=MC-0001").text
    assert "memorial: Ada Quille → Ada Quill of Tern" in page
    assert "casting sheet" in page


def test_a_memorial_that_is_emptied_is_none_and_what_stands_is_left(site, ada):
    assert amended(ada, seen(ada), memorial="", consent="").status_code == 303
    with opened(site) as register:
        module = register.module("MC-0001")
    assert module.memorial is None
    assert module.mass_kg is None


def test_a_reason_is_asked_for(ada):
    answer = amended(ada, seen(ada), memorial="Ada Quille", reason="")
    assert answer.status_code == 400
    assert "The reason is empty" in answer.text
    assert 'value="Ada Quille"' in answer.text


def read_in(client, content, name="modules.csv"):
    token = form_token(client, "/office/modules")
    return client.post(
        "/office/modules/import", data={"form_token": token}, files={"file": (name, content, "text/csv")}
    )


def test_a_spreadsheet_is_read_in_and_nothing_of_it_is_lost(site, ada):
    rows = "tag,type,memorial,consent,colour\nMC-0200,hump-90,Ib Tarn,yes,red\nMC-0001,hump-90,,,\nMC-0201,none,,,\n"
    told = read_in(ada, rows.encode()).text
    assert "1 module recorded" in told
    assert "2 rows were not taken in" in told
    assert "colour" in told
    back = ada.get(found(r'href="(/office/modules/rejected/\w+)"', told))
    assert back.headers["content-disposition"].startswith("attachment")
    assert "MC-0201" in back.text
    assert "no type" in back.text
    with opened(site) as register:
        assert register.module("MC-0200").memorial.name == "Ib Tarn"
    again = read_in(ada, rows.encode()).text
    assert "0 modules recorded" in again
    assert "1 row stood already" in again


@pytest.mark.parametrize(
    "content", [b"", b"PK\x03\x04rubbish", b"\xff\xfe\x00", b"tag\nMC-9\n", b"\x00" * 40]
)
def test_a_file_that_is_no_spreadsheet_is_told(ada, content):
    answer = read_in(ada, content, "../../etc/modules.csv")
    assert answer.status_code in (400, 503)
    assert "Traceback" not in answer.text


@pytest.mark.parametrize("digest", ["..%2f..%2fleadline.gpkg", "0" * 64, "x"])
def test_no_other_file_can_be_fetched_as_rejected_rows(ada, digest):
    assert ada.get(f"/office/modules/rejected/{digest}").status_code == 404


def placement_of(site, tag):
    with opened(site) as register:
        return register.placement_ids(tag)[-1]


def test_a_placement_is_corrected_by_a_new_entry(site, ada):
    old = placement_of(site, "MC-0002")
    page = f"/office/placement?placement={old}"
    text = ada.get(page).text
    said = dict(re.findall(r'name="(\w+)" value="([^"]*)"', text)) | {"permit": "HB-0417"}
    said |= {"text": "34 00.2000 N 077 00.0000 W", "reason": "a digit was swapped"}
    answer = ada.post("/office/placement/correct", data=said)
    assert answer.status_code == 303, answer.text
    told = ada.get(answer.headers["location"]).text
    assert "a digit was swapped" in told
    assert "conforming" in told
    assert "nonconforming" not in told
    with opened(site) as register:
        *_, last = register.journal()
    assert (last.kind, last.actor) == ("placement.corrected", "Ada")
    assert ada.get(page).status_code == 404


def test_a_position_without_its_datum_is_not_taken_for_granted(site, ada):
    old = placement_of(site, "MC-0002")
    said = dict(
        re.findall(r'name="(\w+)" value="([^"]*)"', ada.get(f"/office/placement?placement={old}").text)
    )
    answer = ada.post(
        "/office/placement/correct", data=said | {"permit": "HB-0417", "frame": "", "reason": "x"}
    )
    assert answer.status_code == 400
    assert "which datum" in answer.text


def test_a_placement_is_withdrawn_with_a_reason(site, ada):
    old = placement_of(site, "MC-0002")
    page = f"/office/placement?placement={old}"
    assert send(ada, page, "/office/placement/withdraw", placement=old).status_code == 400
    answer = send(ada, page, "/office/placement/withdraw", placement=old, reason="never set down")
    assert answer.status_code == 303
    told = ada.get(answer.headers["location"]).text
    assert "not on the seabed yet" in told
    assert "never set down" in told


def test_the_first_page_tells_what_needs_doing(ada):
    told = " ".join(ada.get("/office").text.split())
    assert '<span class="figure">2</span> placements do not conform' in told
    assert "MC-0002" in told
    assert '<span class="figure">2</span> placed modules wait for their certificates' in told


def test_an_unknown_module_is_told(ada):
    answer = ada.get("/office/module?tag=MC-0O01")
    assert answer.status_code == 404
    assert "MC-0001" in answer.text
