"""The office in a browser: from a new module to the family's paper; users; a private link; every page looked at."""

import io
import re
import zipfile

import pytest

from registry.storage.clock import SystemClock
from registry.storage.geopackage import open_register
from tests.documents.browser import needs_chromium
from tests.documents.page_checks import barriers, needs_npm
from tests.web.conftest import PASSWORD, sign_in

pytestmark = [pytest.mark.browser, needs_chromium]

SIZES = {"phone": (360, 740), "tablet": (820, 1180), "desktop": (1280, 800)}
STEPS = (
    ("received", "2026-01-12 09:30", "Skua Crematory", "Marram yard"),
    ("cast", "2026-03-02 11:00", "Marram yard", "Marram yard"),
    ("cured", "2026-04-02 11:00", "Marram yard", "Marram yard"),
    ("loaded", "2026-06-16 07:30", "Marram yard", "Petrel"),
    ("placed", "2026-06-16 10:02", "Petrel", "the seabed"),
)


@pytest.fixture
def page(chromium, served):
    context = chromium.new_context(accept_downloads=True, viewport={"width": 1280, "height": 800})
    page = context.new_page()
    wrong: list[str] = []
    page.on("pageerror", lambda error: wrong.append(str(error)))
    page.on("console", lambda said: wrong.append(said.text) if said.type == "error" else None)
    sign_in(page, served.url, "Ada")
    yield page
    context.close()
    assert [each for each in wrong if "status of 4" not in each] == []


def place(served, tag, at):
    from registry.cli.main import run

    line = ("place", tag, "--permit", "HB-0417", "--frame", "EPSG:6318", "--r95", "2 m", "--depth", "70 ft")
    when = ("--when", "2026-06-16T10:02-04:00", "--registry", str(served.registry))
    assert run((*line, "--depth-u95", "1 ft", "--at", at, *when)) == 0


def test_from_a_new_module_to_the_paper(page, served):
    page.goto(f"{served.url}/office")
    page.get_by_role("link", name="Modules", exact=True).click()
    page.get_by_role("link", name="Add a module").click()
    page.locator("input[name=tag]").fill("MC-0700")
    page.locator("select[name=type]").select_option("hump-90")
    page.get_by_label("Cast on").fill("2026-03-02")
    page.get_by_label("Name, as it is to be printed").fill("Edda Marlow")
    page.get_by_role("button", name="Record the module").click()
    page.get_by_role("heading", name="MC-0700, Edda Marlow").wait_for()
    page.get_by_role("link", name="Custody", exact=True).last.click()
    for step, when, giver, taker in STEPS:
        page.get_by_label("What for").select_option(step)
        page.get_by_label("When").fill(when)
        for side, name in (("giver", giver), ("taker", taker)):
            page.locator(f"input[name={side}]").fill(name)
            page.locator(f"input[name={side}_tag]").fill("MC-0700")
            page.locator(f"input[name={side}_id]").fill("C-48213")
        page.get_by_role("button", name="Record the hand-over").click()
        page.locator("tbody th", has_text=step).wait_for()
    place(served, "MC-0700", "34 00.3000 N 077 00.0000 W")
    page.reload()
    page.get_by_text("Unbroken from the crematory to the seabed").wait_for()
    page.goto(f"{served.url}/office/certificates")
    page.get_by_role("link", name="Issue many").click()
    page.get_by_role("button", name="Issue the certificates").click()
    page.get_by_text("The run is finished").wait_for(timeout=60_000)
    page.get_by_text("Something speaks against a certificate for MC-0001").wait_for()
    with page.expect_download() as download:
        page.get_by_role("link", name="Download the papers").click()
    packed = zipfile.ZipFile(io.BytesIO(download.value.path().read_bytes()))
    assert len(packed.namelist()) == 1
    page.get_by_label("Why MC-0001 is issued all the same").fill("the family knows of the neighbour")
    page.get_by_role("button", name="Issue MC-0001").click()
    page.get_by_role("heading", name="Certificate").first.wait_for()
    with page.expect_download() as download:
        page.get_by_role("link", name="Download version 1").click()
    assert download.value.path().read_bytes().startswith(b"%PDF")


def test_progress_is_told_while_a_run_goes_on(page, served, monkeypatch):
    import registry.desk.certificate_folder as folder

    slowly = folder.certify_into
    go_on: list[bool] = []

    def held(*args, **kwargs):
        for each in slowly(*args, **kwargs):
            yield each
            for _ in range(600):
                if go_on:
                    break
                page_waits.wait(0.05)

    import threading

    page_waits = threading.Event()
    monkeypatch.setattr(folder, "certify_into", held)
    page.goto(f"{served.url}/office/certificates/batch")
    page.get_by_role("button", name="Issue the certificates").click()
    page.locator("#batch-done", has_text="1").wait_for(timeout=30_000)
    assert page.locator("#batch-bar").get_attribute("max") == "2"
    assert page.url.endswith("/batch")
    go_on.append(True)
    page.get_by_text("The run is finished").wait_for(timeout=30_000)


def test_progress_is_told_without_a_script(chromium, served):
    context = chromium.new_context(java_script_enabled=False)
    page = context.new_page()
    sign_in(page, served.url, "Ada")
    page.goto(f"{served.url}/office/certificates/batch")
    page.get_by_role("button", name="Issue the certificates").click()
    page.get_by_text("The run is finished").wait_for(timeout=60_000)
    context.close()


