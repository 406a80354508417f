"""The officer's pages: what they show is what the audit says; they change nothing and name no family."""

import csv
import hashlib
import io
import json
import re
import tempfile
import zipfile
from html import unescape

import pytest

from registry.cli.main import run
from registry.storage.clock import SystemClock
from registry.storage.geopackage import open_register
from registry.web import officer_audit, officer_pages
from registry.web.officer_paths import address, segment
from tests.builders import a_module, module_added
from tests.web.officer_days import FORGED, write_programme

CONTACT = ("Perdita Quell-Ashby", "perdita.quell@example.org", "+1 910 555 0182", "7 Limpet Row, Eastness")
PERMIT = "/officer/HB-0417"
PAGES = (
    "/officer",
    "/officer?as-of=2026-06-12",
    "/officer?as-of=2026-06-30&on=2026-06-05",
    PERMIT,
    f"{PERMIT}?verdict=nonconforming",
    f"{PERMIT}?condition=2&at=MR-0003",
    f"{PERMIT}/MR-0001",
    f"{PERMIT}/MR-0001?as-of=2026-06-12",
    address("HB-0417", FORGED),
    "/officer/duties",
    "/officer/duties?permit=HB-0417&all=yes",
    "/officer/changes",
    "/officer/changes?since=2026-06-12",
    "/officer/sample",
    "/officer/sample?permit=HB-0417&size=2&seed=4711",
)
FILES = (
    f"{PERMIT}/MR-0001/evidence.zip",
    "/officer/sample/sample.gpx?permit=HB-0417&size=2&seed=4711",
    "/officer/sample/sample.csv?permit=HB-0417&size=2&seed=4711",
    "/officer/sample/sample.txt?permit=HB-0417&size=2&seed=4711",
    "/officer/downloads/as-built.zip?permit=HB-0417",
    "/officer/downloads/audit.zip?since=2026-06-12",
)


@pytest.fixture(scope="module")
def served_template(tmp_path_factory):
    """Stand in for the programme of the other tests: entries of several days, and contacts of a family."""
    folder = tmp_path_factory.mktemp("officer")
    registry = folder / "leadline.gpkg"
    write_programme(registry)
    (folder / "keys").mkdir()
    name, email, phone, home = CONTACT
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("LEADLINE_REGISTRY", str(registry))
        for tag in ("MR-0001", "MR-0003"):
            contact = ("--name", name, "--email", email, "--phone", phone, "--address", home)
            assert run(("family", "add", tag, *contact)) == 0
    return folder


@pytest.fixture
def officer(site):
    return site.client("Cy")


def shown(answer):
    """Give the words of a page."""
    assert answer.status_code == 200, answer.text
    text = re.sub(r"<svg.*?</svg>", " ", answer.text, flags=re.DOTALL)
    return " ".join(unescape(re.sub(r"<[^>]+>", " ", text)).split())


def audited(site, capsys, *dates):
    """Give what the command says of the same registry."""
    capsys.readouterr()
    run(("--registry", str(site.registry), "audit", "--json", *dates))
    return json.loads(capsys.readouterr().out)


@pytest.mark.parametrize(("asked", "dates"), [("", ()), ("?as-of=2026-06-12", ("--as-of", "2026-06-12"))])
def test_the_dashboard_counts_as_the_audit_does(site, officer, capsys, asked, dates):
    page = officer.get(f"/officer{asked}").text
    rows = re.findall(r'<tr><th scope="row"><a[^>]*>([\w-]+)</a>.*?</tr>', page, re.DOTALL)
    (permit,) = audited(site, capsys, *dates)["permits"]
    assert rows == [each["rule"] for each in permit["conditions"]]
    told = [
        [int(cell) for cell in re.findall(r'<td class="number[^>]*>(?:<a[^>]*>)?(\d+)', row)]
        for row in re.findall(r"<tr>(<th scope=\"row\">.*?)</tr>", page, re.DOTALL)
    ]
    names = ("conforming", "nonconforming", "inconclusive", "not applicable")
    assert told == [[each["counts"][name] for name in names] for each in permit["conditions"]]
    for each in permit["conditions"]:
        assert each["cite"] in shown(officer.get(f"/officer{asked}"))
        if each["least_margin"]:
            assert each["least_margin"]["placement"] in unescape(page)


def test_a_day_that_contradicts_another_or_is_none_is_told_with_its_remedy(officer):
    for asked, told in (
        ("as-of=last+June", "is not written as year-month-day"),
        ("as-of=2026-06-05&on=2026-06-12", "nobody knew by then"),
        ("as-of=2020-01-01", "had not begun"),
        ("as-of=06/07/26", "may be 2026-06-07 or 2026-07-06"),
    ):
        answer = officer.get(f"/officer?{asked}")
        assert answer.status_code in {400, 404}
        assert told in unescape(answer.text)
        assert "Traceback" not in answer.text


def test_the_past_is_shown_as_it_was_known(officer):
    then = officer.get(f"{PERMIT}?as-of=2026-06-12").text
    assert re.findall(r'<tr data-tag="([^"]+)"', then) == ["MR-0001", "MR-0002"]
    assert "nonconforming" in shown(officer.get(f"{PERMIT}/MR-0001?as-of=2026-06-12"))
    now = officer.get(f"{PERMIT}/MR-0001").text
    assert "nonconforming" not in now.split("Who said so")[0]


