"""A family answers to the proof of its plaque: which drawing it saw is kept, and no word of it."""

from datetime import date

import pytest

from registry.actions.answer_plaque import answer_plaque, plaque_answer
from registry.actions.erase_family import erase_family
from registry.actions.gather_family import gather_family
from registry.actions.keep_plaque_wording import keep_plaque_wording
from registry.errors import ConflictError, InvalidRecordError, NotFoundError, UnprintableTextError
from registry.records.plaque_wording import PlaqueWording, wording_version
from tests.actions.stocked import a_register
from tests.builders import ACTOR, a_memorial, a_module
from tests.fakes import MemoryFamilies, MemoryRegister
from tests.memory_accounts import MemoryAccounts

DRAWING, OTHER = "a" * 64, "b" * 64
WHO = "family of MR-0001"
WORDING = PlaqueWording(
    dates="1941 – 2024", words=("Beloved of the tide",), request="Larger letters", on=date(2026, 11, 27)
)


@pytest.fixture
def register() -> MemoryRegister:
    return a_register(modules=[a_module(tag=f"MR-000{k}", memorial=a_memorial()) for k in (1, 2)])


def answered(register, *, approved=True, seen=DRAWING, now=DRAWING):
    return answer_plaque(register, "MR-0001", approved=approved, seen=seen, artwork_sha256=now, actor=WHO)


def test_an_answer_is_an_entry_that_holds_the_digest_alone(register):
    assert plaque_answer(register, "MR-0001") is None
    made = answered(register)
    entry = list(register.journal())[-1]
    assert (entry.kind, entry.actor) == ("plaque.approved", WHO)
    assert entry.content() == {"tag": "MR-0001", "artwork_sha256": DRAWING}
    assert plaque_answer(register, "MR-0001") == made
    assert plaque_answer(register, "MR-0002") is None


def test_the_last_answer_counts_and_the_same_one_is_written_once(register):
    answered(register)
    length = register.journal_length()
    answered(register)
    assert register.journal_length() == length
    answered(register, approved=False)
    assert [body["approved"] for body in register.plaque_answers("MR-0001")] == [True, False]
    made = answered(register)
    assert made.approved
    assert plaque_answer(register, "MR-0001") == made


def test_nobody_approves_a_drawing_that_they_did_not_see(register):
    length = register.journal_length()
    with pytest.raises(ConflictError, match="has changed since"):
        answered(register, seen=OTHER)
    with pytest.raises(NotFoundError):
        answer_plaque(register, "MR-0009", approved=True, seen=DRAWING, artwork_sha256=DRAWING, actor=WHO)
    assert register.journal_length() == length


def test_words_are_kept_apart_from_the_journal_and_erased_with_the_family(register):
    families, accounts = MemoryFamilies(), MemoryAccounts()
    keep_plaque_wording(register, families, "MR-0001", WORDING, seen=wording_version(None))
    assert families.held()["MR-0001"].plaque == WORDING
    told = gather_family(register, families, "MR-0001", write_position=str)
    assert "1941 – 2024" in [fact.words for section in told.sections for row in section.rows for fact in row]
    made = erase_family(register, families, accounts, "MR-0001", actor=ACTOR)
    assert made.plaque
    assert {each.text for each in made.sought} == {"1941 – 2024", "Beloved of the tide", "Larger letters"}
    assert not families.held()
    assert not any(word in entry.body for entry in register.journal() for word in WORDING.texts())


def test_words_that_somebody_changed_meanwhile_are_not_overwritten(register):
    families = MemoryFamilies()
    keep_plaque_wording(register, families, "MR-0001", WORDING, seen=wording_version(None))
    with pytest.raises(ConflictError, match="were changed since"):
        keep_plaque_wording(register, families, "MR-0001", WORDING, seen=wording_version(None))
    many = PlaqueWording(words=tuple("abcde"), on=date(2026, 11, 27))
    with pytest.raises(InvalidRecordError, match="takes 4 lines"):
        keep_plaque_wording(register, families, "MR-0001", many, seen=wording_version(WORDING))


def test_a_line_that_would_come_out_otherwise_is_refused():
    with pytest.raises((InvalidRecordError, UnprintableTextError)):
        PlaqueWording(dates="1941\u202e2024", on=date(2026, 11, 27))
