"""A family's own page: what it tells, what it changes, and that it tells nothing of anybody else."""

import json
import logging
import re
from dataclasses import dataclass
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from starlette.testclient import TestClient

from registry.actions.open_family_link import open_family_link
from registry.actions.revoke_family_link import revoke_family_link
from registry.cli.main import run
from registry.storage.account_file import AccountFile, open_accounts
from registry.storage.clock import SystemClock
from registry.storage.geopackage import open_register
from tests.fakes import FixedClock
from tests.web.conftest import Site, form_token

PAGES = ("", "/plaque", "/visit", "/listing", "/contact", "/erasure")
FILES = ("/plan.svg", "/plaque.svg", "/plaque.pdf", "/certificate.pdf")
FORMS = ("/plaque/words", "/plaque/answer", "/visit", "/listing", "/contact", "/erasure")
IDA = {"name": "Ida Quill", "email": "ida@quill.example", "phone": "+1 910 555 0123", "relation": "daughter"}
TOM = {
    "name": "Tom Marsh",
    "email": "tom@marsh.example",
    "phone": "+1 910 555 0777",
    "address": "12 Dune Lane",
}


@dataclass
class Homes:
    """Two families with a private link each."""

    site: Site
    #: Where their pages begin.
    quill: str
    marsh: str

    def entries(self, kind: str = "") -> list[Any]:
        with open_register(self.site.registry, clock=SystemClock(), writable=False) as register:
            return [entry for entry in register.journal() if entry.kind.startswith(kind)]

    def held(self) -> str:
        file = self.site.registry.with_name(f"{self.site.registry.name}.families")
        return file.read_text(encoding="utf-8") if file.exists() else ""


def opened(site: Site, tag: str, clock: Any = None, **options: Any) -> str:
    """Give a family a private link, and the path where its pages begin."""
    clock = clock or SystemClock()
    with open_register(site.registry, clock=clock, writable=False) as register:
        accounts = open_accounts(site.registry)
        return open_family_link(register, accounts, clock, tag=tag, actor="Ada", **options).path


@pytest.fixture
def homes(site: Site) -> Homes:
    for tag, contact in (("MC-0001", IDA), ("MC-0002", TOM)):
        told = [part for name, text in contact.items() for part in (f"--{name}", text)]
        assert run(("family", "add", tag, *told)) == 0
    return Homes(site, opened(site, "MC-0001"), opened(site, "MC-0002"))


@pytest.fixture
def issued(homes: Homes) -> Path:
    """Issue the certificates of both."""
    for tag in ("MC-0001", "MC-0002"):
        seen = ("--despite", "both seen by divers", "--actor", "Ada")
        assert run(("certificate", tag, "--out", "papers", *seen)) == 0
    return Path("papers")


@pytest.fixture
def client(homes: Homes) -> TestClient:
    return homes.site.client()


def field(text: str, name: str, nth: int = 0) -> str:
    found: list[str] = re.findall(rf'name="{name}" value="([^"]*)"', text)
    return found[nth]


def said(answer: Any) -> str:
    """Give what a person reads of a page."""
    text = re.sub(r"<[^>]+>", " ", answer.text.split("<main", 1)[1].split("</main>")[0])
    return " ".join(text.replace("&#39;", "'").split())


def test_it_says_where_and_how_sure_in_plain_words(homes, client):
    answer = client.get(homes.quill)
    words = said(answer)
    assert "In memory of Ada Quill" in words
    assert "set on the sea floor on 14 June 2026" in words
    assert re.search(r"within 2\.\d metres of this point", words)
    assert "nineteen are at least that close" in words
    assert "34 00.10" in words
    assert "MLLW is mean lower low water" in words
    assert "R95" not in words
    assert "<title>In memory" in answer.text
    assert len(answer.content) < 20_000


def test_every_page_and_file_opens_and_is_kept_by_nobody(homes, issued, client):
    secret = homes.quill.rpartition("/")[2]
    for path in (*PAGES, *FILES):
        answer = client.get(homes.quill + path)
        assert answer.status_code == 200, path
        assert answer.headers["cache-control"] == "no-store"
        # With no-referrer a browser would say of our own forms that they come from nowhere.
        assert answer.headers["referrer-policy"] == "same-origin"
        title = re.search(r"<title>(.*?)</title>", answer.text)
        assert not title or (secret not in title[1] and "Quill" not in title[1]), path
        assert not re.search(r'(?:src|href|action)="https?:', answer.text), path
        if path in PAGES or path.endswith("svg"):
            assert "noindex" in answer.headers["x-robots-tag"]
    assert client.get(homes.quill + "/certificate.pdf").content.startswith(b"%PDF")
    policy = client.get(homes.quill + "/plaque.svg").headers["content-security-policy"]
    assert policy.startswith("default-src 'none'")
    assert "sandbox" in policy


