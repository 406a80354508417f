"""The officer's journeys in a browser: by condition to a module and its evidence, by plan, by table, by date."""

import re
import zipfile
from pathlib import Path

import pytest

from tests.documents.browser import needs_chromium
from tests.documents.page_checks import barriers, complaints, needs_npm
from tests.web.conftest import sign_in
from tests.web.officer_days import write_programme

pytestmark = [pytest.mark.browser, needs_chromium]

PERMIT = "/officer/HB-0417"
SIZES = {"phone": (360, 740), "tablet": (820, 1180), "desk": (1280, 800)}


@pytest.fixture(scope="module")
def served_template(tmp_path_factory):
    """Stand in for the programme of the other tests: one whose journal was written on several days."""
    folder = tmp_path_factory.mktemp("officer")
    write_programme(folder / "leadline.gpkg")
    (folder / "keys").mkdir()
    return folder


@pytest.fixture
def faults():
    """What a page complained of; empty at the end of every journey."""
    found: list[str] = []
    yield found
    assert found == []


@pytest.fixture
def page(served, chromium, faults):
    context = chromium.new_context(accept_downloads=True, base_url=served.url)
    opened = context.new_page()
    opened.on("pageerror", lambda error: faults.append(str(error)))
    opened.on("console", lambda said: faults.append(said.text) if said.type in {"error", "warning"} else None)
    sign_in(opened, served.url, "Cy")
    yield opened
    context.close()


def tags(page):
    return page.locator(".placements tbody tr[data-tag]").evaluate_all("rows => rows.map(r => r.dataset.tag)")


def test_from_the_dashboard_by_condition_to_a_module_and_its_evidence(page):
    page.goto("/officer")
    row = page.locator("table.conditions tr", has=page.locator("th a", has_text="depth-band"))
    row.locator("td[data-label='Not met'] a").click()
    assert "verdict=nonconforming" in page.url
    assert tags(page) == ["MR-0003"]
    page.locator(".placements th a", has_text="MR-0003").first.click()
    assert page.locator("h1").inner_text() == "MR-0003"
    assert re.search(r"SHA-256\s+[0-9a-f]{64}", page.locator("main").inner_text())
    with page.expect_download() as came:
        page.locator("a[download]", has_text="Evidence").click()
    with zipfile.ZipFile(came.value.path()) as archive:
        assert [name for name in archive.namelist() if name.endswith(".json")]


def test_plan_and_table_answer_each_other_both_ways(page):
    from playwright.sync_api import expect

    page.goto(PERMIT)
    page.evaluate("document.body.dataset.same = 'yes'")
    everything = tags(page)
    assert len(everything) == 4
    # From the filter to the plan; the focus stays where it was.
    page.locator("#by-verdict").focus()
    page.locator("#by-verdict").select_option("nonconforming")
    expect(page.locator(".placements tr[data-tag]")).to_have_count(1)
    assert page.locator("svg.plan g[opacity]").count() > 0
    assert page.locator(".plans .module").first.get_attribute("data-tag") == "MR-0003"
    assert page.evaluate("document.activeElement.id") == "by-verdict"
    # From the legend, which is part of the plan, to the table.
    page.locator(".legend a", has_text="nonconforming").click()
    expect(page.locator(".placements tr[data-tag]")).to_have_count(4)
    # From a module on the plan to its row.
    page.locator(".plans .module[data-tag='MR-0002'] circle").first.click(force=True)
    page.wait_for_selector("#chosen")
    assert page.locator("#chosen").get_attribute("data-tag") == "MR-0002"
    assert page.locator("svg.plan circle.chosen").count() >= 1
    # From a row to its mark.
    page.locator(".placements tr[data-tag='MR-0003'] th").hover()
    assert page.locator(".plans .module[data-tag='MR-0003'].pointed").count() >= 1
    # Nothing was built anew, and the way back leads through what was seen.
    assert page.evaluate("document.body.dataset.same") == "yes"
    page.go_back()
    expect(page.locator("#chosen")).to_have_count(0)
    assert page.url.count("at=") == 0


