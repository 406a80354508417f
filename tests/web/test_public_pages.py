"""What everybody may see: the map, the sites, the search, the files; and nothing that is private."""

import re
from datetime import UTC, datetime
from email.utils import format_datetime
from pathlib import Path

import pytest

from registry.cli.main import run
from tests.web.conftest import Site

SECRETS = ("Ben Marsh", "Ida Quill", "ida@quill.example", "+1 910 555 0123", "12 Dune Lane", "Larger letters")
PAGES = (
    "/",
    "/search?q=MC",
    "/search?q=Marsh",
    "/search?q=Ada+Quill",
    "/downloads/",
    "/authenticate",
    "/map/",
)
FORMS = ("gpx", "kml", "geojson", "csv", "pdf")


@pytest.fixture
def planted(site: Site) -> Site:
    """Plant what nobody may find: contacts; the name of MC-0002 is there without consent."""
    contact = ("--name", "Ida Quill", "--email", "ida@quill.example", "--phone", "+1 910 555 0123")
    address = ("--address", "12 Dune Lane", "--note", "Larger letters", "--relation", "daughter")
    assert run(("family", "add", "MC-0002", *contact, *address)) == 0
    assert (
        run(
            (
                "certificate",
                "MC-0001",
                "--out",
                "papers",
                "--despite",
                "both seen by divers",
                "--actor",
                "Ada",
            )
        )
        == 0
    )
    return site


def addresses(client, page: str) -> list[str]:
    return [
        each for each in re.findall(r'(?:href|src|action)="([^"#]+)', client.get(page).text) if each[0] == "/"
    ]


def test_nobody_has_to_sign_in_and_every_link_leads_somewhere(site):
    client = site.client()
    for page in PAGES:
        assert client.get(page).status_code == 200, page
    found = {link for page in PAGES for link in addresses(client, page)} - {"/features", "/sign-out"}
    assert {"/map/", "/downloads/", "/authenticate", "/map/areas/gannet-patch.html"} <= found
    for link in sorted(found):
        assert client.get(link).status_code == 200, link


def test_nothing_private_is_in_any_public_byte(planted):
    client = planted.client()
    from registry.actions.publish_site import publish_site
    from registry.desk.public_files import site_files
    from registry.formats.written_position import read_position
    from registry.storage.clock import SystemClock
    from registry.storage.geopackage import open_register

    with open_register(planted.registry, clock=SystemClock(), writable=False) as register:
        paths = [
            file.path
            for file in site_files(publish_site(register, now=datetime.now(UTC), read_position=read_position))
        ]
    assert len(paths) > 10
    asked = [f"/map/{path}" for path in paths] + [f"/downloads/reef.{form}" for form in FORMS]
    number = re.search(r"[A-Z]+-\d{4}-\d{6}-\d{2}", next(Path("papers").glob("*.pdf")).name)
    assert number
    asked += [*PAGES, "/sites/gannet-patch", f"/authenticate?number={number[0]}", "/search?q=0123"]
    for path in asked:
        answer = client.get(path, follow_redirects=True)
        assert answer.status_code == 200, path
        body = _unpacked(answer.content)
        for secret in SECRETS:
            shown = answer.text.count(secret) if path.startswith("/search?q=") else 0
            assert secret.encode() not in body or (shown and secret.split()[-1] in path), (path, secret)
    # What was typed is repeated, and that is all.
    assert "Ben Marsh" not in client.get("/search?q=Marsh").text


def _unpacked(content: bytes) -> bytes:
    """Give a PDF file with what is packed in it."""
    if not content.startswith(b"%PDF"):
        return content
    import io

    import pikepdf

    out = io.BytesIO()
    with pikepdf.open(io.BytesIO(content)) as document:
        document.save(out, stream_decode_level=pikepdf.StreamDecodeLevel.all, compress_streams=False)
    return out.getvalue()


def test_a_search_finds_listed_names_tags_and_sites_and_nothing_else(site):
    client = site.client()
    for asked, found in (("quill", "MC-0001"), ("mc-0002", "MC-0002"), ("Gannet", "About gannet-patch")):
        assert found in client.get(f"/search?q={asked}").text, asked
    for asked in ("Marsh", "zzz", "MC-0003"):
        assert "Nothing is published under" in client.get(f"/search?q={asked}").text, asked
    text = client.get("/search?q=Quill").text
    assert "34 00." in text
    assert "m (95 %)" in text


@pytest.mark.parametrize(
    "typed",
    ["<script>alert(1)</script>", '"><img src=x>', '=HYPERLINK("http://x")', "{{7*7}}", "%00", "a" * 9000],
)
def test_what_is_typed_into_a_search_is_shown_as_text(site, typed):
    answer = site.client().get("/search", params={"q": typed})
    assert answer.status_code == 200
    assert "<script>alert" not in answer.text
    assert "<img src=x" not in answer.text
    assert "49" not in answer.text if typed == "{{7*7}}" else True
    assert len(answer.content) < 100_000


