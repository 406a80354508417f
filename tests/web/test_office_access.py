"""No page of the office is open to anybody else: every route is asked, whatever is added to them later."""

import pytest
from fastapi.routing import APIRoute
from starlette.routing import BaseRoute

from registry.storage.clock import SystemClock
from registry.storage.geopackage import open_register
from registry.web.application import make_application
from registry.web.settings import Settings
from tests.web.conftest import form_token


def office_routes(routes: list[BaseRoute]) -> list[tuple[str, str]]:
    """Give method and path of every route of the office, with something in each place of a path."""
    found: list[tuple[str, str]] = []
    for route in routes:
        inner = getattr(route, "routes", None) or getattr(
            getattr(route, "original_router", None), "routes", None
        )
        if isinstance(route, APIRoute):
            if f"{route.path}/".startswith("/office/"):
                path = "/".join("x" if part.startswith("{") else part for part in route.path.split("/"))
                found += [(method, path) for method in sorted((route.methods or set()) - {"HEAD"})]
        elif inner:
            found += office_routes(inner)
    return sorted(set(found))


@pytest.fixture(scope="module")
def routes(tmp_path_factory):
    nowhere = tmp_path_factory.mktemp("nowhere") / "leadline.gpkg"
    app = make_application(Settings(registry=nowhere, clock=SystemClock()))
    return office_routes(app.routes)


def test_every_part_is_among_them(routes):
    parts = {path.split("/")[2] for _, path in routes if path.count("/") > 1}
    assert {
        "modules",
        "custody",
        "families",
        "certificates",
        "users",
        "bundles",
        "intake",
        "permits",
    } <= parts
    assert len(routes) > 45


@pytest.mark.parametrize("name", ["Bo", "Cy"])
def test_the_dive_team_and_the_officer_get_no_page_and_change_nothing(site, routes, name):
    client = site.client(name)
    token = form_token(client, "/account")
    length = _length(site)
    for method, path in routes:
        answer = client.request(method, path, data={"form_token": token} if method == "POST" else None)
        assert answer.status_code == 403, (name, method, path, answer.status_code)
    assert _length(site) == length


def test_nobody_is_led_to_sign_in_and_changes_nothing(site, routes):
    client = site.client()
    length = _length(site)
    for method, path in routes:
        answer = client.request(method, path, data={} if method == "POST" else None)
        if method == "GET" and answer.status_code == 303:
            assert answer.headers["location"].startswith("/sign-in"), path
        else:
            assert answer.status_code == 403, (method, path, answer.status_code)
    assert _length(site) == length


def test_a_form_without_the_token_of_its_session_changes_nothing(site, routes):
    client = site.client("Ada")
    other = form_token(site.client("Ada"), "/account")
    length = _length(site)
    for method, path in routes:
        if method == "POST":
            for data in ({}, {"form_token": "x"}, {"form_token": other}):
                answer = client.post(path, data=data)
                assert answer.status_code == 403, (path, data, answer.status_code)
    assert _length(site) == length


def _length(site):
    with open_register(site.registry, clock=SystemClock(), writable=False) as register:
        return register.journal_length()
