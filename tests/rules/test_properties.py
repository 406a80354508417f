"""What holds of every rule, whatever the placements: doubt never helps, order and company do not matter."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import LineString

from registry.measure.decision import Verdict
from registry.records.finding import Findings
from registry.rules.catalogue import judge
from tests.builders import LAT_DEG, LON_DEG, a_baseline, a_keep_out, a_permit, a_type, an_area
from tests.rules.one_case import a_square, a_table, asked, at, gathered
from tests.strategies import conditions, doubts, metres, offsets, places, tables

PERMIT = a_permit(areas=(an_area(shape=a_square(LON_DEG, LAT_DEG, 40.0)),))
CABLE = a_keep_out(setback_m=15.0, shape=LineString([(LON_DEG, 33.99), (LON_DEG, 34.01)]))
#: Land to the east of most of what is drawn, an island, and the plan.
SHORES = [
    a_baseline(shape=LineString([(-76.9993, 33.99), (-76.9994, 34.01)])),
    a_baseline(baseline_id="baseline-0002", name="isle", shape=a_square(-77.0003, 34.0001, 9.0)),
]
PLANNED = (-77.0001, LAT_DEG)
DOUBTS = ("r95_m", "depth_u95_m", "height_u95_m")


def ask(table, condition, rows=None):
    cases = gathered(
        table,
        permit=PERMIT,
        keep_outs=[CABLE],
        judged=rows,
        baselines=SHORES,
        types=[a_type()],
        targets=PLANNED,
    )
    ((found,),) = judge(cases, [(condition,)])
    return found


def same(a: Findings, b: Findings, order=slice(None)):
    assert a.unit == b.unit
    assert a.verdict[order].tolist() == b.verdict.tolist()
    for name in ("measured", "limit", "u95"):
        # A different search may add the same lengths in another order; nanometres are no difference.
        np.testing.assert_allclose(getattr(a, name)[order], getattr(b, name), rtol=0, atol=1e-7)


@settings(deadline=None)
@given(tables(), conditions(), st.sampled_from(DOUBTS), doubts)
def test_more_doubt_never_turns_another_verdict_into_conforming(table, condition, column, more):
    before = ask(table, condition).verdict
    doubtful = replace(table, **{column: getattr(table, column) + more})
    after = ask(doubtful, condition).verdict
    assert not ((before > Verdict.CONFORMING) & (after <= Verdict.CONFORMING)).any()


@settings(deadline=None)
@given(
    tables(),
    conditions(),
    st.sampled_from([*DOUBTS, "depth_m", "height_m", "base_radius_m", "mass_kg"]),
    st.data(),
)
def test_knowing_less_never_turns_another_verdict_into_conforming(table, condition, column, data):
    before = ask(table, condition).verdict
    forgotten = getattr(table, column).copy()
    if column == "r95_m":
        return  # a position always has a radius
    forgotten[data.draw(st.integers(0, len(table) - 1))] = np.nan
    after = ask(replace(table, **{column: forgotten}), condition).verdict
    assert not ((before > Verdict.CONFORMING) & (after <= Verdict.CONFORMING)).any()


@settings(deadline=None)
@given(
    places.flatmap(lambda place: tables(place=place)),
    metres,
    doubts,
    offsets,
    st.sampled_from(["edge", "centre"]),
)
def test_a_new_neighbour_never_helps_least_spacing(table, least, r95_m, offset, basis):
    condition = asked("spacing", least=least, basis=basis)
    rows = np.flatnonzero(table.permit == "HB-0417").tolist()
    new = at(offset, lon_deg=float(table.lon_deg[0]), lat_deg=float(table.lat_deg[0]))
    crowded = table.joined(a_table(1, **new, tag="NEW", r95_m=r95_m))
    before, after = ask(table, condition, rows).verdict, ask(crowded, condition, rows).verdict
    assert (after >= before).all()


@settings(deadline=None)
@given(tables(), metres, doubts, offsets)
def test_a_new_neighbour_never_harms_greatest_spacing(table, greatest, r95_m, offset):
    condition = asked("spacing", greatest=greatest)
    rows = np.flatnonzero(table.permit == "HB-0417").tolist()
    crowded = table.joined(a_table(1, **at(offset), tag="NEW", r95_m=r95_m))
    before, after = ask(table, condition, rows).verdict, ask(crowded, condition, rows).verdict
    assert (after[before > 0] <= before[before > 0]).all()


@settings(deadline=None)
@given(places.flatmap(lambda place: tables(place=place)), conditions())
def test_many_are_judged_as_each_would_be_alone(table, condition):
    rows = np.flatnonzero(table.permit == "HB-0417").tolist()
    together = ask(table, condition, rows)
    for place, row in enumerate(rows):
        same(together, ask(table, condition, [row]), slice(place, place + 1))


@settings(deadline=None)
@given(tables(), conditions(), st.randoms(use_true_random=False))
def test_the_order_of_rows_does_not_matter(table, condition, random):
    # Modules of one instant are counted in the order of rows; instants differ here.
    table = replace(table, placed_at_s=table.placed_at_s + np.arange(len(table)) / 1000.0)
    order = list(range(len(table)))
    random.shuffle(order)
    rows = np.arange(len(table))
    moved = ask(table.rows(np.array(order)), condition, rows.tolist())
    found = ask(table, condition, rows.tolist())
    assert found.verdict[order].tolist() == moved.verdict.tolist()
    if condition.rule != "spacing":  # of neighbours equally near, either may be the one reported
        same(found, moved, order)


@settings(deadline=None)
@given(tables(least=2), metres)
def test_a_lone_pair_gives_both_the_same_distance(table, least):
    pair = table.rows(np.array([0, 1]))
    pair = replace(pair, tag=np.array(["A", "B"], dtype=object))
    found = ask(pair, asked("spacing", least=least), [0, 1])
    assert found.verdict[0] == found.verdict[1]
    assert found.measured[0] == pytest.approx(found.measured[1], abs=1e-7)


@settings(deadline=None)
@given(tables(), conditions())
def test_a_verdict_other_than_conforming_is_borne_out_by_what_is_reported(table, condition):
    found = ask(table, condition)
    if condition.rule in ("module-type", "validity", "season") or found.unit == "":
        return
    limits = condition.limits
    least, greatest = (limits[name].value if name in limits else None for name in ("least", "greatest"))
    upper = condition.rule in ("relief", "capacity", "duplicate", "position-quality", "target-offset")
    for x, u, t, verdict in zip(found.measured, found.u95, found.limit, found.verdict, strict=True):
        if np.isnan([x, u, t]).any() or verdict == Verdict.NOT_APPLICABLE:
            assert verdict in (Verdict.INCONCLUSIVE, Verdict.NOT_APPLICABLE)
            continue
        at_most = upper or (t == greatest and (t != least or x > t))
        over = float(x - t) if at_most else float(t - x)
        if abs(abs(over) - u) > 1e-5:
            expected = (
                Verdict.CONFORMING
                if over < -u
                else Verdict.NONCONFORMING
                if over > u
                else Verdict.INCONCLUSIVE
            )
            assert verdict == expected
