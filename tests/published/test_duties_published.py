"""
The figures of burial-at-sea reports against what is published.

Sources
-------
40 CFR 229.1 (Burial at sea): (a)(3) cremated remains no closer than 3 nautical miles from land; (b) land is
the part of the baseline of the territorial sea that is closest to the site; (d) reported within 30 days.
(a)(3) and (b) read in a public copy in November 2026; (d) in the requirements of EPA Region 1, its own wording
from memory. The nautical mile: 1852 m, International Extraordinary Hydrographic Conference, Monaco 1929.
"""

from datetime import UTC, date, datetime, time, timedelta

import pytest

from registry.actions.declare_burial_reports import declare_burial_reports
from registry.actions.list_duties import list_duties
from registry.records.burial_form import FORM, LEAST_OFFSHORE
from registry.records.duty_entry import BURIAL_REPORT_DAYS, BURIAL_REPORT_SOURCE
from registry.records.module import Memorial
from tests.builders import (
    ACTOR,
    a_module,
    a_permit,
    a_placement,
    a_programme,
    module_added,
    permit_added,
    placement_logged,
    type_added,
)
from tests.fakes import FixedClock, MemoryRegister


def test_three_nautical_miles_of_40_cfr_229_1_a_3():
    assert LEAST_OFFSHORE.value_m == 3 * 1852 == 5556
    assert "229.1(a)(3)" in LEAST_OFFSHORE.source


def test_thirty_days_of_40_cfr_229_1_d_are_a_default_with_its_source():
    assert BURIAL_REPORT_DAYS == 30
    assert "229.1(d)" in BURIAL_REPORT_SOURCE


def test_what_the_agency_says_against_reefs_under_its_general_permit_is_told():
    """EPA, page on burial at sea, read in November 2026: artificial reefs are not allowed under it."""
    said = " ".join(FORM.warnings)
    assert "does not allow" in said
    assert "artificial reefs" in said
    assert "special permit" in said


# Counted by hand on a calendar: 30 days over the ends of months of 28, 29, 30 and 31 days.
CALENDAR = [
    (date(2026, 6, 14), date(2026, 7, 14)),
    (date(2026, 1, 31), date(2026, 3, 2)),
    (date(2028, 1, 31), date(2028, 3, 1)),
    (date(2026, 12, 15), date(2027, 1, 14)),
]


@pytest.mark.parametrize(("placed_on", "due_on"), CALENDAR)
def test_a_report_is_due_thirty_days_after_the_placement(placed_on, due_on):
    clock = FixedClock(datetime(2030, 1, 1, tzinfo=UTC))
    register = MemoryRegister(a_programme(), actor=ACTOR, clock=clock)
    noon = datetime.combine(placed_on, time(17), tzinfo=UTC)
    register.append(
        [
            permit_added(a_permit()),
            type_added(),
            module_added(a_module(memorial=Memorial(name="Ada Quill"))),
            placement_logged(a_placement(placed_at=noon)),
        ]
    )
    declare_burial_reports(
        register, permit=None, applies="yes", days=None, cite="40 CFR 229.1(d)", bases=(), actor=ACTOR
    )
    (found,) = (each for each in list_duties(register).duties if each.duty_id == "burial-MR-0001")
    assert found.due_on == due_on == placed_on + timedelta(30)
