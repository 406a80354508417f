"""Certificates in the office: one by one, many behind the page, taken away, withdrawn, duplicated, published."""

import io
import json
import time
import zipfile

import pytest

from registry.actions.add_module import add_modules
from registry.actions.withdraw_placement import withdraw_placement
from registry.formats.sealed_pdf import verify_sealed
from registry.records.module import Memorial, Module
from registry.storage.clock import SystemClock
from registry.storage.geopackage import open_register
from registry.web import certificate_batch
from tests.web.conftest import form_token
from tests.web.found import found

BATCH = "/office/certificates/batch"


def place(site, tag, at, hour=12):
    from registry.cli.main import run

    line = ("place", tag, "--permit", "HB-0417", "--frame", "EPSG:6318", "--r95", "2 m", "--depth", "70 ft")
    when = f"2026-06-15T{hour}:02-04:00"
    run((*line, "--depth-u95", "1 ft", "--at", at, "--when", when, "--registry", str(site.registry)))


def remembered(site, *tags):
    with opened(site, writable=True) as register:
        made = [Module(tag=tag, type_id="hump-90", memorial=Memorial(name=f"Ib Tarn {tag}")) for tag in tags]
        add_modules(register, made, actor="Ada")


@pytest.fixture
def ada(site):
    """Give the office, with one module that conforms and one that lies outside the permit's area."""
    with opened(site, writable=True) as register:
        withdraw_placement(register, register.placement_ids("MC-0002")[0], reason="not there", actor="Ada")
    place(site, "MC-0002", "34 02.0000 N 077 00.0000 W")
    return site.client("Ada")


def opened(site, *, writable=False):
    return open_register(site.registry, clock=SystemClock(), writable=writable)


def send(client, page, path, **fields):
    return client.post(path, data=fields | {"form_token": form_token(client, page)})


def issue(client, tag="MC-0001", **fields):
    return send(client, "/office/certificates", "/office/certificates/issue", tag=tag, **fields)


def ended(client, within_s=60.0):
    """Wait until the run has ended, and give its state."""
    for _ in range(int(within_s / 0.05)):
        state = client.get(f"{BATCH}.json").json()
        if not state["running"]:
            return state
        time.sleep(0.05)
    raise AssertionError(state)


def keys(site):
    with opened(site) as register:
        return {each.key_id: each.public_key for each in register.signing_keys()}


def test_one_is_issued_with_its_actor_and_its_paper_proves_itself(site, ada):
    answer = issue(ada)
    assert answer.status_code == 303, answer.text
    page = ada.get(answer.headers["location"])
    assert "current" in page.text
    paper = ada.get(found(r'href="(/office/certificates/paper\?[^"]*)"', page.text).replace("&amp;", "&"))
    assert paper.headers["content-type"] == "application/pdf"
    assert verify_sealed(paper.content, keys(site))["name"] == "Ada Quill"
    with opened(site) as register:
        *_, last = register.journal()
    assert (last.kind, last.actor) == ("certificate.issued", "Ada")


def test_what_speaks_against_one_is_told_and_a_reason_asked_for(site, ada):
    answer = issue(ada, "MC-0002")
    assert answer.status_code == 409
    assert "Something speaks against a certificate for MC-0002" in answer.text
    assert "outside" in answer.text
    assert issue(ada, "MC-0002", despite="the family insists").status_code == 303
    with opened(site) as register:
        *_, last = register.journal()
    assert last.content()["despite"] == "the family insists"


@pytest.mark.parametrize(
    ("tag", "said"), [("MC-0003", "remembers nobody"), ("MC-0O09", "There is no module"), ("", "empty")]
)
def test_what_cannot_be_certified_is_told(ada, tag, said):
    answer = issue(ada, tag)
    assert answer.status_code in (400, 404)
    assert said in answer.text


def test_a_missing_key_is_told_plainly(site, ada):
    for file in (site.folder / "keys").iterdir():
        file.unlink()
    assert (
        "No certificate can be issued here: The programme&#39;s signing key"
        in ada.get("/office/certificates").text
    )
    for answer in (issue(ada), send(ada, BATCH, BATCH, permit="")):
        assert answer.status_code == 503
        assert "Copy the key file" in answer.text


def test_many_are_issued_behind_the_page_and_refused_ones_told(site, ada):
    assert send(ada, BATCH, BATCH, permit="HB-0417").headers["location"] == BATCH
    state = ended(ada)
    assert (state["state"], state["done"], state["total"]) == ("finished", 2, 2)
    assert (state["counts"]["issued"], state["counts"]["refused"], state["refused"]) == (1, 1, 1)
    page = ada.get(BATCH).text
    assert "The run is finished" in page
    assert "Something speaks against a certificate for MC-0002" in page
    assert "Why MC-0002 is issued all the same" in page
    packed = zipfile.ZipFile(io.BytesIO(ada.get("/office/certificates/papers.zip?permit=HB-0417").content))
    (name,) = packed.namelist()
    assert verify_sealed(packed.read(name), keys(site))["name"] == "Ada Quill"
    with opened(site) as register:
        assert [each.actor for each in register.journal(kind="certificate.issued")] == ["Ada"]


