"""What is owed follows from the placements that stand, the permit of their day, and what was told."""

from dataclasses import replace
from datetime import UTC, date, datetime
from typing import Any

import pytest

from registry.actions.declare_burial_reports import declare_burial_reports
from registry.actions.list_duties import list_duties
from registry.actions.plan_work import plan_work
from registry.actions.record_sending import record_sending
from registry.errors import InvalidRecordError, NotFoundError
from registry.records.duty import Duty, DutyKind, DutyState
from registry.records.duty_entry import AuthorityBasis
from registry.records.module import Memorial
from registry.records.permit import Condition, Permit, Reporting
from tests.builders import (
    ACTOR,
    a_module,
    a_permit,
    a_placement,
    a_programme,
    a_quantity,
    module_added,
    permit_added,
    permit_amended,
    placement_corrected,
    placement_logged,
    placement_withdrawn,
    type_added,
)
from tests.fakes import FixedClock, MemoryRegister

ASKS = Reporting(
    notice_days_before=14,
    notice_cite="General condition 3",
    report_days_after=30,
    report_cite="Special condition 9",
)
#: 14 June 2026 in New York, though the 15th in UTC.
EVENING = datetime(2026, 6, 15, 2, 30, tzinfo=UTC)
PLACED_ON = date(2026, 6, 14)
ASBUILT = "asbuilt-HB-0417-2026-06-14"
NOTICE = "notice-HB-0417-2026-06-14"


def a_register(*permits: Permit, now: datetime = datetime(2026, 12, 1, 17, tzinfo=UTC)) -> MemoryRegister:
    """Give a registry on the first of December, with three modules of which two remember somebody."""
    register = MemoryRegister(a_programme(), actor=ACTOR, clock=FixedClock(now, step_s=0.001))
    names = {"MR-0001": "Ada Quill", "MR-0002": "Ben Sedge", "MR-0003": None}
    modules = [
        a_module(tag=tag, memorial=Memorial(name=name) if name else None) for tag, name in names.items()
    ]
    permits = permits or (a_permit(reporting=ASKS),)
    register.append([*map(permit_added, permits), type_added(), *map(module_added, modules)])
    return register


def place(register: MemoryRegister, tag: str = "MR-0001", at: datetime = EVENING, **changes: Any) -> str:
    """Log a placement and give its identifier."""
    (entry,) = register.append([placement_logged(a_placement(tag=tag, placed_at=at, **changes))])
    return entry.reference


def duty(register: MemoryRegister, duty_id: str, **asked: Any) -> Duty:
    found = {each.duty_id: each for each in list_duties(register, **asked).duties}
    assert duty_id in found, sorted(found)
    return found[duty_id]


def send(register: MemoryRegister, duty_id: str, day: date | None, **told: Any) -> Duty:
    (after,) = record_sending(register, [duty_id], sent_on=day, actor=ACTOR, **told)
    return after


def declare(register: MemoryRegister, applies: Any = "yes", **told: Any) -> None:
    said = {"permit": None, "days": None, "cite": "40 CFR 229.1(d)", "bases": ()} | told
    declare_burial_reports(register, applies=applies, actor=ACTOR, **said)


# --- as-built reports


def test_an_as_built_report_is_owed_for_each_day_of_placing_in_the_programmes_zone():
    register = a_register()
    first, second = place(register), place(register, "MR-0002")
    place(register, "MR-0003", at=datetime(2026, 6, 15, 16, tzinfo=UTC))
    found = duty(register, ASBUILT, on=date(2026, 6, 20))
    assert (found.due_on, found.state) == (date(2026, 7, 14), DutyState.OPEN)
    assert found.placements == (first, second)
    assert found.cite == "Special condition 9"
    assert duty(register, "asbuilt-HB-0417-2026-06-15", on=date(2026, 6, 20)).due_on == date(2026, 7, 15)


@pytest.mark.parametrize(
    ("on", "words"),
    [
        ("2026-06-14", "open"),
        ("2026-07-01", "due soon"),
        ("2026-07-14", "due soon"),
        ("2026-07-15", "overdue by 1 day"),
    ],
)
def test_an_unsent_report_grows_late(on, words):
    register = a_register()
    place(register)
    assert duty(register, ASBUILT, on=date.fromisoformat(on)).state_words == words


def test_what_was_placed_or_sent_later_is_left_aside():
    register = a_register()
    place(register)
    send(register, ASBUILT, date(2026, 7, 10))
    assert not [d for d in list_duties(register, on=date(2026, 6, 13)).duties if d.kind is DutyKind.AS_BUILT]
    assert duty(register, ASBUILT, on=date(2026, 7, 9)).state is DutyState.DUE_SOON
    assert duty(register, ASBUILT, on=date(2026, 7, 10)).state is DutyState.DONE


