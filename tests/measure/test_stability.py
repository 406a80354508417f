"""Forces of a wave on what rests by its weight: closed forms against a walk through the phase."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from registry.errors import InvalidRecordError
from registry.measure.stability import (
    Coefficients,
    Forces,
    Resting,
    overturning_factor,
    sliding_factor,
    wave_forces,
)
from registry.measure.waves import near_bed

PHASE = np.linspace(0.0, 2.0 * np.pi, 7201)
newtons = st.one_of(st.just(0.0), st.floats(1e-3, 1e5))
weights = st.floats(1.0, 1e5)
arms = st.floats(0.01, 5.0)
DOME = Resting(mass_kg=1400.0, submerged_mass_kg=800.0, side_area_m2=1.1, plan_area_m2=1.77)
SAID = Coefficients(drag=1.0, inertia=1.6, lift=0.4, water_density_kgpm3=1025.0)


def forces_of(weight, drag, inertia, lift):
    return Forces(*(np.asarray(n, dtype=float)[()] for n in (weight, drag, inertia, lift)))


def walked(forces):
    """Horizontal force and lift at each phase, as Morison writes them."""
    cosine, sine = np.cos(PHASE), np.sin(PHASE)
    push = np.abs(forces.drag_n * cosine * np.abs(cosine) - forces.inertia_n * sine)
    return push, forces.lift_n * cosine**2


@given(weights, newtons, newtons, newtons)
def test_no_phase_is_worse_than_the_peak(weight, drag, inertia, lift):
    forces = forces_of(weight, drag, inertia, lift)
    push, _ = walked(forces)
    assert push.max() == pytest.approx(forces.peak_horizontal_n, rel=1e-5)
    assert forces.peak_horizontal_n <= (drag + inertia) * (1.0 + 1e-12)


@given(weights, newtons, newtons, newtons, st.floats(0.05, 1.0))
def test_no_phase_slides_sooner_than_the_factor_says(weight, drag, inertia, lift, friction):
    factor = sliding_factor(forces_of(weight, drag, inertia, lift), friction)
    if lift >= weight:
        assert factor == 0.0
        return
    push, up = walked(forces_of(weight, drag, inertia, lift))
    if drag == inertia == 0.0:
        assert factor == np.inf
        return
    at_each = friction * (weight - up) / np.maximum(push, 1e-300)
    assert factor <= at_each.min() * (1.0 + 1e-9)
    assert at_each.min() == pytest.approx(factor, rel=2e-3)


@given(weights, newtons, newtons, newtons, arms, arms)
def test_no_phase_tips_sooner_than_the_factor_says(weight, drag, inertia, lift, z, b):
    factor = overturning_factor(forces_of(weight, drag, inertia, lift), z, b)
    push, up = walked(forces_of(weight, drag, inertia, lift))
    worst = (push * z + up * b).max()
    assert factor == (np.inf if worst == 0.0 else pytest.approx(weight * b / worst, rel=1e-5))


@given(weights, newtons, newtons, newtons, newtons)
def test_more_of_any_force_is_never_safer_and_more_weight_never_less_safe(weight, drag, inertia, lift, more):
    forces = forces_of(weight, drag, inertia, lift)
    before = sliding_factor(forces, 0.5), overturning_factor(forces, 0.6, 0.7)
    for name in ("drag_n", "inertia_n", "lift_n"):
        pushed = replace(forces, **{name: getattr(forces, name) + more})
        after = sliding_factor(pushed, 0.5), overturning_factor(pushed, 0.6, 0.7)
        assert all(b <= a * (1.0 + 1e-9) for a, b in zip(before, after, strict=True))
    heavier = replace(forces, weight_n=np.float64(weight + more))
    assert sliding_factor(heavier, 0.5) >= before[0] * (1.0 - 1e-9)
    assert overturning_factor(heavier, 0.6, 0.7) >= before[1] * (1.0 - 1e-9)


@given(st.floats(0.0, 10.0), st.floats(0.0, 5.0), st.floats(2.0, 25.0), st.floats(3.0, 60.0))
def test_a_bigger_wave_is_never_safer(height_m, more_m, period_s, depth_m):
    small = wave_forces(DOME, SAID, near_bed(height_m, period_s, depth_m))
    big = wave_forces(DOME, SAID, near_bed(height_m + more_m, period_s, depth_m))
    assert sliding_factor(big, 0.45) <= sliding_factor(small, 0.45) * (1.0 + 1e-9)
    assert overturning_factor(big, 0.6, 0.5) <= overturning_factor(small, 0.6, 0.5) * (1.0 + 1e-9)


def test_the_peak_is_less_than_the_sum_of_the_peaks():
    forces = forces_of(13_484.0, 1000.0, 1000.0, 0.0)
    assert forces.peak_horizontal_n == pytest.approx(1250.0)  # 1000 (1 - 1/4) + 1000 / 2


def test_pure_drag_and_pure_inertia_are_the_plain_quotients():
    assert sliding_factor(forces_of(1000.0, 100.0, 0.0, 0.0), 0.5) == pytest.approx(5.0)
    assert sliding_factor(forces_of(1000.0, 0.0, 100.0, 0.0), 0.5) == pytest.approx(5.0)
    # Lift has gone when the inertia peaks, and takes a tenth of the weight when the drag does.
    assert sliding_factor(forces_of(1000.0, 100.0, 0.0, 100.0), 0.5) == pytest.approx(4.5)
    assert sliding_factor(forces_of(1000.0, 0.0, 100.0, 100.0), 0.5) == pytest.approx(5.0, rel=0.01)
    assert overturning_factor(forces_of(1000.0, 100.0, 0.0, 0.0), 0.5, 0.75) == pytest.approx(15.0)


def test_many_are_judged_as_each_alone():
    depth_m = np.array([8.0, 15.0, 40.0, np.nan])
    together = wave_forces(DOME, SAID, near_bed(4.0, 9.0, depth_m))
    factors = sliding_factor(together, 0.45), overturning_factor(together, 0.6, 0.5)
    assert [f.shape for f in factors] == [(4,), (4,)]
    assert all(np.isnan(f[3]) for f in factors)
    alone = [wave_forces(DOME, SAID, near_bed(4.0, 9.0, d)) for d in depth_m[:3]]
    assert factors[0][:3].tolist() == [sliding_factor(each, 0.45) for each in alone]
    assert factors[1][:3].tolist() == [overturning_factor(each, 0.6, 0.5) for each in alone]


def test_what_no_body_or_coefficient_can_be_is_refused():
    with pytest.raises(InvalidRecordError, match="in water than in air"):
        wave_forces(replace(DOME, submerged_mass_kg=1500.0), SAID, near_bed(2.0, 8.0, 15.0))
    for name in ("drag", "inertia", "lift"):
        with pytest.raises(InvalidRecordError, match=name):
            replace(SAID, **{name: -0.1})
    with pytest.raises(InvalidRecordError, match="density"):
        replace(SAID, water_density_kgpm3=0.0)
    calm = wave_forces(DOME, SAID, near_bed(2.0, 8.0, 15.0))
    with pytest.raises(InvalidRecordError, match="friction"):
        sliding_factor(calm, -0.4)
    with pytest.raises(InvalidRecordError, match="lever arm"):
        overturning_factor(calm, 0.5, -1.0)
