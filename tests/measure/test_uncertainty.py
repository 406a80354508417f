"""Doubt, and how doubts add up."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from registry.errors import InvalidRecordError, QuantityError
from registry.measure.uncertainty import (
    R95_FACTOR,
    RADIAL_FACTORS,
    Length,
    boundary_distance_u95,
    combine,
    convert_radius,
    r95_from_sigmas,
    separation_u95,
)

sigmas = st.floats(1e-3, 1e3)


@given(sigmas, sigmas)
def test_the_ellipse_lies_between_the_line_and_the_circle(a, b):
    r95 = r95_from_sigmas(a, b)
    assert 1.95996 * max(a, b) <= r95 <= R95_FACTOR * max(a, b) * (1 + 1e-12)
    assert r95 == pytest.approx(r95_from_sigmas(b, a), rel=1e-12)


@given(sigmas, sigmas, st.floats(1.0, 10.0))
def test_more_spread_is_never_a_smaller_radius(a, b, more):
    assert r95_from_sigmas(a * more, b) >= r95_from_sigmas(a, b) * (1 - 1e-12)


@pytest.mark.parametrize("ratio", [1.0, 0.8, 0.5, 0.2, 0.05, 0.0])
def test_the_radius_holds_95_per_cent_of_drawn_errors(ratio):
    rng = np.random.default_rng(11)
    drawn = np.hypot(rng.normal(0, 1.0, 400_000), rng.normal(0, 1.0, 400_000) * ratio)
    assert (drawn <= r95_from_sigmas(1.0, ratio)).mean() == pytest.approx(0.95, abs=0.0015)


def test_no_spread_is_no_radius():
    assert r95_from_sigmas(0.0, 0.0) == 0.0
    assert r95_from_sigmas([0.0, 1.0], [0.0, 1.0]).tolist() == pytest.approx([0.0, R95_FACTOR])


@pytest.mark.parametrize("bad", [-1.0, math.nan, math.inf])
def test_a_spread_that_is_none_is_refused(bad):
    with pytest.raises(InvalidRecordError):
        r95_from_sigmas(bad, 1.0)


@pytest.mark.parametrize(("value", "u95"), [(math.nan, 1.0), (math.inf, 1.0), (1.0, -0.1), (1.0, math.nan)])
def test_a_length_that_is_no_measurement_is_refused(value, u95):
    with pytest.raises(InvalidRecordError):
        Length(value, u95)


@given(st.lists(st.floats(1e-6, 1e3), min_size=1, max_size=6))
def test_combining_never_shrinks_doubt(terms):
    assert combine(*terms) >= max(terms) * (1 - 1e-12)


def test_combining_works_row_by_row():
    assert combine([3.0, 0.0], [4.0, 2.0], 0.0).tolist() == [5.0, 2.0]


def test_a_shared_error_cancels_only_as_far_as_it_is_declared():
    assert separation_u95(2.0, 2.0) == pytest.approx(math.sqrt(8.0))
    assert separation_u95(2.0, 2.0, shared_r95=2.0) == 0.0
    with pytest.raises(InvalidRecordError, match="shared error"):
        separation_u95(2.0, 1.0, shared_r95=1.5)


def test_the_doubt_of_a_distance_to_a_boundary_is_on_the_safe_side_of_1_645_sigma():
    assert boundary_distance_u95(R95_FACTOR) > 1.645


@pytest.mark.parametrize("measure", list(RADIAL_FACTORS))
def test_converting_there_and_back_changes_nothing(measure):
    assert convert_radius(convert_radius(3.0, measure, "r95"), "r95", measure) == pytest.approx(3.0)


def test_an_unknown_measure_is_refused():
    with pytest.raises(QuantityError, match="hdop"):
        convert_radius(1.0, "hdop", "r95")  # type: ignore[arg-type]
