"""Families and keepers in the office: nothing of a contact leaves its own file, and a chain tells where it breaks."""

import json
import re

import pytest

from registry.storage.account_file import open_accounts
from registry.storage.clock import SystemClock
from registry.storage.geopackage import open_register
from tests.web.conftest import form_token
from tests.web.found import found

FAMILY = "/office/families/of?tag=MC-0001"
CHAIN = "/office/custody/of?tag=MC-0001"
IDA = {
    "name": "Ida Quillonby",
    "relation": "daughter",
    "email": "ida@quillonby.example",
    "phone": "+1 910 555 0123",
    "address": "12 Dune Lane, <Tern>",
}


@pytest.fixture
def ada(site):
    return site.client("Ada")


def send(client, page, path, **fields):
    return client.post(path, data=fields | {"form_token": form_token(client, page)})


def keep(client, **fields):
    return send(client, FAMILY, "/office/families/contact", tag="MC-0001", **(IDA | fields))


def journal_of(site):
    with open_register(site.registry, clock=SystemClock(), writable=False) as register:
        return [(entry.kind, entry.actor, entry.body) for entry in register.journal()]


def test_a_contact_is_kept_apart_from_the_journal(site, ada):
    before = journal_of(site)
    assert keep(ada).status_code == 303
    told = ada.get(FAMILY).text
    assert "ida@quillonby.example" in told
    assert "12 Dune Lane, &lt;Tern&gt;" in told
    assert journal_of(site) == before
    for file in site.folder.iterdir():
        if file.is_file() and not file.name.endswith(".families"):
            assert b"Quillonby" not in file.read_bytes(), file
    assert "1 contact" in ada.get("/office/families").text


@pytest.mark.parametrize(
    ("fields", "said"),
    [
        ({"email": "nobody"}, "no e-mail address"),
        ({"name": ""}, "name of the contact"),
        ({"note": "a\nb"}, "note"),
    ],
)
def test_a_contact_that_will_not_do_is_told_and_kept_as_typed(ada, fields, said):
    answer = keep(ada, **fields)
    assert answer.status_code == 400
    assert said in answer.text
    assert 'value="+1 910 555 0123"' in answer.text


def test_the_same_contact_twice_is_told(ada):
    keep(ada)
    assert keep(ada).status_code == 409


def test_all_that_is_held_is_given_away(ada):
    keep(ada)
    text = ada.get("/office/families/held.txt?tag=MC-0001")
    assert text.headers["content-disposition"].startswith("attachment")
    assert "Ida Quillonby" in text.text
    assert "Ida Quillonby" in json.dumps(ada.get("/office/families/held.json?tag=MC-0001").json())


def seen(client):
    return found(r'name="seen" value="([^"]+)"', client.get(FAMILY).text)


def test_an_erasure_is_proved(site, ada):
    keep(ada)
    version = seen(ada)
    unsure = send(ada, FAMILY, "/office/families/erase", tag="MC-0001", seen=version)
    assert (unsure.status_code, "was not ticked" in unsure.text) == (400, True)
    told = send(ada, FAMILY, "/office/families/erase", tag="MC-0001", seen=version, sure="yes").text
    assert "Nothing of it was found in any file of the registry" in told
    assert "Erased of the family of MC-0001" in told
    assert "by Ada: 1 contact (name, relation, email, phone, address)" in told
    assert "Quillonby" not in told
    assert journal_of(site)[-1][:2] == ("family.erased", "Ada")
    for file in site.folder.rglob("*"):
        if file.is_file():
            assert b"quillonby" not in file.read_bytes().lower(), file
    assert "None is held" in ada.get(FAMILY).text


def test_what_still_stands_elsewhere_is_told(site, ada):
    keep(ada)
    (site.folder / "leadline.gpkg.copy").write_text("write to ida@quillonby.example")
    told = send(ada, FAMILY, "/office/families/erase", tag="MC-0001", sure="yes").text
    assert "Some of it still stands elsewhere" in told
    assert "leadline.gpkg.copy: the email of contact 1" in told


def test_only_what_was_seen_is_erased(ada):
    keep(ada)
    version = seen(ada)
    keep(ada, name="Tom Quillonby")
    answer = send(ada, FAMILY, "/office/families/erase", tag="MC-0001", contact="1", seen=version, sure="yes")
    assert answer.status_code == 409
    assert "was changed at" in answer.text
    assert "Ida Quillonby" in ada.get(FAMILY).text
    for number in ("7", "0", "-1", "²"):
        answer = send(
            ada, FAMILY, "/office/families/erase", tag="MC-0001", contact=number, seen=seen(ada), sure="yes"
        )
        assert answer.status_code in (400, 404), number
    assert "Ida Quillonby" in ada.get(FAMILY).text


