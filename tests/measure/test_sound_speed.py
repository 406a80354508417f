"""Named equations within their ranges, and the mean along a cast."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from registry.errors import QuantityError
from registry.measure.sound_speed import SOUND_SPEED_EQUATIONS, harmonic_mean_mps, sound_speed


@pytest.mark.parametrize("name", SOUND_SPEED_EQUATIONS)
def test_every_equation_agrees_with_the_others_where_reefs_are(name):
    given_water = {"temperature_c": 22.0, "salinity": 36.0, "depth_m": 20.0}
    assert sound_speed(name, **given_water) == pytest.approx(
        sound_speed("Chen-Millero", **given_water), abs=0.8
    )


@pytest.mark.parametrize(
    ("name", "change"),
    [
        ("Mackenzie", {"temperature_c": 1.9}),
        ("Mackenzie", {"salinity": 5.0}),
        ("Medwin", {"depth_m": 1001.0}),
        ("Del Grosso", {"salinity": 20.0}),
        ("Chen-Millero", {"temperature_c": 72.0}),
        ("Chen-Millero", {"salinity": -1.0}),
        ("Chen-Millero", {"depth_m": float("nan")}),
    ],
)
def test_out_of_range_is_refused_and_named(name, change):
    water = {"temperature_c": 20.0, "salinity": 35.0, "depth_m": 10.0} | change
    with pytest.raises(QuantityError, match=f"outside the range of {name}"):
        sound_speed(name, **water)


def test_an_unknown_equation_is_refused():
    with pytest.raises(QuantityError, match="Use one of Chen-Millero"):
        sound_speed("Wilson", temperature_c=20, salinity=35, depth_m=0)


@given(
    st.lists(
        st.tuples(st.floats(0.1, 10.0), st.floats(1450.0, 1560.0)),
        min_size=2,
        max_size=12,
    )
)
def test_the_mean_is_the_path_over_the_time_of_thin_slices(levels):
    depths = np.cumsum([thickness for thickness, _ in levels])
    speeds = np.array([speed for _, speed in levels])
    fine = np.linspace(depths[0], depths[-1], 20001)
    slowness = 1.0 / np.interp((fine[1:] + fine[:-1]) / 2, depths, speeds)
    sliced = 1.0 / slowness.mean()
    found = harmonic_mean_mps(depths, speeds, start_m=float(depths[0]))
    assert found == pytest.approx(sliced, abs=1e-4)
    assert speeds.min() - 1e-9 <= found <= speeds.max() + 1e-9


def test_only_the_path_below_the_transducer_counts():
    cast = ([0, 5, 5, 20], [1560, 1560, 1500, 1500])
    assert harmonic_mean_mps(*cast, start_m=5.0) == pytest.approx(1500.0)
    assert harmonic_mean_mps(*cast, start_m=2.0, end_m=5.0) == pytest.approx(1560.0)
    assert harmonic_mean_mps(*cast, start_m=2.0, end_m=8.0) == pytest.approx(1529.41, abs=0.01)


def test_a_cast_that_stops_short_is_refused():
    assert harmonic_mean_mps([0, 19], [1500, 1500], end_m=20.0) == 1500.0
    with pytest.raises(QuantityError, match="The cast ends at 15 m, the path of sound at 20 m"):
        harmonic_mean_mps([0, 15], [1500, 1500], end_m=20.0)


def test_above_its_first_depth_a_cast_keeps_its_first_speed():
    assert harmonic_mean_mps([5, 20], [1500, 1500], start_m=0.5) == pytest.approx(1500.0)
    assert harmonic_mean_mps([10], [1520], start_m=1.0, end_m=10.5) == pytest.approx(1520.0)


@pytest.mark.parametrize(
    ("depths", "speeds", "words"),
    [
        ([0, 10, 5], [1500, 1500, 1500], "decrease"),
        ([], [], "missing"),
        ([0, 10], [1500], "missing"),
        ([0, 10], [1500, 4921], "4921 m/s"),
        ([-1, 10], [1500, 1500], "negative"),
    ],
)
def test_what_is_no_cast_is_refused(depths, speeds, words):
    with pytest.raises(QuantityError, match=words):
        harmonic_mean_mps(depths, speeds)


def test_a_path_that_does_not_go_down_is_refused():
    with pytest.raises(QuantityError, match="does not go down"):
        harmonic_mean_mps([0, 20], [1500, 1500], start_m=20.0, end_m=20.0)