def test_sent_late_is_told_as_late():
    register = a_register()
    place(register)
    after = send(register, ASBUILT, date(2026, 7, 26), note="by e-mail")
    assert after.state_words == "done, 12 days late"
    assert any("2026-07-26: by e-mail" in sentence and ACTOR in sentence for sentence in after.evidence)


def test_sent_twice_the_first_counts_for_time_and_the_last_for_what_it_said():
    register = a_register()
    place(register)
    send(register, ASBUILT, date(2026, 7, 1))
    place(register, "MR-0002")
    assert duty(register, ASBUILT).changed_since
    after = send(register, ASBUILT, date(2026, 11, 1))
    assert (after.state_words, after.sent_on, after.times_sent) == ("done", date(2026, 7, 1), 2)


def test_a_corrected_placement_is_told_as_changed_since_the_report():
    register = a_register()
    old = place(register)
    send(register, ASBUILT, date(2026, 7, 1))
    register.append([placement_corrected(a_placement(placed_at=EVENING), supersedes=old)])
    after = duty(register, ASBUILT)
    assert after.state_words == "done; changed since"
    assert any("1 placement was added or corrected and 1 no longer stands" in s for s in after.evidence)
    assert list_duties(register).want_attention


def test_a_corrected_day_moves_the_duty_and_leaves_what_was_sent_behind():
    register = a_register()
    old = place(register)
    send(register, ASBUILT, date(2026, 7, 1))
    moved = a_placement(placed_at=datetime(2026, 6, 12, 16, tzinfo=UTC))
    register.append([placement_corrected(moved, supersedes=old)])
    left = duty(register, ASBUILT)
    assert (left.state, left.sent_on) == (DutyState.NOT_APPLICABLE, date(2026, 7, 1))
    assert "stands no longer" in left.what
    assert duty(register, "asbuilt-HB-0417-2026-06-12").state is DutyState.OVERDUE


def test_a_withdrawn_placement_owes_nothing():
    register = a_register()
    register.append([placement_withdrawn(place(register))])
    kinds = {each.kind for each in list_duties(register).duties}
    assert kinds == {DutyKind.NOTICE, DutyKind.EXPIRY}


def test_a_wrong_day_told_is_put_right_and_a_sending_that_never_was_is_taken_back():
    register = a_register()
    place(register)
    send(register, ASBUILT, date(2026, 7, 26))
    after = send(register, ASBUILT, date(2026, 7, 6), instead=True, note="typed 26 for 6")
    assert (after.state_words, after.times_sent) == ("done", 1)
    after = send(register, ASBUILT, None, note="it came back undelivered")
    assert after.state is DutyState.OVERDUE


@pytest.mark.parametrize(
    ("duty_id", "told", "error", "words"),
    [
        (ASBUILT, {"day": date(2026, 12, 2)}, InvalidRecordError, "still to come"),
        (ASBUILT, {"day": date(2026, 6, 13)}, InvalidRecordError, "cannot have been sent"),
        (ASBUILT, {"day": date(2026, 7, 1), "instead": True}, InvalidRecordError, "without a reason"),
        (ASBUILT, {"day": None, "note": "never"}, NotFoundError, "nothing can be put right"),
        ("asbuilt-HB-0417-2026-06-41", {"day": date(2026, 7, 1)}, NotFoundError, ASBUILT),
        ("notice-HB-0417-next", {"day": date(2026, 7, 1)}, InvalidRecordError, "duties plan"),
        ("burial-*", {"day": date(2026, 7, 1)}, NotFoundError, "fits"),
    ],
)
def test_what_cannot_have_been_sent_is_refused_with_the_remedy(duty_id, told, error, words):
    register = a_register()
    place(register)
    before = register.journal_length()
    with pytest.raises(error, match=words):
        send(register, duty_id, told.pop("day"), **told)
    assert register.journal_length() == before


def test_a_permit_that_asks_nothing_is_told_in_a_note_not_passed_over():
    register = a_register(a_permit())
    place(register)
    found = list_duties(register)
    assert not [d for d in found.duties if d.kind in (DutyKind.NOTICE, DutyKind.AS_BUILT)]
    assert "no notice before work and no as-built report" in found.notes[0]


