"""One module is told whole: what it is, where it lies, who kept it, its papers and what was mended."""

import json

import pytest

from registry.actions.amend_module import amend_module
from registry.actions.audit_registry import audit_registry
from registry.actions.duplicate_certificate import duplicate_certificate
from registry.actions.issue_certificate import certificate_body, issue_certificate
from registry.actions.log_placement import correct_placement
from registry.actions.print_certificate import print_certificate
from registry.actions.recount_module import recount_module
from registry.actions.withdraw_placement import withdraw_placement
from registry.errors import NotFoundError
from registry.measure.decision import Verdict
from registry.records.certificate_version import CertificateState
from registry.records.module import Memorial
from tests.actions.stocked import a_register, a_row, logged
from tests.builders import ACTOR, NOON, a_module

NEAR = "34 00.0010 N 077 00.0000 W"


@pytest.fixture
def register():
    named = a_module(tag="MR-0001", memorial=Memorial(name="Ib Tarn"))
    return a_register(modules=[named, a_module(tag="MR-0002"), a_module(tag="MR-0003")])


def page(certificate):
    return json.dumps(certificate_body(certificate), sort_keys=True).encode()


def test_a_placement_is_judged_as_an_audit_judges_it(register):
    logged(register)
    logged(register, "MR-0002", NEAR)
    (placed,) = recount_module(register, "MR-0002").placements
    assert placed.verdict is Verdict.NONCONFORMING
    told = [each for each in audit_registry(register).lines() if each.placement == "MR-0002"]
    assert [(f.rule, f.verdict, f.message) for f in placed.findings] == [
        (f.rule, f.verdict, f.message) for f in told
    ]


def test_what_was_mended_is_told_with_who_and_why(register):
    first = logged(register)
    amend_module(register, "MR-0001", reason="letter of the family", actor="Eve", memorial="Ib Tarne")
    second = correct_placement(
        register, first.placement_id, a_row("MR-0002"), reason="tags mixed up", actor=ACTOR
    )
    withdraw_placement(register, second.placement_id, reason="never set down", actor=ACTOR)
    story = recount_module(register, "MR-0001")
    assert [(each.what, each.reason) for each in story.mended] == [
        ("memorial: Ib Tarn → Ib Tarne", "letter of the family"),
        (
            f"placement {first.placement_id} corrected, which was logged as MR-0001 and is MR-0002",
            "tags mixed up",
        ),
    ]
    assert story.mended[0].actor == "Eve"
    assert story.placements == ()
    other = recount_module(register, "MR-0002")
    assert [each.reason for each in other.mended] == ["tags mixed up", "never set down"]


def test_its_papers_are_told_as_they_stand(register):
    first = logged(register)
    made = issue_certificate(register, "MR-0001", print_page=page, now=NOON, actor=ACTOR).certificate
    correct_placement(
        register, first.placement_id, a_row("MR-0001", NEAR), reason="swapped digit", actor=ACTOR
    )
    (version,) = recount_module(register, "MR-0001").certificates
    assert (version.number, version.state) == (made.number, CertificateState.CHANGED)


def test_an_unknown_tag_is_told(register):
    with pytest.raises(NotFoundError, match="MR-0009"):
        recount_module(register, "MR-0009")


def test_a_version_is_printed_again_as_it_was_whatever_became_of_it(register):
    first = logged(register)
    made = issue_certificate(register, "MR-0001", print_page=page, now=NOON, actor=ACTOR)
    correct_placement(
        register, first.placement_id, a_row("MR-0001", NEAR), reason="swapped digit", actor=ACTOR
    )
    issue_certificate(register, "MR-0001", print_page=page, now=NOON, actor=ACTOR, despite="asked for")
    length = register.journal_length()
    printed = print_certificate(register, made.certificate.number, print_page=page, version=1)
    assert printed.pdf == made.pdf
    assert printed.version.state is CertificateState.SUPERSEDED
    assert print_certificate(register, "MR-0001", print_page=page).version.version == 2
    assert register.journal_length() == length
    with pytest.raises(NotFoundError, match="no version 7"):
        print_certificate(register, "MR-0001", print_page=page, version=7)


def test_a_duplicate_is_printed_again_as_it_was(register):
    logged(register)
    issue_certificate(register, "MR-0001", print_page=page, now=NOON, actor=ACTOR)
    made = duplicate_certificate(register, "MR-0001", print_page=page, now=NOON, actor=ACTOR)
    printed = print_certificate(register, "MR-0001", print_page=page, duplicate=1)
    assert printed.pdf == made.pdf
    with pytest.raises(NotFoundError, match="no duplicate 2"):
        print_certificate(register, "MR-0001", print_page=page, duplicate=2)
