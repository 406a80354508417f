"""An audit asks what a check asks, of everything that stands."""

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta

import pytest

from registry.actions.audit_registry import audit_registry
from registry.actions.log_placement import correct_placement
from registry.errors import NotFoundError
from registry.measure.decision import Verdict
from registry.measure.movement import Motion
from tests.actions.stocked import DEEP, ROOMY, a_register, a_row, logged
from tests.builders import ACTOR, NOON, a_permit, a_resurvey, permit_amended, placement_resurveyed
from tests.rules.one_case import asked, count_of


def two_permits():
    return a_register(
        permits=[
            a_permit(conditions=(ROOMY, DEEP, asked("capacity", greatest_count=count_of(9)))),
            a_permit(number="TN-0033", conditions=(asked("depth-band", greatest=10.0),)),
        ]
    )


def test_the_last_placement_is_audited_exactly_as_it_was_logged():
    register = two_permits()
    for number in range(1, 6):
        found = logged(
            register,
            f"MR-000{number}",
            f"34 00.0{number}00 N 077 00.0000 W",
            placed_at=NOON + timedelta(minutes=number),
        )
    audit = audit_registry(register, permit="HB-0417")
    lines = [line for line in audit.lines() if line.placement == "MR-0005"]
    assert [line.as_json() for line in lines] == [finding.as_json() for finding in found.findings]


def test_only_the_chosen_permit_is_audited_and_the_others_still_are_neighbours():
    register = two_permits()
    logged(register, "MR-0001")
    logged(register, "MR-0002", "34 00.0010 N 077 00.0000 W", permit="TN-0033")
    audit = audit_registry(register, permit="HB-0417")
    assert [a.permit.number for a in audit.permits] == ["HB-0417"]
    assert {line.placement for line in audit.lines()} == {"MR-0001"}
    spacing = next(line for line in audit.lines() if line.rule == "spacing")
    assert spacing.verdict == Verdict.NONCONFORMING
    assert "MR-0002" in spacing.message


def test_every_permit_is_audited_with_its_own_conditions():
    register = two_permits()
    logged(register, "MR-0001")
    logged(register, "MR-0002", "34 00.1000 N 077 00.0000 W", permit="TN-0033")
    told: list[int] = []
    audit = audit_registry(register, progress=told.append)
    assert [[f.rule for f in a.findings] for a in audit.permits] == [
        ["inside-area", "keep-out", "spacing", "clearance", "capacity", "validity", "duplicate"],
        ["inside-area", "keep-out", "depth-band", "validity", "duplicate"],
    ]
    assert sum(told) == 2
    assert len(told) > 2, "the bar goes on with every question"
    assert (audit.count(Verdict.CONFORMING), audit.count(Verdict.NONCONFORMING)) == (1, 1)
    assert audit.verdict == Verdict.NONCONFORMING
    assert audit.head == register.head()


def test_what_was_corrected_is_not_audited():
    register = a_register()
    wrong = logged(register, position="34 00.0000 N 077 05.0000 W")
    assert audit_registry(register).verdict == Verdict.NONCONFORMING
    correct_placement(register, wrong.placement_id, a_row(), reason="typo", actor=ACTOR)
    audit = audit_registry(register)
    assert audit.verdict == Verdict.CONFORMING
    assert audit.count(Verdict.CONFORMING) == 1


def test_an_empty_registry_has_nothing_to_say():
    audit = audit_registry(a_register())
    assert audit.verdict == Verdict.NOT_APPLICABLE
    assert list(audit.lines()) == []
    assert audit_registry(a_register(permits=[])).permits == ()


def test_an_unknown_permit_is_refused():
    with pytest.raises(NotFoundError):
        audit_registry(a_register(), permit="HB-9999")


def test_an_audit_writes_nothing():
    register = two_permits()
    logged(register)
    before = register.head()
    audit_registry(register)
    assert register.head() == before


def test_a_drop_late_in_the_evening_counts_for_that_day():
    register = a_register(permits=[a_permit(valid_to=datetime(2026, 6, 1, tzinfo=UTC).date(), conditions=())])
    logged(register, placed_at=datetime(2026, 6, 2, 3, 30, tzinfo=UTC))  # 23:30 on the first in New York
    assert audit_registry(register).verdict == Verdict.CONFORMING


# Amended permits.


def an_amended_register(*, day_of_two=date(2026, 3, 1)):
    """A permit that asks for 6 m between modules, and from a day on for 40 m."""
    register = a_register(permits=[a_permit(conditions=(ROOMY,))])
    wide = asked("spacing", least=40.0)
    second = a_permit(conditions=(wide,), in_force_from=day_of_two, amendment="Amendment 1")
    register.append([permit_amended(second)])
    return register


