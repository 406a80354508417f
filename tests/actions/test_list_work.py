"""What an office has to see to follows from the same actions that tell it one by one."""

import json

from registry.actions.audit_registry import audit_registry
from registry.actions.issue_certificate import certificate_body, issue_certificate
from registry.actions.list_duties import list_duties
from registry.actions.list_work import list_work
from registry.actions.log_placement import correct_placement
from registry.measure.decision import Verdict
from registry.records.duty import DutyState
from registry.records.module import Memorial
from tests.actions.stocked import a_register, a_row, logged
from tests.actions.test_list_custody import draft
from tests.builders import ACTOR, NOON, a_module
from tests.fakes import MemoryFamilies

FAR, NEAR = "34 00.0500 N 077 00.0000 W", "34 00.0010 N 077 00.0000 W"


def page(certificate):
    return json.dumps(certificate_body(certificate)).encode()


def a_busy_register():
    named = [a_module(tag=f"MR-000{k}", memorial=Memorial(name=f"Ib Tarn {k}")) for k in (1, 2, 3)]
    register = a_register(modules=named)
    first = logged(register, "MR-0001", FAR)
    issue_certificate(register, "MR-0001", print_page=page, now=NOON, actor=ACTOR)
    correct_placement(register, first.placement_id, a_row("MR-0001", position="34 00.0000 N 077 00.0000 W"),
                      reason="digit", actor=ACTOR)  # fmt: skip
    logged(register, "MR-0002", NEAR)
    logged(register, "MR-0003", FAR)
    return register


def test_what_does_not_conform_is_told_as_an_audit_tells_it():
    register = a_busy_register()
    work = list_work(register)
    audit = audit_registry(register)
    assert len(work.nonconforming) == audit.count(Verdict.NONCONFORMING) > 0
    assert work.inconclusive == audit.count(Verdict.INCONCLUSIVE)
    told = {each.message for each in audit.lines() if each.verdict is Verdict.NONCONFORMING}
    assert {reason for each in work.nonconforming for reason in each.reasons} == told


def test_papers_that_want_to_be_made_are_told():
    work = list_work(a_busy_register())
    assert [each.tag for each in work.outdated] == ["MR-0001"]
    assert work.uncertified == ("MR-0002", "MR-0003")


def test_a_programme_without_chains_is_not_reproached_with_them():
    register = a_busy_register()
    assert (list_work(register).broken_chains, list_work(register).keeps_custody) == ((), False)


def test_broken_chains_are_told_once_chains_are_kept():
    from registry.actions.record_hand_over import record_hand_overs
    from registry.records.custody import Step

    register = a_busy_register()
    record_hand_overs(
        register,
        MemoryFamilies(),
        [draft("MR-0001", Step.RECEIVED, 3, "Skua Crematory", "yard")],
        actor=ACTOR,
    )
    work = list_work(register)
    assert work.keeps_custody
    assert [chain.tag for chain in work.broken_chains] == ["MR-0001", "MR-0002", "MR-0003"]


def test_a_tag_in_two_places_is_told():
    register = a_busy_register()
    logged(register, "MR-0003", "34 00.0900 N 077 00.0000 W")
    assert list_work(register).in_several_places == ("MR-0003",)


def test_duties_are_those_that_press():
    register = a_busy_register()
    pressing = [d for d in list_duties(register).duties if d.state in (DutyState.OVERDUE, DutyState.DUE_SOON)]
    assert list(list_work(register).duties) == pressing
