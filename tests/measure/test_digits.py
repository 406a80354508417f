"""No printed digit beyond what the uncertainty supports, and none lost."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from registry.errors import QuantityError
from registry.measure.digits import (
    Notation,
    coordinate_decimals,
    metres_decimals,
    rounding_r95_m,
    split_degrees,
    split_minutes,
    split_seconds,
    u95_rounded_up_m,
    unit_m,
)

#: This project's rule, worked by hand: R95 in m, and decimals in degrees, minutes, seconds.
TABLE = [
    (0.05, 7, 6, 4), (0.1, 7, 5, 3), (0.5, 6, 5, 3), (1, 6, 4, 2), (2, 6, 4, 2), (3, 6, 4, 2), (5, 5, 4, 2),
    (8, 5, 3, 2), (10, 5, 3, 1), (20, 5, 3, 1),
]  # fmt: skip


@pytest.mark.parametrize("row", TABLE, ids=lambda row: f"{row[0]} m")
def test_the_table(row):
    assert [coordinate_decimals(notation, row[0]) for notation in Notation] == list(row[1:])


@given(st.floats(0.01, 1e4), st.sampled_from(Notation))
def test_the_fewest_digits_that_will_do(r95_m, notation):
    k = coordinate_decimals(notation, r95_m)
    assert unit_m(notation, k) <= r95_m / 3
    assert k == 0 or unit_m(notation, k - 1) > r95_m / 3


@pytest.mark.parametrize("r95_m", [0.0, -1.0, math.nan, math.inf])
def test_no_digits_for_no_radius(r95_m):
    with pytest.raises(QuantityError):
        coordinate_decimals(Notation.DEGREES, r95_m)


@pytest.mark.parametrize(("lat", "notation", "decimals"), [
    (0.0, Notation.DEGREES, 5), (33.0, Notation.MINUTES, 3), (60.0, Notation.SECONDS, 0), (89.99, Notation.MINUTES, 3),
    (90.0, Notation.MINUTES, 3),
])  # fmt: skip
def test_rounding_radius_against_simulation(lat, notation, decimals):
    generator = np.random.default_rng(7)
    half = 0.5 / notation.value / 10**decimals
    north = (
        generator.uniform(-half, half, 400_000) * 111_132.95 * (1 - 0.00503 * math.cos(2 * math.radians(lat)))
    )
    east = generator.uniform(-half, half, 400_000) * 111_319.5 * math.cos(math.radians(lat))
    assert rounding_r95_m(notation, decimals, lat) == pytest.approx(
        np.quantile(np.hypot(north, east), 0.95), rel=5e-3
    )


def test_rounding_of_a_square():
    """In a square of half-side 1 a circle of radius r > 1 holds sqrt(r2 - 1) + r2 (pi / 4 - acos(1 / r))."""
    r = rounding_r95_m(Notation.DEGREES, 5, 0.0) / (0.5e-5 * 110_946.9)
    assert math.sqrt(r * r - 1) + r * r * (math.pi / 4 - math.acos(1 / r)) == pytest.approx(0.95, abs=1e-3)


@pytest.mark.parametrize(("decimals", "lat"), [(-1, 0.0), (3, 91.0), (3, math.nan)])
def test_rounding_of_nonsense(decimals, lat):
    with pytest.raises(QuantityError):
        rounding_r95_m(Notation.MINUTES, decimals, lat)


@pytest.mark.parametrize(("degrees", "decimals", "expected"), [
    (33.75205, 3, (33, "45.123", "")), (-78.2076, 3, (78, "12.456", "")), (59.9999999, 3, (60, "00.000", "")),
    (0.0, 3, (0, "00.000", "")), (179.99999999, 4, (180, "00.0000", "")), (5.1, 0, (5, "06", "")),
])  # fmt: skip
def test_minutes(degrees, decimals, expected):
    assert tuple(split_minutes(degrees, decimals)) == expected


@pytest.mark.parametrize(("degrees", "decimals", "expected"), [
    (33.75205, 2, (33, "45", "07.38")), (78.2076, 2, (78, "12", "27.36")), (9.99999999, 1, (10, "00", "00.0")),
    (12.0166666666, 0, (12, "01", "00")),
])  # fmt: skip
def test_seconds(degrees, decimals, expected):
    assert tuple(split_seconds(degrees, decimals)) == expected


@given(st.floats(-180, 180), st.integers(0, 7))
def test_what_is_written_reads_back_within_half_a_unit(degrees, decimals):
    d = float(split_degrees(degrees, decimals))
    whole, minutes, _ = split_minutes(degrees, decimals)
    s = split_seconds(degrees, decimals)
    assert float(minutes) < 60
    assert int(s.minutes) < 60
    assert float(s.seconds) < 60
    read = (d, whole + float(minutes) / 60, s.degrees + int(s.minutes) / 60 + float(s.seconds) / 3600)
    for notation, value in zip(Notation, read, strict=True):
        assert abs(value - abs(degrees)) <= 0.5 / notation.value / 10**decimals + 1e-12


@given(st.floats(1e-4, 1e4))
def test_uncertainty_is_rounded_up_by_less_than_a_tenth(u95_m):
    rounded = u95_rounded_up_m(u95_m)
    assert u95_m <= rounded <= u95_m * 1.1000001
    assert (
        f"{rounded:.{metres_decimals(u95_m)}f}"
        == f"{round(rounded, metres_decimals(u95_m)):.{metres_decimals(u95_m)}f}"
    )


@pytest.mark.parametrize(
    ("u95_m", "decimals"), [(0.56, 2), (0.999, 1), (0.0999, 2), (9.95, 0), (2.4, 1), (300.0, 0)]
)
def test_decimals_of_a_length(u95_m, decimals):
    assert metres_decimals(u95_m) == decimals


@pytest.mark.parametrize("u95_m", [0.0, -0.1, math.nan, math.inf])
def test_no_uncertainty_no_digits(u95_m):
    with pytest.raises(QuantityError):
        metres_decimals(u95_m)
    with pytest.raises(QuantityError):
        u95_rounded_up_m(u95_m)


def test_no_coordinate_no_text():
    with pytest.raises(QuantityError):
        split_minutes(math.nan, 3)