def test_the_certificate_is_the_one_that_was_issued(homes, issued, client):
    papers = {file.read_bytes() for file in issued.glob("*-v1.pdf")}
    length = len(homes.entries())
    assert client.get(homes.quill + "/certificate.pdf").content in papers
    assert client.get(homes.quill + "/certificate.pdf").content != client.get(homes.marsh + "/certificate.pdf").content  # fmt: skip
    amend = ("module", "amend", "MC-0001", "--memorial", "Ada M. Quill", "--reason", "misspelt")
    assert run((*amend, "--actor", "Ada")) == 0
    assert "changed since it was issued" in said(client.get(homes.quill))
    assert client.get(homes.quill + "/certificate.pdf").content in papers
    assert len(homes.entries()) == length + 1
    assert len(homes.entries("certificate.")) == 2


def test_where_nothing_was_placed_or_issued_it_says_so(site):
    assert run(("module", "amend", "MC-0003", "--memorial", "Cora Dune", "--reason", "named", "--actor", "Ada")) == 0  # fmt: skip
    home, client = opened(site, "MC-0003"), site.client()
    assert "has not been set on the sea floor yet" in said(client.get(home))
    assert "has not been issued yet" in said(client.get(home))
    assert "cannot be drawn yet" in said(client.get(home + "/plaque"))
    assert client.get(home + "/certificate.pdf").status_code == 404
    assert client.get(home + "/plaque.svg").status_code == 404
    answer = client.post(home + "/visit", data={"name": "X", "position": "33 53.1 N 077 30.5 W", "day": "2026-12-01"})  # fmt: skip
    assert answer.status_code == 404
    assert "was not placed yet" in said(answer)


# --- links that open nothing


def dead_links(site: Site, homes: Homes) -> dict[str, str]:
    gone = opened(site, "MC-0001", FixedClock(SystemClock().now() - timedelta(days=9)),
                  expires_at=SystemClock().now() - timedelta(days=1))  # fmt: skip
    revoked = homes.marsh
    revoke_family_link(open_accounts(site.registry), SystemClock(), tag="MC-0002", actor="Ada")
    living = homes.quill
    return {
        "expired": gone,
        "revoked": revoked,
        "wrong": "/family/" + "A" * 43,
        "cut": living[:-1],
        "longer": living + "A",
        "other case": living.swapcase().replace("/FAMILY/", "/family/"),
        "a tag": "/family/MC-0001",
        "script": "/family/<script>alert(1)",
        "climbing": "/family/%2e%2e",
    }


def test_wrong_revoked_and_expired_links_are_one_page(homes, issued, client):
    dead = dead_links(homes.site, homes)
    assert client.get(homes.quill).status_code == 200
    for path in (*PAGES, *FILES):
        told = {name: client.get(link + path) for name, link in dead.items()}
        assert {answer.status_code for answer in told.values()} == {404}, path
        wrong = told["wrong"].text
        assert [name for name, answer in told.items() if answer.text != wrong] == [], path
    for path in FORMS:
        pages = {(a.status_code, a.text) for a in (client.post(link + path, data={"tag": "MC-0002"}) for link in dead.values())}  # fmt: skip
        assert len(pages) == 1, path
        assert next(iter(pages))[0] == 404
    assert "MC-" not in next(iter(pages))[1]
    assert not homes.entries("family.erased")


def test_they_cost_the_same_work(homes, client, monkeypatch):
    """A link that never was is looked for as one that is dead: once, by its digest, and nothing is opened."""
    dead, asked = dead_links(homes.site, homes), []
    found = AccountFile.family_link

    def counted(accounts: AccountFile, digest: str) -> Any:
        asked.append(len(digest))
        return found(accounts, digest)

    def never(*_: Any, **__: Any) -> None:
        raise AssertionError("the registry was opened")

    monkeypatch.setattr(AccountFile, "family_link", counted)
    monkeypatch.setattr("registry.storage.geopackage.open_register", never)
    for name in ("wrong", "revoked", "expired", "cut"):
        asked.clear()
        assert client.get(dead[name]).status_code == 404
        assert asked == [64], name


