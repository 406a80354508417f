"""A duty is on time up to and on its day, late the day after, and says so in words."""

from dataclasses import replace
from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from registry.errors import InvalidRecordError, UnprintableTextError
from registry.records.duty import SOON_DAYS, Duties, Duty, DutyKind, DutyState, state_of
from registry.records.duty_entry import (
    AuthorityBasis,
    Declaration,
    PlannedWork,
    Sending,
    declaration_body,
    declaration_from_body,
    planned_work_body,
    planned_work_from_body,
    sending_body,
    sending_from_body,
)

DUE = date(2026, 7, 14)
OWED = Duty(
    duty_id="asbuilt-HB-0417-2026-06-14",
    kind=DutyKind.AS_BUILT,
    permit="HB-0417",
    what="As-built report",
    due_on=DUE,
    state=DutyState.OPEN,
    cite="Special condition 9",
)
BASIS = AuthorityBasis(kind="state permit", document="HB-0417")
DECLARED = Declaration(permit="HB-0417", applies="yes", days=30, cite="40 CFR 229.1(d)", bases=(BASIS,))
SENT = Sending(
    duty_id=OWED.duty_id,
    kind=OWED.kind,
    permit="HB-0417",
    sent_on=date(2026, 7, 1),
    note="by e-mail, no. 88",
    covers=("0badcafe-7", "0badcafe-8"),
)


@pytest.mark.parametrize(
    ("on", "sent_on", "state", "late"),
    [
        (date(2026, 6, 29), None, DutyState.OPEN, 0),
        (date(2026, 6, 30), None, DutyState.DUE_SOON, 0),
        (DUE, None, DutyState.DUE_SOON, 0),
        (date(2026, 7, 15), None, DutyState.OVERDUE, 1),
        (date(2026, 7, 20), DUE, DutyState.DONE, 0),
        (date(2026, 7, 20), date(2026, 7, 15), DutyState.DONE, 1),
        # What was sent later than the day asked about was not sent then.
        (date(2026, 7, 18), date(2026, 7, 19), DutyState.OVERDUE, 4),
    ],
)
def test_the_state_of_a_duty_on_a_day(on, sent_on, state, late):
    assert state_of(DUE, on=on, soon_days=14, sent_on=sent_on) == (state, late)


DAYS = st.dates(date(2020, 1, 1), date(2040, 1, 1))


@given(due=DAYS, on=DAYS, sent=st.none() | DAYS, soon=st.integers(0, 400))
def test_a_day_later_nothing_unsent_is_better(due, on, sent, soon):
    order = [DutyState.DONE, DutyState.OPEN, DutyState.DUE_SOON, DutyState.OVERDUE]
    (today, _), (tomorrow, late) = (
        state_of(due, on=on + timedelta(k), soon_days=soon, sent_on=sent) for k in (0, 1)
    )
    if tomorrow is not DutyState.DONE:
        assert order.index(tomorrow) >= order.index(today)
        assert (late > 0) == (tomorrow is DutyState.OVERDUE)


def test_the_words_tell_how_late_and_what_changed():
    assert OWED.state_words == "open"
    assert replace(OWED, state=DutyState.OVERDUE, days_late=1).state_words == "overdue by 1 day"
    assert replace(OWED, state=DutyState.DONE, days_late=12).state_words == "done, 12 days late"
    changed = replace(OWED, state=DutyState.DONE, changed_since=True)
    assert changed.state_words == "done; changed since"
    assert changed.wants_attention


def test_states_are_read_overdue_first_and_every_kind_has_its_term():
    assert [state.value for state in sorted(DutyState, key=lambda state: state.rank)] == [
        "overdue",
        "due soon",
        "not yet known",
        "open",
        "done",
        "does not apply",
    ]
    assert set(SOON_DAYS) == set(DutyKind)
    assert len({kind.words for kind in DutyKind}) == len(DutyKind)


def test_duties_tell_what_is_overdue_and_what_wants_attention():
    calm = Duties(on=DUE, zone="UTC", duties=(OWED,))
    assert (calm.overdue, calm.want_attention) == (False, False)
    soon = replace(calm, duties=(replace(OWED, state=DutyState.DUE_SOON),))
    assert (soon.overdue, soon.want_attention) == (False, True)
    late = replace(calm, duties=(replace(OWED, state=DutyState.OVERDUE),))
    assert late.overdue


def test_entries_come_back_from_the_journal():
    work = PlannedWork(permit="HB-0417", begins_on=DUE, ends_on=DUE)
    assert declaration_from_body(declaration_body(DECLARED)) == DECLARED
    assert planned_work_from_body(planned_work_body(work)) == work
    assert sending_from_body(sending_body(SENT)) == SENT
    never = replace(SENT, sent_on=None, instead=True)
    assert sending_from_body(sending_body(never)) == never


def test_who_told_it_and_when_comes_with_the_entry():
    told = sending_body(SENT) | {"reference": "a-9", "time": "2026-07-02T14:03:00.000Z", "actor": "Ada"}
    assert sending_from_body(told).told == "Ada, 2026-07-02T14:03Z, entry a-9"


@pytest.mark.parametrize(
    "changes",
    [{"days": None}, {"days": 0}, {"cite": " "}, {"applies": "perhaps"}, {"applies": "no", "cite": ""}],
)
def test_a_declaration_without_its_term_or_source_is_refused(changes):
    with pytest.raises(InvalidRecordError):
        replace(DECLARED, **changes)


def test_nothing_need_be_said_of_what_is_unknown():
    assert Declaration().applies == "unknown"


def test_a_basis_needs_its_kind_and_its_document():
    with pytest.raises(InvalidRecordError, match="lacks its kind"):
        AuthorityBasis(kind="state permit", document=" ")


@pytest.mark.parametrize("text", ["by e-mail\nno. 88", "\x1b[31mred", "\u202eturned"])
def test_words_that_would_not_read_as_typed_are_refused(text):
    with pytest.raises(UnprintableTextError):
        replace(SENT, note=text)
    with pytest.raises(UnprintableTextError):
        AuthorityBasis(kind="letter", document=text)


@pytest.mark.parametrize("claim", ["authorised under 40 CFR 229.1", "Authorized  under the general permit"])
def test_a_claim_of_authority_is_no_paper(claim):
    with pytest.raises(InvalidRecordError, match="for the authority to say"):
        AuthorityBasis(kind="letter", document=claim)
    with pytest.raises(InvalidRecordError, match="for the authority to say"):
        replace(DECLARED, cite=claim)


def test_work_ends_after_it_begins():
    with pytest.raises(InvalidRecordError, match="before it begins"):
        PlannedWork(permit="HB-0417", begins_on=DUE, ends_on=DUE - timedelta(1))
