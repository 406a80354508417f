"""Water over the top."""

import math

import numpy as np
import pytest

from registry.errors import InvalidRecordError
from registry.measure.clearance import clearance_arrays, clearance_over_module, share_of_water_column
from registry.measure.uncertainty import Length


def test_one_and_many_agree():
    one = clearance_over_module(Length(20.36, 0.56), Length(1.5, 0.05))
    many = clearance_arrays([20.36, 10.0], [0.56, 0.5], [1.5, 1.0], 0.05)
    assert (many[0][0], many[1][0]) == (one.value_m, one.u95_m)


def test_an_unknown_depth_leaves_the_clearance_unknown():
    value, u95 = clearance_arrays([np.nan, 10.0], [np.nan, 0.1], 1.0, 0.0)
    assert np.isnan(value).tolist() == [True, False]
    assert np.isnan(u95).tolist() == [True, False]


def test_a_module_may_stand_out_of_the_water():
    assert clearance_over_module(Length(1.0, 0.0), Length(1.5, 0.0)).value_m == -0.5


def test_a_negative_height_is_refused():
    with pytest.raises(InvalidRecordError, match="below the seabed"):
        clearance_over_module(Length(20.0, 0.1), Length(-1.5, 0.1))
    with pytest.raises(InvalidRecordError, match="below the seabed"):
        share_of_water_column([1.0, -0.1], 0.0, 10.0, 0.0)


def test_a_share_needs_water():
    share, u95 = share_of_water_column(1.0, 0.1, [10.0, 0.0, -2.0, math.nan], 0.5)
    assert share[0] == pytest.approx(0.1)
    assert u95[0] == pytest.approx(math.hypot(0.1, 0.1 * 0.5) / 10.0)
    assert np.isnan(share[1:]).all()
    assert np.isnan(u95[1:]).all()
