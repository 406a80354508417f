"""Every rule is complete: a sentence, a source, and placements that keep it, break it and leave it open."""

import math
import re
from datetime import UTC, datetime
from typing import Any, get_args

import numpy as np
import pytest

from registry.errors import PermitError
from registry.measure.decision import Verdict
from registry.records.permit import Condition
from registry.records.quantity import Dimension
from registry.rules.catalogue import (
    CATALOGUE,
    checked_condition,
    conditions_of,
    judge,
    rule_of,
)
from tests.builders import (
    LAT_DEG,
    LON_DEG,
    a_baseline,
    a_condition,
    a_keep_out,
    a_permit,
    a_quantity,
    a_type,
)
from tests.rules.one_case import (
    BAD,
    OK,
    SEA,
    UNSURE,
    a_table,
    asked,
    at,
    count_of,
    feet,
    gathered,
    judged,
    kilograms,
    limit,
    ratio,
    seconds,
    share,
    verdicts,
)

IN_PRINT_ORDER = [
    "inside-area",
    "keep-out",
    "offshore-distance",
    "spacing",
    "target-offset",
    "depth-band",
    "clearance",
    "relief",
    "stability",
    "capacity",
    "validity",
    "season",
    "module-type",
    "duplicate",
    "position-quality",
]

TWO = {"tag": ["A", "B"]}
EAST_OF_CABLE = {"keep_outs": [a_keep_out()]}

# For each rule: limits, surroundings, and columns of one or two placements, the first of which is judged.
VECTORS: dict[str, tuple[dict[str, Any], dict[str, Any], dict[Verdict, dict[str, Any]]]] = {
    "inside-area": (
        {"setback": 20.0},
        {},
        {
            OK: {},
            BAD: {"lon_deg": -77.02},
            UNSURE: {"lon_deg": -77.0098, "r95_m": 3.0},
        },
    ),
    "keep-out": (
        {},
        EAST_OF_CABLE,
        {OK: {}, BAD: {"lon_deg": -76.9805}, UNSURE: {"r95_m": 2500.0}},
    ),
    "spacing": (
        {"least": 10.0},
        {},
        {
            OK: {**TWO, **at((0, 0), (20, 0))},
            BAD: {**TWO, **at((0, 0), (5, 0))},
            UNSURE: {**TWO, **at((0, 0), (11.5, 0))},
        },
    ),
    "offshore-distance": (
        {"least": 55_000.0},
        {"baselines": [a_baseline()]},
        {OK: {}, BAD: {"lon_deg": -77.01}, UNSURE: {"r95_m": 500.0}},
    ),
    "target-offset": (
        {"greatest": 3.0},
        {"targets": (LON_DEG, LAT_DEG)},
        {OK: {}, BAD: at((4.6, 0)), UNSURE: at((3.0, 0))},
    ),
    "depth-band": (
        {"least": 15.0, "greatest": 25.0},
        {},
        {OK: {}, BAD: {"depth_m": 26.0}, UNSURE: {"depth_m": 15.2}},
    ),
    "clearance": (
        {"least": feet(50.0)},
        {},
        {OK: {}, BAD: {"depth_m": 15.0}, UNSURE: {"depth_m": 16.5}},
    ),
    "relief": (
        {"greatest": 1.5},
        {},
        {OK: {}, BAD: {"height_m": 1.6}, UNSURE: {"height_m": 1.49}},
    ),
    "stability": (
        {"least_sliding_factor": ratio(1.5), **SEA},
        {"types": [a_type()]},
        {OK: {}, BAD: {"depth_m": 6.0, "depth_u95_m": 0.1}, UNSURE: {"depth_m": 5.0}},
    ),
    "capacity": (
        {"greatest_mass": kilograms(2000.0)},
        {},
        {OK: {}, BAD: {"mass_kg": 2001.0}, UNSURE: {"mass_kg": math.nan}},
    ),
    "validity": ({}, {}, {OK: {}, BAD: {"placed_at_s": seconds(datetime(2034, 5, 2, tzinfo=UTC))}}),
    "season": (
        {"open": "05-01 to 10-31"},
        {},
        {OK: {}, BAD: {"placed_at_s": seconds(datetime(2026, 11, 1, 12, tzinfo=UTC))}},
    ),
    "module-type": (
        {"types": "dome-120,cube-90"},
        {},
        {OK: {}, BAD: {"module_type": "car"}, UNSURE: {"module_type": ""}},
    ),
    "duplicate": ({}, {}, {OK: TWO, BAD: {"tag": ["A", "A"]}}),
    "position-quality": (
        {"order": "1a"},
        {},
        {OK: {}, BAD: {"r95_m": 6.1}, UNSURE: {"depth_m": math.nan}},
    ),
}
NEVER_IN_DOUBT = {"validity", "season", "duplicate"}


