"""Would a wave push or tip the module: computed cases, doubt of the depth, and what leaves it open."""

import math

import numpy as np
import pytest

from registry.measure.decision import Verdict
from registry.measure.stability import Coefficients, Resting, overturning_factor, sliding_factor, wave_forces
from registry.measure.waves import near_bed
from tests.builders import a_quantity, a_type
from tests.rules.one_case import BAD, NOT_ASKED, OK, SEA, UNSURE, a_table, judged, ratio, verdicts

SLIDING = {"least_sliding_factor": ratio(1.5), **SEA}
OVERTURNING = {"least_overturning_factor": ratio(2.0), **SEA}
#: A solid cube of 1 m3.
CUBE = a_type(
    type_id="cube-100", mass_kg=2400.0, submerged_mass_kg=1375.0, side_area_m2=1.0, plan_area_m2=1.0
)
DOME = a_type()


def wave(height_m, period_s):
    return {
        "wave_height": float(height_m),
        "wave_period": a_quantity(float(period_s), dimension="time", written=f"{period_s} s"),
    }


def a_cube(**columns):
    return a_table(module_type="cube-100", mass_kg=2400.0, **({"depth_u95_m": 0.0} | columns))


def on_cube(lift, friction):
    """Coefficients of a sharp-edged cube as DNV-RP-C205 gives them (1.05, and 1 + 0.67), from memory."""
    return {
        "drag_coefficient": ratio(1.05),
        "inertia_coefficient": ratio(1.67),
        "lift_coefficient": ratio(lift),
        "friction_coefficient": ratio(friction),
    }


# Computed apart from this program with g = 9.80665 m/s2: FS = mu (W - F_L) / F_H, least over the phase, mu = 0.45.
# Wave height (m), period (s), depth (m), lift coefficient, FS.
CUBES = [
    (4.0, 10.0, 20.0, 0.0, 5.533),
    (6.0, 12.0, 20.0, 0.0, 3.134),
    (6.0, 12.0, 20.0, 0.5, 3.000),
    (5.5, 8.0, 15.0, 0.0, 2.924),
]


@pytest.mark.parametrize(("height_m", "period_s", "depth_m", "lift", "factor"), CUBES)
def test_a_cube_of_concrete_on_sand(height_m, period_s, depth_m, lift, factor):
    limits = {**SLIDING, **wave(height_m, period_s), **on_cube(lift, 0.45)}
    found = judged("stability", a_cube(depth_m=depth_m), limits, types=[CUBE])
    assert found.measured[0] == pytest.approx(factor, abs=6e-4)
    assert (found.unit, found.limit[0], verdicts(found)) == ("1", 1.5, [OK])


# NAVFAC DM 7.02 (1986), chapter 3, table 1: friction of mass concrete on the ground named, lower and upper end. The
# factor of the second case above goes with the friction: 3.134 / 0.45 of it.
GROUND = [
    ("clean sound rock", 0.70, 0.70),
    ("clean gravel, coarse sand", 0.55, 0.60),
    ("clean fine to medium sand", 0.45, 0.55),
    ("clean fine sand, silty sand", 0.35, 0.45),
    ("fine sandy silt", 0.30, 0.35),
    ("very stiff clay", 0.40, 0.50),
    ("stiff clay", 0.30, 0.35),
]


@pytest.mark.parametrize(("ground", "low", "high"), GROUND, ids=[ground for ground, _, _ in GROUND])
def test_the_ground_decides_by_its_friction(ground, low, high):
    for friction in (low, high):
        limits = {**SLIDING, **wave(6.0, 12.0), **on_cube(0.0, friction)}
        found = judged("stability", a_cube(depth_m=20.0), limits, types=[CUBE])
        assert found.measured[0] == pytest.approx(3.134 / 0.45 * friction, rel=3e-4)


def at_depth(depth_m, *, tips=False):
    """Both factors of the dome of the tests, straight from their formulas."""
    body = Resting(mass_kg=1400.0, submerged_mass_kg=800.0, side_area_m2=1.1, plan_area_m2=1.77)
    said = Coefficients(drag=1.0, inertia=1.6, lift=0.4, water_density_kgpm3=1025.0)
    forces = wave_forces(body, said, near_bed(4.0, 10.0, depth_m))
    return float(overturning_factor(forces, 0.6, 0.6) if tips else sliding_factor(forces, 0.45))


