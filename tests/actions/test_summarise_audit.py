from registry.measure.decision import Verdict
from tests.audited import audit_summary, audited_registry


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
