from dataclasses import replace
from datetime import timedelta

from registry.actions.compare_audits import compare_audits
from registry.measure.decision import Verdict
from registry.measure.movement import Motion
from tests.audited import AUDITED_AT, audit_summary, audited_registry
from tests.builders import (
    a_module,
    a_permit,
    a_placement,
    a_resurvey,
    module_added,
    permit_added,
    placement_corrected,
    placement_logged,
    placement_resurveyed,
    placement_withdrawn,
)


def changes_after(*drafts_of, permit=None):
    """Compare the audit before some entries with that after them."""
    register = audited_registry()
    before = audit_summary(register, permit=permit)
    for draft in drafts_of:
        register.append([draft(register)])
    return compare_audits(
        register, before, audit_summary(register, permit=permit), since=AUDITED_AT - timedelta(days=1)
    )


def id_of(register, tag):
    (placement_id,) = register.placement_ids(tag)
    return placement_id


def test_nothing_written_is_nothing_changed():
    changes = changes_after()
    assert changes.counts == changes.listed == changes.verdicts == ()
    assert changes.verdict_count == 0
    assert changes.journal_entries == 22
    assert len(changes.journal_head) == 64


def test_what_was_placed_on_a_day_is_told_together():
    changes = changes_after(
        lambda _: module_added(a_module(tag="MR-0011")),
        lambda _: module_added(a_module(tag="MR-0012")),
        lambda _: placement_logged(a_placement(tag="MR-0011", lat_deg=33.995)),
        lambda _: placement_logged(a_placement(tag="MR-0012", lat_deg=33.996), verdict="inconclusive"),
    )
    assert changes.counts == (("placed", 2),)
    (told,) = changes.listed
    assert (told.tag, told.count) == ("MR-0011 … MR-0012", 2)
    assert told.told == "1 conforming, 1 inconclusive when logged."


def test_corrections_withdrawals_movements_and_permits_are_told_one_by_one():
    def moved(register):
        resurvey = a_resurvey(tag="MR-0003", placement_id=id_of(register, "MR-0003"))
        return placement_resurveyed(
            replace(resurvey, movement=replace(resurvey.movement, verdict=Motion.MOVED))
        )

    changes = changes_after(
        lambda r: placement_corrected(
            a_placement(tag="MR-0005"), supersedes=id_of(r, "MR-0005"), reason="longitude misread"
        ),
        lambda r: placement_withdrawn(id_of(r, "MR-0008"), tag="MR-0008", reason="never went down"),
        moved,
        lambda _: permit_added(a_permit(number="HB-0600")),
    )
    assert changes.counts == (("permit added", 1), ("corrected", 1), ("withdrawn", 1), ("resurveyed", 1))
    told = {each.kind: each for each in changes.listed}
    assert "longitude misread" in told["corrected"].told
    assert "never went down" in told["withdrawn"].told
    assert told["resurveyed"].told == "Moved; seen on 2027-06-01."
    assert (told["resurveyed"].tag, told["resurveyed"].permit) == ("MR-0003", "HB-0417")
    assert told["permit added"].permit == "HB-0600"


def test_a_verdict_that_is_another_now_is_named_with_its_condition():
    changes = changes_after(
        lambda r: placement_corrected(
            a_placement(tag="MR-0005", lat_deg=33.999), supersedes=id_of(r, "MR-0005"), reason="misread"
        )
    )
    assert changes.verdict_count == 1
    (changed,) = changes.verdicts
    assert (changed.tag, changed.rule) == ("MR-0005", "inside-area")
    assert (changed.before, changed.now) == (Verdict.NONCONFORMING, Verdict.CONFORMING)


def test_a_new_neighbour_can_change_what_is_said_of_an_old_module():
    near = a_placement(tag="MR-0011", lon_deg=-77.009, lat_deg=33.991 + 0.00003)
    changes = changes_after(lambda _: module_added(a_module(tag="MR-0011")), lambda _: placement_logged(near))
    worse = {(each.tag, each.rule) for each in changes.verdicts}
    assert worse == {("MR-0001", "spacing")}
    assert changes.verdicts[0].now is Verdict.NONCONFORMING


def test_only_the_permit_that_was_audited_is_told_of():
    changes = changes_after(lambda _: permit_added(a_permit(number="HB-0600")), permit="HB-0417")
    assert changes.counts == ()


def test_before_the_registry_began_everything_is_new():
    register = audited_registry()
    changes = compare_audits(register, None, audit_summary(register), since=AUDITED_AT)
    assert (changes.journal_head, changes.journal_entries) == ("", 0)
    assert dict(changes.counts) == {"permit added": 2, "placed": 8, "corrected": 1}
    assert changes.verdicts == ()
