"""A certificate over the years: reissued, withdrawn, duplicated, listed; keys that follow each other."""

import json
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta

import pytest
from pyproj import Geod

from registry.actions.duplicate_certificate import duplicate_certificate
from registry.actions.issue_certificate import certificate_body, certificate_from_body, issue_certificate
from registry.actions.issue_certificates import issue_certificates, tags_to_certify
from registry.actions.judge_paper import judge_by_list, judge_by_registry
from registry.actions.list_certificates import certificate_of, list_certificates
from registry.actions.log_placement import correct_placement
from registry.actions.name_changes import name_changes
from registry.actions.publish_status import publish_status
from registry.actions.record_resurvey import record_resurvey
from registry.actions.rotate_key import rotate_key
from registry.actions.withdraw_certificate import withdraw_certificate
from registry.errors import ConflictError, InvalidRecordError, NotFoundError, RejectedError
from registry.measure.decision import Verdict
from registry.records.certificate import Certificate
from registry.records.certificate_change import ChangeKind
from registry.records.module import Memorial
from registry.records.programme_key import KeyEnd
from tests.actions.stocked import a_register, a_row, logged
from tests.builders import ACTOR, a_module, module_amended
from tests.fakes import MemoryRegister

GRS80 = Geod(ellps="GRS80")
NOW = datetime(2026, 11, 24, 17, 0, tzinfo=UTC)
KEY_ID = "a-test-key"
HERE, NEAR = "34 00.0000 N 077 00.0000 W", "34 00.0500 N 077 00.0000 W"


@pytest.fixture
def register() -> MemoryRegister:
    register = a_register(
        modules=[
            a_module(tag="MR-0001", memorial=Memorial(name="Zoë Ångström-O'Hara")),
            a_module(tag="MR-0002", memorial=Memorial(name="Ib Tarn")),
            a_module(tag="MR-0003"),
            a_module(tag="MR-0004", memorial=Memorial(name="Ada Quill")),
        ]
    )
    logged(register, "MR-0001")
    register._clock.instant = NOW
    return register


def print_page(certificate: Certificate) -> bytes:
    """Print as a page would, without a page: the same facts give the same bytes."""
    return json.dumps(certificate_body(certificate), sort_keys=True).encode()


def issue(register, tag="MR-0001", *, now=NOW, despite=None):
    return issue_certificate(
        register, tag, print_page=print_page, now=now, actor=ACTOR, despite=despite
    ).certificate


def duplicate(register, which="MR-0001", *, now=NOW, again=None):
    return duplicate_certificate(register, which, print_page=print_page, now=now, actor=ACTOR, again=again)


def withdraw(register, which="MR-0001", reason="two modules had been mixed up"):
    return withdraw_certificate(register, which, reason=reason, actor=ACTOR)


def correct(register, **changes):
    (placement_id,) = register.placement_ids("MR-0001")
    correct_placement(register, placement_id, a_row(**changes), reason="misread", actor=ACTOR)


def rename(register, name):
    module = register.module("MR-0001")
    register.append([module_amended(replace(module, memorial=Memorial(name=name)))])


def kinds(certificate):
    return [change.what for change in certificate.changes]


# Reissue.


def test_the_first_version_names_no_change(register):
    certificate = issue(register)
    assert certificate.changes == ()
    assert "changed" not in certificate.statement()


def test_a_name_put_right_is_named_and_the_wrong_one_is_not_repeated(register):
    issue(register)
    rename(register, "Zoe Angstrom")
    second = issue(register)
    assert (second.version, kinds(second)) == (2, [ChangeKind.NAME])
    assert second.statement()["changed"] == ["name"]
    assert "Zoë" not in print_page(second).decode()


def test_a_corrected_position_is_named_with_how_far_it_was_off(register):
    first = issue(register)
    correct(register, position=NEAR)
    second = issue(register)
    assert kinds(second) == [ChangeKind.POSITION]
    (change,) = second.changes
    azimuth, _, distance_m = GRS80.inv(
        first.home_lon_deg, first.home_lat_deg, second.home_lon_deg, second.home_lat_deg
    )
    assert change.distance_m == pytest.approx(distance_m, abs=1e-3)
    assert change.distance_m == pytest.approx(92.44, abs=0.02)  # 0.05 minutes of latitude at 34 N
    assert change.bearing_deg == pytest.approx(azimuth % 360, abs=1e-6)
    assert change.u95_m == pytest.approx((first.r95_m**2 + second.r95_m**2) ** 0.5)