def test_a_placement_is_reported_as_the_version_of_its_day_asked():
    register = a_register()
    shorter = a_permit(
        reporting=replace(ASKS, report_days_after=10, report_cite="Special condition 9 as amended"),
        in_force_from=date(2026, 6, 15),
        amendment="Shorter terms",
    )
    register.append([permit_amended(shorter)])
    place(register)
    place(register, "MR-0002", at=datetime(2026, 6, 15, 16, tzinfo=UTC))
    assert duty(register, ASBUILT).due_on == date(2026, 7, 14)
    later = duty(register, "asbuilt-HB-0417-2026-06-15")
    assert (later.due_on, later.cite) == (date(2026, 6, 25), "Special condition 9 as amended")


# --- notices


def test_a_notice_whose_day_cannot_be_known_says_so():
    register = a_register()
    found = duty(register, "notice-HB-0417-next")
    assert (found.state, found.due_on) == (DutyState.UNKNOWN, None)
    assert "cannot be known" in found.evidence[0]
    assert not found.wants_attention


def test_planned_work_gives_its_notice_a_day():
    register = a_register()
    plan_work(register, permit="HB-0417", begins_on=date(2027, 3, 1), ends_on=date(2027, 3, 5), actor=ACTOR)
    found = duty(register, "notice-HB-0417-2027-03-01")
    assert (found.due_on, found.state) == (date(2027, 2, 15), DutyState.OPEN)
    assert "notice-HB-0417-next" not in {each.duty_id for each in list_duties(register).duties}
    assert duty(register, "notice-HB-0417-2027-03-01", on=date(2027, 2, 16)).state is DutyState.OVERDUE


def test_placing_within_planned_work_asks_for_no_other_notice():
    register = a_register()
    plan_work(register, permit="HB-0417", begins_on=date(2026, 6, 10), ends_on=date(2026, 6, 20), actor=ACTOR)
    place(register)
    send(register, "notice-HB-0417-2026-06-10", date(2026, 5, 27))
    notices = [d for d in list_duties(register).duties if d.kind is DutyKind.NOTICE and d.due_on]
    assert [(n.duty_id, n.state_words) for n in notices] == [("notice-HB-0417-2026-06-10", "done")]


def test_placing_that_no_notice_foretold_is_overdue_for_good_and_late_when_sent():
    register = a_register()
    place(register)
    found = duty(register, NOTICE, on=PLACED_ON)
    assert (found.due_on, found.state_words) == (date(2026, 5, 31), "overdue by 14 days")
    assert "No notice is on record for it." in found.evidence
    assert send(register, NOTICE, date(2026, 6, 20)).state_words == "done, 20 days late"


def test_days_of_placing_between_which_no_notice_fits_are_one_work():
    register = a_register()
    place(register, at=datetime(2026, 6, 1, 16, tzinfo=UTC))
    place(register, "MR-0002", at=datetime(2026, 6, 15, 16, tzinfo=UTC))  # 14 days on
    place(register, "MR-0003", at=datetime(2026, 6, 30, 16, tzinfo=UTC))  # 15 days on
    notices = {d.duty_id for d in list_duties(register).duties if d.kind is DutyKind.NOTICE and d.due_on}
    assert notices == {"notice-HB-0417-2026-06-01", "notice-HB-0417-2026-06-30"}


def test_a_notice_counts_though_an_earlier_day_of_the_work_came_to_light():
    register = a_register()
    place(register)
    send(register, NOTICE, date(2026, 5, 20))
    place(register, "MR-0002", at=datetime(2026, 6, 12, 16, tzinfo=UTC))
    found = [d for d in list_duties(register).duties if d.kind is DutyKind.NOTICE and d.due_on]
    assert [(d.duty_id, d.state_words) for d in found] == [("notice-HB-0417-2026-06-12", "done")]


def test_work_called_off_owes_no_notice_and_one_that_was_sent_is_told():
    register = a_register()
    begins_on = date(2027, 3, 1)
    work: dict[str, Any] = {"permit": "HB-0417", "begins_on": begins_on, "actor": ACTOR}
    plan_work(register, ends_on=date(2027, 3, 5), **work)
    send(register, "notice-HB-0417-2027-03-01", date(2026, 11, 30))
    plan_work(register, ends_on=None, called_off=True, **work)
    left = duty(register, "notice-HB-0417-2027-03-01")
    assert left.state is DutyState.NOT_APPLICABLE
    assert any("called off" in sentence for sentence in left.evidence)
    with pytest.raises(NotFoundError, match="No work under HB-0417"):
        plan_work(register, ends_on=None, called_off=True, **work)