def test_the_secret_stands_in_no_log(homes, client, caplog, monkeypatch):
    secret = homes.quill.rpartition("/")[2]
    with caplog.at_level(logging.DEBUG):
        client.get(homes.quill)
        client.get(homes.quill + "/nothing")
        client.post(homes.quill + "/listing", data={})
        import registry.web.family_pages as pages

        def broken(*_: Any, **__: Any) -> None:
            raise RuntimeError("unforeseen")

        monkeypatch.setattr(pages, "family_page", broken)
        assert client.get(homes.quill).status_code == 500
    ours = [record for record in caplog.records if not record.name.startswith("httpx")]
    assert any("/family/..." in record.getMessage() for record in ours)
    formatter = logging.Formatter()
    assert not any(secret in formatter.format(record) for record in ours)


# --- nothing of other families


def test_no_family_sees_or_changes_anything_of_another(homes, client):
    """Each of two families opens everything that its link opens, and nothing of it is the other's."""
    for home, other, tag in ((homes.quill, TOM, "MC-0002"), (homes.marsh, IDA, "MC-0001")):
        for path in PAGES:
            text = client.get(home + path).text
            assert not any(word in text for word in other.values() if len(word) > 9), path
            assert tag not in text, path
    own = client.get(homes.quill + "/contact").text
    theirs = client.get(homes.marsh + "/contact").text
    before = homes.held()
    # The other family's form, sent to one's own address: what it carries opens nothing of theirs.
    for do in ("remove", "keep"):
        sent = {"do": do, "seen": field(theirs, "seen"), "name": "Eve Intruder"}
        assert client.post(homes.quill + "/contact", data=sent).status_code == 409
    assert homes.held() == before
    answer = client.post(homes.quill + "/erasure", data={"tag": "MC-0002"})
    assert answer.status_code == 400
    assert homes.held() == before
    drawing = field(client.get(homes.marsh + "/plaque").text, "drawing")
    sent = {"answer": "approve", "drawing": drawing}
    assert client.post(homes.quill + "/plaque/answer", data=sent).status_code == 409
    sent = {"listed": "no", "seen": field(client.get(homes.marsh + "/listing").text, "seen")}
    assert client.post(homes.quill + "/listing", data=sent).status_code == 409
    assert not homes.entries("plaque.")
    assert not homes.entries("module.amended")
    assert own == client.get(homes.quill + "/contact").text
    # Files of the other, by every address that might lead there.
    for path in ("/certificate.pdf?tag=MC-0002", "/plaque.svg?tag=MC-0002", "/../MC-0002/certificate.pdf"):
        answer = client.get(homes.quill + path)
        assert b"Marsh" not in answer.content, path


def test_looking_changes_nothing(homes, issued, client):
    length, held = len(homes.entries()), homes.held()
    for _ in range(2):
        for path in (*PAGES, *FILES):
            client.get(homes.quill + path)
            client.head(homes.quill + path)
    for path in FORMS:
        client.get(homes.quill + path, params={"tag": "MC-0001", "listed": "no", "do": "remove", "answer": "approve"})  # fmt: skip
    assert (len(homes.entries()), homes.held()) == (length, held)


# --- what a family changes


def test_a_plaque_is_worded_drawn_and_approved(homes, client):
    page = client.get(homes.quill + "/plaque")
    words = {"heading": "Forever in the tide", "dates": "1941 – 2024", "words": "Keeper of the light\n\nand of us",
             "seen": field(page.text, "seen")}  # fmt: skip
    assert client.post(homes.quill + "/plaque/words", data=words).status_code == 303
    page = client.get(homes.quill + "/plaque")
    assert all(word in page.text for word in ("Forever in the tide", "1941 – 2024", "Keeper of the light", "and of us"))  # fmt: skip
    assert client.post(homes.quill + "/plaque/words", data=words).status_code == 409
    assert not homes.entries("plaque.")
    drawing = field(page.text, "drawing")
    answer = {"answer": "approve", "drawing": drawing}
    assert client.post(homes.quill + "/plaque/answer", data=answer).status_code == 303
    assert client.post(homes.quill + "/plaque/answer", data=answer).status_code == 303
    (entry,) = homes.entries("plaque.")
    assert (entry.kind, entry.actor) == ("plaque.approved", "family of MC-0001")
    assert json.loads(entry.body) == {"tag": "MC-0001", "artwork_sha256": drawing}
    assert "You approved this plaque" in said(client.get(homes.quill + "/plaque"))
    assert run(("plaque", "MC-0001", "--approved", "--out", "plaques")) == 0
    from hashlib import sha256

    assert sha256(Path("plaques/plaque-MC-0001.svg").read_bytes()).hexdigest() == drawing
    journal = "".join(entry.body for entry in homes.entries())
    assert not any(word in journal for word in ("1941", "Keeper", "Forever"))
    assert run(("journal", "verify")) == 0


