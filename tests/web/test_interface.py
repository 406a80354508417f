"""The HTTP interface: each answer the document of the command, each token for what it is for, nothing written twice."""

import json
import re
from datetime import timedelta

import pytest

from registry.actions.add_token import add_token
from registry.records.access_token import Scope
from registry.storage.account_file import open_accounts
from registry.storage.clock import SystemClock
from registry.storage.geopackage import open_register

DROP = {
    "permit": "HB-0417",
    "type": "hump-90",
    "at": "34 00.2000 N 077 00.0000 W",
    "frame": "EPSG:6318",
    "r95": "2 m",
    "depth": "70 ft",
    "depth_u95": "1 ft",
}
PLACED = {key: value for key, value in DROP.items() if key != "type"} | {
    "tag": "MC-0003",
    "when": "2026-06-15T10:32-04:00",
    "key": "slate-0001",
}


def bearer(site, *scopes):
    accounts = open_accounts(site.registry)
    clock = SystemClock()
    made = add_token(
        accounts,
        clock,
        label="office system",
        scopes=set(scopes),
        actor="Ada",
        expires_at=clock.now() + timedelta(days=1),
    )
    return {"authorization": f"Bearer {made.secret}"}


def journal_length(site):
    with open_register(site.registry, clock=SystemClock(), writable=False) as register:
        return register.journal_length()


@pytest.fixture
def reader(site):
    return bearer(site, Scope.REGISTER_READ)


def get_paths(client):
    return [
        path
        for path, verbs in client.app.openapi()["paths"].items()
        if "get" in verbs and path.startswith("/api/")
    ]


def test_nothing_is_told_or_done_without_a_token(site):
    client = site.client()
    before = journal_length(site)
    paths = client.app.openapi()["paths"]
    asked = [(verb, path) for path, verbs in paths.items() for verb in verbs if path.startswith("/api/")]
    assert len(asked) >= 13
    for verb, path in asked:
        for headers in ({}, {"authorization": "Bearer guessed"}, {"authorization": "Basic QWRhOng="}):
            answer = client.request(verb, path.replace("{", "").replace("}", ""), headers=headers, json={})
            assert answer.status_code == 401, (verb, path)
            assert answer.headers["www-authenticate"] == "Bearer"
    assert journal_length(site) == before


def test_a_session_is_no_token(site):
    assert site.client("Ada").get("/api/permits").status_code == 401


@pytest.mark.parametrize("scope", [Scope.PUBLIC_READ, Scope.PLACEMENTS_WRITE, Scope.OFFICE_WRITE])
def test_a_token_is_for_what_it_was_made(site, scope):
    client, headers = site.client(), bearer(site, scope)
    answer = client.get("/api/modules", headers=headers)
    assert answer.status_code == 403
    assert "register:read" in answer.json()["error"]
    if scope != Scope.PLACEMENTS_WRITE:
        assert client.post("/api/placements", headers=headers, json=PLACED).status_code == 403


def test_every_answer_has_a_tag_and_is_not_sent_twice(site, reader):
    client = site.client()
    names = {"{number}": "HB-0417", "{tag}": "MC-0001", "{placement}": placement_of(site, "MC-0001")}
    for path in get_paths(client):
        path = re.sub(r"{\w+}", lambda found: names[found[0]], path)  # noqa: PLW2901
        answer = client.get(path, headers=reader)
        assert answer.status_code == 200, (path, answer.text)
        assert answer.headers["cache-control"] == "private, no-cache"
        if path.endswith("/audit"):
            continue  # says when it was made
        again = client.get(path, headers=reader | {"if-none-match": answer.headers["etag"]})
        assert (again.status_code, again.content) == (304, b""), path


def placement_of(site, tag):
    with open_register(site.registry, clock=SystemClock(), writable=False) as register:
        return register.placement_ids(tag)[0]


def test_placements_are_paged(site, reader):
    client = site.client()
    first = client.get("/api/permits/HB-0417/placements?limit=1", headers=reader).json()
    second = client.get(
        f"/api/permits/HB-0417/placements?limit=1&offset={first['next_offset']}", headers=reader
    ).json()
    assert [each["placements"][0]["tag"] for each in (first, second)] == ["MC-0001", "MC-0002"]
    assert (first["total"], second["next_offset"]) == (2, None)
    assert first["placements"][0]["position"]["frame"] == "EPSG:6318"