def test_a_corrected_depth_radius_and_day_are_each_named(register):
    issue(register)
    correct(register, depth="18.2 m", r95="4 m", placed_at=datetime(2026, 6, 3, 16, 0, tzinfo=UTC))
    assert kinds(issue(register)) == [ChangeKind.RADIUS, ChangeKind.DEPTH, ChangeKind.DAY]


def test_what_was_corrected_behind_the_paper_is_said_as_such(register):
    issue(register)
    correct(register, crew="Ada")
    assert kinds(issue(register)) == [ChangeKind.RECORD]


def test_years_later_the_same_place_has_the_coordinates_of_a_later_year(register):
    issue(register)
    correct(register, crew="Ada")
    later = issue(register, now=NOW + timedelta(days=365 * 20))
    assert kinds(later) == [ChangeKind.EPOCH]


def test_after_a_resurvey_found_it_moved_the_paper_gives_the_place_where_it_was_found(register):
    first = issue(register)
    found = a_row(
        position=NEAR, placed_at=datetime(2026, 10, 1, 16, 0, tzinfo=UTC), depth=None, depth_u95=None
    )
    record_resurvey(register, found, actor=ACTOR)
    assert [str(each.state) for each in list_certificates(register)] == ["changed"]
    second = issue(register)
    assert second.found_on == date(2026, 10, 1)
    assert second.home_lat_deg > first.home_lat_deg
    assert second.placed_on == first.placed_on
    # Its depth was measured where it was set down.
    assert second.charted_depth_m is None
    assert kinds(second)[0] is ChangeKind.MOVED
    assert second.statement()["found"] == "2026-10-01"
    assert issue(register) == second
    assert list(register.journal())[-1].kind == "certificate.issued"


def test_a_resurvey_that_found_it_at_rest_changes_no_paper(register):
    first = issue(register)
    found = a_row(placed_at=datetime(2026, 10, 1, 16, 0, tzinfo=UTC), depth=None, depth_u95=None)
    record_resurvey(register, found, actor=ACTOR)
    assert issue(register) == first


def test_changes_are_kept_to_the_last_bit(register):
    issue(register)
    correct(register, position=NEAR, depth="18.2 m")
    second = issue(register)
    assert certificate_from_body(json.loads(print_page(second))) == second


def test_the_same_certificate_differs_in_nothing_but_its_record(register):
    certificate = issue(register)
    assert [change.what for change in name_changes(certificate, certificate)] == [ChangeKind.RECORD]
    withdrawn = name_changes(certificate, certificate, was_withdrawn=True)
    assert [change.what for change in withdrawn] == [ChangeKind.WITHDRAWN]


# Withdrawal.


def test_a_withdrawn_certificate_is_issued_anew_only_for_a_reason(register):
    first = issue(register)
    withdraw(register)
    with pytest.raises(ConflictError, match=r"withdrawn on 2026-11-24: two modules.*--despite"):
        issue(register)
    again = issue(register, despite="set right")
    assert (again.number, again.version, kinds(again)) == (first.number, 2, [ChangeKind.WITHDRAWN])
    assert [str(each.state) for each in list_certificates(register)] == ["withdrawn", "current"]


def test_a_certificate_is_found_by_number_and_by_tag(register):
    first = issue(register)
    assert certificate_of(register, "MR-0001") == certificate_of(register, f" {first.number.lower()} ")
    with pytest.raises(InvalidRecordError, match="check digits"):
        certificate_of(register, f"{first.number[:-1]}{(int(first.number[-1]) + 1) % 10}")
    with pytest.raises(NotFoundError, match="never issued"):
        certificate_of(register, "MCMR-2026-000017-85")
    with pytest.raises(NotFoundError, match="No certificate was issued for MR-0002"):
        certificate_of(register, "MR-0002")
    with pytest.raises(NotFoundError, match="MR-9999"):
        certificate_of(register, "MR-9999")


