"""What one rule says, as columns and as a line."""

import math

import pytest

from registry.measure.decision import Verdict
from registry.records.finding import Phrases, whole_verdict
from tests.rules.one_case import a_table, judged

LINE = judged("relief", a_table(2, height_m=[1.2, math.nan]), {"greatest": 1.5})


def test_a_line_has_the_names_of_the_command_contract():
    body = LINE.line(0, "MR-0001").as_json()
    assert list(body) == [
        "placement",
        "rule",
        "verdict",
        "measured",
        "limit",
        "u95",
        "unit",
        "cite",
        "message",
    ]
    assert (body["placement"], body["rule"], body["verdict"]) == ("MR-0001", "relief", "conforming")
    assert (body["measured"], body["limit"], body["unit"]) == (1.2, 1.5, "m")
    assert LINE.line(0, None).as_json()["placement"] is None


def test_an_unknown_number_is_null():
    body = LINE.line(1, "MR-0002").as_json()
    assert (body["verdict"], body["measured"]) == ("inconclusive", None)


def test_the_whole_is_the_worst():
    lines = [LINE.line(0, None), LINE.line(1, None)]
    assert whole_verdict(lines) == Verdict.INCONCLUSIVE
    assert whole_verdict(lines[:1]) == Verdict.CONFORMING
    assert whole_verdict([]) == Verdict.NOT_APPLICABLE


def test_sentences_are_written_only_when_read():
    read: list[int] = []

    def write(row):
        read.append(row)
        return f"Row {row}."

    phrases = Phrases(3, write)
    assert len(phrases) == 3
    assert read == []
    assert phrases[-1] == "Row 2."
    assert phrases[0:2] == ["Row 0.", "Row 1."]
    assert list(phrases) == ["Row 0.", "Row 1.", "Row 2."]
    for beyond in (3, -4):
        with pytest.raises(IndexError):
            phrases[beyond]