def test_a_run_goes_on_where_it_was_stopped(site, ada):
    send(ada, BATCH, BATCH, permit="")
    ended(ada)
    (paper,) = (site.folder / "leadline.gpkg.papers").glob("*.pdf")
    send(ada, BATCH, BATCH, permit="")
    assert ended(ada)["counts"]["kept"] == 1
    paper.write_bytes(paper.read_bytes()[:500])
    send(ada, BATCH, BATCH, permit="")
    assert ended(ada)["counts"]["again"] == 1
    with opened(site) as register:
        assert len(register.certificates()) == 1


def many(site, count=6):
    """Place some modules far from each other, each with a memorial."""
    tags = [f"MC-1{k:03d}" for k in range(count)]
    remembered(site, *tags)
    for k, tag in enumerate(tags):
        place(site, tag, f"34 00.{2000 + 200 * k:04d} N 077 00.0000 W", hour=10 + k)


def test_a_second_run_is_refused_and_a_run_can_be_stopped(site, ada):
    many(site)
    send(ada, BATCH, BATCH, permit="")
    second = send(ada, "/office/certificates", BATCH, permit="")
    assert second.status_code == 409
    assert "being issued already, for Ada" in second.text
    for _ in range(1200):
        if ada.get(f"{BATCH}.json").json()["done"]:
            break
        time.sleep(0.05)
    send(ada, "/office/certificates", f"{BATCH}/stop")
    state = ended(ada)
    assert state["state"] == "stopped"
    assert 0 < state["done"] < state["total"] == 8
    assert "The run was stopped" in ada.get(BATCH).text
    send(ada, BATCH, BATCH, permit="")
    state = ended(ada)
    assert (state["state"], state["done"]) == ("finished", 8)
    assert state["counts"]["issued"] + state["counts"]["kept"] == 7


def test_a_server_that_ended_in_the_middle_says_so_when_it_begins_again(site, ada, monkeypatch):
    send(ada, BATCH, BATCH, permit="")
    ended(ada)
    file = site.folder / "leadline.gpkg.papers" / "batch.json"
    noted = json.loads(file.read_text())
    file.write_text(json.dumps(noted | {"state": "issuing", "done": 1}))
    monkeypatch.setattr(certificate_batch, "_RUNS", {})
    assert "was cut off when the server ended" in ada.get(BATCH).text
    assert "cut off at 1 of 2" in ada.get("/office/certificates").text
    file.write_text("{")
    assert ada.get(BATCH).status_code == 200


def test_a_run_that_fails_says_why(site, ada, monkeypatch):
    import registry.storage.replay
    from registry.errors import RejectedError

    def refuse(*_, **__):
        raise RejectedError("The journal does not prove itself.", remedy="Put a backup back.")

    monkeypatch.setattr(registry.storage.replay, "insist_on_proof", refuse)
    send(ada, BATCH, BATCH, permit="")
    assert ended(ada)["state"] == "failed"
    assert "The journal does not prove itself." in ada.get(BATCH).text


def test_a_certificate_is_duplicated_and_withdrawn(site, ada):
    page = issue(ada).headers["location"]
    number = page.split("=")[1]
    assert send(ada, page, "/office/certificates/duplicate", number=number).status_code == 303
    copy = ada.get(f"/office/certificates/paper?number={number}&version=1&duplicate=1")
    assert verify_sealed(copy.content, keys(site))["duplicate"] == 1
    assert send(ada, page, "/office/certificates/withdraw", number=number).status_code == 400
    assert (
        send(ada, page, "/office/certificates/withdraw", number=number, reason="mixed up").status_code == 303
    )
    text = ada.get(page).text
    assert "withdrawn" in text
    assert "mixed up" in text
    assert send(ada, page, "/office/certificates/duplicate", number=number).status_code == 409
    assert issue(ada).status_code == 409
    assert issue(ada, despite="found again").status_code == 303
    assert "current" in ada.get(page).text


def test_the_list_to_publish_names_nobody(site, ada):
    issue(ada)
    packed = zipfile.ZipFile(io.BytesIO(ada.get("/office/certificates/status.zip").content))
    assert sorted(packed.namelist()) == ["index.html", "public_key.pem", "status.jws"]
    assert all(
        b"Quill" not in packed.read(name) and b"MC-0001" not in packed.read(name)
        for name in packed.namelist()
    )


@pytest.mark.parametrize(
    "query", ["number=../../x", "number=MCMR-2026-000001-00", "number=%00", "number=MC-0003"]
)
def test_a_number_that_is_none_is_told(ada, query):
    for path in ("of", "paper"):
        answer = ada.get(f"/office/certificates/{path}?{query}")
        assert answer.status_code in (400, 404), answer.text
        assert "foresaw" not in answer.text


def test_there_is_nothing_to_take_away_before_something_is_issued(ada):
    assert ada.get("/office/certificates/papers.zip").status_code == 404


def test_the_list_is_searched_by_state(site, ada):
    issue(ada)
    assert "MC-0001" in ada.get("/office/certificates?state=current&q=quill").text
    assert "0 versions" in ada.get("/office/certificates?state=withdrawn").text
