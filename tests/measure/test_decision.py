"""The guard band: what is known of one limit."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from registry.measure.decision import Verdict, at_least, at_most, u95_toward, worst
from registry.measure.uncertainty import separation_u95

values = st.floats(-1e4, 1e4)
doubts = st.floats(0, 1e3)


@pytest.mark.parametrize(
    ("value", "verdict"),
    [(52.0, Verdict.CONFORMING), (51.0, Verdict.INCONCLUSIVE), (48.0, Verdict.NONCONFORMING)],
    ids=lambda v: f"{v} ft" if isinstance(v, float) else v.word,
)
def test_least_clearance_of_50_ft_known_to_1_9_ft(value, verdict):
    """JCGM 106:2012, guarded acceptance with w = U; vectors computed from its rule."""
    assert at_least(value, 1.9, 50.0) == verdict


@pytest.mark.parametrize(
    ("value", "verdict"),
    [(12.9, Verdict.CONFORMING), (11.0, Verdict.INCONCLUSIVE), (7.0, Verdict.NONCONFORMING)],
    ids=lambda v: f"{v} m" if isinstance(v, float) else v.word,
)
def test_spacing_of_10_m_between_two_independent_fixes_of_2_m(value, verdict):
    """JCGM 106:2012, guarded acceptance with w = U; U = sqrt(2² + 2²) = 2.83 m, computed."""
    assert at_least(value, separation_u95(2.0, 2.0), 10.0) == verdict


def test_the_edges_of_the_band():
    """Conforming if x - U >= T; nonconforming only if x + U < T."""
    assert at_least([12.0, 8.0], 2.0, 10.0).tolist() == [Verdict.CONFORMING, Verdict.INCONCLUSIVE]
    assert at_most([8.0, 12.0], 2.0, 10.0).tolist() == [Verdict.CONFORMING, Verdict.INCONCLUSIVE]
    assert at_least(10.0, 0.0, 10.0) == Verdict.CONFORMING


def test_rounding_of_units_does_not_decide():
    assert at_least(50 * 12 * 0.0254, 0.0, 50 * 0.3048) == Verdict.CONFORMING


@given(values, doubts, doubts, values)
def test_more_doubt_never_turns_another_verdict_into_conforming(x, u, more, limit):
    for judge in (at_least, at_most):
        before, after = judge(x, u, limit), judge(x, u + more, limit)
        if after == Verdict.CONFORMING:
            assert before == Verdict.CONFORMING
        if after == Verdict.NONCONFORMING:
            assert before == Verdict.NONCONFORMING


@given(values, doubts, values, doubts)
def test_more_clearance_never_worsens_a_verdict(x, u, limit, more):
    assert at_least(x + more, u, limit) <= at_least(x, u, limit)
    assert at_most(x - more, u, limit) <= at_most(x, u, limit)


@given(values, doubts, values)
def test_both_sides_mirror_each_other(x, u, limit):
    assert at_most(x, u, limit) == at_least(-x, u, -limit)


@pytest.mark.parametrize(("value", "u95"), [(math.nan, 1.0), (100.0, math.nan), (100.0, math.inf)])
def test_what_is_not_known_is_inconclusive(value, u95):
    assert at_least(value, u95, 50.0) == Verdict.INCONCLUSIVE
    assert at_most(value, u95, 50.0) == Verdict.INCONCLUSIVE


@given(values, doubts, doubts, values)
def test_an_interval_wider_on_one_side_is_judged_by_its_ends(x, below, above, limit):
    low, high = x - below, x + above
    u95 = u95_toward(limit, low, x, high)
    as_ends = (
        Verdict.CONFORMING if low > limit else Verdict.NONCONFORMING if high < limit else Verdict.INCONCLUSIVE
    )
    if min(abs(low - limit), abs(high - limit)) > 1e-6:
        assert at_least(x, u95, limit) == as_ends
        assert at_most(-x, u95_toward(-limit, -high, -x, -low), -limit) == as_ends
    assert np.isnan(u95_toward(limit, math.nan, x, high))


@given(st.lists(st.sampled_from(list(Verdict)), min_size=1))
def test_the_whole_is_the_worst(verdicts):
    assert worst(np.array(verdicts)) == max(verdicts)
    assert worst([*verdicts, Verdict.NONCONFORMING]) == Verdict.NONCONFORMING


def test_words():
    assert [v.word for v in Verdict] == ["not applicable", "conforming", "inconclusive", "nonconforming"]
