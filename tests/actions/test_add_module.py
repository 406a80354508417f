"""Modules are recorded as they leave the mould; one that cannot be gives its reason."""

from registry.actions.add_module import StoodAlready, add_modules
from registry.errors import ConflictError, NotFoundError
from registry.records.module import Memorial
from tests.actions.stocked import a_register
from tests.builders import ACTOR, a_module


def test_good_modules_go_in_and_bad_ones_give_their_reason():
    register = a_register()
    answers = add_modules(
        register,
        [
            a_module(tag="NEW-1"),
            a_module(tag="MR-0001", mass_kg=1390.0),
            a_module(tag="NEW-2", type_id="pyramid"),
            a_module(tag="NEW-1", memorial=Memorial(name="Ib Tarn")),
        ],
        actor=ACTOR,
    )
    assert [type(answer) for answer in answers[1:]] == [ConflictError, NotFoundError, ConflictError]
    assert "Types: cube-90, dome-120." in str(answers[2])
    assert "another mass. If the record is wrong: leadline module amend" in str(answers[1])
    assert "another memorial, consent or language" in str(answers[3])
    assert register.module("NEW-1") == answers[0]
    assert len(register.modules()) == 10


def test_a_memorial_and_a_mass_are_kept():
    register = a_register()
    module = a_module(tag="NEW-1", mass_kg=1390.0, memorial=Memorial(name="Ib Tarn", consent_listed=False))
    add_modules(register, [module], actor=ACTOR)
    assert register.module("NEW-1") == module


def test_what_is_recorded_exactly_so_is_left_alone():
    register = a_register()
    before = register.journal_length()
    new = a_module(tag="NEW-1", mass_kg=1390.0, memorial=Memorial(name="Ib Tarn", consent_listed=True))
    answers = add_modules(register, [register.module("MR-0001"), new, new], actor=ACTOR)
    assert answers == [StoodAlready(module=register.module("MR-0001")), new, StoodAlready(module=new)]
    assert register.journal_length() == before + 1
    assert add_modules(register, [new], actor=ACTOR) == [StoodAlready(module=new)]
    assert register.journal_length() == before + 1


def test_a_tag_that_reads_the_same_is_another_module():
    register = a_register()
    (answer,) = add_modules(register, [a_module(tag="mr-0001")], actor=ACTOR)
    assert isinstance(answer, ConflictError)
    assert "MR-0001, which reads the same" in str(answer)


def test_nothing_good_writes_nothing():
    register = a_register()
    before = register.head()
    add_modules(register, [a_module(tag="MR-0001")], actor=ACTOR)
    assert add_modules(register, [], actor=ACTOR) == []
    assert register.head() == before