def test_a_withdrawal_says_why_and_is_done_once(register):
    issue(register)
    with pytest.raises(InvalidRecordError, match="no reason"):
        withdraw(register, reason="  ")
    withdraw(register)
    with pytest.raises(ConflictError, match="withdrawn before"):
        withdraw(register)


# Duplicates.


def test_a_duplicate_is_numbered_says_that_it_is_one_and_can_be_printed_again(register):
    original = issue(register)
    first, second = duplicate(register), duplicate(register, original.number)
    assert [each.certificate.duplicate for each in (first, second)] == [1, 2]
    assert first.certificate.statement() == original.statement() | {
        "duplicate": 1,
        "duplicated": "2026-11-24",
    }
    head = register.head()
    again = duplicate(register, now=NOW + timedelta(days=90), again=1)
    assert (again.again, again.pdf) == (True, first.pdf)
    assert register.head() == head
    with pytest.raises(NotFoundError, match="no duplicate 3"):
        duplicate(register, again=3)


def test_no_duplicate_is_made_of_what_does_not_stand(register):
    issue(register)
    rename(register, "Zoe Angstrom")
    with pytest.raises(ConflictError, match="no longer says what the record says"):
        duplicate(register)
    issue(register)
    assert duplicate(register).certificate.version == 2
    withdraw(register)
    with pytest.raises(ConflictError, match="was withdrawn"):
        duplicate(register)


# Many at once.


def batch(register, at_hand=(), permit="HB-0417"):
    outcomes = issue_certificates(
        register,
        tags_to_certify(register, permit),
        print_page=print_page,
        is_at_hand=lambda version: version.number in at_hand,
        now=NOW,
        actor=ACTOR,
    )
    return {each.tag: each for each in outcomes}


def test_a_batch_issues_what_is_missing_or_changed_and_leaves_the_rest(register):
    logged(register, "MR-0002", "34 00.1000 N 077 00.0000 W")
    logged(register, "MR-0003", "34 00.2000 N 077 00.0000 W")
    first = batch(register)
    assert list(first) == ["MR-0001", "MR-0002"]
    numbers = [each.issued.certificate.number for each in first.values()]
    assert len(set(numbers)) == 2
    assert [number[:16] for number in numbers] == ["MCMR-2026-000001", "MCMR-2026-000002"]
    head = register.head()
    again = batch(register, at_hand=numbers[:1])
    assert again["MR-0001"].kept.number == numbers[0]
    assert again["MR-0002"].issued.again
    assert register.head() == head
    rename(register, "Zoe Angstrom")
    third = batch(register, at_hand=numbers)
    assert third["MR-0001"].issued.certificate.version == 2
    assert third["MR-0002"].kept


def test_a_batch_gives_each_the_same_paper_as_alone(register):
    logged(register, "MR-0002", "34 00.1000 N 077 00.0000 W")
    together = batch(register)["MR-0002"].issued.certificate
    alone = a_register(modules=register.modules())
    for tag, place in (("MR-0001", HERE), ("MR-0002", "34 00.1000 N 077 00.0000 W")):
        logged(alone, tag, place)
    single = [issue(alone, tag) for tag in ("MR-0001", "MR-0002")][1]
    # The head of the journal alone differs: the entries bear other times.
    assert replace(single, journal_head=together.journal_head) == together


def test_a_batch_cites_the_head_before_each_of_its_entries(register):
    logged(register, "MR-0002", "34 00.1000 N 077 00.0000 W")
    batch(register)
    for entry in register.journal(kind="certificate.issued"):
        assert entry.content()["statement"]["journal"] == entry.previous


def test_a_batch_refuses_what_something_speaks_against_and_goes_on(register):
    logged(register, "MR-0002", "34 00.0000 N 077 05.0000 W")
    logged(register, "MR-0004", "34 00.1000 N 077 00.0000 W")
    logged(register, "MR-0004", "34 00.2000 N 077 00.0000 W")
    found = batch(register)
    assert "outside" in found["MR-0002"].refused.what
    assert "2 places" in found["MR-0004"].refused.what
    assert found["MR-0001"].issued


