"""Printed positions: the carry, the padding, and the rounding bound."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from registry.errors import InvalidRecordError
from registry.formats.geo_uri import write_geo_uri
from registry.formats.iso6709 import write_iso6709
from registry.formats.printed_position import write_dd, write_ddm, write_dms
from registry.formats.rounded_angle import rounded_angle


def test_minutes_and_seconds_are_carried():
    assert write_ddm(33 + 59.9996 / 60, -(77 + 59.9996 / 60), decimals=3) == "34°00.000′ N 078°00.000′ W"
    assert write_dms(33.99999999, -77.99999999, decimals=2) == "34°00′00.00″ N 078°00′00.00″ W"
    assert write_iso6709(33.99999999, -77.99999999, decimals=3, form="ddm") == "+3400.000-07800.000/"


def test_small_angles_keep_their_hemisphere_and_zero_has_none():
    assert write_ddm(-0.25, -0.5, decimals=3, style="plain") == "00 15.000 S 000 30.000 W"
    assert write_dd(-1e-9, -1e-9, decimals=5, style="signed") == "0.00000, 0.00000"


def test_no_decimals_print_no_point():
    assert write_dms(34.5, -77.25, decimals=0) == "34°30′00″ N 077°15′00″ W"


def test_the_uncertainty_of_a_geo_uri_is_rounded_up_and_has_no_exponent():
    assert write_geo_uri(1.0, 2.0, 0.01, decimals=3) == "geo:1.000,2.000;u=0.1"
    assert write_geo_uri(1.0, 2.0, 5.0, decimals=3) == "geo:1.000,2.000;u=5"
    assert write_geo_uri(1.0, 2.0, decimals=3) == "geo:1.000,2.000"
    with pytest.raises(InvalidRecordError):
        write_geo_uri(1.0, 2.0, -1.0, decimals=3)


@pytest.mark.parametrize("value", [math.nan, math.inf])
def test_what_is_no_angle_is_not_printed(value):
    with pytest.raises(InvalidRecordError):
        write_dd(value, 0.0, decimals=5)


def test_too_many_decimals_are_refused():
    with pytest.raises(InvalidRecordError):
        write_dd(1.0, 2.0, decimals=12)


@given(st.floats(-180, 180), st.sampled_from(["dd", "ddm", "dms"]), st.integers(0, 8))
def test_rounding_is_within_half_the_last_digit_and_never_sixty(value, form, decimals):
    negative, fields = rounded_angle(value, form=form, decimals=decimals, degree_digits=2)
    numbers = [float(field) for field in fields]
    assert all(number < 60 for number in numbers[1:])
    back = sum(number / 60**i for i, number in enumerate(numbers)) * (-1 if negative else 1)
    unit = 10.0**-decimals / 60 ** (len(fields) - 1)
    assert abs(back - value) <= unit / 2 * (1 + 1e-6) + 1e-12
