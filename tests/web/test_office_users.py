"""Who may come in: accounts, passwords, the boat's PIN, tokens; what is changed counts at once."""

import pytest

from registry.actions.recall_token import recall_token
from registry.storage.account_file import open_accounts
from registry.storage.clock import SystemClock
from tests.web.conftest import PASSWORD, form_token
from tests.web.found import found

USERS = "/office/users"
OTHER = "nine terns above the outer bar"


@pytest.fixture
def ada(site):
    return site.client("Ada")


def send(client, path, page=USERS, **fields):
    return client.post(path, data=fields | {"form_token": form_token(client, page)})


def comes_in(site, name, password=PASSWORD):
    answer = site.make().post("/sign-in", data={"how": "password", "name": name, "password": password})
    return answer.status_code == 303


def test_an_account_is_added_and_comes_in(site, ada):
    answer = send(ada, f"{USERS}/add", name="Dee <x>", role=["dive team", "officer"], password=OTHER)
    assert answer.status_code == 303, answer.text
    assert comes_in(site, "dee <x>", OTHER)
    told = ada.get(USERS).text
    assert "Dee &lt;x&gt;" in told
    assert "dive team, officer" in told
    assert OTHER not in told


@pytest.mark.parametrize(
    ("fields", "said"),
    [
        ({"name": "ada"}, "already"),
        ({"password": "reef"}, "has 4 characters"),
        ({"role": []}, "No role is given"),
        ({"role": ["admiral"]}, "is no role"),
        ({"name": ""}, "The name is empty"),
    ],
)
def test_an_account_that_will_not_do_is_told(ada, fields, said):
    answer = send(ada, f"{USERS}/add", **({"name": "Dee", "role": ["officer"], "password": OTHER} | fields))
    assert answer.status_code in (400, 409)
    assert said in answer.text
    assert OTHER not in answer.text


def test_a_disabled_account_is_out_at_once_and_comes_back(site, ada):
    bo = site.client("Bo")
    assert bo.get("/account").status_code == 200
    assert send(ada, f"{USERS}/disable", name="Bo").status_code == 303
    assert bo.get("/account").status_code == 303
    assert not comes_in(site, "Bo")
    assert send(ada, f"{USERS}/enable", name="Bo").status_code == 303
    assert comes_in(site, "Bo")


def test_the_last_of_the_office_stays(site, ada):
    for path, fields in ((f"{USERS}/disable", {}), (f"{USERS}/roles", {"role": ["officer"]})):
        answer = send(ada, path, name="Ada", **fields)
        assert answer.status_code == 409
        assert "the last who can come in as office" in answer.text
    assert ada.get(USERS).status_code == 200


def test_roles_count_at_once(site, ada):
    cy = site.client("Cy")
    assert cy.get(USERS).status_code == 403
    assert send(ada, f"{USERS}/roles", name="Cy", role=["office"]).status_code == 303
    assert cy.get(USERS).status_code == 200
    assert send(ada, f"{USERS}/roles", name="Cy", role=["officer"]).status_code == 303
    assert cy.get(USERS).status_code == 403


def test_a_password_that_the_office_sets_ends_sessions(site, ada):
    bo = site.client("Bo")
    assert send(ada, f"{USERS}/password", name="Bo", password=OTHER).status_code == 303
    assert bo.get("/account").status_code == 303
    assert not comes_in(site, "Bo")
    assert comes_in(site, "Bo", OTHER)
    assert send(ada, f"{USERS}/password", name="Nobody", password=OTHER).status_code == 404


def test_everybody_changes_their_own_password(site):
    for name in ("Ada", "Bo", "Cy"):
        mine, elsewhere = site.client(name), site.client(name)
        said = {"old": PASSWORD, "new": f"{OTHER} {name}!", "again": f"{OTHER} {name}!"}
        wrong = send(mine, "/account/password", "/account", **(said | {"old": "not the one"}))
        assert (wrong.status_code, "not right" in wrong.text) == (400, True)
        unlike = send(mine, "/account/password", "/account", **(said | {"again": OTHER}))
        assert (unlike.status_code, "in two ways" in unlike.text) == (400, True)
        assert send(mine, "/account/password", "/account", **said).status_code == 303
        assert "Your password is changed" in mine.get("/account?changed=yes").text
        assert elsewhere.get("/account").status_code == 303
        assert comes_in(site, name, said["new"])
        assert not comes_in(site, name)


def test_the_pin_of_the_boat_is_set_and_cleared(site, ada):
    assert send(ada, f"{USERS}/pin", pin="123456").status_code == 400
    assert send(ada, f"{USERS}/pin", pin="482195").status_code == 303
    told = ada.get(USERS).text
    assert "by Ada" in told
    assert "482195" not in told
    crew = site.make(boat=True)
    data = {"how": "pin", "name": "Cy of the crew", "pin": "482195"}
    assert crew.post("/sign-in", data=data).status_code == 303
    assert "came in by the boat" in crew.get("/account").text
    assert send(ada, f"{USERS}/pin", clear="yes").status_code == 303
    assert crew.get("/account").status_code == 303
    assert site.make(boat=True).post("/sign-in", data=data).status_code == 403


def test_a_token_is_shown_once_and_revoked(site, ada):
    made = send(ada, f"{USERS}/token", label="chart office", scope=["public:read"], expires="2090-12-31")
    secret = found(r'id="token" value="([^"]+)"', made.text)
    accounts = open_accounts(site.registry)
    assert recall_token(accounts, SystemClock(), secret) is not None
    told = ada.get(USERS).text
    assert secret not in told
    assert "chart office" in told
    token = found(r'name="token" value="(\w+)"', told)
    assert send(ada, f"{USERS}/token/revoke", token=token).status_code == 303
    assert recall_token(accounts, SystemClock(), secret) is None
    for fields in ({"scope": ["all"]}, {"expires": "2020-01-01"}, {"label": ""}):
        said = {"label": "x", "scope": ["public:read"], "expires": "2090-12-31"} | fields
        assert send(ada, f"{USERS}/token", **said).status_code == 400


def test_who_tried_to_come_in_and_what_was_done_is_listed(site, ada):
    comes_in(site, "Bo", "not the one")
    send(ada, f"{USERS}/disable", name="Bo")
    told = ada.get(USERS).text
    assert "wrong name, password or PIN" in told
    assert "account disabled" in told