@pytest.mark.parametrize("tips", [False, True], ids=["sliding", "overturning"])
@pytest.mark.parametrize("depth_u95_m", [0.0, 0.4, 2.0])
def test_the_doubt_of_the_depth_is_carried_to_the_end_that_decides(tips, depth_u95_m):
    least = at_depth(12.1, tips=tips)
    name = "least_overturning_factor" if tips else "least_sliding_factor"
    depths = np.arange(8.0, 24.0, 0.25)
    table = a_table(len(depths), depth_m=depths, depth_u95_m=depth_u95_m)
    found = judged("stability", table, {name: ratio(least), **SEA}, types=[DOME])
    seen = set()
    for row, depth_m in enumerate(depths):
        low, high = (at_depth(depth_m + sign * depth_u95_m, tips=tips) for sign in (-1, 1))
        expected = OK if low >= least else BAD if high < least else UNSURE
        assert found.measured[row] == pytest.approx(at_depth(depth_m, tips=tips))
        assert found.verdict[row] == expected
        seen.add(expected)
    assert seen == ({OK, BAD, UNSURE} if depth_u95_m else {OK, BAD})


def test_water_over_chart_datum_is_added_where_it_is_named():
    found = judged("stability", a_table(), {**SLIDING, "water_level": 2.0}, types=[DOME])
    assert found.measured[0] == pytest.approx(at_depth(22.0))
    assert "at a depth of 22.00 ± 0.40 m" in found.message[0]


# A wave breaks at 0.78 of the depth: McCowan 1894 as commonly cited; from memory. 4 m / 0.78 = 5.13 m.
@pytest.mark.parametrize(("depth_m", "breaks"), [(4.0, True), (5.1, True), (5.5, True), (5.54, False)])
def test_a_wave_that_may_break_leaves_it_open(depth_m, breaks):
    found = judged("stability", a_table(depth_m=depth_m), SLIDING, types=[DOME])
    assert (verdicts(found) == [UNSURE]) == breaks
    assert ("may break, higher than 78% of the depth" in found.message[0]) == breaks
    assert np.isnan(found.measured[0]) == breaks


@pytest.mark.parametrize(
    ("columns", "told"),
    [
        ({"depth_m": math.nan, "depth_u95_m": math.nan}, "The depth is not known"),
        ({"depth_u95_m": math.nan}, "at a depth of 20 m, of unknown uncertainty;"),
        ({"mass_kg": math.nan}, "The mass is not known"),
        ({"module_type": ""}, "The type of this module is not known"),
        ({"module_type": "cube-90"}, "The type of this module is not known"),
    ],
)
def test_what_is_not_known_is_named(columns, told):
    for limits in (SLIDING, OVERTURNING):
        found = judged("stability", a_table(**columns), limits, types=[DOME])
        assert verdicts(found) == [UNSURE]
        assert told in found.message[0]


def test_the_module_counts_as_it_was_weighed_and_displaces_what_its_mould_does():
    table = a_table(3, mass_kg=[1500.0, 1400.0, 590.0])
    found = judged("stability", table, SLIDING, types=[DOME])
    body = Resting(mass_kg=1500.0, submerged_mass_kg=900.0, side_area_m2=1.1, plan_area_m2=1.77)
    said = Coefficients(drag=1.0, inertia=1.6, lift=0.4, water_density_kgpm3=1025.0)
    heavier = sliding_factor(wave_forces(body, said, near_bed(4.0, 10.0, 20.0)), 0.45)
    assert found.measured.tolist() == pytest.approx([heavier, at_depth(20.0), 0.0])
    assert verdicts(found)[2] == BAD  # it would float


def test_a_condition_may_be_for_some_types_only():
    table = a_table(3, module_type=["dome-120", "cube-100", ""])
    found = judged("stability", table, {**SLIDING, "types": "dome-120"}, types=[DOME, CUBE])
    assert verdicts(found) == [OK, NOT_ASKED, UNSURE]
    assert found.message[1] == "Not asked of type cube-100, only of dome-120."
    assert np.isnan([found.measured[1], found.limit[1], found.u95[1]]).all()


def test_where_nothing_moves_at_the_bed_it_stands():
    found = judged("stability", a_table(2, depth_m=[3000.0, 30_000.0]), SLIDING, types=[DOME])
    assert verdicts(found) == [OK, OK]
    assert "over 999" in found.message[0]
    assert found.line(1, "MR-0001").as_json()["measured"] is None


def test_every_sentence_says_that_this_is_a_screening():
    table = a_table(3, depth_m=[20.0, 5.0, math.nan])
    for limits in (SLIDING, OVERTURNING):
        for sentence in judged("stability", table, limits, types=[DOME]).message:
            assert sentence.endswith("a screening by linear wave theory, no certificate of an engineer.")
    found = judged("stability", table, SLIDING, types=[DOME])
    assert found.message[0] == (
        "Factor of safety against sliding 4.55 ± 0.14, under a wave of 4 m and 10 s at a depth of 20.00 ± 0.40 m; at "
        "least 1.5 is asked: a screening by linear wave theory, no certificate of an engineer."
    )
    assert found.verdict.tolist() == [Verdict.CONFORMING, Verdict.INCONCLUSIVE, Verdict.INCONCLUSIVE]
