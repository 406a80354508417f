import re
from dataclasses import replace
from datetime import date, timedelta
from html.parser import HTMLParser
from xml.etree import ElementTree as ET

import numpy as np
import pytest
from shapely.geometry import MultiPolygon, Point, Polygon

from registry.actions.audit_registry import audit_registry
from registry.actions.choose_inspections import choose_inspections
from registry.actions.compare_audits import compare_audits
from registry.actions.settle_finding import settle_findings
from registry.actions.summarise_audit import summarise_audit
from registry.documents.audit_plan import COLOURS, draw_plans
from registry.documents.audit_report import write_audit_report
from registry.measure.decision import Verdict
from registry.measure.geodesic import inverse
from registry.records.audit_summary import TodayRow, TodaySummary, VerdictChange, margins
from registry.records.duty import Duties, Duty, DutyKind, DutyState
from registry.records.permit import Condition
from tests.audited import (
    AUDITED_AT,
    PRIVATE_NAME,
    audit_summary,
    audited_registry,
    strict_permit,
)
from tests.builders import (
    ACTOR,
    a_keep_out,
    a_module,
    a_placement,
    a_programme,
    a_quantity,
    an_area,
    keep_out_added,
    module_added,
    placement_logged,
    placement_withdrawn,
)
from tests.documents.browser import needs_chromium, open_chromium, open_page
from tests.fakes import FixedClock, MemoryRegister

HOSTILE = "<script>alert(1)</script>\"&'<b>"
VOID = {"meta", "br", "link", "img", "hr", "input"}


