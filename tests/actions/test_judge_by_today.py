from dataclasses import replace

from registry.actions.audit_registry import audit_registry
from registry.actions.judge_by_today import todays_verdicts
from registry.measure.decision import Verdict
from registry.records.permit import Condition
from tests.audited import audited_registry, strict_permit
from tests.builders import a_quantity


def audited(permit):
    return audit_registry(audited_registry(permit=permit)).permits[0]


def with_clearance(limit_m):
    """Give the permit with another least clearance, and none for the depth."""
    conditions = tuple(
        replace(each, limits={"least": a_quantity(limit_m, written=f"{limit_m:g} m")})
        if each.rule == "clearance"
        else each
        for each in strict_permit().conditions
        if each.rule != "depth-band"
    )
    return strict_permit(conditions=conditions)


def test_a_stricter_amendment_names_who_would_not_keep_it():
    (today,) = todays_verdicts([audited(with_clearance(13.0))], [audited(with_clearance(30.0))])
    # 20.36 m and 14.6 m of water, less 1.2 m of module, keep 13 m and miss 30 m, all of them: also the two
    # that miss something else on either day.
    assert today.now.nonconforming == 8
    assert today.then.nonconforming == 2
    assert today.count == len(today.listed) == 8
    assert {row.now for row in today.listed} == {Verdict.NONCONFORMING}
    assert {row.cite for row in today.listed} == {"Special condition 2"}
    assert "at least 30 m is asked" in today.listed[0].message


def test_a_milder_amendment_says_that_nothing_is_missed_any_more():
    (today,) = todays_verdicts([audited(with_clearance(15.24))], [audited(with_clearance(5.0))])
    (row,) = today.listed
    assert (row.tag, row.then, row.now) == ("MR-0007", Verdict.NONCONFORMING, Verdict.CONFORMING)
    assert (row.cite, row.message) == ("", "Nothing that is asked today is missed.")


def test_an_amendment_that_changes_no_verdict_lists_none():
    one = audited(strict_permit())
    (today,) = todays_verdicts([one], [one])
    assert (today.listed, today.count) == ((), 0)
    assert today.then == today.now


def test_each_placement_is_compared_with_its_own_day_whichever_version_it_was_under():
    whole = audited(strict_permit())
    half = [whole.placements.placement_id[:4], whole.placements.placement_id[4:]]
    versions = [
        replace(
            whole,
            placements=whole.placements.rows(slice_),
            findings=tuple(
                replace(
                    found,
                    verdict=found.verdict[slice_],
                    measured=found.measured[slice_],
                    limit=found.limit[slice_],
                    u95=found.u95[slice_],
                    message=found.message[slice_],
                )
                for found in whole.findings
            ),
        )
        for slice_ in (slice(0, 4), slice(4, 8))
    ]
    assert [list(each.placements.placement_id) for each in versions] == [list(each) for each in half]
    (today,) = todays_verdicts(versions, [whole])
    assert today.count == 0


def test_where_no_permit_was_amended_nothing_is_told():
    assert todays_verdicts([audited(strict_permit())], []) == ()


def test_of_very_many_some_are_listed_and_all_are_counted(monkeypatch):
    monkeypatch.setattr("registry.actions.judge_by_today.MOST_LISTED", 2)
    (today,) = todays_verdicts([audited(with_clearance(13.0))], [audited(with_clearance(30.0))])
    assert (len(today.listed), today.count) == (2, 8)


def test_a_condition_that_was_added_counts_as_today_asks_it():
    added = Condition(rule="position-quality", cite="Amendment 1", limits={"greatest": a_quantity(1.0)})
    without = tuple(each for each in strict_permit().conditions if each.rule != "position-quality")
    (today,) = todays_verdicts(
        [audited(strict_permit(conditions=without))], [audited(strict_permit(conditions=(*without, added)))]
    )
    assert today.now.nonconforming == 8
    assert any(row.cite == "Amendment 1" for row in today.listed)
