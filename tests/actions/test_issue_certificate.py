"""A certificate is issued once, given again unchanged, and superseded when the truth is corrected."""

import json
import unicodedata
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta

import pytest
from pyproj import Geod

from registry.actions.amend_module import amend_module
from registry.actions.duplicate_certificate import duplicate_certificate
from registry.actions.issue_certificate import certificate_body, certificate_from_body, issue_certificate
from registry.actions.log_placement import correct_placement
from registry.errors import ConflictError, InvalidRecordError, NotFoundError, UnprintableTextError
from registry.records.certificate import place_words, read_certificate_number
from registry.records.module import Memorial
from tests.actions.stocked import a_register, a_row, logged
from tests.builders import ACTOR, LAT_DEG, LON_DEG, a_module, a_permit, amended, an_area, permit_amended
from tests.rules.one_case import a_square

GRS80 = Geod(ellps="GRS80")
NOW = datetime(2026, 11, 24, 17, 0, tzinfo=UTC)
NAME = "Zoë Ångström-O'Hara"


def a_site(name=NAME):
    register = a_register(
        modules=[
            a_module(tag="MR-0001", memorial=Memorial(name=name)),
            a_module(tag="MR-0002", memorial=Memorial(name="Ib Tarn")),
            a_module(tag="MR-0003"),
        ]
    )
    logged(register, "MR-0001")
    return register


def print_page(certificate):
    """Print as a page would, without a page: the same facts give the same bytes."""
    return json.dumps(certificate_body(certificate), sort_keys=True).encode()


def issue(register, tag="MR-0001", *, now=NOW, page=print_page, despite=None):
    return issue_certificate(register, tag, print_page=page, now=now, actor=ACTOR, despite=despite)


def test_the_facts_are_those_of_the_registry():
    register = a_site()
    head = register.head()
    certificate = issue(register).certificate
    assert (certificate.memorial_name, certificate.tag, certificate.version) == (NAME, "MR-0001", 1)
    assert (certificate.permit, certificate.reef, certificate.chart_datum) == (
        "HB-0417",
        "gannet-patch",
        "MLLW",
    )
    assert (certificate.placed_on, certificate.issued_on) == (date(2026, 6, 1), date(2026, 11, 24))
    assert certificate.charted_depth_m == pytest.approx(20.36)
    assert certificate.journal_head == head
    assert read_certificate_number(certificate.number) == certificate.number
    assert certificate.number.startswith("MCMR-2026-000001-")


def test_both_positions_are_the_same_place_and_the_drift_is_that_of_the_plate():
    # NAD83(2011) to ITRF2020: 1.0703 m at 33 N 78 W in 2026.9; 30 years of drift there: 0.418 m toward 282
    # without the translation of the model's origin, 0.410 m toward 286 with it (EPSG:10334 and the ITRF2020
    # plate motion model, worked out with PROJ 9.5.1); 34 N 77 W is a hundred and forty kilometres away.
    certificate = issue(a_site()).certificate
    assert (certificate.home_lat_deg, certificate.home_lon_deg) == pytest.approx((LAT_DEG, LON_DEG))
    away_m = GRS80.inv(LON_DEG, LAT_DEG, certificate.lon_deg, certificate.lat_deg)[2]
    assert away_m == pytest.approx(1.07, abs=0.03)
    assert certificate.epoch == 2026.9
    assert certificate.drift_m == pytest.approx(0.418, abs=0.02)
    assert certificate.drift_azimuth_deg == pytest.approx(284, abs=5)


def test_a_permit_amended_after_the_placement_changes_no_certificate():
    """The module was placed on 2026-06-01; from the next day on the permit has other words and another area."""
    register = a_site()
    first = issue(register)
    later = amended(chart_datum="LAT", areas=(an_area(area_id="tern-patch", shape=a_square(-76.0, 34.0)),))
    register.append([permit_amended(later)])
    register._clock.instant = NOW
    assert register.permit("HB-0417") == later
    before = register.head()
    again = issue(register)
    assert again.again
    assert again.pdf == first.pdf
    assert register.head() == before
    assert (again.certificate.reef, again.certificate.chart_datum) == ("gannet-patch", "MLLW")