def test_every_rule_stands_in_print_order():
    assert [rule.rule_id for rule in CATALOGUE] == IN_PRINT_ORDER


@pytest.mark.parametrize("rule", CATALOGUE, ids=lambda rule: rule.rule_id)
def test_every_rule_has_a_sentence_and_a_source(rule):
    assert rule.sentence.endswith(".")
    assert rule.sentence[0].isupper()
    assert rule.source.strip().endswith((".", ")"))
    assert set(rule.needs_one_of) <= set(rule.parameters)
    assert set(rule.choices) <= {name for name, kind in rule.parameters.items() if kind == "text"}
    assert set(rule.parameters.values()) <= set(get_args(Dimension))
    assert set(rule.apart) <= set(rule.parameters)
    assert set(rule.needs_with) <= set(rule.parameters)
    assert {need for needs in rule.needs_with.values() for need in needs} <= set(rule.parameters)


@pytest.mark.parametrize("rule", CATALOGUE, ids=lambda rule: rule.rule_id)
def test_every_rule_has_vectors_that_keep_it_break_it_and_leave_it_open(rule):
    limits, around, vectors = VECTORS[rule.rule_id]
    assert set(vectors) == ({OK, BAD} if rule.rule_id in NEVER_IN_DOUBT else {OK, BAD, UNSURE})
    for expected, columns in vectors.items():
        count = max((len(v) for v in columns.values() if isinstance(v, list | np.ndarray)), default=1)
        assert verdicts(judged(rule.rule_id, a_table(count, **columns), limits, **around))[0] == expected


@pytest.mark.parametrize("rule", CATALOGUE, ids=lambda rule: rule.rule_id)
def test_every_rule_can_be_asked_of_nothing(rule):
    limits, around, _ = VECTORS[rule.rule_id]
    found = judged(rule.rule_id, a_table(0), limits, **around)
    assert verdicts(found) == []


@pytest.mark.parametrize("rule", CATALOGUE, ids=lambda rule: rule.rule_id)
def test_a_finding_carries_the_citation_of_its_condition(rule):
    limits, around, _ = VECTORS[rule.rule_id]
    line = judged(rule.rule_id, a_table(), limits, **around).line(0, "MR-0001")
    assert (line.rule, line.cite) == (rule.rule_id, "Special condition 9")
    numbers = [line.as_json()[name] for name in ("measured", "limit", "u95")]
    assert all(value is None or isinstance(value, float) for value in numbers)


def test_rules_that_go_without_saying_are_asked_and_cited():
    conditions = conditions_of(a_permit(conditions=()))
    assert [condition.rule for condition in conditions] == [
        "inside-area",
        "keep-out",
        "validity",
        "duplicate",
    ]
    assert all(condition.cite for condition in conditions)


def test_a_stated_condition_takes_the_place_of_the_one_that_goes_without_saying():
    stated = asked("inside-area", setback=30.0)
    conditions = conditions_of(a_permit(conditions=(a_condition(), stated)))
    assert [c for c in conditions if c.rule == "inside-area"] == [stated]


def test_conditions_come_in_print_order_whatever_the_permit_writes():
    conditions = conditions_of(
        a_permit(
            conditions=(
                asked("position-quality", greatest=5.0),
                asked("clearance", least=15.0),
                asked("spacing", least=6.0),
                asked("spacing", greatest=90.0),
            )
        )
    )
    places = [IN_PRINT_ORDER.index(condition.rule) for condition in conditions]
    assert places == sorted(places)
    assert [c.rule for c in conditions].count("spacing") == 2


def test_a_number_and_a_mass_are_two_findings_each_in_its_own_unit():
    permit = a_permit(
        conditions=(asked("capacity", greatest_count=count_of(1), greatest_mass=kilograms(9000.0)),)
    )
    table = a_table(2, **at((0, 0), (30, 0)))
    (judged_all,) = judge(gathered(table, permit=permit))
    findings = [found for found in judged_all if found.rule == "capacity"]
    assert [found.unit for found in findings] == ["modules", "kg"]
    assert [verdicts(found) for found in findings] == [[OK, BAD], [OK, OK]]
    assert findings[1].measured.tolist() == [1400.0, 2800.0]


def test_sliding_and_overturning_are_two_findings_of_one_sea():
    both = asked("stability", least_sliding_factor=ratio(1.5), least_overturning_factor=ratio(2.0), **SEA)
    permit = a_permit(conditions=(both,))
    apart = [c.limits for c in conditions_of(permit) if c.rule == "stability"]
    shared = set(SEA) - {"friction_coefficient", "force_height", "edge_distance"}
    assert [set(limits) - shared for limits in apart] == [
        {"least_sliding_factor", "friction_coefficient"},
        {"least_overturning_factor", "force_height", "edge_distance"},
    ]
    assert all(limits[name] == limit(SEA[name]) for limits in apart for name in shared)
    (findings,) = judge(gathered(a_table(), permit=permit, types=[a_type()]))
    sliding, overturning = (found for found in findings if found.rule == "stability")
    assert [found.limit.tolist() for found in (sliding, overturning)] == [[1.5], [2.0]]
    assert "against sliding" in sliding.message[0]
    assert "against overturning" in overturning.message[0]


