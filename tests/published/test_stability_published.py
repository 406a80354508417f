"""
Waves and their forces on the seabed against a published example, a handbook table and computed cases.

Provenance is told beside each table. "Computed" means that the numbers follow from the stated formula alone and
were worked out apart from this program, with g = 9.80665 m/s2; they guard against change, they are no outside proof.
"""

import numpy as np
import pytest

from registry.measure.sea_pressure import STANDARD_GRAVITY
from registry.measure.stability import Coefficients, Resting, sliding_factor, wave_forces
from registry.measure.waves import breaks, celerity, near_bed, wavelength

#: Length of a wave of 10 s in water without bottom. Units: m.
DEEP_M = STANDARD_GRAVITY * 10.0**2 / (2.0 * np.pi)


def test_the_worked_example_of_the_coastal_engineering_manual():
    """EM 1110-2-1100 (CEM), Part II, Example II-1-1: T = 10 s, d = 3 m. Read by way of a table of d/L0 to 4 places."""
    length_m = wavelength(10.0, 3.0)
    assert 3.0 / length_m == pytest.approx(0.05641, abs=5e-5)
    assert length_m == pytest.approx(53.2, abs=0.06)
    assert celerity(10.0, 3.0) == pytest.approx(5.32, abs=0.006)


def test_the_approximation_of_the_same_example_is_farther_off():
    """The CEM gives 54.1 m by L0 sqrt(tanh(2 pi d / L0)), to show how near that comes."""
    rough_m = DEEP_M * np.sqrt(np.tanh(2.0 * np.pi * 3.0 / DEEP_M))
    assert rough_m == pytest.approx(54.1, abs=0.06)
    assert abs(wavelength(10.0, 3.0) - 53.2) < abs(rough_m - 53.2)


def test_the_same_wave_in_deep_water():
    """Computed."""
    assert wavelength(10.0, 200.0) == pytest.approx(156.08, abs=0.005)
    assert celerity(10.0, 200.0) == pytest.approx(15.61, abs=0.005)


# US Army Corps of Engineers, Shore Protection Manual (1984), Table C-1: headings as printed; the rows are mathematics
# and were computed, not copied. d/L0, d/L, tanh kd, sinh kd, cosh kd, shoaling H/H0', pressure factor K at the bed, n.
TABLE_C_1 = [
    (0.0100, 0.04032, 0.2480, 0.2560, 1.0323, 1.4348, 0.9688, 0.9792),
    (0.0192, 0.05642, 0.3403, 0.3619, 1.0635, 1.2368, 0.9403, 0.9604),
    (0.0500, 0.09415, 0.5310, 0.6267, 1.1802, 1.0229, 0.8473, 0.8999),
    (0.1000, 0.14098, 0.7093, 1.0063, 1.4187, 0.9327, 0.7049, 0.8102),
    (0.1500, 0.18330, 0.8183, 1.4238, 1.7399, 0.9133, 0.5748, 0.7325),
    (0.2000, 0.22512, 0.8884, 1.9356, 2.1786, 0.9181, 0.4590, 0.6677),
    (0.5000, 0.50183, 0.9964, 11.683, 11.725, 0.9905, 0.0853, 0.5115),
]


@pytest.mark.parametrize("row", TABLE_C_1, ids=[f"SPM table C-1, d/L0 = {row[0]}" for row in TABLE_C_1])
def test_a_row_of_the_shore_protection_manual(row):
    relative, d_over_l, tanh, sinh, cosh, shoaling, pressure, n = row
    depth_m = relative * DEEP_M
    found = depth_m / wavelength(10.0, depth_m)
    kd = 2.0 * np.pi * found
    group = (1.0 + 2.0 * kd / np.sinh(2.0 * kd)) / 2.0
    assert found == pytest.approx(d_over_l, abs=6e-6)
    assert [np.tanh(kd), np.sinh(kd), np.cosh(kd)] == pytest.approx([tanh, sinh, cosh], rel=1e-4, abs=6e-5)
    assert 1.0 / np.sqrt(2.0 * group * np.tanh(kd)) == pytest.approx(shoaling, abs=6e-5)
    assert 1.0 / np.cosh(kd) == pytest.approx(pressure, abs=6e-5)
    assert group == pytest.approx(n, abs=6e-5)
    # The same row tells the speed at the bed: pi H / (T sinh kd).
    assert near_bed(1.0, 10.0, depth_m).velocity_mps == pytest.approx(np.pi / (10.0 * sinh), rel=3e-4)


# Computed from u = pi H / (T sinh kd) and a = 2 pi u / T. H (m), T (s), d (m), u (m/s).
NEAR_BED = [
    (2.0, 8.0, 15.0, 0.5510),
    (4.0, 10.0, 20.0, 1.0194),
    (6.0, 12.0, 20.0, 1.7041),
    (5.5, 8.0, 15.0, 1.5154),
]


@pytest.mark.parametrize(("height_m", "period_s", "depth_m", "speed_mps"), NEAR_BED)
def test_the_speed_of_the_water_near_the_bed(height_m, period_s, depth_m, speed_mps):
    found = near_bed(height_m, period_s, depth_m)
    assert found.velocity_mps == pytest.approx(speed_mps, abs=6e-5)
    assert found.acceleration_mps2 == pytest.approx(speed_mps * 2.0 * np.pi / period_s, rel=1e-4)


def test_the_acceleration_of_the_water_near_the_bed():
    """Computed: 4 m, 10 s, 20 m of water."""
    assert near_bed(4.0, 10.0, 20.0).acceleration_mps2 == pytest.approx(0.6405, abs=6e-5)


@pytest.mark.parametrize(("height_m", "broken"), [(7.7, False), (7.8, True), (7.9, True)])
def test_a_wave_breaks_at_78_hundredths_of_the_depth(height_m, broken):
    """Greatest height of a solitary wave, McCowan 1894 as commonly cited; from memory."""
    assert breaks(height_m, 10.0) == broken


#: A solid cube of 1 m3. The drag and inertia coefficients are those of a sharp-edged cube as DNV-RP-C205 gives them
#: (1.05, and 1 + 0.67), from memory; the friction is the low end of mass concrete on clean fine to medium sand in
#: NAVFAC DM 7.02, table 1 (0.45 to 0.55). The densities are those of the case.
CUBE = Resting(mass_kg=2400.0, submerged_mass_kg=2400.0 - 1025.0, side_area_m2=1.0, plan_area_m2=1.0)
FRICTION = 0.45

# Computed: FS = mu (W - F_L) / F_H, least over the phase. H (m), T (s), d (m), lift coefficient, FS.
CUBES = [
    (4.0, 10.0, 20.0, 0.0, 5.533),
    (6.0, 12.0, 20.0, 0.0, 3.134),
    (6.0, 12.0, 20.0, 0.5, 3.000),
    (5.5, 8.0, 15.0, 0.0, 2.924),
]


@pytest.mark.parametrize(("height_m", "period_s", "depth_m", "lift", "factor"), CUBES)
def test_a_cube_of_concrete_slides_no_sooner(height_m, period_s, depth_m, lift, factor):
    said = Coefficients(drag=1.05, inertia=1.67, lift=lift, water_density_kgpm3=1025.0)
    forces = wave_forces(CUBE, said, near_bed(height_m, period_s, depth_m))
    assert forces.weight_n == pytest.approx(13_484.0, abs=0.5)
    assert sliding_factor(forces, FRICTION) == pytest.approx(factor, abs=6e-4)
