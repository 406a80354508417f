"""What is said of a row stays with who said it; the second of two people is told."""

import pytest

from registry.actions.settle_row import ask_again, confirm_rows, leave_out_row, mend_row, read_as, row_version
from registry.errors import ConflictError, InvalidRecordError
from registry.records.staged_intake import ReadAs, StagedIntake, staged_body, staged_from_body
from tests.fakes import FixedClock

CLOCK = FixedClock(step_s=1.0)
STAGED = StagedIntake(sha256="0" * 64, file="log.csv", sent_by="Ada", sent_at="")
STATED = ReadAs(columns={"tag": "tag"}, units={}, frame="EPSG:4326", permit="HB-1", zone=None)


def test_what_was_said_comes_back_as_data():
    staged = read_as(STAGED, STATED, seen=STAGED.version)
    staged = mend_row(staged, 4, {"tag": "MC-1"}, seen="", clock=CLOCK, actor="Ada")
    staged = confirm_rows(staged, [4, 5], clock=CLOCK, actor="Bo")
    staged = leave_out_row(staged, 6, " twice ", seen="", clock=CLOCK, actor="Bo")
    assert staged_from_body(staged_body(staged)) == staged
    assert staged.mends() == {4: {"tag": "MC-1"}}
    assert staged.left_out() == {6: "Left out by Bo: twice"}
    assert [staged.is_settled(number) for number in (3, 4, 5, 6)] == [False, True, True, True]
    assert staged.version != STAGED.version
    assert ask_again(staged, 6, seen=row_version(staged, 6)).left_out() == {}


def test_the_second_of_two_is_told_what_the_first_said():
    staged = leave_out_row(STAGED, 4, "twice", seen="", clock=CLOCK, actor="Ada")
    with pytest.raises(ConflictError, match=r"Ada settled row 4 meanwhile.*left out: twice"):
        mend_row(staged, 4, {"tag": "MC-1"}, seen="", clock=CLOCK, actor="Bo")
    seen = row_version(staged, 4)
    with pytest.raises(ConflictError, match="was taken back meanwhile"):
        leave_out_row(ask_again(staged, 4, seen=seen), 4, "again", seen=seen, clock=CLOCK, actor="Bo")
    stated = read_as(staged, STATED, seen=staged.version)
    other = ReadAs(columns={"tag": "tag"}, units={}, frame="EPSG:6318", permit="HB-1", zone=None)
    with pytest.raises(ConflictError, match="meanwhile"):
        read_as(stated, other, seen=staged.version)
    assert read_as(stated, STATED, seen="") == stated


def test_nothing_is_left_out_or_mended_without_a_word():
    with pytest.raises(InvalidRecordError, match="without a reason"):
        leave_out_row(STAGED, 4, " ", seen="", clock=CLOCK, actor="Ada")
    with pytest.raises(InvalidRecordError, match="otherwise"):
        mend_row(STAGED, 4, {}, seen="", clock=CLOCK, actor="Ada")
