"""Positional accuracy against the standards' own figures and a published worked example."""

import numpy as np
import pytest

from registry.measure.accuracy import LEAST_POINTS, assess

# ASPRS Positional Accuracy Standards for Digital Geospatial Data, edition 1, version 1.0 (November 2014),
# annex D, table D.1: measured and surveyed eastings and northings of five points, and what follows from them.
# From memory; that every derived figure comes out as printed vouches for it.
MEASURED = [
    (359584.394, 5142449.934),
    (359872.190, 5147939.180),
    (359893.089, 5136979.824),
    (359927.194, 5151084.129),
    (372737.074, 5151675.999),
]
SURVEYED = [
    (359584.534, 5142450.004),
    (359872.290, 5147939.280),
    (359893.072, 5136979.894),
    (359927.264, 5151083.979),
    (372736.944, 5151675.879),
]


def test_the_worked_example_of_the_asprs():
    east, north = (np.array(MEASURED) - np.array(SURVEYED)).T
    found = assess(east, north)
    assert found.count == 5
    assert not found.enough
    assert found.mean_east_m == pytest.approx(-0.033, abs=5e-4)
    assert found.mean_north_m == pytest.approx(0.006, abs=5e-4)
    assert found.rmse_east_m == pytest.approx(0.102, abs=5e-4)
    assert found.rmse_north_m == pytest.approx(0.106, abs=6e-4)  # 0.10649, printed 0.106
    assert found.rmse_radial_m == pytest.approx(0.147, abs=5e-4)
    # Printed as RMSE_r x 1.7308; by the formula of both axes it is the same to a tenth of a millimetre.
    assert found.rmse_radial_m * 1.7308 == pytest.approx(0.255, abs=5e-4)
    assert found.nssda_r95_m == pytest.approx(0.255, abs=5e-4)


def differences(rmse_x: float, rmse_y: float) -> tuple[list[float], list[float]]:
    """Give four uncorrelated points with exactly these errors."""
    return [rmse_x, -rmse_x, rmse_x, -rmse_x], [rmse_y, rmse_y, -rmse_y, -rmse_y]


# FGDC-STD-007.3-1998 (NSSDA), appendix 3-A (read second-hand): 2.4477 RMSE_x for equal errors, else
# 2.4477 x 0.5 (RMSE_x + RMSE_y); and the true radius of the ellipse (computed): the formula is short of it.
NSSDA = [
    (0.5, 0.5, 1.22385, 0.0),
    (0.6, 0.5, 1.34624, -0.008),
    (1.0, 0.8, 2.20293, -0.012),
    (1.0, 0.6, 1.95816, -0.059),
    (1.0, 0.2, 1.46862, -0.25),
]


@pytest.mark.parametrize(("rmse_x", "rmse_y", "formula_m", "short"), NSSDA)
def test_the_formula_of_the_nssda_and_how_short_it_falls(rmse_x, rmse_y, formula_m, short):
    found = assess(*differences(rmse_x, rmse_y))
    assert found.nssda_r95_m == pytest.approx(formula_m, abs=5e-5)
    assert found.nssda_r95_m / found.ellipse_r95_m - 1.0 == pytest.approx(short, abs=6e-3)
    assert found.formula_holds == (rmse_y / rmse_x >= 0.6)


def test_twenty_points_are_asked_for():
    """FGDC-STD-007.3-1998, 3.2.2 (clause from memory): a minimum of twenty check points."""
    assert LEAST_POINTS == 20
    assert not assess(np.ones(19), np.ones(19)).enough
    assert assess(np.ones(20), np.ones(20)).enough