@pytest.mark.parametrize(
    "path",
    [
        "/map/../leadline.gpkg",
        "/map/%2e%2e/leadline.gpkg",
        "/map/..%2f..%2fetc/passwd",
        "/map/areas/../../leadline.gpkg.families",
        "/map/%00",
        "/map/<script>alert(1)</script>",
        "/downloads/..%2fleadline.gpkg",
        "/downloads/leadline.gpkg",
        "/downloads/reef.exe",
        "/sites/..%2f",
        "/sites/%2e%2e%2fetc",
        "/sites/=HYPERLINK(1)",
        "/sites/<script>alert(1)</script>",
        "/static/../pages.py",
        "/static/%2e%2e/pages.py",
    ],
)
def test_no_path_leads_out_of_what_is_published(site, path):
    answer = site.client().get(path)
    assert answer.status_code == 404
    assert "<script>alert" not in answer.text
    assert b"SQLite" not in answer.content


def test_the_map_is_that_of_the_command_with_a_policy_that_lets_it_work(site):
    client = site.client()
    assert run(("map", "--site", "--out", "public")) == 0
    for file in Path("public").rglob("*"):
        if file.is_file():
            path = file.relative_to("public").as_posix()
            assert client.get(f"/map/{path}").content == file.read_bytes(), path
    page = client.get("/map/")
    meta = re.search(r'http-equiv="Content-Security-Policy" content="([^"]+)"', page.text)
    assert meta
    assert page.headers["content-security-policy"] == f"{meta[1]}; frame-ancestors 'none'"
    assert "script-src 'sha256-" in meta[1]
    assert client.get("/map/sw.js").headers["content-type"].startswith("text/javascript")
    assert client.get("/map/manifest.webmanifest").headers["content-type"] == "application/manifest+json"
    assert client.get("/map").headers["location"] == "/map/"
    assert client.get("/sites/gannet-patch").headers["location"] == "/map/areas/gannet-patch.html"


@pytest.mark.parametrize("form", FORMS)
def test_a_file_is_that_of_the_command_and_is_not_sent_twice(site, form):
    client = site.client()
    first = client.get(f"/downloads/reef.{form}")
    assert run(("export", "--format", form, "--out", f"reef.{form}")) == 0
    assert first.content == Path(f"reef.{form}").read_bytes()
    assert first.headers["content-disposition"] == f'attachment; filename="reef.{form}"'
    tag, changed = first.headers["etag"], first.headers["last-modified"]
    again = client.get(f"/downloads/reef.{form}", headers={"If-None-Match": tag})
    assert (again.status_code, again.content, again.headers["etag"]) == (304, b"", tag)
    again = client.get(f"/downloads/reef.{form}", headers={"If-Modified-Since": changed})
    assert (again.status_code, again.content) == (304, b"")
    old = format_datetime(datetime(2020, 1, 1, tzinfo=UTC), usegmt=True)
    for said in (
        {"If-Modified-Since": old},
        {"If-Modified-Since": "yesterday"},
        {"If-None-Match": '"other"', "If-Modified-Since": changed},
    ):
        assert client.get(f"/downloads/reef.{form}", headers=said).status_code == 200, said


def test_a_correction_is_in_the_next_answer(site):
    client = site.client()
    before = client.get("/downloads/reef.csv")
    consent = ("--consent-listed", "--reason", "the family asked")
    assert run(("module", "amend", "MC-0002", *consent, "--actor", "Ada")) == 0
    after = client.get("/downloads/reef.csv", headers={"If-None-Match": before.headers["etag"]})
    assert after.status_code == 200
    assert "Ben Marsh" in after.text
    assert "Ben Marsh" not in before.text
    assert "Ben Marsh" in client.get("/search?q=marsh").text


def test_sites_alone_are_shown_where_the_programme_says_so(site):
    client = site.client()
    assert "MC-0001" in client.get("/downloads/reef.gpx").text
    assert run(("publication", "declare", "--sites-only", "--actor", "Ada")) == 0
    for path in ("/map/", "/search?q=quill", "/search?q=MC-0001", *(f"/downloads/reef.{f}" for f in FORMS)):
        body = _unpacked(client.get(path).content)
        assert b"Ada Quill" not in body, path
        assert b"34 00.10" not in body, path
        if "MC-0001" not in path:
            assert b"MC-0001" not in body, path
    assert "no position of a single module" in client.get("/").text


def test_rounded_places_are_all_that_is_found(site):
    client = site.client()
    exact = client.get("/search?q=MC-0001").text
    assert run(("publication", "declare", "--rounded", "1 km", "--actor", "Ada")) == 0
    rounded = client.get("/search?q=MC-0001").text
    assert "rounded to 1 km" in rounded
    place = re.search(r'class="place"><span>([^<]+)', exact)
    assert place
    assert place[1] not in rounded


def test_a_server_for_the_crew_shows_the_public_nothing(site):
    client = site.make(public=False)
    assert client.get("/").headers["location"] == "/sign-in"
    for path in ("/map/", "/search", "/downloads/", "/downloads/reef.gpx", "/authenticate", "/sites/x"):
        assert client.get(path).status_code == 404, path


def test_pages_without_a_map_are_small(site):
    client = site.client()
    for path in ("/", "/search?q=MC", "/downloads/", "/authenticate"):
        assert len(client.get(path).content) < 20_000, path
