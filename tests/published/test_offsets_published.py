"""
Offsets and bearings against published or independently worked numbers.

The lever arm vectors were worked by hand from the rotation matrix, and its position against a rigorous
transformation through Earth-centred coordinates. The magnetic values are the test values that came with the
World Magnetic Model 2025 (recalled from memory; the library reproduces them).
"""

import math

import pytest

from registry.measure.geodesic import direct
from registry.measure.magnetic import magnetic_variation
from registry.measure.offsets import body_to_level, descent_drift, lever_arm, range_and_bearing

DOUBTS = {"arm_u95_m": 0.1, "heading_u95_deg": 1.0, "attitude_u95_deg": 1.0}


def test_worked_lever_arm():
    step = lever_arm(-14.60, 5.10, 7.80, heading_deg=237.0, roll_deg=4.0, pitch_deg=-2.5, **DOUBTS)
    assert [step.north_m, step.east_m, step.down_m] == pytest.approx([11.9479, 10.0560, 7.4922], abs=5e-5)
    assert step.bearing_deg == pytest.approx(40.0858, abs=5e-5)
    assert step.distance_m == pytest.approx(15.6166, abs=5e-5)
    lon, lat = step.move(-78.0, 33.0)
    assert lat == pytest.approx(33.0001077318, abs=2e-10)
    assert lon == pytest.approx(-77.9998923948, abs=2e-10)


def test_worked_lever_arm_rigorously():
    """The same step through Earth-centred coordinates, by PROJ: within 0.02 mm."""
    from pyproj import Transformer

    to_ecef = Transformer.from_crs("EPSG:4979", "EPSG:4978", always_xy=True)
    x, y, z = to_ecef.transform(-78.0, 33.0, 12.0)
    east, north, down = body_to_level(-14.60, 5.10, 7.80, heading_deg=237.0, roll_deg=4.0, pitch_deg=-2.5)
    lam, phi = math.radians(-78.0), math.radians(33.0)
    up = -down
    x += -math.sin(lam) * east - math.sin(phi) * math.cos(lam) * north + math.cos(phi) * math.cos(lam) * up
    y += math.cos(lam) * east - math.sin(phi) * math.sin(lam) * north + math.cos(phi) * math.sin(lam) * up
    z += math.cos(phi) * north + math.sin(phi) * up
    lon, lat, height = to_ecef.transform(x, y, z, direction="INVERSE")
    moved_lon, moved_lat = lever_arm(
        -14.60, 5.10, 7.80, heading_deg=237.0, roll_deg=4.0, pitch_deg=-2.5, **DOUBTS
    ).move(-78.0, 33.0)
    assert (lat - moved_lat) * 110_905 == pytest.approx(0.0, abs=5e-5)
    assert (lon - moved_lon) * 93_453 == pytest.approx(0.0, abs=5e-5)
    assert height == pytest.approx(4.5078, abs=5e-5)


def test_level_lever_arm():
    step = lever_arm(-14.60, 5.10, 7.80, heading_deg=237.0, **DOUBTS)
    assert [step.north_m, step.east_m] == pytest.approx([12.2289, 9.4669], abs=5e-5)
    lon, lat = step.move(-78.0, 33.0)
    assert [lat, lon] == pytest.approx([33.0001102656, -77.9998986986], abs=2e-10)


@pytest.mark.parametrize(
    ("arm", "heading", "roll", "pitch", "east", "north"),
    [
        pytest.param((10, 0, 0), 90, 0, 0, 10.0, 0.0, id="forward, heading east: east"),
        pytest.param((0, 10, 0), 0, 0, 0, 10.0, 0.0, id="starboard, heading north: east"),
        pytest.param((0, 0, 10), 0, 10, 0, -1.7365, 0.0, id="starboard down swings what hangs to the west"),
        pytest.param((0, 0, 10), 0, 0, 10, 0.0, 1.7365, id="bow up swings what hangs to the north"),
    ],
)
def test_signs(arm, heading, roll, pitch, east, north):
    found_east, found_north, _ = body_to_level(*arm, heading_deg=heading, roll_deg=roll, pitch_deg=pitch)
    assert [found_east, found_north] == pytest.approx([east, north], abs=5e-5)


def test_sign_forward_east_on_the_ground():
    lon, lat = lever_arm(10, 0, 0, heading_deg=90.0, **DOUBTS).move(-78.0, 33.0)
    assert [lat, lon] == pytest.approx([33.0, -77.9998929946], abs=2e-10)


WRONG_WAYS = [
    pytest.param({"heading_deg": 238.0}, 0.27, id="heading 1 degree off"),
    pytest.param({"roll_deg": 0.0, "pitch_deg": 0.0}, 0.65, id="roll and pitch left out"),
    pytest.param({"heading_deg": 246.0}, 2.45, id="magnetic, 9 west, taken as true"),
    pytest.param({"roll_deg": -4.0}, 1.09, id="sign of the roll"),
]


@pytest.mark.parametrize(("change", "apart_m"), WRONG_WAYS)
def test_what_a_slip_costs(change, apart_m):
    right = {"heading_deg": 237.0, "roll_deg": 4.0, "pitch_deg": -2.5}
    e1, n1, _ = body_to_level(-14.60, 5.10, 7.80, **right)
    e2, n2, _ = body_to_level(-14.60, 5.10, 7.80, **(right | change))
    assert math.hypot(e1 - e2, n1 - n2) == pytest.approx(apart_m, abs=0.006)


# Worked by geographiclib: mark, true bearing, range, where one arrives.
RANGE_BEARING = [
    (33.0, -78.0, 118.5, 23.7, 32.9998980322, -77.9997771297),
    (33.0, -78.0, 90.0, 1000.0, 32.9999995414, -77.9892994586),
    (21.0, -157.0, 301.25, 152.4, 21.0007140774, -157.0012531373),
    (-34.0, 151.5, 187.3, 1852.0, -34.0165609772, 151.4974522933),
    (60.0, 5.0, 270.0, 500.0, 59.9999996961, 4.9910394268),
]


@pytest.mark.parametrize(("lat", "lon", "bearing", "distance", "lat2", "lon2"), RANGE_BEARING)
def test_range_and_bearing(lat, lon, bearing, distance, lat2, lon2):
    step = range_and_bearing(distance, bearing, range_u95_m=0.1, bearing_u95_deg=0.5)
    assert step.move(lon, lat) == pytest.approx((lon2, lat2), abs=2e-10)
    assert step.move(lon, lat) == pytest.approx(tuple(map(float, direct(lon, lat, bearing, distance))))


def test_drift_on_descent():
    """Half a metre a second, 20 m deep, falling at 2 m/s: 5 m. Common practice, no source; computed."""
    step = descent_drift(20.0, 2.0, 0.5, 45.0, depth_u95_m=0.5, fall_speed_u95_mps=0.2, current_u95_mps=0.1,
                         current_direction_u95_deg=10.0)  # fmt: skip
    assert step.distance_m == pytest.approx(5.0)
    assert step.bearing_deg == pytest.approx(45.0)


def test_magnetic_model_test_value():
    """WMM2025 test value: 80 N, 0 E, height 0, 2025.0: declination 1.28 degrees."""
    found = magnetic_variation(0.0, 80.0, 2025.0)
    assert found.east_deg == pytest.approx(1.28, abs=0.005)
    # Error model of WMM2025: sqrt(0.26² + (5417 / H)²) degrees, one sigma; H is 6523.2 nT there.
    assert found.u95_deg == pytest.approx(1.96 * math.hypot(0.26, 5417 / 6523.2), abs=0.01)