def test_users(page, served, chromium):
    page.goto(f"{served.url}/office/users")
    add = page.locator("form[action='/office/users/add']")
    add.locator("input[name=name]").fill("Dee")
    add.get_by_label("Officer").check()
    add.locator("input[name=password]").fill(PASSWORD)
    add.get_by_role("button").click()
    page.get_by_role("heading", name="Dee").wait_for()
    other = chromium.new_context()
    theirs = other.new_page()
    sign_in(theirs, served.url, "Dee")
    assert theirs.goto(f"{served.url}/office").status == 403
    theirs.goto(f"{served.url}/account")
    theirs.get_by_label("Password so far").fill(PASSWORD)
    theirs.get_by_label("New password", exact=False).first.fill("nine terns above the outer bar")
    theirs.get_by_label("New password again").fill("nine terns above the outer bar")
    theirs.get_by_role("button", name="Change it").click()
    theirs.get_by_text("Your password is changed").wait_for()
    page.get_by_role("button", name="Disable Dee").click()
    page.get_by_role("button", name="Enable Dee").wait_for()
    theirs.goto(f"{served.url}/account")
    assert "/sign-in" in theirs.url
    other.close()


def test_a_family_gets_its_link(page, served, chromium):
    page.goto(f"{served.url}/office/families/of?tag=MC-0001")
    page.get_by_text("Add a contact").click()
    page.get_by_label("Name", exact=True).fill("Ida Quillonby")
    page.get_by_label("Email").fill("ida@quillonby.example")
    page.get_by_role("button", name="Keep the contact").click()
    page.get_by_role("heading", name="Ida Quillonby").wait_for()
    page.get_by_role("button", name="Make a link").click()
    address = page.get_by_label("The link").input_value()
    other = chromium.new_context()
    theirs = other.new_page()
    assert theirs.goto(address).status == 200
    assert "Ada Quill" in theirs.content()
    page.get_by_role("link", name="Back to the family").click()
    page.get_by_role("button", name="End every link").click()
    page.get_by_text("ended").first.wait_for()
    assert theirs.goto(address).status in (403, 404)
    other.close()
    erase = page.locator("form", has_text="Erase all that is held")
    erase.get_by_label("Yes, for good").check()
    erase.get_by_role("button").click()
    page.get_by_text("Nothing of it was found").wait_for()
    assert "quillonby" not in page.content().lower()


def pages_of(served):
    with open_register(served.registry, clock=SystemClock(), writable=False) as register:
        placement = register.placement_ids("MC-0002")[0]
        number = register.certificate_versions()[0].number
    return (
        "/office", "/office/modules", "/office/modules/add", "/office/module?tag=MC-0002",
        "/office/module/amend?tag=MC-0001", f"/office/placement?placement={placement}", "/office/custody",
        "/office/custody/of?tag=MC-0001", "/office/families", "/office/families/of?tag=MC-0001",
        "/office/certificates", f"/office/certificates/of?number={number}", "/office/certificates/batch",
        "/office/users", "/office/bundles", "/account",
    )  # fmt: skip


@pytest.fixture
def stocked(page, served):
    """Give the office something to show on every page."""
    from registry.actions.record_hand_over import record_hand_overs
    from registry.records.custody import Step
    from registry.storage.family_file import FamilyFile, family_file_of
    from tests.actions.test_list_custody import draft

    with open_register(served.registry, clock=SystemClock()) as register:
        families = FamilyFile(family_file_of(served.registry), origin=register.origin)
        made = draft("MC-0001", Step.RECEIVED, 3, "Skua Crematory", "Marram yard", read="MC-0007")
        record_hand_overs(register, families, [made], actor="Ada")
    page.goto(f"{served.url}/office/families/of?tag=MC-0001")
    page.get_by_text("Add a contact").click()
    page.get_by_label("Name", exact=True).fill("Ida Quillonby-Featherstonehaugh")
    page.get_by_role("button", name="Keep the contact").click()
    page.get_by_role("button", name="Make a link").click()
    page.goto(f"{served.url}/office/certificates/batch")
    page.get_by_role("button", name="Issue the certificates").click()
    page.get_by_text("The run is finished").wait_for(timeout=60_000)
    page.get_by_label("Why MC-0001 is issued all the same").fill("known")
    page.get_by_role("button", name="Issue MC-0001").click()
    page.get_by_role("heading", name="Certificate").first.wait_for()
    return page


@needs_npm
def test_every_page_is_open_to_everybody_at_every_size(stocked, served, tmp_path):
    faults = []
    for path in pages_of(served):
        for name, (width, height) in SIZES.items():
            stocked.set_viewport_size({"width": width, "height": height})
            answer = stocked.goto(f"{served.url}{path}")
            assert answer.status == 200, path
            if stocked.evaluate("document.documentElement.scrollWidth") > width:
                faults.append(f"{name} {path}: wider than the screen")
            shot = re.sub(r"\W+", "-", path.split("?")[0]).strip("-")
            stocked.screenshot(path=tmp_path / f"{shot}-{name}.png", full_page=True)
        assert len(answer.body()) < 100_000, path
        stocked.evaluate("document.querySelectorAll('details').forEach((each) => { each.open = true; })")
        faults += [f"{path}: {each}" for each in _barriers(stocked)]
        faults += [f"{path}: {each}" for each in _small(stocked)]
    assert faults == []


def _barriers(page):
    """Run axe outside the page's own policy, which lets no script in."""
    session = page.context.new_cdp_session(page)
    session.send("Page.setBypassCSP", {"enabled": True})
    return barriers(page)


def _small(page):
    """Name buttons, fields and links apart from running text that a finger misses."""
    return page.evaluate(
        """() => [...document.querySelectorAll("button, .button, input:not([type=hidden], [type=checkbox],"
          + " [type=radio], [hidden]), select, .parts a, .ways a, .work a, summary")]
          .filter((each) => each.offsetParent && each.getBoundingClientRect().height < 44)
          .map((each) => `small: ${each.outerHTML.slice(0, 80)}`)"""
    )