def test_a_private_link_is_shown_once_and_ends(site, ada):
    made = send(ada, FAMILY, "/office/families/link", tag="MC-0001", expires="2090-12-31")
    address = found(r'value="(http[^"]+/family/[^"]+)"', made.text)
    secret = address.rsplit("/", 1)[1]
    assert len(secret) > 40
    assert "2090-12-31 23:59" in made.text
    told = ada.get(FAMILY).text
    assert secret not in told
    assert "<strong>open</strong> until 2090-12-31" in told
    assert secret.encode() not in (site.folder / "leadline.gpkg.accounts").read_bytes()
    nobody = site.client()
    assert nobody.get(f"/family/{secret}").status_code == 200
    assert send(ada, FAMILY, "/office/families/unlink", tag="MC-0001").status_code == 303
    assert nobody.get(f"/family/{secret}").status_code in (403, 404)
    assert [deed.actor for deed in open_accounts(site.registry).deeds()][-2:] == ["Ada", "Ada"]


def test_a_link_that_would_have_ended_is_told(ada):
    answer = send(ada, FAMILY, "/office/families/link", tag="MC-0001", expires="2020-01-01")
    assert (answer.status_code, "ended" in answer.text) == (400, True)
    assert send(ada, FAMILY, "/office/families/link", tag="MC-0003").status_code == 404


HANDED = {
    "step": "received",
    "when": "2025-01-14 09:30",
    "giver": "Skua Crematory",
    "giver_tag": "MC-0001",
    "giver_id": "C-48213",
    "taker": "Marram yard",
    "taker_tag": "MC-0001",
    "taker_id": "C-48213",
}


def hand_over(client, **fields):
    return send(client, CHAIN, "/office/custody/record", tag="MC-0001", **(HANDED | fields))


def test_a_hand_over_is_recorded_and_what_is_missing_told_where(site, ada):
    assert hand_over(ada).status_code == 303
    told = ada.get(CHAIN).text
    assert "number C-48213" in told
    assert (
        "The chain ends with “received” (2025-01-14); “cast”, “cured”, “loaded”, “placed” are not recorded"
        in told
    )
    kind, actor, body = journal_of(site)[-1]
    assert (kind, actor) == ("custody.handed", "Ada")
    assert "48213" not in body
    listed = ada.get("/office/custody").text
    assert "2 broken" in listed
    assert "The chain ends with" in listed


def test_identifiers_that_do_not_agree_are_recorded_and_told(ada):
    assert hand_over(ada, taker_id="C-48231", taker_tag="MC-0007").status_code == 303
    told = ada.get(CHAIN).text
    assert "Marram yard (taking) read the tag MC-0007, not MC-0001" in told
    assert "read another identification" in told


@pytest.mark.parametrize("field", ["step", "when", "giver", "giver_tag", "giver_id", "taker_tag", "taker_id"])
def test_a_hand_over_that_is_not_told_whole_is_not_recorded(site, ada, field):
    length = len(journal_of(site))
    answer = hand_over(ada, **{field: ""})
    assert answer.status_code == 400
    assert 'value="Marram yard"' in answer.text
    assert len(journal_of(site)) == length


def test_a_relative_is_not_named_in_the_chain(site, ada):
    keep(ada)
    answer = hand_over(ada, giver="Ida Quillonby")
    assert answer.status_code == 400
    assert "Write “the family” instead" in answer.text
    assert not any("Quillonby" in body for _, _, body in journal_of(site))


def test_a_hand_over_is_corrected_and_withdrawn_with_a_reason(site, ada):
    hand_over(ada)
    entry = found(r'<option value="([0-9a-f]{8}-\d+)"', ada.get(CHAIN).text)
    assert hand_over(ada, giver_id="C-48214", corrects=entry).status_code == 400
    assert hand_over(ada, taker="Tern yard", corrects=entry, reason="another yard").status_code == 303
    told = ada.get(CHAIN).text
    assert f"in place of {entry}: another yard" in told
    newer = re.findall(r'<option value="([0-9a-f]{8}-\d+)"', told)[-1]
    assert send(ada, CHAIN, "/office/custody/withdraw", tag="MC-0001", entry=newer).status_code == 400
    answer = send(ada, CHAIN, "/office/custody/withdraw", tag="MC-0001", entry=newer, reason="never was")
    assert answer.status_code == 303
    assert "No hand-over of it is recorded" in ada.get(CHAIN).text


def test_an_unknown_tag_is_told(ada):
    for path in ("/office/custody/of", "/office/families/of"):
        assert ada.get(f"{path}?tag=MC-0O01").status_code == 404