def test_again_gives_the_same_bytes_and_writes_nothing():
    register = a_site()
    first = issue(register)
    logged(register, "MR-0002", "34 00.1000 N 077 00.0000 W")
    before = register.head()
    again = issue(register, now=NOW + timedelta(days=400))
    assert (first.again, again.again) == (False, True)
    assert again.pdf == first.pdf
    assert again.certificate == first.certificate
    assert register.head() == before


def test_again_gives_the_same_bytes_however_the_name_is_typed():
    register = a_site(unicodedata.normalize("NFD", NAME))
    first = issue(register)
    assert issue(register).again
    assert issue(register).pdf == first.pdf


def test_a_correction_makes_a_new_version_under_the_same_number():
    register = a_site()
    first = issue(register)
    (placement_id,) = register.placement_ids("MR-0001")
    correct_placement(
        register, placement_id, a_row(position="34 00.0500 N 077 00.0000 W"), reason="resurveyed", actor=ACTOR
    )
    second = issue(register)
    assert not second.again
    assert (second.certificate.number, second.certificate.version) == (first.certificate.number, 2)
    assert second.certificate.home_lat_deg > first.certificate.home_lat_deg
    assert [body["version"] for body in register.certificates("MR-0001")] == [1, 2]
    assert issue(register).pdf == second.pdf


def test_each_module_has_a_number_of_its_own():
    register = a_site()
    logged(register, "MR-0002", "34 00.1000 N 077 00.0000 W")
    numbers = [issue(register, tag).certificate.number for tag in ("MR-0001", "MR-0002")]
    assert numbers[0].startswith("MCMR-2026-000001")
    assert numbers[1].startswith("MCMR-2026-000002")


def test_the_journal_holds_what_was_signed():
    register = a_site()
    issued = issue(register)
    entry = list(register.journal())[-1]
    body = entry.content()
    assert entry.kind == "certificate.issued"
    assert body["statement"] == issued.certificate.statement()
    assert certificate_from_body(body["record"]) == issued.certificate


def test_the_chart_shows_the_area_and_the_others_without_names():
    register = a_site()
    logged(register, "MR-0002", "34 00.1000 N 077 00.0000 W")
    plan = issue(register).certificate.plan
    assert len(plan.rings) == 1
    assert len(plan.others) == 1
    assert GRS80.inv(LON_DEG, LAT_DEG, *plan.others[0])[2] == pytest.approx(184.9, abs=1.5)
    assert "Tarn" not in repr(plan)


def test_a_module_that_lies_outside_is_certified_where_it_lies_and_only_for_a_reason():
    register = a_site()
    logged(register, "MR-0002", "34 00.0000 N 077 05.0000 W")
    before = register.head()
    for nothing in (None, "  "):
        with pytest.raises(ConflictError, match=r"speaks against.*outside.*--despite"):
            issue(register, "MR-0002", despite=nothing)
    assert register.head() == before
    issued = issue(register, "MR-0002", despite=" The family knows. ")
    certificate = issued.certificate
    assert certificate.home_lon_deg == pytest.approx(-77 - 5 / 60)
    # 5 minutes of longitude at 34 N are 7.70 km, the area's half width is 0.92 km.
    assert certificate.place.endswith(" km from gannet-patch")
    stated = certificate.statement()
    assert stated["reef"] == "gannet-patch"
    assert place_words(stated["reef"], stated["outside_m"]) == certificate.place
    assert issued.warnings
    body = list(register.journal())[-1].content()
    assert body["despite"] == "The family knows."
    assert body["warnings"] == list(issued.warnings)
    again = issue(register, "MR-0002")
    assert (again.again, again.warnings, again.pdf) == (True, issued.warnings, issued.pdf)


