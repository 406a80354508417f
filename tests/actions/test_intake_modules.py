"""Rows of modules go in, and of each that does not it is said why; nothing is lost."""

from registry.actions.intake_modules import intake_modules
from registry.errors import InvalidRecordError, LeadlineError
from registry.records.module import Module
from tests.actions.stocked import a_register
from tests.builders import ACTOR, a_module


def test_each_row_is_taken_left_alone_or_rejected_in_order():
    register = a_register()
    unread = InvalidRecordError("Consent 'perhaps' is neither yes nor no.")
    held = register.module("MR-0001")
    rows: list[tuple[int, Module | LeadlineError]] = [
        (2, a_module(tag="MR-0100")),
        (3, unread),
        (4, held),
        (5, a_module(tag="MR-0101", type_id="of-nobody")),
        (6, a_module(tag="MR-0102")),
    ]
    taken = intake_modules(register, rows, actor=ACTOR)
    assert [module.tag for module in taken.new] == ["MR-0100", "MR-0102"]
    assert taken.repeated == (4,)
    assert [row for row, _ in taken.rejected] == [3, 5]
    assert taken.rejected[0][1] is unread
    assert "of-nobody" in taken.rejected[1][1].what
    assert register.module("MR-0102").tag == "MR-0102"
