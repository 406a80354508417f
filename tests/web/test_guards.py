"""Who is let in, what every answer says to the browser, and what forged, replayed and oversized requests meet."""

import re

import pytest

from registry.storage.account_file import open_accounts
from registry.web.headers import LARGEST
from tests.web.conftest import PASSWORD, form_token, routes_of

SIGN_IN = {"how": "password", "name": "Ada", "password": PASSWORD}


def own_pages(client):
    """Give the addresses of every page without a parameter in it."""
    return sorted(
        {
            path
            for path, methods in routes_of(client)
            if "GET" in methods and "{" not in path and path != "/openapi.json"
        }
    )


@pytest.mark.parametrize("name", [None, "Ada", "Bo", "Cy"])
def test_every_page_is_guarded_in_the_browser(site, name):
    client = site.client(name)
    pages = own_pages(client)
    assert len(pages) > 8
    for path in pages:
        answer = client.get(path)
        assert answer.status_code < 500, (path, answer.text)
        policy = answer.headers["content-security-policy"]
        assert "default-src 'none'" in policy
        assert answer.headers["x-content-type-options"] == "nosniff"
        assert answer.headers["referrer-policy"] == "same-origin"
        if answer.headers.get("content-type", "").startswith("text/html") and "'sha256-" not in policy:
            assert "unsafe-inline" not in policy
            assert not re.search(r"<script(?![^>]*\bsrc=)|\son\w+=|\sstyle=|<style", answer.text), path
        for address in re.findall(r'(?:src|href)="(https?:)?//', answer.text):
            pytest.fail(f"{path} asks {address} elsewhere")


@pytest.mark.parametrize(
    ("prefix", "roles"), [("/office", {"Ada"}), ("/boat", {"Ada", "Bo"}), ("/officer", {"Ada", "Cy"})]
)
def test_each_part_is_for_its_people(site, prefix, roles):
    for name in ("Ada", "Bo", "Cy"):
        client = site.client(name)
        for path in own_pages(client):
            if path == "/boat/sw.js":
                continue  # a script that holds nothing: a tablet looks for a new one before anybody signs in
            if path == prefix or path.startswith(f"{prefix}/"):
                assert (client.get(path).status_code == 403) == (name not in roles), (name, path)
    nobody = site.client()
    answer = nobody.get(prefix)
    assert (answer.status_code, answer.headers["location"]) == (303, f"/sign-in?next={prefix}")


def test_every_form_that_changes_something_is_refused_without_its_token(site):
    client = site.client("Ada")
    asked = 0
    for path, methods in routes_of(client):
        if "POST" not in methods or path.startswith(("/api/", "/family/", "/authenticate")):
            continue
        answer = client.post(re.sub(r"{[^}]*}", "MC-0001", path), data={"form_token": "guessed"})
        assert answer.status_code == 403, path
        asked += 1
    assert asked > 3


def test_a_token_of_another_session_is_no_token(site):
    ada, cy = site.client("Ada"), site.client("Cy")
    answer = ada.post("/sign-out", data={"form_token": form_token(cy, "/officer")})
    assert answer.status_code == 403
    assert ada.get("/office").status_code == 200


@pytest.mark.parametrize(
    "headers", [{"origin": "https://reef.example"}, {"origin": "null"}, {"sec-fetch-site": "cross-site"}]
)
def test_a_form_of_another_site_is_refused(site, headers):
    assert site.client().post("/sign-in", data=SIGN_IN, headers=headers).status_code == 403


def test_a_session_begins_and_ends(site):
    client = site.client("Ada")
    cookie = client.cookies["leadline"]
    client.post("/sign-out", data={"form_token": form_token(client, "/office")})
    replayed = site.client()
    replayed.cookies.set("leadline", cookie)
    assert replayed.get("/office").status_code == 303


def test_the_cookie_is_out_of_reach_of_scripts_and_other_sites(site):
    said = site.client().post("/sign-in", data=SIGN_IN).headers["set-cookie"].lower()
    assert {"httponly", "samesite=strict", "path=/"} <= set(re.split(r";\s*", said))
    assert "secure" not in said
    over_tls = site.make(secure=True).post("/sign-in", data=SIGN_IN)
    assert "secure" in over_tls.headers["set-cookie"].lower()
    assert "strict-transport-security" in over_tls.headers


@pytest.mark.parametrize(
    "onward",
    ["//evil.example", "https://evil.example", "/\\evil.example", "javascript:alert(1)", "/\t/evil.example"],
)
def test_nobody_is_led_elsewhere_after_signing_in(site, onward):
    answer = site.client().post("/sign-in", data=SIGN_IN | {"next": onward})
    assert answer.headers["location"] == "/office"


def test_guessing_is_slowed_down_and_seen(site):
    client = site.client()
    wrong = SIGN_IN | {"password": "not that phrase at all"}
    codes = [client.post("/sign-in", data=wrong).status_code for _ in range(7)]
    assert codes[0] == 403
    assert codes[-1] == 429
    slowed = client.post("/sign-in", data=SIGN_IN)
    assert slowed.status_code == 429
    assert int(slowed.headers.get("retry-after", "1")) > 0
    assert len([each for each in open_accounts(site.registry).sign_ins() if each.name == "Ada"]) >= 5


def test_whether_a_name_exists_is_not_told(site):
    client = site.client()
    told = [
        client.post("/sign-in", data=SIGN_IN | {"name": name, "password": "x" * 20}).text
        for name in ("Ada", "Zed")
    ]
    assert told[0] == told[1]


def test_nobody_comes_in_by_pin_where_that_is_not_open(site):
    assert (
        site.client().post("/sign-in", data={"how": "pin", "name": "Eve", "pin": "000000"}).status_code == 404
    )


def test_more_than_a_request_may_bring_is_refused(site):
    client = site.client("Ada")
    headers = {"content-length": str(LARGEST + 1), "content-type": "application/x-www-form-urlencoded"}
    assert client.post("/sign-out", content=b"", headers=headers).status_code == 413


@pytest.mark.parametrize(
    "path",
    [
        "/..%2f..%2fetc/passwd",
        "/static/../pages.py",
        "/static/%2e%2e/pages.py",
        "/<script>alert(1)</script>",
        "/=HYPERLINK(1)",
    ],
)
def test_addresses_lead_nowhere_else(site, path):
    answer = site.client().get(path)
    assert answer.status_code == 404
    assert "<script>alert" not in answer.text


def test_a_fault_nobody_foresaw_shows_no_trace(site, monkeypatch):
    def fall(*_args, **_kwargs):
        raise RuntimeError("secret detail")

    monkeypatch.setattr("registry.web.public_pages.published_site", fall, raising=False)
    monkeypatch.setattr("registry.web.features.published_site", fall)
    answer = site.client().get("/features")
    assert answer.status_code == 500
    assert "secret detail" not in answer.text
    assert "Traceback" not in answer.text
    assert "content-security-policy" in answer.headers
