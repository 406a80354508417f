import numpy as np
import pytest

from registry.documents.audit_values import amount
from registry.measure.decision import Verdict
from registry.records.audit_summary import margins
from tests.audited import audit_summary, audited_registry
from tests.rules.one_case import a_table, asked, judged
from tests.test_catalogue import VECTORS


def test_what_is_flagged_is_told_with_its_evidence_in_order_of_row():
    permit = audit_summary().permits[0]
    flagged = [row for row, verdict in enumerate(permit.verdict) if verdict >= Verdict.INCONCLUSIVE]
    assert [each.row for each in permit.evidence] == flagged
    assert {each.position_text for each in permit.evidence} == {"34 00.000 N 077 00.000 W"}


def test_of_very_many_the_worst_are_told_with_their_evidence(monkeypatch):
    monkeypatch.setattr("registry.actions.summarise_audit.MOST_EVIDENCE", 3)
    permit = audit_summary().permits[0]
    assert [Verdict(int(permit.verdict[each.row])) for each in permit.evidence] == [Verdict.NONCONFORMING] * 3


def test_what_no_report_tells_in_full_is_not_read(monkeypatch):
    register = audited_registry()
    asked: list[str] = []
    read = register.placement

    def noted(identifier):
        asked.append(identifier)
        return read(identifier)

    monkeypatch.setattr(register, "placement", noted)
    monkeypatch.setattr("registry.records.audit_summary.FEW_PERMITS", 0)
    monkeypatch.setattr("registry.records.audit_summary.MOST_IN_FULL", 0)
    summary = audit_summary(register)
    assert asked == []
    assert all(each.evidence == () for each in summary.permits)


def test_a_margin_is_below_zero_where_a_limit_is_missed_whatever_the_rule():
    seen = set()
    for rule_id, (limits, around, vectors) in VECTORS.items():
        condition = asked(rule_id, **limits)
        for verdict in (Verdict.CONFORMING, Verdict.NONCONFORMING):
            columns = vectors[verdict]
            count = max((len(v) for v in columns.values() if isinstance(v, list | np.ndarray)), default=1)
            found = judged(rule_id, a_table(count, **columns), limits, **around)
            margin = margins(condition, found)[0]
            if np.isfinite(margin):
                assert (margin >= 0) == (verdict == Verdict.CONFORMING), rule_id
                seen.add(rule_id)
    assert seen >= {"season", "offshore-distance", "target-offset", "stability", "relief", "spacing"}


@pytest.mark.parametrize(
    ("value", "u95", "unit", "words"),
    [(2.0, 0.0, "d", "2 days"), (-1.0, 0.0, "d", "−1 day"), (3.1337, 0.087, "1", "3.13 ± 0.09")],
)
def test_days_and_factors_are_written_in_their_unit(value, u95, unit, words):
    assert amount(value, u95, unit) == words