def test_filters_choose_rows_and_draw_the_others_faintly(officer):
    page = officer.get(f"{PERMIT}?verdict=nonconforming").text
    assert re.findall(r'<tr data-tag="([^"]+)"', page) == ["MR-0003"]
    assert 'opacity="0.22"' in page
    assert set(re.findall(r'class="module" href="[^"]*" data-tag="([^"]+)"', page)) == {"MR-0003"}
    assert 'opacity="0.22"' not in officer.get(PERMIT).text
    by_tag = officer.get(f"{PERMIT}?tag=0002").text
    assert re.findall(r'<tr data-tag="([^"]+)"', by_tag) == ["MR-0002"]
    nothing = officer.get(f"{PERMIT}?tag=nobody&condition=99&verdict=sunken&version=x&page=-3")
    assert "Nothing is so" in nothing.text


def test_a_module_pressed_on_the_plan_is_marked_in_the_table_on_its_page(officer, monkeypatch):
    monkeypatch.setattr("registry.web.officer_permit._ROWS", 1)
    first = officer.get(PERMIT).text
    assert "1 to 1 of 4" in first
    address, *_ = re.findall(r'class="module" href="([^"]*)" data-tag="MR-0002"', first)
    link = unescape(address)
    page = officer.get(link.partition("#")[0]).text
    assert re.findall(r'<tr data-tag="([^"]+)" id="chosen"', page) == ["MR-0002"]
    assert 'class="chosen"' in page
    assert link.endswith("#chosen")


def test_a_finding_has_its_evidence(site, officer):
    page = shown(officer.get(f"{PERMIT}/MR-0003"))
    with open_register(site.registry, clock=SystemClock(), writable=False) as register:
        (entry,) = [
            entry
            for entry in register.journal(kind="placement.logged")
            if entry.content()["tag"] == "MR-0003"
        ]
    body = entry.content()
    for words in (
        "14.0",
        "50 ft (15.24 m)",
        "Special condition 3",
        entry.digest,
        entry.previous,
        entry.actor,
        entry.reference,
        "2026-06-15 14:00 America/New_York",
        body["position_text"],
        *body["basis"],
    ):
        assert words in page, words


def test_who_corrected_what_and_why_is_told(officer):
    page = shown(officer.get(f"{PERMIT}/MR-0001"))
    assert page.index(" placed ") < page.index(" corrected ")
    assert "What stood before" in page
    then = shown(officer.get(f"{PERMIT}/MR-0001?as-of=2026-06-12"))
    assert " corrected " not in then.split("What this page rests on")[0]


def test_changes_since_a_day(officer):
    page = shown(officer.get("/officer/changes?since=2026-06-12"))
    assert "2 placed, 1 corrected" in page
    assert "MR-0001" in page.split("Verdicts that are others now")[1]


def test_nothing_is_written_and_nothing_can_be_posted(site, officer):
    methods = {
        (route.path, method)
        for part in officer_pages.PARTS
        for route in part.router.routes
        for method in route.methods
    }
    assert len(methods) >= 10
    assert {method for _, method in methods} == {"GET"}

    def state():
        with open_register(site.registry, clock=SystemClock(), writable=False) as register:
            journal = hashlib.sha256()
            for entry in register.journal():
                journal.update(entry.digest.encode())
            return register.journal_length(), register.head(), journal.hexdigest()

    before = state(), hashlib.sha256(site.registry.read_bytes()).hexdigest()
    for path in (*PAGES, *FILES):
        assert officer.get(path).status_code == 200, path
        for method in ("POST", "PUT", "PATCH", "DELETE"):
            assert officer.request(method, path, data={"tag": "MR-0001"}).status_code in {403, 404, 405}, path
    assert (state(), hashlib.sha256(site.registry.read_bytes()).hexdigest()) == before


def test_only_the_officer_and_the_office_may_look(site):
    nobody, crew, office = site.client(), site.client("Bo"), site.client("Ada")
    for path in (*PAGES, *FILES[:2]):
        refused = nobody.get(path)
        assert (refused.status_code, refused.headers["location"].partition("?")[0]) == (303, "/sign-in"), path
        assert crew.get(path).status_code == 403, path
    assert office.get("/officer").status_code == 200


def contents(answer):
    """Give every byte that an answer brings, those within archives too."""
    yield answer.content
    if answer.content.startswith(b"PK"):
        with zipfile.ZipFile(io.BytesIO(answer.content)) as archive:
            for name in archive.namelist():
                yield name.encode()
                yield archive.read(name)


def test_no_contact_of_a_family_is_anywhere(officer):
    for path in (*PAGES, *FILES):
        answer = officer.get(path)
        assert answer.status_code == 200, path
        for content in contents(answer):
            for words in (*CONTACT, "Perdita", "555 0182", "Limpet"):
                assert words.encode() not in content, (path, words)


