"""Hand-overs recorded and followed: the journal gets digests, the numbers stay where they can be erased."""

from dataclasses import replace
from datetime import timedelta

import pytest

from registry.actions.add_contact import add_contact
from registry.actions.erase_family import erase_family
from registry.actions.follow_custody import broken_links, follow_custody
from registry.actions.record_hand_over import record_hand_overs, withdraw_hand_over
from registry.errors import ConflictError, InvalidRecordError, NotFoundError
from registry.records.custody import HandOverDraft, Step
from registry.records.custody_chain import FaultKind
from registry.records.family import Contact
from tests.actions.stocked import a_register, logged
from tests.builders import ACTOR, NOON, a_hand_over_draft, a_memorial, a_module
from tests.fakes import MemoryFamilies, MemoryRegister
from tests.memory_accounts import MemoryAccounts


def all_drafts() -> list[HandOverDraft]:
    return [a_hand_over_draft(step) for step in Step]


@pytest.fixture
def register() -> MemoryRegister:
    return a_register(modules=[a_module(memorial=a_memorial(), cast_on=None), a_module(tag="MR-0002")])


@pytest.fixture
def families() -> MemoryFamilies:
    return MemoryFamilies()


def recorded(register, families, *drafts, **more):
    return record_hand_overs(register, families, drafts, actor=ACTOR, **more)


def journal_text(register) -> str:
    return "".join(entry.body + entry.actor for entry in register.journal())


def test_a_chain_is_recorded_and_followed(register, families):
    answers = recorded(register, families, *all_drafts())
    assert all(answer.new and answer.warnings == () for answer in answers)
    logged(register)
    assert follow_custody(register, "MR-0001").whole
    assert broken_links(register, "MR-0001") == ()


def test_the_journal_never_learns_the_number_and_the_file_of_families_does(register, families):
    recorded(
        register,
        families,
        a_hand_over_draft(),
        a_hand_over_draft(Step.CAST, number="c-48 213"),
        a_hand_over_draft(Step.CURED, number="C-48231"),
    )
    assert "48213" not in journal_text(register)
    assert "48231" not in journal_text(register)
    assert families.kept["MR-0001"].identifications == ("C-48213", "C-48231")
    assert families.kept["MR-0001"].secret not in journal_text(register)


def test_what_does_not_agree_is_recorded_and_told(register, families):
    wrong = a_hand_over_draft(Step.CAST)
    wrong = replace(wrong, taker=replace(wrong.taker, identification="C-48231", tag="MR-0010"))
    answers = recorded(register, families, a_hand_over_draft(), wrong)
    assert all(answer.new for answer in answers)
    chain = follow_custody(register, "MR-0001")
    assert [fault.kind for fault in chain.faults] == [
        FaultKind.MISMATCH,
        FaultKind.MISMATCH,
        FaultKind.NOT_FINISHED,
    ]


def test_the_same_hand_over_is_recorded_once(register, families):
    ((first,), (again,)) = (recorded(register, families, a_hand_over_draft()) for _ in range(2))
    assert (first.new, again.new) == (True, False)
    assert again.hand_over.reference == first.hand_over.reference
    (other,) = recorded(register, families, a_hand_over_draft(number="C-48231"))
    assert other.new


def test_a_correction_takes_the_place_of_what_was_wrong_and_the_journal_keeps_both(register, families):
    (wrong,) = recorded(register, families, a_hand_over_draft(number="C-48231"))
    before = register.journal_length()
    with pytest.raises(InvalidRecordError, match="reason"):
        recorded(register, families, a_hand_over_draft(), corrects=wrong.hand_over.reference, reason=" ")
    (right,) = recorded(
        register,
        families,
        a_hand_over_draft(),
        corrects=wrong.hand_over.reference,
        reason="two digits swapped",
    )
    assert register.journal_length() == before + 1
    (stands,) = follow_custody(register, "MR-0001").hand_overs
    assert (stands.reference, stands.corrects) == (right.hand_over.reference, wrong.hand_over.reference)
    (answer,) = recorded(
        register, families, a_hand_over_draft(), corrects=wrong.hand_over.reference, reason="again"
    )
    assert isinstance(answer, ConflictError) or not answer.new


def test_a_hand_over_that_never_was_is_withdrawn_with_a_reason(register, families):
    (wrong,) = recorded(register, families, a_hand_over_draft())
    reference = wrong.hand_over.reference
    with pytest.raises(InvalidRecordError, match="reason"):
        withdraw_hand_over(register, "MR-0001", reference, reason="", actor=ACTOR)
    with pytest.raises(NotFoundError):
        withdraw_hand_over(register, "MR-0002", reference, reason="another module", actor=ACTOR)
    withdraw_hand_over(register, "MR-0001", reference, reason="another module", actor=ACTOR)
    assert follow_custody(register, "MR-0001").hand_overs == ()


def test_a_contact_of_the_family_is_never_named_in_the_journal(register, families):
    contact = Contact(name="Ida Quill", phone="+1 910 555 0123", recorded_at=NOON)
    add_contact(register, families, "MR-0001", contact)
    draft = a_hand_over_draft()
    named = [
        replace(draft, giver=replace(draft.giver, name="ida QUILL")),
        replace(draft, note="handed over by Ida Quill herself"),
        replace(draft, note="call +1 910 555 0123"),
    ]
    for answer in recorded(register, families, *named):
        assert isinstance(answer, InvalidRecordError)
        assert "the family" in answer.remedy
        assert "quill" not in str(answer).lower()
    assert not register.keeps_custody()
    told = replace(draft, giver=replace(draft.giver, name="the family"), note="Idaho Quillings were late")
    (answer,) = recorded(register, families, told)
    assert answer.new


def test_a_tag_that_nobody_knows_and_a_day_ahead_are_recorded_and_told(register, families):
    ahead = a_hand_over_draft(at=NOON + timedelta(days=900), at_text="2028-11-18")
    (answer,) = recorded(register, families, replace(ahead, tag="MR-0999"))
    assert answer.new
    assert any("lies ahead" in warning for warning in answer.warnings)
    assert any("MR-0999" in warning for warning in answer.warnings)


def test_a_programme_without_chains_is_not_held_to_them_and_one_with_chains_is(register, families):
    logged(register)
    assert broken_links(register, "MR-0001") == ()
    recorded(register, families, replace(a_hand_over_draft(), tag="MR-0002"))
    (gap,) = broken_links(register, "MR-0001")
    assert "No hand-over" in gap


def test_an_erasure_leaves_the_chain_provable_and_later_numbers_cannot_be_compared(register, families):
    recorded(register, families, *all_drafts()[:3])
    erase_family(register, families, MemoryAccounts(), "MR-0001", actor=ACTOR)
    assert families.held() == {}
    chain = follow_custody(register, "MR-0001")
    assert not chain.has(FaultKind.GAP, FaultKind.MISMATCH, FaultKind.NOT_COMPARABLE)
    recorded(register, families, a_hand_over_draft(Step.LOADED))
    assert follow_custody(register, "MR-0001").has(FaultKind.NOT_COMPARABLE)


def test_where_the_journal_cannot_be_written_nothing_half_stands(register, families, monkeypatch):
    def full(_families):
        raise OSError

    monkeypatch.setattr(families, "keep", full)
    with pytest.raises(OSError):  # noqa: PT011 - whatever a disk says
        recorded(register, families, a_hand_over_draft())
    assert not register.keeps_custody()