def test_what_changed_since_it_was_approved_is_not_engraved(homes, client):
    drawing = field(client.get(homes.quill + "/plaque").text, "drawing")
    client.post(homes.quill + "/plaque/answer", data={"answer": "approve", "drawing": drawing})
    amend = ("module", "amend", "MC-0001", "--memorial", "Ada M. Quill", "--reason", "misspelt")
    assert run((*amend, "--actor", "Ada")) == 0
    assert "it has changed since" in said(client.get(homes.quill + "/plaque"))
    assert run(("plaque", "MC-0001", "--approved", "--out", "plaques")) == 2
    answer = {"answer": "approve", "drawing": drawing}
    refused = client.post(homes.quill + "/plaque/answer", data=answer)
    assert refused.status_code == 409
    assert "has changed since you opened" in said(refused)


def test_a_change_is_asked_for_in_words_that_the_journal_never_learns(homes, client):
    drawing = field(client.get(homes.quill + "/plaque").text, "drawing")
    sent = {"answer": "change", "drawing": drawing, "request": "Please spell it Adah"}
    assert client.post(homes.quill + "/plaque/answer", data=sent).status_code == 303
    (entry,) = homes.entries("plaque.")
    assert entry.kind == "plaque.returned"
    assert "Adah" in homes.held()
    assert not any("Adah" in entry.body for entry in homes.entries())
    assert "You asked for a change" in said(client.get(homes.quill + "/plaque"))
    assert client.post(homes.quill + "/plaque/answer", data=sent | {"request": ""}).status_code == 400


@pytest.mark.parametrize(
    ("words", "why"), [("W" * 150, "too narrow"), ("\n".join("abcdef"), "takes 4 lines"), ("\u202eabc", "")]
)
def test_words_that_no_plate_takes_are_refused_and_stay_on_the_page(homes, client, words, why):
    page = client.get(homes.quill + "/plaque")
    sent = {"heading": "", "dates": "", "words": words, "seen": field(page.text, "seen")}
    answer = client.post(homes.quill + "/plaque/words", data=sent)
    assert answer.status_code == 400
    assert why in said(answer)
    assert words.split("\n")[0] in answer.text
    assert "plaque" not in homes.held()


def test_a_visit_is_planned_and_nothing_of_it_kept(homes, client):
    length = len(homes.entries())
    sent = {"name": "Harbour Inlet", "position": "33 53.100 N 077 30.500 W", "day": "2026-12-05"}
    sheet = client.post(homes.quill + "/visit", data=sent | {"as": "pdf"})
    assert sheet.content.startswith(b"%PDF")
    assert sheet.headers["content-disposition"] == 'attachment; filename="visit-MC-0001-2026-12-05.pdf"'
    plotter = client.post(homes.quill + "/visit", data=sent | {"as": "gpx"})
    assert b"<gpx" in plotter.content
    for wrong, why in (
        ({"position": "33 53 100 N"}, ""),
        ({"day": "soon"}, "soon"),
        ({"name": ""}, "From where is empty"),
        ({"position": "33.885, 77.508"}, ""),
    ):
        answer = client.post(homes.quill + "/visit", data=sent | wrong)
        assert answer.status_code == 400, wrong
        assert why in said(answer)
    assert len(homes.entries()) == length


def test_consent_is_recorded_and_what_changed_meanwhile_is_told(homes, client):
    page = client.get(homes.marsh + "/listing")
    assert "shown to nobody but you" in said(page)
    sent = {"listed": "yes", "seen": field(page.text, "seen")}
    assert client.post(homes.marsh + "/listing", data=sent).status_code == 303
    (entry,) = homes.entries("module.amended")
    assert entry.actor == "family of MC-0002"
    assert json.loads(entry.body)["reason"] == "The family agreed to have the name listed."
    assert "Ben Marsh" in client.get("/search?q=marsh").text
    stale = client.post(homes.marsh + "/listing", data=sent | {"listed": "no"})
    assert stale.status_code == 409
    assert "family of MC-0002 changed it on" in said(stale)
    assert "“no” to “yes”" in said(stale)
    assert len(homes.entries("module.amended")) == 1
    now = field(client.get(homes.marsh + "/listing").text, "seen")
    assert client.post(homes.marsh + "/listing", data={"listed": "no", "seen": now}).status_code == 303
    assert "Ben Marsh" not in client.get("/downloads/reef.csv").text


