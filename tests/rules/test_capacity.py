"""No more modules and no more mass than authorised, in the order in which they came to lie."""

import math

import numpy as np
import pytest

from tests.builders import NOON
from tests.rules.one_case import BAD, OK, UNSURE, a_table, at, count_of, judged, kilograms, verdicts

START = NOON.timestamp()


def a_row(count, **columns):
    return a_table(count, **at(*[(20.0 * k, 0) for k in range(count)]), **columns)


def test_the_last_authorised_module_conforms_and_the_next_fails():
    found = judged("capacity", a_row(4), {"greatest_count": count_of(3)})
    assert verdicts(found) == [OK, OK, OK, BAD]
    assert found.measured.tolist() == [1, 2, 3, 4]
    assert found.message[3] == "Module 4 of 3 authorised."
    assert found.unit == "modules"


def test_the_order_is_that_of_time_not_of_rows():
    table = a_row(4, placed_at_s=[START + 40, START + 10, START + 30, START + 20])
    assert judged("capacity", table, {"greatest_count": count_of(3)}).measured.tolist() == [4, 1, 3, 2]


def test_modules_of_other_permits_are_not_counted():
    table = a_row(4, permit=["TN-0033", "HB-0417", "TN-0033", "HB-0417"])
    found = judged("capacity", table, {"greatest_count": count_of(1)})
    assert found.measured.tolist() == [1, 2]
    assert verdicts(found) == [OK, BAD]


def test_mass_adds_up_to_exactly_what_is_authorised():
    found = judged("capacity", a_row(3, mass_kg=[1400.0, 600.0, 0.5]), {"greatest_mass": kilograms(2000.0)})
    assert verdicts(found) == [OK, OK, BAD]
    assert found.measured.tolist() == [1400.0, 2000.0, 2000.5]
    assert found.unit == "kg"
    assert found.message[1] == "2,000 kg of 2,000 kg authorised."


def test_an_unknown_mass_leaves_everything_after_it_open():
    found = judged(
        "capacity", a_row(3, mass_kg=[1400.0, math.nan, 1400.0]), {"greatest_mass": kilograms(9000.0)}
    )
    assert verdicts(found) == [OK, UNSURE, UNSURE]
    assert "unknown mass" in found.message[2]
    assert np.isnan(found.measured[1:]).all()


@pytest.mark.parametrize("authorised", [0, 1])
def test_none_authorised_means_none(authorised):
    assert verdicts(judged("capacity", a_table(), {"greatest_count": count_of(authorised)})) == [
        OK if authorised else BAD
    ]


def test_modules_of_the_same_instant_are_counted_one_after_the_other():
    found = judged("capacity", a_row(3, placed_at_s=START), {"greatest_count": count_of(2)})
    assert sorted(found.measured.tolist()) == [1, 2, 3]