def test_the_slider_shows_the_registry_of_another_day(page):
    page.goto("/officer")
    slider = page.locator("#slider")
    assert slider.is_visible()
    ticks = page.locator("#entered option").evaluate_all("all => all.map(o => Number(o.value))")
    # 30 May, 1, 10, 15 and 20 June, in days since the first.
    assert ticks == [0, 2, 11, 16, 21]
    slider.evaluate("(s) => { s.value = 13; s.dispatchEvent(new Event('input', {bubbles: true})); }")
    assert page.locator(".slide output").inner_text() == "2026-06-12"
    assert page.locator("[name=as-of]").input_value() == "2026-06-12"
    slider.evaluate("(s) => s.dispatchEvent(new Event('change', {bubbles: true}))")
    page.wait_for_url("**/officer?as-of=2026-06-12")
    assert "2 placements" in page.locator(".whole").inner_text()
    slider = page.locator("#slider")
    slider.focus()
    slider.press("ArrowRight")
    page.wait_for_url("**/officer?as-of=2026-06-13")
    slider.press("End")
    page.wait_for_url(lambda address: "as-of" not in address)
    assert "4 placements" in page.locator(".whole").inner_text()


def test_the_audit_folder_comes_as_one_file(page):
    page.goto("/officer?as-of=2026-06-12")
    with page.expect_download() as came:
        page.locator("a[download]", has_text="Audit folder").click()
    assert came.value.suggested_filename == "audit-2026-06-12.zip"
    with zipfile.ZipFile(came.value.path()) as archive:
        assert "audit/report.pdf" in archive.namelist()


def test_everything_is_there_without_javascript(served, chromium):
    context = chromium.new_context(java_script_enabled=False, base_url=served.url)
    page = context.new_page()
    sign_in(page, served.url, "Cy")
    page.goto("/officer")
    assert not page.locator("#slider").is_visible()
    page.locator("[name=as-of]").fill("2026-06-12")
    page.locator("form.dates button").click()
    assert "2 placements" in page.locator(".whole").inner_text()
    page.locator("a", has_text="Entry before").click()
    assert "as-of=2026-06-10" in page.url
    page.goto(PERMIT)
    page.locator("#by-verdict").select_option("nonconforming")
    page.locator("form.filter button").click()
    assert tags(page) == ["MR-0003"]
    page.goto(PERMIT)
    page.locator(".plans .module[data-tag='MR-0002'] circle").first.click(force=True)
    assert page.locator("#chosen").get_attribute("data-tag") == "MR-0002"
    context.close()


@needs_npm
@pytest.mark.parametrize("size", SIZES)
def test_every_page_is_open_to_everybody_and_fits(page, tmp_path, size):
    wide, high = SIZES[size]
    page.set_viewport_size({"width": wide, "height": high})
    files: list[Path] = []
    for path in (
        "/officer",
        "/officer?as-of=2026-06-12",
        PERMIT,
        f"{PERMIT}?verdict=nonconforming&at=MR-0003",
        f"{PERMIT}/MR-0001",
        "/officer/duties",
        "/officer/changes?since=2026-06-12",
        "/officer/sample?permit=HB-0417&size=2&seed=4711",
    ):
        page.goto(path)
        assert barriers(page) == [], path
        assert page.evaluate("document.documentElement.scrollWidth") <= wide, path
        files.append(tmp_path / f"{len(files)}.html")
        files[-1].write_text(page.request.get(path).text(), encoding="utf-8")
    assert complaints(*files) == []


def test_verdicts_read_without_colour(page):
    page.goto(PERMIT)
    shapes = page.locator(".legend svg path").evaluate_all(
        "all => all.map(p => p.getAttribute('d').slice(4))"
    )
    assert len(set(shapes)) == 4
    words = page.locator(".placements .verdict").all_inner_texts()
    assert {word.strip() for word in words} <= {
        "conforming",
        "nonconforming",
        "inconclusive",
        "not applicable",
    }
