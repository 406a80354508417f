from dataclasses import replace

import pytest

from registry.records.audit_summary import FEW_PERMITS, MOST_IN_FULL, Counts
from tests.audited import audit_summary


@pytest.fixture(scope="module")
def summary():
    return audit_summary()


def with_permits(summary, counts):
    """Give an audit of as many permits, with these numbers of nonconforming and inconclusive placements."""
    permit = summary.permits[0]
    return replace(
        summary,
        permits=tuple(
            replace(permit, counts=Counts(conforming=1, nonconforming=bad, inconclusive=doubtful))
            for bad, doubtful in counts
        ),
    )


def test_few_permits_are_all_told_in_full(summary):
    assert with_permits(summary, [(0, 0)] * FEW_PERMITS).told_in_full == tuple(range(FEW_PERMITS))


def test_of_many_only_those_with_something_flagged(summary):
    counts = [(0, 0)] * 20
    counts[3], counts[17] = (0, 1), (2, 0)
    assert with_permits(summary, counts).told_in_full == (3, 17)


def test_of_very_many_the_worst_in_print_order(summary):
    counts = [(place % 50, 0) for place in range(200)]
    chosen = with_permits(summary, counts).told_in_full
    assert len(chosen) == MOST_IN_FULL
    assert list(chosen) == sorted(chosen)
    left_out = max(counts[place][0] for place in range(200) if place not in chosen)
    assert min(counts[place][0] for place in chosen) >= left_out


def test_of_very_many_findings_only_the_flagged_are_written(summary, monkeypatch):
    assert summary.finding_count == 8 * 8
    assert summary.all_findings_written
    monkeypatch.setattr("registry.records.audit_summary.MOST_FINDINGS", 63)
    assert not summary.all_findings_written