def test_a_contact_is_changed_added_and_taken_out(homes, client):
    page = client.get(homes.quill + "/contact")
    seen = field(page.text, "seen")
    new = IDA | {"phone": "+1 910 555 0999", "do": "keep", "seen": seen}
    assert client.post(homes.quill + "/contact", data=new).status_code == 303
    assert "0999" in homes.held()
    assert "0123" not in homes.held()
    assert client.post(homes.quill + "/contact", data=new).status_code == 409
    more = {"name": "Una Quill", "email": "una@quill.example", "do": "keep", "seen": ""}
    assert client.post(homes.quill + "/contact", data=more).status_code == 303
    assert client.post(homes.quill + "/contact", data=more | {"email": "nowhere"}).status_code == 400
    assert client.post(homes.quill + "/contact", data=more | {"name": " "}).status_code == 400
    seen = field(client.get(homes.quill + "/contact").text, "seen", 1)
    assert client.post(homes.quill + "/contact", data={"do": "remove", "seen": seen}).status_code == 303
    assert "Una" not in homes.held()
    assert "0999" in homes.held()
    journal = "".join(entry.body + entry.actor for entry in homes.entries())
    assert not any(word in journal for word in ("Ida", "Una", "quill.example", "0123", "0999"))
    assert client.get(homes.quill).status_code == 200


def test_an_erasure_is_typed_and_the_link_dies_with_it(homes, client):
    second = opened(homes.site, "MC-0001")
    for typed in ("", "yes", "MC-0002", "MC-000"):
        answer = client.post(homes.quill + "/erasure", data={"tag": typed})
        assert answer.status_code == 400
        assert "Type MC-0001" in said(answer)
    assert "Ida Quill" in homes.held()
    answer = client.post(homes.quill + "/erasure", data={"tag": "mc-0001"})
    assert answer.status_code == 200
    (entry,) = homes.entries("family.erased")
    assert entry.actor == "family of MC-0001"
    assert entry.reference in said(answer)
    assert "2 private links" in said(answer)
    assert not any(word in homes.held() for word in IDA.values())
    assert "Tom Marsh" in homes.held()
    for link in (homes.quill, second):
        for path in PAGES:
            assert client.get(link + path).status_code == 404
    assert client.post(homes.quill + "/erasure", data={"tag": "MC-0001"}).status_code == 404
    assert client.get(homes.marsh).status_code == 200


# --- forms


def test_a_form_of_another_site_is_refused(homes, client):
    length, held = len(homes.entries()), homes.held()
    for path in FORMS:
        for headers in ({"Origin": "https://elsewhere.example"}, {"Sec-Fetch-Site": "cross-site"}, {"Origin": "null"}):  # fmt: skip
            sent = {"tag": "MC-0001", "listed": "no", "do": "remove", "answer": "approve"}
            answer = client.post(homes.quill + path, data=sent, headers=headers)
            assert answer.status_code == 403, (path, headers)
    assert (len(homes.entries()), homes.held()) == (length, held)


def test_an_office_session_open_at_the_same_time_changes_nothing(homes):
    office = homes.site.client("Ada")
    page = office.get(homes.marsh + "/listing")
    sent = {"listed": "yes", "seen": field(page.text, "seen"), "form_token": form_token(office, "/office")}
    assert office.post(homes.marsh + "/listing", data=sent).status_code == 303
    # A mail program opens the page without the cookie, and the browser sends it with the form.
    now = field(homes.site.client().get(homes.marsh + "/listing").text, "seen")
    assert office.post(homes.marsh + "/listing", data={"listed": "no", "seen": now}).status_code == 303
    assert {entry.actor for entry in homes.entries("module.amended")} == {"family of MC-0002"}
    assert "Sign out" not in page.text.split("<main")[1]


def test_what_a_family_types_is_shown_as_text(homes, client):
    page = client.get(homes.quill + "/contact")
    nasty = "<script>alert(1)</script>"
    sent = {"name": nasty, "note": '=HYPERLINK("x")', "do": "keep", "seen": "", "relation": '"><img src=x>'}
    assert client.post(homes.quill + "/contact", data=sent).status_code == 303
    text = client.get(homes.quill + "/contact").text
    assert "<script>alert" not in text
    assert "<img src=x" not in text
    assert "&lt;script&gt;" in text
    del page


def test_a_server_for_the_crew_opens_no_family_page(homes):
    crew = homes.site.make(public=False)
    assert crew.get(homes.quill).status_code == 404