def test_the_audit_is_that_of_the_command(site, reader, capsys):
    from registry.cli.main import run

    over_http = site.client().get("/api/permits/HB-0417/audit", headers=reader).json()
    run(("audit", "--permit", "HB-0417", "--json"))
    printed = json.loads(capsys.readouterr().out)
    assert over_http["findings"] == printed["findings"]
    assert over_http["verdict"] == printed["verdict"] == "nonconforming"


def test_the_check_is_that_of_the_command(site, reader, capsys):
    from registry.cli.main import run

    before = journal_length(site)
    over_http = site.client().post("/api/check", headers=reader, json=DROP).json()
    options = [part for name, value in DROP.items() for part in (f"--{name.replace('_', '-')}", value)]
    assert run(("check", *options, "--json")) == 0
    printed = json.loads(capsys.readouterr().out)
    assert over_http["findings"] == printed["findings"]
    assert over_http["neighbours"] == printed["neighbours"]
    assert journal_length(site) == before


@pytest.mark.parametrize(
    ("change", "status", "says"),
    [
        ({"at": "34 N"}, 400, "error"),
        ({"depth": "70"}, 400, "unit"),
        ({"permit": "HB-9999"}, 404, "HB-9999"),
        ({"frame": "EPSG:1"}, 400, "EPSG:1"),
        ({"depht": "70 ft"}, 422, "depht"),
        ({"epoch": 1e400}, 422, "epoch"),
    ],
)
def test_what_cannot_be_used_is_told(site, reader, change, status, says):
    body = json.dumps(DROP | change)
    answer = site.client().post(
        "/api/check", headers=reader | {"content-type": "application/json"}, content=body
    )
    assert answer.status_code == status, answer.text
    assert says in answer.text


def test_a_placement_is_recorded_once_however_often_it_is_sent(site):
    client, headers = site.client(), bearer(site, Scope.PLACEMENTS_WRITE)
    first = client.post("/api/placements", headers=headers, json=PLACED)
    assert first.status_code == 201, first.text
    assert first.json()["verdict"] == "conforming"
    length = journal_length(site)
    again = client.post("/api/placements", headers=headers, json=PLACED)
    assert again.status_code == 409
    assert journal_length(site) == length
    with open_register(site.registry, clock=SystemClock(), writable=False) as register:
        last = list(register.journal())[-1]
    assert last.actor.startswith("office system (token ")


def test_a_module_outside_is_recorded_and_flagged(site):
    client, headers = site.client(), bearer(site, Scope.PLACEMENTS_WRITE)
    answer = client.post("/api/placements", headers=headers, json=PLACED | {"at": "34 30.000 N 077 00.000 W"})
    assert (answer.status_code, answer.json()["verdict"]) == (201, "nonconforming")


def test_modules_are_added_and_mended_and_the_second_is_told(site):
    client, headers = site.client(), bearer(site, Scope.OFFICE_WRITE, Scope.REGISTER_READ)
    assert (
        client.post("/api/modules", headers=headers, json={"tag": "MC-0100", "type": "hump-90"}).status_code
        == 201
    )
    version = client.get("/api/modules/MC-0100", headers=headers).json()["version"]
    seen = headers | {"if-match": f'"{version}"'}
    assert (
        client.patch(
            "/api/modules/MC-0100", headers=headers, json={"reason": "weighed", "mass_kg": 600}
        ).status_code
        == 400
    )
    assert (
        client.patch(
            "/api/modules/MC-0100", headers=seen, json={"reason": "weighed", "mass_kg": 600}
        ).status_code
        == 200
    )
    late = client.patch(
        "/api/modules/MC-0100", headers=seen, json={"reason": "weighed again", "mass_kg": 610}
    )
    assert late.status_code == 409
    assert "600" in late.json()["error"] + late.json()["remedy"]


def test_the_journal_is_read_page_by_page(site, reader):
    client, entries, after = site.client(), [], 0
    while after is not None:
        page = client.get(f"/api/journal?after={after}&limit=3", headers=reader).json()
        entries += page["entries"]
        after = page["next_after"]
    assert len(entries) == journal_length(site)
    assert page["head"] == entries[-1]["digest"]


def test_a_revoked_token_is_heard_no_more(site):
    from registry.actions.revoke_token import revoke_token

    client, headers = site.client(), bearer(site, Scope.REGISTER_READ)
    accounts = open_accounts(site.registry)
    assert client.get("/api/permits", headers=headers).status_code == 200
    revoke_token(accounts, SystemClock(), token="office system", actor="Ada")
    assert client.get("/api/permits", headers=headers).status_code == 401
