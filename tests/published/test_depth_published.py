"""Sound speed, pressure, gauges and the reduction of a sounding against published and recomputed values."""

import pytest

from registry.actions.derive_depth import derive_depth
from registry.measure.depth import (
    PA_PER_FSW,
    PA_PER_MSW,
    BudgetTerm,
    echo_sounder_depth,
    gauge_depth,
    vertical_order_met,
)
from registry.measure.sea_pressure import depth_of_pressure_m, gravity_mps2, pressure_at_depth_dbar
from registry.measure.sound_speed import (
    T68_PER_T90,
    chen_millero_mps,
    del_grosso_mps,
    harmonic_mean_mps,
    mackenzie_mps,
    medwin_mps,
    sound_speed,
)
from registry.records.depth_reading import EchoSounding, SpeedOfSound
from registry.records.quantity import Quantity
from registry.records.tide_height import TideHeight

# Function, temperature (IPTS-68), salinity, pressure (dbar) or depth (m), m/s, tolerance.
SOUND_SPEEDS = [
    pytest.param(chen_millero_mps, 40, 40, 10000, 1731.995, 0.0006, id="UNESCO TP44 check value"),
    pytest.param(chen_millero_mps, 0, 35, 0, 1449.139, 0.0006, id="Chen-Millero, computed 1"),
    pytest.param(chen_millero_mps, 25, 35, 1000, 1551.143, 0.0006, id="Chen-Millero, computed 2"),
    pytest.param(mackenzie_mps, 25, 35, 1000, 1550.744, 0.0001, id="Mackenzie 1981 check value"),
    pytest.param(mackenzie_mps, 40, 40, 10000, 1718.774, 0.0006, id="Mackenzie, code check out of range"),
    pytest.param(medwin_mps, 25, 35, 1000, 1550.356, 0.0006, id="Medwin, computed"),
    # No published check value of Del Grosso was found; these were computed from its published coefficients.
    pytest.param(del_grosso_mps, 20, 35, 0, 1521.466, 0.0006, id="Del Grosso, computed 1"),
    pytest.param(del_grosso_mps, 0, 35, 0, 1449.083, 0.0006, id="Del Grosso, computed 2"),
]


@pytest.mark.parametrize(("equation", "t68_c", "salinity", "third", "expected", "tolerance"), SOUND_SPEEDS)
def test_speed_of_sound(equation, t68_c, salinity, third, expected, tolerance):
    assert equation(t68_c, salinity, third) == pytest.approx(expected, abs=tolerance)


def test_a_temperature_handed_on_unconverted_is_off_by_what_is_known():
    """40 °C on ITS-90 is 40.0096 on IPTS-68: 1732.009 m/s, 0.014 more (computed)."""
    assert chen_millero_mps(40 * T68_PER_T90, 40, 10000) == pytest.approx(1732.009, abs=0.0006)


def test_four_equations_lie_within_what_the_choice_may_matter():
    """At 25 °C, 35 and 1000 m; proves the pressure terms of Del Grosso, for which no check value was found."""
    pressure = pressure_at_depth_dbar(1000.0, 45.0)
    speeds = [
        chen_millero_mps(25, 35, pressure),
        del_grosso_mps(25, 35, pressure),
        mackenzie_mps(25, 35, 1000),
        medwin_mps(25, 35, 1000),
    ]
    assert max(speeds) - min(speeds) < 1.0


# UNESCO TP44 (Saunders and Fofonoff): depth in metres by pressure and latitude; the whole table is in the
# documents of the algorithms, the last of 10000 dbar at 30 degrees is the printed check value.
PRESSURE_DEPTHS = [
    (500, (496.653, 495.998, 495.343, 494.034)),
    (5000, (4915.041, 4908.560, 4902.081, 4889.131)),
    (10000, (9725.471, 9712.653, 9699.841, 9674.231)),
]
# The diver's range at 30 degrees, computed.
SHALLOW = [(10, 9.9317), (20, 19.8629), (30, 29.7937), (40, 39.7239)]


@pytest.mark.parametrize(
    ("pressure", "depths"), PRESSURE_DEPTHS, ids=[f"{p} dbar" for p, _ in PRESSURE_DEPTHS]
)
def test_depth_of_a_pressure(pressure, depths):
    found = [depth_of_pressure_m(pressure, lat) for lat in (0, 30, 45, 90)]
    assert found == pytest.approx(depths, abs=0.0006)


@pytest.mark.parametrize(("pressure", "depth"), SHALLOW)
def test_depth_of_a_pressure_where_divers_go(pressure, depth):
    assert depth_of_pressure_m(pressure, 30.0) == pytest.approx(depth, abs=6e-5)
    assert pressure_at_depth_dbar(depth, 30.0) == pytest.approx(pressure, abs=1e-4)


# IHO C-13, Manual on Hydrography, equation 3.18; values computed from it.
def test_harmonic_mean_of_two_layers():
    assert harmonic_mean_mps([0, 10, 10, 20], [1540, 1540, 1510, 1510]) == pytest.approx(1524.852, abs=0.0006)


