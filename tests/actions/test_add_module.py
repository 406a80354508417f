"""Modules are recorded as they leave the mould; one that cannot be gives its reason."""

from registry.actions.add_module import add_modules
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
            a_module(tag="MR-0001"),
            a_module(tag="NEW-2", type_id="pyramid"),
            a_module(tag="NEW-1"),
        ],
        actor=ACTOR,
    )
    assert [type(answer) for answer in answers[1:]] == [ConflictError, NotFoundError, ConflictError]
    assert "Types: cube-90, dome-120." in str(answers[2])
    assert register.module("NEW-1") == answers[0]
    assert len(register.modules()) == 10


def test_a_memorial_and_a_mass_are_kept():
    register = a_register()
    module = a_module(tag="NEW-1", mass_kg=1390.0, memorial=Memorial(name="Ib Tarn", consent_listed=False))
    add_modules(register, [module], actor=ACTOR)
    assert register.module("NEW-1") == module


def test_nothing_good_writes_nothing():
    register = a_register()
    before = register.head()
    add_modules(register, [a_module(tag="MR-0001")], actor=ACTOR)
    assert add_modules(register, [], actor=ACTOR) == []
    assert register.head() == before