def test_a_batch_leaves_alone_what_was_withdrawn(register):
    issue(register)
    withdraw(register)
    head = register.head()
    assert batch(register)["MR-0001"].withdrawn.reason == "two modules had been mixed up"
    assert register.head() == head


def test_a_batch_sees_what_another_wrote_meanwhile(register):
    logged(register, "MR-0002", "34 00.1000 N 077 00.0000 W")
    outcomes = issue_certificates(
        register,
        tags_to_certify(register),
        print_page=print_page,
        is_at_hand=lambda _version: False,
        now=NOW,
        actor=ACTOR,
    )
    next(outcomes)
    logged(register, "MR-0002", "34 00.3000 N 077 00.0000 W")
    refused = next(outcomes).refused
    assert refused is not None
    assert "2 places" in refused.what


def test_a_permit_that_is_not_there_is_told(register):
    with pytest.raises(NotFoundError, match="XX-1"):
        tags_to_certify(register, "XX-1")


# Does a paper stand?


def test_every_state_is_told_by_registry_and_list_alike(register):
    first = issue(register)
    duplicated = duplicate(register).certificate
    seen = []

    def told(certificate):
        statement = certificate.statement()
        by_registry = judge_by_registry(register, statement, KEY_ID)
        by_list = judge_by_list(publish_status(register, now=NOW), statement, KEY_ID, now=NOW)
        assert by_registry == by_list
        seen.append(str(by_list.state))
        return by_list

    assert told(first).verdict is Verdict.CONFORMING
    assert told(duplicated).verdict is Verdict.CONFORMING
    rename(register, "Zoe Angstrom")
    assert told(first).words.startswith("the record has changed")
    second = issue(register)
    assert told(first).words == "superseded by version 2"
    assert told(duplicated).words == "superseded by version 2"
    assert told(second).verdict is Verdict.CONFORMING
    withdraw(register)
    assert told(second).words == told(first).words == "withdrawn on 2026-11-24"
    issue(register, despite="set right")
    assert told(first).words == "withdrawn on 2026-11-24; version 3 was issued since"
    assert seen[:6] == ["current", "current", "changed", "superseded", "superseded", "current"]
    assert seen[6:] == ["withdrawn"] * 3


@pytest.mark.parametrize("forge", [{"name": "Ann Other"}, {"lat": 34.1}, {"duplicate": 2}])
def test_another_paper_under_a_number_that_was_issued_is_no_paper(register, forge):
    statement = issue(register).statement() | forge
    status = publish_status(register, now=NOW)
    for judge in (
        lambda: judge_by_registry(register, statement, KEY_ID),
        lambda: judge_by_list(status, statement, KEY_ID, now=NOW),
    ):
        with pytest.raises(RejectedError, match="issued something else"):
            judge()


def test_a_list_that_is_older_than_the_paper_settles_nothing(register):
    status = publish_status(register, now=NOW - timedelta(days=2))
    statement = issue(register).statement()
    judged = judge_by_list(status, statement, KEY_ID, now=NOW)
    assert (judged.state, judged.verdict) == (None, Verdict.INCONCLUSIVE)
    assert "older than it" in judged.words


@pytest.mark.parametrize("made_before", [timedelta(0), timedelta(hours=18), timedelta(days=40)])
def test_a_duplicate_that_is_newer_than_the_list_is_no_forgery(register, made_before):
    """The day of a list is that of UTC; in the west the programme may write the day before."""
    issue(register, now=NOW - timedelta(days=60))
    status = publish_status(register, now=NOW - made_before)
    register._clock.instant = NOW + timedelta(hours=1)
    statement = duplicate(register).certificate.statement()
    judged = judge_by_list(status, statement, KEY_ID, now=NOW)
    assert (judged.state, judged.verdict) == (None, Verdict.INCONCLUSIVE)
    assert "older than it: get the newest list" in judged.words
    newest = judge_by_list(publish_status(register, now=NOW), statement, KEY_ID, now=NOW)
    assert newest.verdict is Verdict.CONFORMING


@pytest.mark.parametrize("forge", [{"name": "Ann Other"}, {"lat": 34.1}, {"duplicated": "2026-09-01"}])
def test_what_only_says_that_it_is_a_newer_duplicate_is_no_paper(register, forge):
    issue(register, now=NOW - timedelta(days=60))
    status = publish_status(register, now=NOW - timedelta(days=30))
    statement = duplicate(register).certificate.statement() | forge
    with pytest.raises(RejectedError, match="issued something else"):
        judge_by_list(status, statement, KEY_ID, now=NOW)


