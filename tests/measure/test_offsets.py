"""Steps from the antenna to the module: signs, doubts against simulation, and what is refused."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from registry.errors import GeometryError, InvalidRecordError, QuantityError
from registry.measure.budget import Term, budget
from registry.measure.geodesic import direct, inverse
from registry.measure.magnetic import magnetic_variation, true_bearing
from registry.measure.offsets import (
    acoustic,
    body_to_level,
    descent_drift,
    lever_arm,
    range_and_bearing,
    surface_buoy,
)
from registry.measure.ranges import fixes_from_ranges
from registry.measure.uncertainty import U95_FACTOR

ANGLES = st.floats(-360, 360, allow_nan=False)
ARMS = st.floats(-50, 50, allow_nan=False)


@given(ARMS, ARMS, ARMS, ANGLES, ANGLES, ANGLES)
def test_a_rotation_keeps_the_length(x, y, z, heading, roll, pitch):
    east, north, down = body_to_level(x, y, z, heading_deg=heading, roll_deg=roll, pitch_deg=pitch)
    assert math.hypot(east, north, down) == pytest.approx(math.hypot(x, y, z), abs=1e-9)


def spread(points):
    east, north = np.asarray(points).T
    return np.cov(east, north)


def covariance(step):
    return np.array(
        [
            [sum(t.east_m2 for t in step.terms), sum(t.cross_m2 for t in step.terms)],
            [sum(t.cross_m2 for t in step.terms), sum(t.north_m2 for t in step.terms)],
        ]
    )


def test_doubt_of_a_lever_arm_against_simulation():
    rng = np.random.default_rng(8)
    step = lever_arm(-14.6, 5.1, 7.8, heading_deg=237.0, roll_deg=4.0, pitch_deg=-2.5, arm_u95_m=0.2,
                     heading_u95_deg=3.0, attitude_u95_deg=2.0)  # fmt: skip
    n = 40_000
    x, y, z = (v + rng.normal(size=n) * 0.2 / U95_FACTOR for v in (-14.6, 5.1, 7.8))
    east, north, _ = body_to_level(
        x, y, z,
        heading_deg=237.0 + rng.normal(size=n) * 3.0 / U95_FACTOR,
        roll_deg=4.0 + rng.normal(size=n) * 2.0 / U95_FACTOR,
        pitch_deg=-2.5 + rng.normal(size=n) * 2.0 / U95_FACTOR,
    )  # fmt: skip
    assert covariance(step) == pytest.approx(spread(np.column_stack((east, north))), rel=0.05, abs=0.003)


def test_doubt_of_drift_against_simulation():
    rng = np.random.default_rng(9)
    step = descent_drift(20.0, 2.0, 0.5, 120.0, depth_u95_m=0.5, fall_speed_u95_mps=0.2, current_u95_mps=0.1,
                         current_direction_u95_deg=10.0)  # fmt: skip
    n = 40_000
    depth, fall, current, toward = (
        value + rng.normal(size=n) * u95 / U95_FACTOR
        for value, u95 in ((20.0, 0.5), (2.0, 0.2), (0.5, 0.1), (120.0, 10.0))
    )
    drift, azimuth = current * depth / fall, np.radians(toward)
    simulated = spread(np.column_stack((drift * np.sin(azimuth), drift * np.cos(azimuth))))
    assert covariance(step) == pytest.approx(simulated, rel=0.06, abs=0.003)
    assert step.down_m == 20.0


def test_no_current_has_no_direction_but_doubt_all_round():
    step = descent_drift(20.0, 2.0, 0.0, 0.0, depth_u95_m=0.5, fall_speed_u95_mps=0.2, current_u95_mps=0.2,
                         current_direction_u95_deg=180.0, glide_r95_m=1.0)  # fmt: skip
    assert step.distance_m == 0.0
    east, north = np.diag(covariance(step))
    assert east == pytest.approx(north)
    assert budget(step.terms).r95_m > 2.4


def test_acoustic_straight_down_has_no_bearing():
    step = acoustic(18.0, 77.0, 90.0, slant_u95_m=0.2, bearing_u95_deg=180.0, depression_u95_deg=2.0)
    assert step.distance_m == pytest.approx(0.0, abs=1e-12)
    assert step.down_m == 18.0
    sizes = {term.source: term.r95_m for term in step.terms}
    assert sizes["depression"] == pytest.approx(18.0 * math.radians(2.0))
    assert sizes["bearing"] == pytest.approx(0.0, abs=1e-12)


def test_a_buoy_without_and_with_a_current():
    still = surface_buoy(20.0, 25.0)
    assert still.distance_m == 0.0
    assert still.terms[0].r95_m == pytest.approx(math.sqrt(0.95) * 15.0)
    carried = surface_buoy(20.0, 25.0, current_toward_deg=200.0)
    assert carried.bearing_deg == pytest.approx(20.0)
    assert carried.distance_m == pytest.approx(7.5)
    assert budget(carried.terms).r95_m < still.terms[0].r95_m
    taut = surface_buoy(20.0, 20.0)
    assert taut.terms[0].r95_m == 0.0


@pytest.mark.parametrize(
    "step",
    [
        lambda: surface_buoy(20.0, 19.0),
        lambda: surface_buoy(math.nan, 19.0),
        lambda: range_and_bearing(-1.0, 0.0, range_u95_m=1.0, bearing_u95_deg=1.0),
        lambda: range_and_bearing(1.0, math.inf, range_u95_m=1.0, bearing_u95_deg=1.0),
        lambda: range_and_bearing(1.0, 0.0, range_u95_m=-1.0, bearing_u95_deg=1.0),
        lambda: acoustic(1.0, 0.0, 91.0, slant_u95_m=0.1, bearing_u95_deg=1.0, depression_u95_deg=1.0),
        lambda: descent_drift(20.0, 0.0, 0.5, 0.0, depth_u95_m=0, fall_speed_u95_mps=0, current_u95_mps=0,
                              current_direction_u95_deg=0),
        lambda: lever_arm(math.nan, 0, 0, heading_deg=0, arm_u95_m=0, heading_u95_deg=0, attitude_u95_deg=0),
        lambda: magnetic_variation(-77.0, 34.0, 2035.0),
        lambda: magnetic_variation(-120.0, 86.5, 2026.0),
        lambda: fixes_from_ranges([-77.0], [34.0], [10.0], [0.1]),
        lambda: fixes_from_ranges([-77.0, -77.1], [34.0, 34.0], [10.0, -1.0], [0.1, 0.1]),
    ],
)  # fmt: skip
def test_what_is_no_step(step):
    with pytest.raises(QuantityError):
        step()


def marks_around(lon, lat, bearings, distances):
    return direct(lon, lat, bearings, distances)


def test_two_ranges_have_two_answers():
    lon, lat = marks_around(-77.0, 34.0, [300.0, 40.0], [800.0, 600.0])
    found = fixes_from_ranges(lon, lat, [800.0, 600.0], [0.5, 0.5])
    assert len(found) == 2
    nearest = min(float(inverse(-77.0, 34.0, f.lon_deg, f.lat_deg)[0]) for f in found)
    assert nearest < 1e-6
    assert all(f.consistent and max(map(abs, f.residuals_m)) < 1e-6 for f in found)
    assert found[0].cut_deg == pytest.approx(80.0, abs=0.1)


def test_three_ranges_have_one_answer_and_residuals():
    lon, lat = marks_around(-77.0, 34.0, [300.0, 40.0, 170.0], [800.0, 600.0, 900.0])
    (found,) = fixes_from_ranges(lon, lat, [800.3, 599.8, 900.2], [0.5, 0.5, 0.5])
    assert float(inverse(-77.0, 34.0, found.lon_deg, found.lat_deg)[0]) < 0.5
    assert 0.05 < max(map(abs, found.residuals_m)) < 0.5
    assert found.consistent
    (wrong,) = fixes_from_ranges(lon, lat, [800.0, 600.0, 912.0], [0.5, 0.5, 0.5])
    assert not wrong.consistent
    assert wrong.term.r95_m > 5 * found.term.r95_m


def test_three_marks_in_one_line_still_have_two_answers():
    lon, lat = direct(-77.0, 34.0, 90.0, [0.0, 300.0, 700.0])
    there_lon, there_lat = direct(-77.0, 34.0, 60.0, 400.0)
    ranges = inverse(there_lon, there_lat, lon, lat)[0]
    assert len(fixes_from_ranges(lon, lat, ranges, [0.5] * 3)) == 2


def test_doubt_of_ranges_against_simulation():
    rng = np.random.default_rng(10)
    lon, lat = marks_around(-77.0, 34.0, [300.0, 40.0, 170.0], [800.0, 600.0, 900.0])
    points, terms = [], []
    for _ in range(300):
        noisy = np.array([800.0, 600.0, 900.0]) + rng.normal(size=3) * 0.5 / U95_FACTOR
        found = fixes_from_ranges(lon, lat, noisy, [0.5] * 3)[0]
        distance, bearing = inverse(-77.0, 34.0, found.lon_deg, found.lat_deg)
        points.append(
            (distance * math.sin(math.radians(bearing)), distance * math.cos(math.radians(bearing)))
        )
        terms.append(found.term)
    least = min(terms, key=lambda t: t.east_m2 + t.north_m2)  # where residuals did not widen it
    simulated = spread(points)
    assert [least.east_m2, least.north_m2] == pytest.approx(np.diag(simulated), rel=0.25)


@pytest.mark.parametrize(
    ("ranges", "words"),
    [((100.0, 100.0), "miss by"), ((2000.0, 100.0), "miss by"), ((500.5, 500.5), "15 degrees")],
)
def test_circles_that_do_not_meet(ranges, words):
    lon, lat = direct(-77.0, 34.0, 90.0, [0.0, 1000.0])
    with pytest.raises(GeometryError, match=words):
        fixes_from_ranges(lon, lat, ranges, [0.5, 0.5])


def test_a_budget_is_the_root_of_squares_and_never_less_than_a_part():
    terms = [Term.circle("a", 3.0), Term.along("b", 33.0, sigma_along_m=2.0), Term.circle("c", 0.0)]
    whole = budget(terms)
    assert math.fsum(row.share for row in whole.rows) == pytest.approx(1.0)
    assert whole.r95_m > max(row.size_m for row in whole.rows)
    assert whole.rows[1].size_m == pytest.approx(2.0 * U95_FACTOR)
    assert whole.rows[2].size_m == 0.0
    assert budget([]).r95_m == 0.0
    with pytest.raises(InvalidRecordError):
        Term(source="x", east_m2=1.0, north_m2=1.0, cross_m2=2.0)
    with pytest.raises(InvalidRecordError):
        Term(source="x", east_m2=-1.0, north_m2=1.0)


@given(st.floats(0, 10), st.floats(0, 10), st.floats(0, 360))
def test_turning_a_doubt_keeps_its_radius(along, across, bearing):
    turned = Term.along("x", bearing, sigma_along_m=along, sigma_across_m=across)
    plain = Term.along("x", 0.0, sigma_along_m=along, sigma_across_m=across)
    assert turned.r95_m == pytest.approx(plain.r95_m, rel=1e-6, abs=1e-6)


def test_variation_is_added_east_positive():
    assert true_bearing(350.0, variation_east_deg=15.0) == 5.0
    assert true_bearing(5.0, variation_east_deg=-10.0, deviation_east_deg=2.0) == 357.0