class Checked(HTMLParser):
    """Keeps the tags in order, and refuses a page whose elements do not close."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.open: list[str] = []
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.text = ""
        self.feed(page)
        self.close()
        assert self.open == []

    def handle_starttag(self, tag, attrs):
        self.tags.append((tag, dict(attrs)))
        if tag not in VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag, attrs):
        self.tags.append((tag, dict(attrs)))

    def handle_endtag(self, tag):
        assert self.open.pop() == tag

    def handle_data(self, data):
        if "style" not in self.open:
            self.text += data

    def all(self, tag):
        return [attrs for name, attrs in self.tags if name == tag]


@pytest.fixture(scope="module")
def summary():
    return audit_summary()


@pytest.fixture(scope="module")
def page(summary):
    return write_audit_report(summary)


def test_the_page_is_sound_and_needs_nothing_from_outside(page):
    checked = Checked(page)
    names = {tag for tag, _ in checked.tags}
    assert not names & {"script", "link", "img", "iframe", "object"}
    assert not re.search(r"url\(|@import|https?:", page)
    assert checked.all("html")[0]["lang"] == "en"
    assert "<title>Marram Coast Memorial Reefs: audit" in page
    assert all("scope" in th for th in checked.all("th"))
    ids = [attrs["id"] for _, attrs in checked.tags if "id" in attrs]
    assert len(ids) == len(set(ids))
    levels = [int(tag[1]) for tag, _ in checked.tags if re.fullmatch("h[1-6]", tag)]
    assert levels[0] == 1
    assert levels.count(1) == 1


def test_a_permit_officer_finds_each_answer(page, summary):
    text = " ".join(Checked(page).text.split())
    for told in (
        "HB-0417",
        "Harbour Bay Coastal Office",
        "2024-05-01 to 2034-04-30",
        "below MLLW",
        "8 modules, 11,200 kg",
        "NAD83(2011) (EPSG:6318), epoch 2010",
        summary.journal_head,
        "8 placements: 3 conforming, 3 nonconforming, 2 inconclusive.",
        "The water over the top of the module, at chart datum, is at least the authorised clearance.",
        "at least 50 ft (15.24 m)",
        "13.40 ± 0.41 m of water over the top at MLLW",
        "two digits swapped on the slate",
        "0badcafe-22 supersedes 0badcafe-14",
        "“34 00.000 N 077 00.000 W”",
        "log.csv, row 2",
        "claims no legal authority",
        "Not for navigation",
    ):
        assert told in text, told


def test_what_was_withdrawn_is_told_with_the_reason():
    register = audited_registry()
    (again,) = register.append([placement_logged()])
    (gone,) = register.append([placement_withdrawn(again.reference, reason="Enter pressed twice")])
    text = " ".join(Checked(write_audit_report(audit_summary(register))).text.split())
    assert f"{gone.reference} withdraws {again.reference}" in text
    assert "Enter pressed twice" in text


def test_a_limit_is_read_aloud():
    types = a_quantity(0.0, "text", written="dome-120,slab-40")
    permit = strict_permit(
        conditions=(
            Condition(rule="module-type", cite="Appendix B", limits={"types": types}),
            Condition(
                rule="relief", cite="5", limits={"greatest_share": a_quantity(0.25, "share", written="25 %")}
            ),
            Condition(
                rule="capacity",
                cite="6",
                limits={"greatest_count": a_quantity(120.0, "count", written="120")},
            ),
        )
    )
    text = " ".join(Checked(write_audit_report(audit_summary(audited_registry(permit=permit)))).text.split())
    for told in ("types: dome-120, slab-40", "at most 25 % of the water", "at most 120", "112 modules"):
        assert told in text, told


def test_every_flagged_placement_is_listed_and_no_conforming_one(page, summary):
    text = Checked(page).text
    after = text[text.index("Nonconforming and inconclusive") : text.index("Corrections")]
    flagged = {found.placement for _, found in summary.permits[0].flagged()}
    assert flagged == {f"MR-000{n}" for n in (4, 5, 6, 7, 8)}
    assert all(tag in after for tag in flagged)
    assert not any(tag in after for tag in ("MR-0001", "MR-0002", "MR-0003"))


def test_nobody_of_a_family_is_named(page):
    assert PRIVATE_NAME not in page


def test_the_same_audit_gives_the_same_page(page):
    assert write_audit_report(audit_summary()) == page


def test_whatever_was_typed_is_text_and_never_markup():
    tag = HOSTILE.replace("/", "|")
    permit = strict_permit(
        authority=HOSTILE,
        chart_datum=HOSTILE,
        areas=(an_area(area_id=HOSTILE, written=HOSTILE),),
        conditions=(
            Condition(rule="clearance", cite=HOSTILE, limits={"least": a_quantity(15.0, written=HOSTILE)}),
        ),
    )
    register = audited_registry(
        keep_out_added(a_keep_out(keep_out_id="x", name=HOSTILE, kind=HOSTILE, setback_m=4000.0)),
        module_added(a_module(tag=tag)),
        placement_logged(
            a_placement(
                tag=tag,
                lat_deg=34.2,
                position_text=HOSTILE,
                depth_text=HOSTILE,
                tide_text=HOSTILE,
                source={"file": HOSTILE, "row": 1},
                basis=(HOSTILE,),
            )
        ),
        permit=permit,
    )
    page = write_audit_report(audit_summary(register))
    checked = Checked(page)
    assert not {"script", "b"} & {name for name, _ in checked.tags}
    assert checked.text.count("<script>alert(1)</script>") > 8


def test_one_radius_is_rounded_upward_wherever_it_stands():
    # 1.0016 m is neither within 1 m nor, written to two digits, within less than 1.1 m.
    limits = {"greatest": a_quantity(1.0, written="1 m")}
    quality = Condition(rule="position-quality", cite="Special condition 6", limits=limits)
    register = audited_registry(permit=strict_permit(conditions=(quality,)))
    register.append([module_added(a_module(tag="MR-0009"))])
    register.append([placement_logged(a_placement(tag="MR-0009", lat_deg=34.002, r95_m=1.0016))])
    summary = audit_summary(register)
    told = Checked(
        write_audit_report(replace(summary, inspections=choose_inspections(register, summary)))
    ).text
    # In the list of inspections, in the table of findings as measured, and beside the evidence.
    assert "Wwithin 1.1 m (95 %)Nonconforming" in told
    assert "1.1 m1 mKnown within 1.1 m (95 %); at most 1 m is asked." in told
    assert "Wwithin 1.1 m (95 %)20.36" in told
    assert "within 1 m" not in told


def test_a_permit_without_placements_and_a_registry_without_permits():
    assert "No placement stands." in write_audit_report(audit_summary())
    empty = MemoryRegister(a_programme(), actor=ACTOR, clock=FixedClock())
    page = write_audit_report(audit_summary(empty))
    Checked(page)
    assert "No permit is recorded" in page
    assert "Nothing has been placed yet." in page


def test_an_audit_of_the_past_says_so():
    register = audited_registry()
    summary = summarise_audit(register, audit_registry(register), audited_at=AUDITED_AT, as_of=AUDITED_AT)
    assert (
        "as it was known at 2026-06-02 05:30 America/New_York (2026-06-02 09:30 UTC)"
        in write_audit_report(summary)
    )


def test_thousands_of_conforming_modules_do_not_make_it_huge(summary):
    permit = summary.permits[0]
    good = np.flatnonzero(permit.verdict == Verdict.CONFORMING)
    rows = np.concatenate([np.tile(good, 7000), np.flatnonzero(permit.verdict != Verdict.CONFORMING)])
    many = replace(
        permit,
        placements=permit.placements.rows(rows),
        verdict=permit.verdict[rows],
        held=permit.held[rows],
        nearest_area=permit.nearest_area[rows],
        conditions=(),
        evidence=(),
    )
    page = write_audit_report(replace(summary, permits=(many,)))
    assert len(page) < 100_000


# What is told beside the findings.


def full_summary():
    """Give the audit with everything that a paper tells: settlements, changes, inspections, duties, today."""
    register = audited_registry()
    summary = settle_findings(register, audit_summary(register))
    changed = VerdictChange(
        permit="HB-0417",
        tag="MR-0004",
        rule="spacing",
        cite="Special condition 4",
        before=Verdict.CONFORMING,
        now=Verdict.INCONCLUSIVE,
    )
    since = AUDITED_AT - timedelta(days=2)
    changes = replace(
        compare_audits(register, None, summary, since=since), verdicts=(changed,), verdict_count=7
    )
    duty = Duty(
        duty_id="asbuilt-HB-0417-2026-06-01",
        kind=DutyKind.AS_BUILT,
        permit="HB-0417",
        what=f"As-built report {HOSTILE}",
        due_on=AUDITED_AT.date() - timedelta(days=3),
        state=DutyState.OVERDUE,
        days_late=3,
        cite="Special condition 9",
    )
    row = TodayRow(
        tag="MR-0002",
        then=Verdict.CONFORMING,
        now=Verdict.NONCONFORMING,
        cite="Amendment 1",
        message="9 m; at least 12 m is asked.",
    )
    amended = replace(
        summary.permits[0].permit, in_force_from=date(2026, 6, 2), amendment=f"Amendment 1 {HOSTILE}"
    )
    counts = summary.permits[0].counts
    return replace(
        summary,
        software="Leadline 0.1.0, PROJ 9.5.1",
        changes=changes,
        inspections=choose_inspections(register, summary),
        duties=Duties(on=AUDITED_AT.date(), zone="UTC", duties=(duty,), notes=("A note.",)),
        today=(TodaySummary(permit=amended, then=counts, now=counts, listed=(row,), count=3),),
    )


@pytest.fixture(scope="module")
def full_page():
    return write_audit_report(full_summary())


def test_all_that_an_officer_asks_beside_the_findings_is_told(full_page):
    checked = Checked(full_page)
    text = " ".join(checked.text.split())
    for told in (
        "Leadline 0.1.0, PROJ 9.5.1",
        "To settle it: No survey is likely to: it misses by 4.6 times its uncertainty.",
        "A move of 236.3 m toward 270° true would keep every distance asked",
        "Since 2026-05-31 05:30 America/New_York (2026-05-31 09:30 UTC): 2 permits added, 8 placed, 1 corrected.",
        "Then the registry had not begun.",
        "… and 6 more; the two audits can be compared by findings.csv.",
        "Never measured again since 2026-06-04.",
        "overdue by 3 days",
        "A note.",
        "as in force from 2026-06-02",
        "9 m; at least 12 m is asked.",
        "… and 2 more; they are counted above.",
        "Spacing, Special condition 4",
        "Each bar is 2.5 m wide: no narrower than a typical value is sure (± 2.2 m, 95 %)",
    ):
        assert told in text, told
    assert "script" not in {name for name, _ in checked.tags}
    assert not re.search(r"url\(|@import|https?:", full_page)
    ids = [attrs["id"] for _, attrs in checked.tags if "id" in attrs]
    assert len(ids) == len(set(ids))
    targets = {attrs["href"][1:] for attrs in checked.all("a")}
    assert targets <= set(ids)


def test_nothing_is_told_that_nobody_asked_for(page):
    text = Checked(page).text
    for left_out in ("What has changed", "What to inspect again", "Duties and dates", "To settle it:"):
        assert left_out not in text


def test_a_permit_in_two_versions_is_told_apart(summary):
    (first, *rest) = summary.permits
    amended = replace(first.permit, in_force_from=date(2026, 6, 3), amendment="More room")
    two = replace(summary, permits=(first, replace(first, permit=amended), *rest))
    text = " ".join(Checked(write_audit_report(two)).text.split())
    assert "as first issued" in text
    assert "as in force from 2026-06-03: More room." in text
    # Corrections are of the permit, not of one of its versions.
    assert text.count("two digits swapped on the slate") == 1


def test_thousands_of_permits_have_a_line_each_and_only_the_worst_are_told_in_full(summary):
    flagged, quiet = summary.permits
    many = [replace(quiet, permit=replace(quiet.permit, number=f"Q-{n:04d}")) for n in range(3000)]
    bad = [replace(flagged, permit=replace(flagged.permit, number=f"B-{n:02d}")) for n in range(40)]
    page = write_audit_report(replace(summary, permits=(*many, *bad)))
    checked = Checked(page)
    assert len([attrs for attrs in checked.all("section") if attrs.get("class") == "permit"]) == 30
    assert "Q-2999" in checked.text
    assert "The 30 with most that is nonconforming are told in full." in checked.text
    assert len(page) < 4_000_000


# The plan.


def plan_of(summary, number=0, keep_outs=()):
    return draw_plans(summary.permits[number], 0, keep_outs, name="p")


def marks_of(svg, verdict):
    """Give where the marks of a verdict stand."""
    root = ET.fromstring(svg)
    places = []
    for path in root.iter("path"):
        # An arrow toward what lies beyond is no mark.
        if path.get("stroke") == COLOURS[verdict] and path.get("transform") is None:
            places += [(float(x), float(y)) for x, y in re.findall(r"M(\d+) (\d+)", path.get("d", ""))]
    return places


def scale_of(svg):
    """Give the pixels of a metre, from the scale bar itself."""
    root = ET.fromstring(svg)
    (bar,) = (g for g in root.iter("g") if any((t.text or "").endswith(" m") for t in g.iter("text")))
    length, pixels = next(
        (float((t.text or "").split()[0]), float(t.get("x", 0)))
        for t in bar.iter("text")
        if (t.text or "").endswith(" m")
    )
    return pixels / length


def test_the_plan_is_to_scale(summary):
    (plan, *_) = plan_of(summary)
    # MR-0005 lies outside, MR-0007 inside; their distance on the paper is that on the ellipsoid.
    (x1, y1), (x2, y2) = marks_of(plan.svg, Verdict.NONCONFORMING)
    distance_m, _ = inverse(-77.0 + 0.012, 34.0, -77.0, 34.004)
    assert float(np.hypot(x1 - x2, y1 - y2)) / scale_of(plan.svg) == pytest.approx(
        float(distance_m), rel=0.01
    )
    assert x1 > x2
    assert y1 > y2


def test_what_lies_far_beyond_is_told_and_not_drawn(summary, page):
    (plan, *_) = plan_of(summary)
    (beyond,) = plan.beyond
    distance_m, bearing_deg = inverse(-77.0, 34.0, -77.0, 34.12)
    assert beyond.tag == "MR-0008"
    assert beyond.distance_m == pytest.approx(float(distance_m), abs=1.0)
    assert beyond.bearing_deg == pytest.approx(float(bearing_deg), abs=0.1)
    assert "MR-0008 (nonconforming), 13.3 km from the middle of the area toward 000° true" in page


def test_each_verdict_has_a_shape_of_its_own(summary):
    (plan, *_) = plan_of(summary)
    assert len(marks_of(plan.svg, Verdict.CONFORMING)) == 3
    assert len(marks_of(plan.svg, Verdict.NONCONFORMING)) == 2
    assert 1 <= len(marks_of(plan.svg, Verdict.INCONCLUSIVE)) <= 2
    shapes = {
        re.sub(r"M\d+ \d+", "", path.get("d", ""))[:12]
        for path in ET.fromstring(plan.svg).iter("path")
        if path.get("stroke") in COLOURS.values() and path.get("fill") != "#cfd6d3"
    }
    assert len(shapes) >= 3


def test_a_near_keep_out_is_drawn_and_a_far_one_is_not(summary):
    near = a_keep_out(shape=Point(-77.0, 34.0), setback_m=100.0)
    far = a_keep_out(name="Far wreck", shape=Point(-75.0, 34.0), setback_m=100.0)
    (plan, *_) = plan_of(summary, keep_outs=(near, far))
    assert plan.keep_outs == ("cable Skua cable",)


def test_modules_close_together_get_a_detail():
    register = audited_registry(
        *(module_added(a_module(tag=f"MR-010{n}")) for n in range(5)),
        *(
            placement_logged(a_placement(tag=f"MR-010{n}", lon_deg=-77.009 + 0.00004 * n, lat_deg=33.99105))
            for n in range(5)
        ),
    )
    plans = plan_of(audit_summary(register))
    assert [plan.title for plan in plans] == ["Plan of gannet-patch", "Detail of gannet-patch"]
    assert plans[1].bases
    assert scale_of(plans[1].svg) > 5 * scale_of(plans[0].svg)


@pytest.mark.parametrize(
    "shape",
    [
        Polygon([(179.99, -17.01), (180.01, -17.01), (180.01, -16.99), (179.99, -16.99)]),
        MultiPolygon([Point(-77.0, 34.0).buffer(0.003), Point(-76.99, 34.0).buffer(0.003)]),
        Polygon([(-77.01, 33.9999), (-76.99, 33.9999), (-76.99, 34.0), (-77.01, 34.0)]),
        Point(-77.0, 34.0).buffer(0.01).difference(Point(-77.0, 34.0).buffer(0.004)),
        Point(-77.0, 34.0).buffer(1e-6),
    ],
    ids=["180th meridian", "two parts", "narrow", "hole", "tiny"],
)
def test_any_area_can_be_drawn(shape):
    permit = strict_permit(areas=(an_area(shape=shape),))
    for plan in plan_of(audit_summary(audited_registry(permit=permit))):
        root = ET.fromstring(plan.svg)
        wide, high = (float(size) for size in root.get("viewBox", "").split()[2:])
        assert 50 < wide < 700
        assert 50 < high < 700
        assert "nan" not in plan.svg


# Sums.


def test_margins_agree_with_the_verdicts(summary):
    # Guarded acceptance (JCGM 106:2012): conforming clears its limit by U, nonconforming misses it by more than U.
    for permit in summary.permits:
        for each in permit.conditions:
            if each.findings.unit == "":
                continue
            margin, u95 = margins(each.condition, each.findings), each.findings.u95
            # A keep-out out of sight conforms without having been measured.
            met = (each.findings.verdict == Verdict.CONFORMING) & np.isfinite(each.findings.measured)
            missed = each.findings.verdict == Verdict.NONCONFORMING
            assert np.all(margin[met] >= u95[met] - 1e-9)
            assert np.all(margin[missed] < -u95[missed] + 1e-9)


def test_the_least_margin_names_whose_it_is(summary):
    by_rule = {each.condition.rule: each.least_margin for each in summary.permits[0].conditions}
    assert by_rule["clearance"].placement == "MR-0007"
    assert by_rule["clearance"].value == pytest.approx(14.6 - 1.2 - 15.24)
    assert by_rule["depth-band"].value == pytest.approx(14.6 - 15.24)
    assert by_rule["position-quality"].value == pytest.approx(3.5)
    assert by_rule["duplicate"] is None


# In a browser.


@pytest.mark.browser
@needs_chromium
@pytest.mark.parametrize("width", [390, 1280])
def test_the_page_fits_its_window_and_asks_for_nothing(tmp_path, full_page, width):
    file = tmp_path / "report.html"
    file.write_text(full_page, encoding="utf-8")
    with (
        open_chromium() as browser,
        open_page(browser, file, viewport={"width": width, "height": 900}) as (tab, complaints),
    ):
        assert tab.evaluate("document.documentElement.scrollWidth") <= width
        assert tab.locator("svg.plan").first.bounding_box()["height"] > 100
        assert complaints.requests == []
        assert complaints.errors == []
