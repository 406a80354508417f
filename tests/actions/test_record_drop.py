"""A drop is recorded once, however often it is sent; two readings of its tag must agree."""

import pytest

from registry.actions.list_aboard import list_aboard
from registry.actions.record_drop import earlier_drop, find_drop, record_drop
from registry.errors import ConflictError, NotFoundError
from registry.records.tag_reading import TagReading
from tests.actions.stocked import a_register, a_row, logged
from tests.builders import ACTOR

SEEN = TagReading(diver="Cam", tag="mr-0001")


def a_source(key="k" * 8, **said):
    return {"key": key, "said": {"at": "34 00.0000 N 077 00.0000 W"} | said}


def count(register):
    return len(list(register.journal(kind="placement.logged")))


def test_the_same_entry_is_recorded_once_and_answered_alike():
    register = a_register()
    row = a_row(source=a_source())
    first = record_drop(register, row, reading=SEEN, actor=ACTOR)
    assert record_drop(register, row, reading=SEEN, actor="Somebody else") == first
    assert earlier_drop(register, "MR-0001", row.source) == first
    assert find_drop(register, first.placement_id) == first
    assert count(register) == 1


@pytest.mark.parametrize(
    "other",
    [
        a_row(source=a_source(note="other words")),
        a_row(source=a_source() | {"photo": {"sha256": "0" * 64}}),
        a_row("MR-0002", source=a_source()),
    ],
)
def test_other_words_under_the_same_key_are_no_repetition(other):
    register = a_register()
    record_drop(register, a_row(source=a_source()), reading=SEEN, actor=ACTOR)
    with pytest.raises(ConflictError, match="with other words"):
        record_drop(register, other, reading=None, actor=ACTOR)
    assert count(register) == 1


def test_a_tag_that_a_diver_read_otherwise_records_nothing():
    register = a_register()
    wrong = TagReading(diver="Cam", tag="MR-0002")
    with pytest.raises(ConflictError, match="Cam read the tag MR-0002, but this is the entry of MR-0001"):
        record_drop(register, a_row(source=a_source()), reading=wrong, actor=ACTOR)
    assert count(register) == 0


def test_two_entries_of_one_module_are_two_and_flagged():
    register = a_register()
    record_drop(register, a_row(source=a_source("one")), reading=SEEN, actor=ACTOR)
    second = record_drop(register, a_row(source=a_source("two")), reading=SEEN, actor=ACTOR)
    assert second.verdict == "nonconforming"
    assert any("stands already" in warning for warning in second.warnings)
    assert count(register) == 2


def test_what_was_logged_elsewhere_is_no_drop_of_a_crew():
    register = a_register()
    placement_id = logged(register).placement_id
    with pytest.raises(NotFoundError, match="not recorded on a page of the boat"):
        find_drop(register, placement_id)


def test_what_lies_on_the_seabed_is_not_aboard():
    register = a_register()
    logged(register)
    listed = list_aboard(register, "HB-0417")
    assert "MR-0001" not in {each.tag for each in listed}
    assert {each.expected for each in listed} == {False}  # no targets, no keepers' chains
    with pytest.raises(NotFoundError):
        list_aboard(register, "HB-9999")