def test_planned_work_shares_no_day_with_other_work_and_has_an_end():
    register = a_register()
    plan_work(register, permit="HB-0417", begins_on=date(2027, 3, 1), ends_on=date(2027, 3, 5), actor=ACTOR)
    with pytest.raises(InvalidRecordError, match="planned under HB-0417 already"):
        plan_work(
            register, permit="HB-0417", begins_on=date(2027, 3, 5), ends_on=date(2027, 3, 9), actor=ACTOR
        )
    with pytest.raises(InvalidRecordError, match="no last day"):
        plan_work(register, permit="HB-0417", begins_on=date(2027, 4, 1), ends_on=None, actor=ACTOR)
    plan_work(register, permit="HB-0417", begins_on=date(2027, 3, 1), ends_on=date(2027, 3, 9), actor=ACTOR)
    assert duty(register, "notice-HB-0417-2027-03-01").to_day == date(2027, 3, 9)


# --- burial-at-sea reports


def test_whether_a_burial_report_applies_is_not_guessed():
    register = a_register()
    place(register)
    found = duty(register, "burial-reports-HB-0417")
    assert (found.state, found.wants_attention) == (DutyState.UNKNOWN, True)
    assert "not declared" in found.evidence[0]


def test_a_module_that_remembers_nobody_raises_no_question():
    register = a_register()
    place(register, "MR-0003")
    assert not [d for d in list_duties(register).duties if d.kind is DutyKind.BURIAL]


def test_declared_to_apply_each_memorial_placed_owes_a_report():
    register = a_register()
    for tag in ("MR-0001", "MR-0002", "MR-0003"):
        place(register, tag)
    declare(register)
    burials = [d for d in list_duties(register, on=date(2026, 6, 20)).duties if d.kind is DutyKind.BURIAL]
    assert [(d.duty_id, d.due_on, d.cite) for d in burials] == [
        ("burial-MR-0001", date(2026, 7, 14), "40 CFR 229.1(d)"),
        ("burial-MR-0002", date(2026, 7, 14), "40 CFR 229.1(d)"),
    ]
    assert all("Quill" not in word and "Sedge" not in word for d in burials for word in (d.what, *d.evidence))


def test_declared_not_to_apply_it_says_by_whose_word():
    register = a_register()
    place(register)
    declare(register, "no", cite="Letter 2024-118 of the regional office")
    found = duty(register, "burial-reports-HB-0417")
    assert found.state is DutyState.NOT_APPLICABLE
    assert found.cite == "Letter 2024-118 of the regional office"
    assert ACTOR in found.evidence[0]


def test_a_declaration_keeps_what_it_does_not_name_and_a_permits_own_goes_first():
    register = a_register(a_permit(reporting=ASKS), a_permit(number="HB-0522"))
    place(register)
    place(register, "MR-0002", permit="HB-0522")
    declare(register, days=20)
    declare(register, None, days=None, cite=None, bases=[AuthorityBasis(kind="state permit", document="X-1")])
    declare(register, "no", permit="HB-0522", cite="Outside the baseline's sea")
    assert duty(register, "burial-MR-0001").due_on == date(2026, 7, 4)
    assert duty(register, "burial-reports-HB-0522").state is DutyState.NOT_APPLICABLE
    with pytest.raises(NotFoundError):
        declare(register, "no", permit="HB-9999")
    with pytest.raises(InvalidRecordError, match="Nothing is declared"):
        declare(register, None, days=None, cite=None)


def test_a_burial_keeps_its_name_when_its_day_is_corrected():
    register = a_register()
    old = place(register)
    declare(register)
    send(register, "burial-MR-0001", date(2026, 7, 1))
    moved = a_placement(placed_at=datetime(2026, 5, 20, 16, tzinfo=UTC))
    register.append([placement_corrected(moved, supersedes=old)])
    after = duty(register, "burial-MR-0001")
    assert (after.due_on, after.state_words) == (date(2026, 6, 19), "done, 12 days late; changed since")


def test_a_tag_recorded_under_two_permits_is_one_burial_whichever_permit_is_asked():
    register = a_register(a_permit(reporting=ASKS), a_permit(number="HB-0522"))
    place(register)
    place(register, permit="HB-0522", at=datetime(2026, 6, 20, 16, tzinfo=UTC))
    declare(register)
    found = duty(register, "burial-MR-0001", permit="HB-0417")
    assert len(found.placements) == 2
    assert any("recorded in 2 places" in sentence for sentence in found.evidence)
    assert not [d for d in list_duties(register, permit="HB-0522").duties if d.kind is DutyKind.BURIAL]


def test_many_are_told_as_sent_at_once():
    register = a_register()
    place(register)
    place(register, "MR-0002")
    declare(register)
    send(register, "burial-MR-0001", date(2026, 7, 1))
    after = record_sending(register, ["burial-*", ASBUILT], sent_on=date(2026, 7, 2), actor=ACTOR)
    assert [(d.duty_id, d.times_sent) for d in after] == [("burial-MR-0002", 1), (ASBUILT, 1)]


