"""Permits that are judged together are judged as each would be alone, and each condition where it applies."""

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import LineString, box

from registry.actions.gather_cases import Surroundings, cases_of, moved
from registry.rules.catalogue import conditions_of, judge
from tests.builders import LAT_DEG, LON_DEG, a_baseline, a_keep_out, a_permit, a_target, a_type, an_area
from tests.rules.one_case import (
    BAD,
    NOT_ASKED,
    OK,
    a_square,
    a_table,
    asked,
    at,
    count_of,
    gathered,
    kilograms,
    verdicts,
)
from tests.strategies import conditions, tables

CABLE = a_keep_out(setback_m=15.0, shape=LineString([(LON_DEG, 33.99), (LON_DEG, 34.01)]))
NUMBERS = ("HB-0417", "TN-0033")
SHORES = (
    a_baseline(shape=LineString([(-76.9993, 33.99), (-76.9994, 34.01)])),
    a_baseline(baseline_id="baseline-0002", name="isle", shape=a_square(-77.0003, 34.0001, 9.0)),
)
PLAN = tuple(a_target(permit=number, tag=tag) for number in NUMBERS for tag in "ABCDE")


@settings(deadline=None)
@given(tables(most=6), st.lists(st.lists(conditions(), max_size=4), min_size=4, max_size=4))
def test_permits_and_versions_judged_together_answer_as_each_alone(table, asked_of_each):
    # Two versions of each of two permits: the second half of its placements is judged by the second.
    permits = [
        a_permit(
            number=NUMBERS[k // 2],
            conditions=tuple(stated),
            areas=(an_area(shape=a_square(LON_DEG, LAT_DEG, 20.0 + 10.0 * k)),),
        )
        for k, stated in enumerate(asked_of_each)
    ]
    rows = [np.flatnonzero(table.permit == number) for number in NUMBERS]
    parts = [part for of in rows for part in (of[: len(of) // 2], of[len(of) // 2 :])]
    every = Surroundings(table)

    def answers(chosen):
        given_ = [(permits[k], parts[k]) for k in chosen]
        around: dict[str, Any] = {"baselines": SHORES, "types": {"dome-120": a_type()}, "targets": PLAN}
        return judge(cases_of(asked=given_, keep_outs=(CABLE,), standing=every, zone="UTC", **around))

    together = answers(range(4))
    assert [len(of) for of in together] == [len(conditions_of(permit)) for permit in permits]
    for k in range(4):
        (alone,) = answers([k])
        for one, other in zip(alone, together[k], strict=True):
            assert (one.rule, one.cite, one.unit) == (other.rule, other.cite, other.unit)
            assert one.verdict.tolist() == other.verdict.tolist()
            assert list(one.message) == list(other.message)
            for name in ("measured", "limit", "u95"):
                # What is measured from long lines takes planes of its own: nanometres are no difference.
                within = 1e-7 if one.rule == "offshore-distance" else 0.0
                np.testing.assert_allclose(getattr(one, name), getattr(other, name), rtol=0, atol=within)


def two_areas():
    west, east = a_square(LON_DEG - 0.1, LAT_DEG), a_square(LON_DEG, LAT_DEG)
    return (an_area(area_id="tern-patch", shape=west), an_area(shape=east))


def test_a_condition_for_one_area_is_not_asked_in_another():
    deep = asked("depth-band", least=25.0)
    permit = a_permit(areas=two_areas(), conditions=(replace(deep, areas=("tern-patch",)),))
    table = a_table(2, lon_deg=[LON_DEG - 0.1, LON_DEG], depth_m=20.0)
    (judged,) = judge(gathered(table, permit=permit))
    found = next(each for each in judged if each.rule == "depth-band")
    assert verdicts(found) == [BAD, NOT_ASKED]
    assert np.isnan(found.measured[1])
    assert np.isnan(found.limit[1])
    assert found.message[1] == "Not asked in gannet-patch, only in tern-patch."


def test_a_module_outside_every_area_is_asked_what_the_nearest_asks():
    deep = asked("depth-band", least=25.0)
    permit = a_permit(areas=two_areas(), conditions=(replace(deep, areas=("tern-patch",)),))
    table = a_table(2, lon_deg=[LON_DEG - 0.11, LON_DEG + 0.01], depth_m=20.0)
    (judged,) = judge(gathered(table, permit=permit))
    assert verdicts(next(each for each in judged if each.rule == "depth-band")) == [BAD, NOT_ASKED]


def test_the_line_between_two_areas_of_a_permit_bounds_nothing():
    # Common practice, no source: a permit's areas that share an edge are one ground.
    west, east = box(-77.01, 33.99, -77.0, 34.01), box(-77.0, 33.99, -76.99, 34.01)
    permit = a_permit(
        areas=(an_area(area_id="tern-patch", shape=west), an_area(shape=east)),
        conditions=(asked("inside-area", setback=100.0),),
    )
    (judged,) = judge(gathered(a_table(1, lon_deg=-77.0, lat_deg=34.0), permit=permit))
    found = next(each for each in judged if each.rule == "inside-area")
    assert verdicts(found) == [OK]
    assert found.measured[0] == pytest.approx(923.6, abs=0.5)


def test_a_capacity_of_one_area_counts_what_lies_in_it_and_nothing_else():
    west, east = two_areas()
    few = replace(asked("capacity", greatest_count=count_of(2)), areas=("tern-patch",))
    heavy = replace(asked("capacity", greatest_mass=kilograms(3000.0)), areas=("tern-patch",))
    permit = a_permit(areas=(west, east), conditions=(few, heavy))
    # Two elsewhere and one outside of all areas were placed before the third in the one that is limited.
    table = a_table(
        6, lon_deg=[LON_DEG, LON_DEG - 0.1, LON_DEG - 0.11, LON_DEG - 0.1, LON_DEG, LON_DEG - 0.1]
    )
    (judged,) = judge(gathered(table, permit=permit))
    number, mass = (each for each in judged if each.rule == "capacity")
    assert verdicts(number) == [NOT_ASKED, OK, OK, OK, NOT_ASKED, BAD]
    assert number.measured[[1, 2, 3, 5]].tolist() == [1.0, 1.0, 2.0, 3.0]
    assert number.message[5] == "Module 3 of 2 authorised in tern-patch."
    assert mass.measured[[1, 3, 5]].tolist() == [1400.0, 2800.0, 4200.0]


def test_what_surrounds_a_module_stays_when_it_is_thought_to_lie_elsewhere():
    table = a_table(2, **at((0, 0), (100, 0)))
    cases = gathered(table, judged=[0])
    there = at((97, 0))
    ((before,),) = judge(cases, [(asked("spacing", least=6.0),)])
    ((after,),) = judge(moved(cases, there["lon_deg"], there["lat_deg"]), [(asked("spacing", least=6.0),)])
    assert before.measured[0] == pytest.approx(98.5, abs=0.01)
    assert after.measured[0] == pytest.approx(1.5, abs=0.01)
    assert table.lon_deg[0] == LON_DEG