def test_a_module_beside_its_area_is_near_it():
    register = a_site()
    logged(register, "MR-0002", "34 00.6500 N 077 00.0000 W")
    certificate = issue(register, "MR-0002", despite="known").certificate
    assert 0 < certificate.outside_m < 300
    assert certificate.place == "near gannet-patch"


def test_a_placement_that_carries_a_warning_needs_a_reason():
    register = a_site()
    logged(register, "MR-0002", "34 00.1000 N 077 00.0000 W", type_id="cube-90")
    (placement_id,) = register.placement_ids("MR-0002")
    assert register.placement(placement_id).warnings
    with pytest.raises(ConflictError, match="speaks against"):
        issue(register, "MR-0002")
    assert issue(register, "MR-0002", despite="weighed by hand").warnings


def test_a_sound_placement_needs_no_reason_and_keeps_none():
    register = a_site()
    issued = issue(register, despite="to be safe")
    assert issued.warnings == ()
    assert issued.certificate.place == "gannet-patch"
    assert "despite" not in list(register.journal())[-1].content()


def test_a_depth_that_nobody_measured_is_left_out():
    register = a_site()
    logged(register, "MR-0002", "34 00.1000 N 077 00.0000 W", depth=None, depth_u95=None)
    assert issue(register, "MR-0002").certificate.charted_depth_m is None


def test_across_the_180th_meridian_a_certificate_can_be_issued():
    permit = a_permit(areas=(an_area(shape=a_square(179.99, 52.0, 2000.0)),), conditions=())
    register = a_register(
        permits=[permit], keep_outs=False, modules=[a_module(tag="MR-0001", memorial=Memorial(name=NAME))]
    )
    logged(register, "MR-0001", "52 00.0000 N 179 59.9999 W")
    certificate = issue(register).certificate
    assert -180 <= certificate.lon_deg < 180


def twice(register):
    logged(register, "MR-0001", "34 00.1000 N 077 00.0000 W")


@pytest.mark.parametrize(
    ("tag", "prepare", "error", "told"),
    [
        ("MR-0001", twice, ConflictError, "2 places.*correct"),
        ("MR-0002", lambda _r: None, NotFoundError, "not placed yet.*leadline place"),
        ("MR-0003", lambda _r: None, InvalidRecordError, "no memorial"),
        ("MR-9999", lambda _r: None, NotFoundError, "MR-9999"),
    ],
    ids=["placed twice", "not placed", "no memorial", "no such tag"],
)
def test_what_nobody_can_certify_is_refused_and_nothing_is_issued(tag, prepare, error, told):
    register = a_site()
    prepare(register)
    before = register.head()
    with pytest.raises(error, match=told):
        issue(register, tag)
    assert register.head() == before


def test_a_name_that_cannot_be_printed_issues_nothing():
    def no_glyphs(_certificate):
        raise UnprintableTextError("The fonts have no glyph for it.", remedy="Ask.")

    register = a_site()
    before = register.head()
    with pytest.raises(UnprintableTextError):
        issue(register, page=no_glyphs)
    assert register.head() == before
    assert register.certificates() == ()
    assert issue(register).certificate.number.startswith("MCMR-2026-000001")


def test_a_clock_that_runs_before_the_placement_issues_nothing():
    with pytest.raises(InvalidRecordError, match="before the placement"):
        issue(a_site(), now=datetime(2026, 5, 1, tzinfo=UTC))


def test_the_language_recorded_now_is_that_of_the_paper_and_no_reason_for_a_new_version():
    register = a_site()
    first = issue(register)
    assert first.certificate.language is None
    amend_module(register, "MR-0001", reason="the family asks", actor=ACTOR, language="vi")
    again = issue(register)
    assert again.again
    assert again.certificate == replace(first.certificate, language="vi")
    assert again.certificate.statement() == first.certificate.statement()
    copy = duplicate_certificate(register, "MR-0001", print_page=print_page, now=NOW, actor=ACTOR)
    assert copy.certificate.language == "vi"