def test_an_unknown_rule_is_refused_with_the_nearest_one():
    with pytest.raises(PermitError, match="Did you mean 'spacing'"):
        rule_of("spaceing")


def without(*names: str) -> dict[str, Any]:
    """Give the sea of the tests without some of its figures."""
    return {name: value for name, value in SEA.items() if name not in names}


REFUSED = [
    (asked("spacing", least=count_of(3)), "a count.*Give a length"),
    (asked("spacing", minimum=6.0), "'minimum', which this rule does not read.*least, greatest, basis"),
    (asked("spacing"), "states no limit.*least or greatest"),
    (asked("spacing", basis="edge"), "states no limit"),
    (asked("validity", least=3.0), "does not read. It reads: none"),
    (asked("spacing", least=6.0, basis="center"), "'center'.*one of edge, centre"),
    (asked("position-quality", order="3"), "'3'.*Exclusive, Special, 1a, 1b, 2"),
    (asked("inside-area", setback=-50.0), "below zero"),
    (asked("clearance", least=feet(-50.0)), "-50 ft.*below zero"),
    (asked("depth-band", least=40.0, greatest=feet(60.0)), "at least 40 m and at most 60 ft"),
    (asked("clearance", least="enough"), "a text.*Give a length"),
    (asked("relief", greatest_share=0.5), "a length.*Give a share"),
    (asked("module-type"), r"Give types\.$"),
    (asked("season"), r"states no limit.*Give open or closed\.$"),
    (asked("season", open="summer"), r"'season' \(Special condition 9\): The window 'summer'.*1 May to 31"),
    (asked("season", open="02-30 to 03-31"), "'02-30 to 03-31'"),
    (asked("season", open="05-01 to 10-31", closed="1 April to 30 November"), "No day of the year is left"),
    (asked("offshore-distance", baseline="mean low water"), "states no limit.*Give least or greatest"),
    (asked("target-offset"), "Give greatest with a unit"),
    (asked("stability", **SEA), r"Give least_sliding_factor or least_overturning_factor\.$"),
    (asked("stability", least_sliding_factor=1.5, **SEA), "a length.*Give a ratio"),
    (
        asked("stability", least_sliding_factor=ratio(1.5), **without("lift_coefficient", "wave_period")),
        "least_sliding_factor without wave_period, lift_coefficient.*Nothing of it is ever assumed",
    ),
    (
        asked("stability", least_overturning_factor=ratio(2.0), **without("edge_distance")),
        "least_overturning_factor without edge_distance",
    ),
    (asked("stability", least_sliding_factor=ratio(1.5), **SEA | {"wave_height": 0.0}), "not above zero"),
    (
        asked("stability", least_sliding_factor=ratio(1.5), **SEA | {"drag_coefficient": ratio(-1)}),
        "below zero",
    ),
]


@pytest.mark.parametrize(("condition", "told"), REFUSED, ids=[told for _, told in REFUSED])
def test_a_condition_that_no_rule_can_read_is_refused_before_it_is_recorded(condition, told):
    with pytest.raises(PermitError, match=f"(?s).*{told}"):
        checked_condition(condition)


@pytest.mark.parametrize("rule_id", IN_PRINT_ORDER)
def test_a_condition_that_its_rule_reads_is_given_back(rule_id):
    condition = asked(rule_id, **VECTORS[rule_id][0])
    assert checked_condition(condition) is condition


def test_what_one_factor_does_not_need_may_be_left_out():
    assert checked_condition(
        asked("stability", least_sliding_factor=ratio(1.5), **without("force_height", "edge_distance"))
    )
    assert checked_condition(
        asked("stability", least_overturning_factor=ratio(1.5), **without("friction_coefficient"))
    )


def test_limits_that_meet_are_no_contradiction():
    assert checked_condition(asked("depth-band", least=20.0, greatest=20.0))


def test_a_condition_without_its_source_cannot_be_made():
    with pytest.raises(PermitError, match="names no source"):
        Condition(rule="spacing", cite=" ", limits={"least": limit(6.0)})


def test_shares_and_counts_are_limits_too():
    assert checked_condition(asked("relief", greatest_share=share(0.5)))
    assert checked_condition(asked("capacity", greatest_count=count_of(0)))
    assert a_quantity(1.0, dimension="count").dimension == "count"


def test_no_source_is_the_law_of_one_country():
    """The source stands in every audit, also in that of a programme under another law."""
    for rule in CATALOGUE:
        assert not re.search(r"\b(USC|CFR|FAC|U\.S\.|Florida)\b", rule.source), rule.rule_id
