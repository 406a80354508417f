"""A placement that was logged twice is withdrawn: the other one is judged, certified and resurveyed as ever."""

import json
from datetime import UTC, datetime

import pytest

from registry.actions.audit_registry import audit_registry
from registry.actions.issue_certificate import certificate_body, issue_certificate
from registry.actions.log_placement import correct_placement
from registry.actions.record_resurvey import record_resurvey
from registry.actions.standing_place import standing_place
from registry.actions.summarise_audit import summarise_audit
from registry.actions.withdraw_placement import withdraw_placement
from registry.errors import ConflictError, InvalidRecordError, NotFoundError
from registry.measure.decision import Verdict
from registry.measure.movement import Motion
from registry.records.module import Memorial
from tests.actions.stocked import a_register, a_row, logged
from tests.builders import ACTOR, NOON, a_module

NOW = datetime(2026, 11, 24, 17, 0, tzinfo=UTC)
LATER = datetime(2027, 10, 2, 16, tzinfo=UTC)


@pytest.fixture
def twice():
    """Log one drop twice; give the registry and both identifiers."""
    register = a_register(modules=[a_module(tag="MR-0001", memorial=Memorial(name="Ib Tarn"))])
    return register, logged(register).placement_id, logged(register).placement_id


def issue(register):
    return issue_certificate(
        register,
        "MR-0001",
        print_page=lambda certificate: json.dumps(certificate_body(certificate)).encode(),
        now=NOW,
        actor=ACTOR,
    )


def duplicates(register):
    return [line.verdict for line in audit_registry(register).lines() if line.rule == "duplicate"]


def test_what_was_logged_twice_stands_once_and_can_be_certified_again(twice):
    register, first, again = twice
    assert Verdict.NONCONFORMING in duplicates(register)
    with pytest.raises(ConflictError):
        issue(register)
    withdrawn = withdraw_placement(register, again, reason=" Enter pressed twice ", actor=ACTOR)
    assert (withdrawn.tag, withdrawn.permit, withdrawn.reason) == (
        "MR-0001",
        "HB-0417",
        "Enter pressed twice",
    )
    assert (withdrawn.standing, withdrawn.certificates) == ((first,), ())
    *_, last = register.journal()
    assert (last.kind, last.reference) == ("placement.withdrawn", withdrawn.reference)
    assert last.content() == {
        "placement_id": again,
        "tag": "MR-0001",
        "permit": "HB-0417",
        "reason": "Enter pressed twice",
    }
    assert Verdict.NONCONFORMING not in duplicates(register)
    assert not issue(register).again


def test_the_audit_tells_what_was_withdrawn_and_why_in_order_of_time(twice):
    register, first, again = twice
    withdrawn = withdraw_placement(register, again, reason="twice", actor="Ben")
    corrected = correct_placement(register, first, a_row(), reason="tide", actor=ACTOR).placement_id
    (permit,) = summarise_audit(register, audit_registry(register), audited_at=NOW).permits
    told = [(c.reference, c.supersedes, c.withdraws, c.reason, c.actor) for c in permit.corrections]
    assert told == [
        (withdrawn.reference, again, True, "twice", "Ben"),
        (corrected, first, False, "tide", ACTOR),
    ]


def test_a_certificate_that_rests_on_it_is_named(twice):
    register, first, again = twice
    withdraw_placement(register, again, reason="twice", actor=ACTOR)
    number = issue(register).certificate.number
    withdrawn = withdraw_placement(register, first, reason="never dropped", actor=ACTOR)
    assert (withdrawn.standing, withdrawn.certificates) == ((), (number,))
    with pytest.raises(NotFoundError, match="not placed yet"):
        issue(register)
    assert "MR-0001" not in {line.placement for line in audit_registry(register).lines()}


def test_resurveys_of_it_are_judged_against_what_stands():
    register = a_register()
    wrong = logged(register, position="34 00.0500 N 077 00.0000 W").placement_id
    seen = a_row("MR-0001", placed_at=LATER, depth=None, depth_u95=None)
    assert record_resurvey(register, seen, actor=ACTOR).resurvey.movement.verdict == Motion.MOVED
    right = logged(register, placed_at=NOON).placement_id
    withdraw_placement(register, wrong, reason="another module", actor=ACTOR)
    place = standing_place(register, "MR-0001")
    assert (place.placement_id, place.moved, place.last_seen_at) == (right, None, LATER)
    withdraw_placement(register, right, reason="that one too", actor=ACTOR)
    with pytest.raises(NotFoundError, match="not placed yet"):
        record_resurvey(register, seen, actor=ACTOR)
    assert len(register.resurveys("MR-0001")) == 1


def test_what_cannot_be_withdrawn_is_told(twice):
    register, first, again = twice
    with pytest.raises(InvalidRecordError, match="no reason"):
        withdraw_placement(register, again, reason="  ", actor=ACTOR)
    with pytest.raises(NotFoundError):
        withdraw_placement(register, "0badcafe-999", reason="x", actor=ACTOR)
    with pytest.raises(NotFoundError, match=f"MR-0001 is a tag, not a placement. Its placements: {first}"):
        withdraw_placement(register, "MR-0001", reason="x", actor=ACTOR)
    withdraw_placement(register, again, reason="twice", actor=ACTOR)
    head = register.head()
    with pytest.raises(ConflictError):
        withdraw_placement(register, again, reason="twice", actor=ACTOR)
    assert register.head() == head
