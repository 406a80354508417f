import numpy as np
import pytest

from registry.actions.choose_placements import choose_placements, deciding_condition
from registry.measure.decision import Verdict
from tests.audited import audit_summary, audited_registry


@pytest.fixture(scope="module")
def permit():
    return max(audit_summary(audited_registry()).permits, key=lambda each: len(each.placements))


def test_all_are_given_the_worst_first(permit):
    rows = choose_placements(permit)
    assert sorted(rows.tolist()) == list(range(len(permit.placements)))
    assert (np.diff(permit.verdict[rows].astype(int)) <= 0).all()


@pytest.mark.parametrize("verdict", list(Verdict))
def test_by_the_verdict_of_the_whole_or_of_one_condition(permit, verdict):
    rows = choose_placements(permit, verdict=verdict)
    assert rows.tolist() == np.flatnonzero(permit.verdict == verdict).tolist()
    for place, condition in enumerate(permit.conditions):
        rows = choose_placements(permit, condition=place, verdict=verdict)
        assert rows.tolist() == np.flatnonzero(condition.findings.verdict == verdict).tolist()


def test_by_a_part_of_the_tag_whatever_its_capitals(permit):
    rows = choose_placements(permit, tag="mr-0005")
    assert permit.placements.tag[rows].tolist() == ["MR-0005"]
    assert len(choose_placements(permit, tag="nobody")) == 0


def test_the_condition_that_decides_says_the_verdict_of_the_whole(permit):
    for row in range(len(permit.placements)):
        decides = deciding_condition(permit, row)
        assert decides is not None
        assert decides.findings.verdict[row] == permit.verdict[row]