def test_harmonic_mean_of_a_gradient():
    assert harmonic_mean_mps([0, 20], [1540, 1520]) == pytest.approx(1529.978, abs=0.0006)


# Leaving 1500 m/s set over 20 m, computed: T on ITS-90, salinity, metres too shallow.
LEFT_AT_1500 = [(29.0, 36.0, 0.59), (20.0, 36.0, 0.30), (10.0, 33.0, -0.17)]


@pytest.mark.parametrize(("temperature", "salinity", "error_m"), LEFT_AT_1500)
def test_what_leaving_the_sounder_at_1500_costs(temperature, salinity, error_m):
    speed = sound_speed("Chen-Millero", temperature_c=temperature, salinity=salinity, depth_m=10.0)
    sounding = echo_sounder_depth(
        20.0,
        from_waterline=False,
        set_draft_m=0.0,
        draft_m=0.0,
        set_speed_mps=1500.0,
        speed_mps=speed,
        speed_u95_mps=0.0,
        draft_u95_m=0.0,
    )
    assert sounding.depth.value_m - 20.0 == pytest.approx(error_m, abs=0.01)


# Diver's gauges: a metre of sea water is 10 000 Pa, a foot of sea water 3064.3 Pa (US Navy practice, read
# second-hand), so that 10 msw are 32.634 fsw and not 32.808 ft; EN 13319 is 0.1 bar per metre.
def test_units_of_divers_pressure():
    assert PA_PER_MSW == 10_000.0
    assert pytest.approx(3064.3, abs=0.05) == PA_PER_FSW
    assert pytest.approx(32.634, abs=0.0006) == 10 * PA_PER_MSW / PA_PER_FSW


def test_thirty_metres_on_a_gauge_are_less():
    """30 msw in water of 1025 kg/m³ where gravity is 9.79 (latitude 25.4): 29.90 m, computed."""
    lat_deg = 25.4
    assert gravity_mps2(lat_deg) == pytest.approx(9.79, abs=0.0005)
    for setting in ("msw", "EN 13319"):
        dive = gauge_depth(
            30.0, setting=setting, density_kgpm3=1025.0, density_u95_kgpm3=0.0, lat_deg=lat_deg
        )
        assert dive.depth.value_m == pytest.approx(29.90, abs=0.005)


def test_a_computer_set_to_fresh_water_reads_deep_by_the_density():
    """2.5 % in water of 1025 kg/m³ under standard gravity, computed."""
    dive = gauge_depth(
        30.0, setting="fresh", density_kgpm3=1025.0, density_u95_kgpm3=0.0, lat_deg=45.5
    ).depth.value_m
    assert 30.0 / dive == pytest.approx(1.025, abs=0.0005)


def test_a_gauge_in_feet_of_sea_water():
    """60 fsw are 60 x 3064.34 Pa: 18.29 m of 1025 kg/m³ under 9.8063 m/s², computed here."""
    dive = gauge_depth(
        60 * 0.3048, setting="fsw", density_kgpm3=1025.0, density_u95_kgpm3=0.0, lat_deg=45.0
    ).depth.value_m
    assert dive == pytest.approx(60 * 3064.34 / (1025.0 * gravity_mps2(45.0)), abs=0.001)
    assert dive == pytest.approx(18.29, abs=0.005)


def test_the_worked_sounding():
    """
    Set 1500 m/s, 20.00 m below the transducer, 1536 m/s, draft 0.50 m, tide 0.62 m above MLLW: 20.36 m MLLW.

    Computed from the reduction of IHO C-13: 20.48 + 0.50 - 0.62.
    """
    sounding = EchoSounding(
        depth=Quantity(value=20.0, dimension="length", written="20.00 m", resolution=0.01),
        counts_from="transducer",
        set_speed_mps=1500.0,
        set_draft_m=0.0,
        draft_m=0.5,
        sound=SpeedOfSound(speed_mps=1536.0, u95_mps=2.0, method="bar check"),
    )
    tide = TideHeight(
        kind="stated",
        at=None,
        height_m=0.62,
        datum="MLLW",
        source="tide table",
        terms=(BudgetTerm(source="tide as stated", u95_m=0.3),),
    )
    found = derive_depth(sounding, tide=tide, datum="MLLW", lat_deg=34.0)
    assert [(step.name, round(step.depth_m, 3)) for step in found.steps] == [
        ("raw", 20.0),
        ("instrument", 20.0),
        ("draft", 20.5),
        ("sound speed", 20.98),
        ("tide", 20.36),
        ("datum", 20.36),
    ]


# IHO S-44 edition 6.1.0, table 1: greatest total vertical uncertainty at 20 m, computed from its a and b.
S44_AT_20_M = [("Exclusive", 0.2121), ("Special", 0.2915), ("1a", 0.5636), ("2", 1.1007)]


@pytest.mark.parametrize(("order", "limit_m"), S44_AT_20_M)
def test_order_of_s44_met_by_a_depth(order, limit_m):
    met = vertical_order_met(limit_m - 0.0001, 20.0)
    missed = vertical_order_met(limit_m + 0.0001, 20.0)
    assert met is not None
    assert met.name == order
    assert missed is None or missed.name != order
