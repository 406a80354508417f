"""Orders of survey."""

import math

import numpy as np
import pytest

from registry.errors import QuantityError
from registry.measure.survey_order import ORDERS, horizontal_limit, order_met, vertical_limit


def test_each_order_is_at_least_as_strict_as_the_next():
    for depth in (0.0, 10.0, 100.0):
        limits = [float(horizontal_limit(name, depth)) for name in ORDERS]
        assert limits == sorted(limits)
        heights = [float(vertical_limit(depth, name)) for name in ORDERS]
        assert heights == sorted(heights)


def test_an_unknown_depth_matters_only_where_the_limit_depends_on_it():
    assert horizontal_limit("Special", [math.nan, 5.0]).tolist() == [2.0, 2.0]
    assert np.isnan(horizontal_limit("2", math.nan))
    met = order_met(1.5, math.nan)
    assert met is not None
    assert met.name == "Special"
    assert order_met(4.0, math.nan) is None


def test_an_unknown_order_is_refused():
    with pytest.raises(QuantityError, match="Exclusive, Special, 1a, 1b, 2"):
        horizontal_limit("3", 10.0)
    with pytest.raises(QuantityError, match="no order"):
        vertical_limit(10.0, "special")
