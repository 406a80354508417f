"""Hand-overs: what a record refuses, and what the journal keeps of the crematory's number."""

import hashlib
import hmac
from dataclasses import replace
from datetime import datetime

import pytest

from registry.errors import InvalidRecordError, UnprintableTextError
from registry.records.custody import (
    HandOverDraft,
    Step,
    WrittenSide,
    hand_over_body,
    hand_over_from_body,
    identification_digest,
    secret_name,
)
from tests.builders import NOON, a_hand_over

SECRET = "0b" * 20


def a_written_side(**changes: str) -> WrittenSide:
    return replace(WrittenSide(name="Skua Crematory", tag="MR-0001", identification="C-48213"), **changes)


def a_draft(**changes):
    draft = HandOverDraft(
        tag="MR-0001",
        step=Step.RECEIVED,
        at=NOON,
        at_text="2026-06-01 12:00",
        giver=a_written_side(),
        taker=a_written_side(name="Marram yard"),
    )
    return replace(draft, **changes)


def test_the_digest_is_that_of_the_standard():
    """RFC 4231, test case 1: 20 bytes of 0x0b over "Hi There"; the number is folded to "hithere" before."""
    assert hmac.new(bytes.fromhex(SECRET), b"Hi There", hashlib.sha256).hexdigest() == (
        "b0344c61d8db38535ca8afceaf0bf12b881dc200c9833da726e9376c2e32cff7"
    )
    expected = hmac.new(bytes.fromhex(SECRET), b"hithere", hashlib.sha256).hexdigest()
    assert identification_digest(SECRET, "Hi There") == expected


@pytest.mark.parametrize("written", ["c-48213", "C-48 213", "Ｃ-48213"])
def test_spacing_and_case_make_no_difference(written):
    assert identification_digest(SECRET, written) == identification_digest(SECRET, "C-48213")


@pytest.mark.parametrize("written", ["C-48231", "C48213", "C-4821", "C-482130"])
def test_every_other_difference_does(written):
    assert identification_digest(SECRET, written) != identification_digest(SECRET, "C-48213")


def test_the_same_number_has_another_digest_for_another_module():
    assert identification_digest("0c" * 20, "C-48213") != identification_digest(SECRET, "C-48213")


def test_the_name_of_a_secret_is_not_the_secret():
    assert secret_name(SECRET) not in SECRET
    assert len(secret_name(SECRET)) == 16


def test_a_hand_over_comes_back_from_its_body():
    said = a_hand_over(Step.CURED, note="in the blue box", source={"row": 3})
    assert hand_over_from_body(hand_over_body(said)) == said


@pytest.mark.parametrize(
    ("make", "error"),
    [
        (lambda: a_written_side(name=""), InvalidRecordError),
        (lambda: a_written_side(identification=" "), InvalidRecordError),
        (lambda: a_written_side(tag="MR\u202e1"), UnprintableTextError),
        (lambda: a_written_side(identification="9" * 61), InvalidRecordError),
        (lambda: a_draft(note="two\nlines"), UnprintableTextError),
        (lambda: a_draft(tag="../up"), InvalidRecordError),
        (lambda: a_draft(at=datetime(2026, 6, 1, 12, 0)), InvalidRecordError),  # noqa: DTZ001
        (lambda: a_hand_over(at=datetime(2026, 6, 1, 12, 0)), InvalidRecordError),  # noqa: DTZ001
    ],
)
def test_what_says_nothing_or_hides_something_is_refused(make, error):
    with pytest.raises(error):
        make()