# --- dates


@pytest.mark.parametrize(
    ("on", "state"),
    [
        ("2033-10-31", DutyState.OPEN),
        ("2033-11-01", DutyState.DUE_SOON),
        ("2034-04-30", DutyState.DUE_SOON),
        ("2034-05-01", DutyState.NOT_APPLICABLE),
    ],
)
def test_the_end_of_a_permit_is_a_reminder_never_overdue(on, state):
    register = a_register()
    assert duty(register, "expiry-HB-0417-2034-04-30", on=date.fromisoformat(on)).state is state


def test_a_renewal_asked_for_is_done():
    register = a_register(a_permit(reporting=ASKS, valid_to=date(2026, 12, 31)))
    assert send(register, "expiry-HB-0417-2026-12-31", date(2026, 11, 30)).state is DutyState.DONE


def season(limits: dict[str, str], **more: Any) -> Condition:
    quantities = {name: a_quantity(0.0, "text", written=words) for name, words in limits.items()}
    return Condition(rule="season", cite="Special condition 11", limits=quantities, **more)


@pytest.mark.parametrize(
    ("limits", "on", "ends", "state"),
    [
        ({"open": "05-01 to 10-31"}, "2026-09-30", "2026-10-31", DutyState.OPEN),
        ({"open": "05-01 to 10-31"}, "2026-10-01", "2026-10-31", DutyState.DUE_SOON),
        ({"open": "05-01 to 10-31"}, "2026-10-31", "2026-10-31", DutyState.DUE_SOON),
        ({"open": "05-01 to 10-31"}, "2026-11-01", "2027-10-31", DutyState.OPEN),
        ({"closed": "1 May to 31 October"}, "2026-12-15", "2027-04-30", DutyState.OPEN),
        ({"open": "12-01 to 02-28"}, "2027-12-24", "2028-02-28", DutyState.OPEN),
        ({"open": "04-01 to 10-31", "closed": "06-15 to 07-15"}, "2026-05-01", "2026-06-14", DutyState.OPEN),
    ],
)
def test_the_end_of_a_season_is_told_by_the_calendar(limits, on, ends, state):
    register = a_register(a_permit(conditions=(season(limits),)))
    found = duty(register, f"season-HB-0417-{ends}", on=date.fromisoformat(on))
    assert (found.due_on, found.state) == (date.fromisoformat(ends), state)
    assert found.cite == "Special condition 11"


def test_a_season_of_some_areas_names_them_and_one_without_an_end_is_none():
    some = season({"open": "05-01 to 10-31"}, areas=("gannet-patch",))
    register = a_register(a_permit(conditions=(some, season({"closed": ""}))))
    seasons = [d for d in list_duties(register).duties if d.kind is DutyKind.SEASON]
    assert [d.duty_id for d in seasons] == ["season-HB-0417-gannet-patch-2027-10-31"]
    assert "in gannet-patch" in seasons[0].what


def test_no_season_is_told_beyond_the_end_of_the_permit_and_nothing_is_sent_for_one():
    register = a_register(
        a_permit(conditions=(season({"open": "05-01 to 10-31"}),), valid_to=date(2027, 4, 30))
    )
    assert not [d for d in list_duties(register).duties if d.kind is DutyKind.SEASON]
    on = date(2026, 6, 1)
    assert [d.duty_id for d in list_duties(register, on=on).duties if d.kind is DutyKind.SEASON]
    register = a_register(a_permit(conditions=(season({"open": "05-01 to 10-31"}),)))
    with pytest.raises(InvalidRecordError, match="Nothing is sent"):
        send(register, "season-HB-0417-2027-10-31", date(2026, 11, 1))


# --- order


def test_overdue_comes_first_and_only_the_permit_asked_for_is_told():
    register = a_register(a_permit(reporting=ASKS), a_permit(number="HB-0522"))
    place(register)
    states = [each.state.rank for each in list_duties(register).duties]
    assert states == sorted(states)
    assert states[0] == DutyState.OVERDUE.rank
    assert {each.permit for each in list_duties(register, permit="HB-0522").duties} == {"HB-0522"}
    with pytest.raises(NotFoundError):
        list_duties(register, permit="HB-9999")


def test_how_soon_is_soon_may_be_said():
    register = a_register()
    place(register)
    assert duty(register, ASBUILT, on=date(2026, 6, 20), soon_days=24).state is DutyState.DUE_SOON
    assert duty(register, ASBUILT, on=date(2026, 6, 20), soon_days=23).state is DutyState.OPEN