def test_a_private_draft_is_refused_and_offered_to_nobody(officer, site):
    assert run(("--registry", str(site.registry), "duties", "declare", "--burial-report", "yes",
                "--cite", "40 CFR 229.1(d)", "--actor", "Ada")) == 0  # fmt: skip
    page = officer.get("/officer/duties").text
    burials = set(re.findall(r"burial-MR-[\w-]+", page))
    assert burials
    assert "draft.zip?id=burial" not in page
    for duty_id in burials:
        refused = officer.get(f"/officer/duties/draft.zip?id={duty_id}")
        assert refused.status_code == 403
        assert "Ada Quill" not in refused.text


def test_ways_up_scripts_and_formulas_lead_nowhere(officer):
    for name in ("..%2f..%2fetc%2fpasswd", "%2e%2e", "..;", "<script>alert(1)</script>", "=HYPERLINK(1)",
                 "~2e~2e~2f~2e~2e", "~ff~fe", "%00", "a" * 4000):  # fmt: skip
        for path in (f"/officer/{name}", f"/officer/HB-0417/{name}", f"/officer/{name}/{name}/evidence.zip",
                     f"/officer/downloads/audit.zip?permit={name}", f"/officer/duties/draft.zip?id={name}",
                     f"/officer/downloads/as-built.zip?permit={name}", f"/officer/sample/{name}",
                     f"/officer/sample?permit={name}&seed=1&size={name}"):  # fmt: skip
            answer = officer.get(path)
            # A way up that the client itself resolves ends at a page of ours.
            assert answer.status_code in {200, 400, 403, 404}, (path, answer.status_code)
            assert b"<script>alert" not in answer.content
            assert b"root:" not in answer.content
            assert b"Traceback" not in answer.content


def test_a_forged_tag_is_text_everywhere(officer):
    page = officer.get(PERMIT).text
    assert FORGED not in page
    link = address("HB-0417", FORGED)
    assert "<script" not in segment(FORGED)
    assert link in page
    assert officer.get(link).status_code == 200
    with zipfile.ZipFile(io.BytesIO(officer.get("/officer/downloads/audit.zip").content)) as archive:
        rows = list(csv.reader(io.StringIO(archive.read("audit/findings.csv").decode("utf-8-sig"))))
        assert not [cell for row in rows for cell in row if cell.startswith("=")]
        assert not [name for name in archive.namelist() if ".." in name or name.startswith("/")]


def test_the_audit_folder_is_that_of_the_command_and_leaves_nothing(site, officer, tmp_path, monkeypatch):
    scratch = tmp_path / "scratch"
    scratch.mkdir()
    monkeypatch.setattr(tempfile, "tempdir", str(scratch))
    answer = officer.get("/officer/downloads/audit.zip?as-of=2026-06-12&permit=HB-0417")
    assert answer.headers["content-disposition"] == 'attachment; filename="audit-HB-0417-2026-06-12.zip"'
    assert list(scratch.iterdir()) == []
    out = tmp_path / "out"
    run(("--registry", str(site.registry), "audit", "--as-of", "2026-06-12", "--permit", "HB-0417",
         "--out", str(out)))  # fmt: skip
    written = {path.relative_to(out).as_posix() for path in out.rglob("*") if path.is_file()}
    with zipfile.ZipFile(io.BytesIO(answer.content)) as archive:
        assert {name.removeprefix("audit/") for name in archive.namelist()} == written
        assert archive.read("audit/findings.csv") == (out / "findings.csv").read_bytes()
        for name in written:
            if name.startswith("evidence/"):
                assert archive.read(f"audit/{name}") == (out / name).read_bytes(), name


def test_a_page_and_a_file_are_known_again_by_their_tag(officer):
    for path in (PERMIT, FILES[0], FILES[4]):
        first = officer.get(path)
        again = officer.get(path, headers={"if-none-match": first.headers["etag"]})
        assert (again.status_code, again.content) == (304, b""), path
        assert "private" in first.headers["cache-control"]


def test_an_audit_is_made_once_for_each_state_of_the_journal(site, officer, monkeypatch):
    from registry.actions import audit_registry as module

    made = []
    audit = module.audit_registry

    def counted(*args, **asked):
        made.append(asked)
        return audit(*args, **asked)

    monkeypatch.setattr(module, "audit_registry", counted)
    monkeypatch.setattr(officer_audit, "_AUDITS", officer_audit.Kept(2))
    for path in ("/officer", PERMIT, f"{PERMIT}/MR-0001", "/officer"):
        officer.get(path)
    assert len(made) == 1
    with open_register(site.registry, clock=SystemClock()) as register, register.writing():
        register.append([module_added(a_module(tag="MR-0100"))])
    officer.get("/officer")
    assert len(made) == 2
    for day in ("2026-06-11", "2026-06-12", "2026-06-13"):
        officer.get(f"/officer?as-of={day}")
    assert len(officer_audit._AUDITS._kept) == 2


def test_no_page_is_heavy(officer):
    for path in PAGES:
        page = officer.get(path).text
        plain = re.sub(r'<svg class="plan".*?</svg>', "", page, flags=re.DOTALL)
        assert len(plain.encode()) < 100_000, path
