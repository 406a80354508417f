"""What is less certain is drawn more often."""

import numpy as np
import pytest

from registry.measure.doubt_weight import LEAST_WEIGHT, doubt_weight

NAN = float("nan")


def test_what_just_meets_order_1a_weighs_the_root_of_two_and_a_bit():
    # IHO S-44 edition 6.1.0, table 1, order 1a at 20 m: THU 5 m + 5 % = 6 m, TVU sqrt(0.5² + 0.26²) = 0.5636 m.
    assert doubt_weight([6.0], [20.0], [0.5636])[0] == pytest.approx(np.sqrt(2 + LEAST_WEIGHT**2), abs=1e-4)


def test_more_doubt_never_weighs_less():
    r95 = np.array([0.02, 0.5, 3.0, 15.0, 400.0])
    assert (np.diff(doubt_weight(r95, [20.0] * 5, [0.5] * 5)) > 0).all()
    assert (np.diff(doubt_weight([2.0] * 5, [20.0] * 5, [0.1, 0.4, 0.6, 1.0, 3.0])) > 0).all()


def test_an_unmeasured_depth_weighs_as_much_as_any_measured_one():
    unknown, known = doubt_weight([3.0, 3.0], [NAN, 5.0], [NAN, 2.0])
    assert unknown >= known
    alone = doubt_weight([3.0], [NAN], [NAN])[0]
    assert alone == pytest.approx(np.sqrt(LEAST_WEIGHT**2 + (3 / 5) ** 2 + 2.0**2))


def test_even_a_perfect_record_can_be_drawn():
    assert doubt_weight([0.0], [20.0], [0.0])[0] == LEAST_WEIGHT


def test_a_seabed_that_dries_is_weighed_as_at_the_surface():
    assert doubt_weight([5.0], [-1.0], [0.5])[0] == doubt_weight([5.0], [0.0], [0.5])[0]