def test_a_newer_duplicate_by_a_stolen_key_is_no_paper(register):
    issue(register, now=NOW - timedelta(days=60))
    rotate(register, ended=KeyEnd.STOLEN)
    status = publish_status(register, now=NOW - timedelta(days=30))
    statement = duplicate(register).certificate.statement()
    with pytest.raises(RejectedError, match="issued something else"):
        judge_by_list(status, statement, KEY_ID, now=NOW)


def test_an_older_list_played_again_is_told_once_it_should_have_been_renewed(register):
    statement = issue(register).statement()
    old = publish_status(register, now=NOW, days=30)
    withdraw(register)
    in_time = judge_by_list(old, statement, KEY_ID, now=NOW + timedelta(days=30))
    assert in_time.verdict is Verdict.CONFORMING  # what was true on its day; the day is always told
    late = judge_by_list(old, statement, KEY_ID, now=NOW + timedelta(days=31))
    assert (late.state, late.verdict) == (None, Verdict.INCONCLUSIVE)
    assert "to be renewed by 2026-12-24" in late.words


def test_a_paper_that_was_never_issued_is_not_on_the_list(register):
    statement = issue(register).statement() | {"certificate": "MCMR-2026-000017-85", "issued": "2026-06-01"}
    judged = judge_by_list(publish_status(register, now=NOW), statement, KEY_ID, now=NOW)
    assert judged.words == "the list of 2026-11-24 does not hold it"
    assert judged.verdict is Verdict.INCONCLUSIVE


def test_the_list_names_nobody(register):
    from registry.records.status_list import status_list_body

    issue(register)
    rename(register, "Zoe Angstrom")
    issue(register)
    withdraw(register, reason="the Angstrom family asked for it")
    text = json.dumps(status_list_body(publish_status(register, now=NOW)), ensure_ascii=False)
    for private in ("Zo", "Angstr", "MR-0001", "gannet", "34.0", "family", register.head()):
        assert private not in text


# Keys.


def rotate(register, number=1, ended=KeyEnd.RETIRED, endorse=None):
    if ended is KeyEnd.RETIRED and endorse is None:
        endorse = json.dumps
    return rotate_key(
        register, bytes([number]) * 32, ended=ended, reason="five years", actor=ACTOR, endorse=endorse
    )


def test_a_retired_key_vouches_for_the_next(register):
    made = rotate(register)
    assert json.loads(made.endorsement)["endorses"] == made.key_id
    assert json.loads(made.endorsement)["replaces"] == KEY_ID
    with pytest.raises(ConflictError, match="in use before"):
        rotate(register)


@pytest.mark.parametrize("ended", [KeyEnd.LOST, KeyEnd.STOLEN])
def test_a_key_that_is_gone_vouches_for_nothing(register, ended):
    with pytest.raises(InvalidRecordError, match="cannot vouch"):
        rotate(register, ended=ended, endorse=json.dumps)
    assert rotate(register, ended=ended).endorsement == ""


def test_a_change_of_key_says_why(register):
    with pytest.raises(InvalidRecordError, match="no reason"):
        rotate_key(register, bytes(32), ended=KeyEnd.LOST, reason=" ", actor=ACTOR)


def test_what_a_stolen_key_signed_counts_only_where_it_is_held(register):
    issued = issue(register)
    rotate(register, ended=KeyEnd.STOLEN)
    status = publish_status(register, now=NOW)
    assert judge_by_registry(register, issued.statement(), KEY_ID).words == "current"
    assert judge_by_list(status, issued.statement(), KEY_ID, now=NOW).words == "current"
    for day in ("2026-06-01", "2030-01-01"):
        forged = issued.statement() | {"certificate": "MCMR-2026-000017-85", "issued": day}
        with pytest.raises(RejectedError, match="stolen"):
            judge_by_registry(register, forged, KEY_ID)
        with pytest.raises(RejectedError, match="stolen"):
            judge_by_list(status, forged, KEY_ID, now=NOW)
