"""Position and depth quality against the standards that define it. Tolerances stand in the rows."""

import math

import pytest

from registry.measure.survey_order import ORDERS, horizontal_limit, order_met, vertical_limit
from registry.measure.uncertainty import (
    R95_FACTOR,
    RADIAL_FACTORS,
    U95_FACTOR,
    convert_radius,
    r95_from_sigmas,
    radial_probability,
)


def test_nssda_factors():
    """FGDC-STD-007.3-1998 (NSSDA), appendix 3-A, read second-hand."""
    assert pytest.approx(2.4477, abs=5e-5) == R95_FACTOR
    assert pytest.approx(1.7308, abs=5e-5) == R95_FACTOR / math.sqrt(2.0)
    assert pytest.approx(1.9600, abs=5e-5) == U95_FACTOR


# FGDC-STD-007.3-1998 (NSSDA), appendix 3-A: 2.4477 * 0.5 * (RMSE_x + RMSE_y), and how far that formula lies
# from the true radius (computed): nothing at ratio 1, -1.2 % at 0.8, -5.9 % at 0.6, -25 % at 0.2.
NSSDA = [
    (0.5, 0.5, 1.22385, 0.0, 3e-5),
    (0.6, 0.5, 1.34624, -0.008, 2e-3),
    (1.0, 0.8, 2.20293, -0.012, 1e-3),
    (1.0, 0.6, 1.95816, -0.059, 1e-3),
    (1.0, 0.2, 1.46862, -0.25, 6e-3),
]


@pytest.mark.parametrize(("sigma_x", "sigma_y", "formula", "short", "tolerance"), NSSDA)
def test_nssda_formula_against_the_ellipse(sigma_x, sigma_y, formula, short, tolerance):
    assert 2.4477 * 0.5 * (sigma_x + sigma_y) == pytest.approx(formula, abs=6e-6)
    assert formula / float(r95_from_sigmas(sigma_x, sigma_y)) - 1.0 == pytest.approx(short, abs=tolerance)


# van Diggelen, "GPS Accuracy: Lies, Damn Lies, and Statistics", GPS World 1998, read second-hand; digits
# beyond its two computed from the circular normal distribution.
CONVERSIONS = [
    ("sigma", "cep", 1.1774),
    ("sigma", "drms", 1.4142),
    ("sigma", "r95", 2.4477),
    ("sigma", "2drms", 2.8284),
    ("cep", "sigma", 0.8493),
    ("cep", "drms", 1.2011),
    ("cep", "r95", 2.0789),
    ("cep", "2drms", 2.4022),
    ("drms", "sigma", 0.7071),
    ("drms", "cep", 0.8326),
    ("drms", "r95", 1.7308),
    ("drms", "2drms", 2.0),
]


@pytest.mark.parametrize(("given", "wanted", "factor"), CONVERSIONS)
def test_conversions_of_a_circular_error(given, wanted, factor):
    assert convert_radius(1.0, given, wanted) == pytest.approx(factor, abs=5.1e-5)


@pytest.mark.parametrize(
    ("measure", "share", "tolerance"),
    [
        ("sigma", 0.3935, 5e-5),
        ("cep", 0.50, 1e-12),
        ("drms", 0.6321, 5e-5),
        ("r95", 0.95, 1e-12),
        ("2drms", 0.9817, 5e-5),  # National Research Council 1995: 95.5 to 98.2 % by ellipticity
    ],
)
def test_what_each_radius_holds(measure, share, tolerance):
    assert radial_probability(RADIAL_FACTORS[measure]) == pytest.approx(share, abs=tolerance)


# IHO S-44 edition 6.1.0 (October 2022), table 1: total horizontal uncertainty, and total vertical
# uncertainty sqrt(a² + (b d)²), at 95 %, in metres.
HORIZONTAL = [
    ("2", 20.0, 22.0),
    ("1b", 20.0, 6.0),
    ("1a", 20.0, 6.0),
    ("Special", 20.0, 2.0),
    ("Exclusive", 20.0, 1.0),
    ("2", 0.0, 20.0),
    ("1a", 0.0, 5.0),
]
VERTICAL = [
    (10.0, (1.0261, 0.5166, 0.5166, 0.2610, 0.1677)),
    (20.0, (1.1007, 0.5636, 0.5636, 0.2915, 0.2121)),
    (30.0, (1.2149, 0.6341, 0.6341, 0.3363, 0.2704)),
]


@pytest.mark.parametrize(("order", "depth_m", "limit_m"), HORIZONTAL)
def test_s44_horizontal(order, depth_m, limit_m):
    assert horizontal_limit(order, depth_m) == pytest.approx(limit_m, abs=1e-12)


@pytest.mark.parametrize(("depth_m", "limits_m"), VERTICAL)
def test_s44_vertical(depth_m, limits_m):
    found = [float(vertical_limit(depth_m, order)) for order in ("2", "1b", "1a", "Special", "Exclusive")]
    assert found == pytest.approx(limits_m, abs=5.1e-5)


def test_s44_has_five_orders_and_the_strictest_met_is_named():
    assert list(ORDERS) == ["Exclusive", "Special", "1a", "1b", "2"]
    met = [order_met(r95_m, 20.0) for r95_m in (1.0, 1.01, 2.01, 6.01, 22.01)]
    assert [row and row.name for row in met] == ["Exclusive", "Special", "1a", "2", None]