def test_a_placement_is_judged_by_the_version_of_its_day_and_apart_by_todays():
    register = an_amended_register()
    logged(register, "MR-0001", placed_at=datetime(2026, 2, 28, 12, tzinfo=UTC))
    logged(register, "MR-0002", "34 00.0100 N 077 00.0000 W", placed_at=datetime(2026, 3, 1, 12, tzinfo=UTC))
    audit = audit_registry(register)
    assert [a.placements.tag.tolist() for a in audit.permits] == [["MR-0001"], ["MR-0002"]]
    assert [a.permit.amendment for a in audit.permits] == ["", "Amendment 1"]
    # They lie 18.5 m apart: enough by the first version, not by the second.
    assert [a.verdict.tolist() for a in audit.permits] == [[Verdict.CONFORMING], [Verdict.NONCONFORMING]]
    (today,) = audit.today
    assert today.permit.amendment == "Amendment 1"
    assert today.verdict.tolist() == [Verdict.NONCONFORMING, Verdict.NONCONFORMING]


def test_the_day_of_a_placement_is_that_of_the_programmes_zone():
    # 03:30 UTC on 1 March is still 28 February on the coast of the tests.
    register = an_amended_register()
    logged(register, "MR-0001", placed_at=datetime(2026, 3, 1, 3, 30, tzinfo=UTC))
    (audit,) = audit_registry(register).permits
    assert audit.permit.amendment == ""


def test_a_permit_that_was_never_amended_has_no_other_today():
    register = two_permits()
    logged(register, "MR-0001")
    assert audit_registry(register).today == ()


def test_an_amended_permit_without_placements_is_told_once():
    audit = audit_registry(an_amended_register())
    assert [a.permit.amendment for a in audit.permits] == ["Amendment 1"]
    assert len(audit.permits[0].placements) == 0


def test_capacity_counts_across_the_versions_of_a_permit():
    few = asked("capacity", greatest_count=count_of(1))
    register = a_register(permits=[a_permit(conditions=(few,))])
    register.append(
        [permit_amended(a_permit(conditions=(few,), in_force_from=date(2026, 3, 1), amendment="Amendment 1"))]
    )
    logged(register, "MR-0001", placed_at=datetime(2026, 2, 1, 12, tzinfo=UTC))
    logged(register, "MR-0002", "34 00.0500 N 077 00.0000 W", placed_at=datetime(2026, 4, 1, 12, tzinfo=UTC))
    counted = [
        line.measured
        for audit in audit_registry(register).permits
        for _, line in audit.lines()
        if line.rule == "capacity"
    ]
    assert counted == [1.0, 2.0]


# Modules that a resurvey found moved.


def a_moved_one(register, placement_id, *, lon_deg, tag, observed_at=datetime(2026, 8, 1, 12, tzinfo=UTC)):
    resurvey = a_resurvey(
        tag=tag, placement_id=placement_id, lon_deg=lon_deg, r95_m=0.5, observed_at=observed_at
    )
    movement = replace(resurvey.movement, verdict=Motion.MOVED, compared_with=placement_id)
    register.append([placement_resurveyed(replace(resurvey, movement=movement))])


def test_a_module_that_moved_is_judged_where_it_was_found_and_its_findings_say_so():
    register = two_permits()
    first = logged(register, "MR-0001", "34 00.0000 N 077 00.0600 W")
    logged(register, "MR-0002", "34 00.0000 N 077 00.0000 W")
    assert audit_registry(register).verdict == Verdict.CONFORMING
    # Swept 92 m east, to 2.8 m from the other: less than 6 m edge to edge.
    a_moved_one(register, first.placement_id, lon_deg=-77.00003, tag="MR-0001")
    (audit, _) = audit_registry(register).permits
    lines = {(line.placement, line.rule): line for _, line in audit.lines()}
    assert lines["MR-0001", "spacing"].verdict == Verdict.NONCONFORMING
    assert lines["MR-0002", "spacing"].verdict == Verdict.NONCONFORMING
    assert lines["MR-0001", "spacing"].message.endswith("It has moved: this is where a resurvey found it.")
    assert "moved" not in lines["MR-0002", "spacing"].message
    # Nobody sounded where it lies now.
    assert lines["MR-0001", "clearance"].verdict == Verdict.INCONCLUSIVE
    assert "It has moved: this depth is that of where it was placed" in lines["MR-0001", "clearance"].message
    assert lines["MR-0002", "clearance"].verdict == Verdict.CONFORMING
    assert audit.placements.lon_deg[0] == -77.00003
    # What was true before it was seen to have moved.
    before = audit_registry(register, on=datetime(2026, 7, 1, tzinfo=UTC))
    assert before.verdict == Verdict.CONFORMING


def test_a_check_before_a_drop_knows_who_has_moved_there():
    register = two_permits()
    far = logged(register, "MR-0001", "34 00.0000 N 077 00.5000 W")
    a_moved_one(register, far.placement_id, lon_deg=-77.00003, tag="MR-0001")
    found = logged(register, "MR-0002", "34 00.0000 N 077 00.0000 W")
    spacing = next(line for line in found.findings if line.rule == "spacing")
    assert spacing.verdict == Verdict.NONCONFORMING
    assert "MR-0001" in spacing.message
