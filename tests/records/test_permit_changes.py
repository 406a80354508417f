"""What an amendment changed is told in the words of the paper."""

from datetime import date

import pytest
from shapely import Polygon, get_coordinates

from registry.errors import PermitError
from registry.records.permit import Reporting, in_force_on
from registry.records.permit_changes import condition_words, permit_changes
from tests.builders import a_condition, a_permit, a_quantity, amended, an_area
from tests.rules.one_case import SEA, a_square, asked, feet, ratio


def changes(**changed):
    return permit_changes(a_permit(), a_permit(**changed))


def test_nothing_changed_is_nothing_told():
    assert changes() == ()
    # When a version begins and why is no difference of what it says.
    assert changes(in_force_from=date(2026, 6, 2), amendment="Amendment 1") == ()
    # Nor is where a ring begins.
    ring = get_coordinates(an_area().shape).tolist()
    turned = an_area(shape=Polygon([*ring[2:-1], *ring[:3]]))
    assert changes(areas=(turned,)) == ()


def test_each_difference_is_told_once():
    assert changes(holder="Tern Reef Trust", valid_to=date(2040, 4, 30), chart_datum="LAT") == (
        "holder: not stated -> Tern Reef Trust",
        "valid to: 2034-04-30 -> 2040-04-30",
        "chart datum: MLLW -> LAT",
    )
    assert changes(areas=(an_area(shape=a_square(-77.0, 34.0, 500.0), edges="rhumb"),)) == (
        "area gannet-patch, outline: drawn anew",
        "area gannet-patch, edges: geodesic -> rhumb",
    )
    assert changes(areas=(an_area(area_id="tern-patch"),)) == (
        "area tern-patch: added",
        "area gannet-patch: taken away",
    )
    assert changes(reporting=Reporting(notation="dms", report_days_after=30, report_cite="GC 5")) == (
        "reporting, notation: ddm -> dms",
        "reporting, report days after: not stated -> 30",
        "reporting, report cite: not stated -> GC 5",
    )


def test_conditions_are_paired_by_rule_and_rather_by_clause():
    wide = a_condition(cite="Special condition 9", limits={"least": a_quantity(20.0, written="20 m")})
    deep = asked("clearance", least=feet(50))
    before = a_permit(conditions=(a_condition(), wide))
    tighter = a_condition(cite="Special condition 9", limits={"least": a_quantity(25.0, written="25 m")})
    after = a_permit(conditions=(tighter, a_condition(), deep))
    assert permit_changes(before, after) == (
        "spacing: least 20 m [Special condition 9] -> least 25 m [Special condition 9]",
        f"clearance: added, least {feet(50).written} [{deep.cite}]",
    )
    assert permit_changes(after, before) == (
        "spacing: least 25 m [Special condition 9] -> least 20 m [Special condition 9]",
        f"clearance: taken away, least {feet(50).written} [{deep.cite}]",
    )
    limited = a_condition(areas=("gannet-patch",))
    assert changes(conditions=(limited,)) == (
        "spacing: least 6.0 [Special condition 4] -> least 6.0 in gannet-patch [Special condition 4]",
    )


@pytest.mark.parametrize(
    ("day", "begins"),
    [
        (date(2020, 1, 1), date(2024, 5, 1)),
        (date(2026, 6, 1), date(2024, 5, 1)),
        (date(2026, 6, 2), date(2026, 6, 2)),
        (date(2050, 1, 1), date(2026, 6, 2)),
    ],
)
def test_a_version_is_in_force_from_its_first_day_until_the_next(day, begins):
    assert in_force_on((a_permit(), amended()), day).begins_on == begins


@pytest.mark.parametrize(
    ("day", "standing"),
    [
        (date(2024, 4, 30), "not yet valid"),
        (date(2024, 5, 1), "in force"),
        (date(2034, 4, 30), "in force"),
        (date(2034, 5, 1), "expired"),
    ],
)
def test_both_dates_of_a_permit_are_valid_days(day, standing):
    assert a_permit().standing_on(day) == standing


def test_a_condition_needs_its_area():
    with pytest.raises(PermitError, match="'tern-patch'"):
        a_permit(conditions=(a_condition(areas=("gannet-patch", "tern-patch")),))


@pytest.mark.parametrize(
    ("stated", "told"),
    [
        ({"notice_days_before": -1, "notice_cite": "GC 3"}, "notice_days_before = -1"),
        ({"report_days_after": 30}, "report_days_after = 30 names no source"),
        ({"report_days_after": 30, "report_cite": " "}, "report_days_after = 30 names no source"),
    ],
)
def test_a_duty_of_reporting_needs_its_days_and_its_source(stated, told):
    with pytest.raises(PermitError, match=told) as refusal:
        Reporting(**stated)
    assert refusal.value.remedy


def test_what_is_asked_is_told_before_what_it_is_judged_with():
    condition = asked("stability", **SEA, least_sliding_factor=ratio(1.5))
    assert condition_words(condition).startswith("least sliding factor 1.5, wave height 4 m, ")
    assert condition_words(asked("depth-band", greatest=30.0, least=15.0)).startswith(
        "least 15 m, greatest 30 m"
    )
