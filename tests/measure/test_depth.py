"""Each instrument's chain and budget, and what is refused."""

import math
from typing import cast

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from registry.errors import QuantityError
from registry.measure.depth import (
    BudgetTerm,
    GaugeSetting,
    budget_rows,
    chart_depth,
    echo_sounder_depth,
    gauge_depth,
    lead_line_depth,
    pressure_sensor_depth,
    reduce_to_datum,
)


def sounded(indicated_m=20.0, **changes):
    given_values = {
        "from_waterline": False,
        "set_draft_m": 0.0,
        "draft_m": 0.5,
        "set_speed_mps": 1500.0,
        "speed_mps": 1536.0,
        "speed_u95_mps": 1.5,
        "draft_u95_m": 0.05,
    }
    return echo_sounder_depth(indicated_m, **given_values | changes)


def test_counting_from_the_waterline_gives_the_same_depth():
    from_transducer = sounded(20.0).depth
    from_waterline = sounded(20.5, from_waterline=True, set_draft_m=0.5).depth
    assert from_waterline == from_transducer


def test_a_draft_that_was_left_in_the_sounder_is_put_right():
    assert sounded(20.3, from_waterline=True, set_draft_m=0.3).depth.value_m == pytest.approx(20.98)


def test_only_the_path_below_the_transducer_scales():
    """Scaling the draft too is a known mistake: 20.5 x 1.024 would be 20.99 m."""
    assert sounded(20.0).depth.value_m == pytest.approx(20.98, abs=1e-9)


def test_doubt_of_the_speed_is_iho_c_13_equation_3_42():
    term = next(term for term in sounded(20.0).terms if term.source == "speed of sound")
    assert term.u95_m == pytest.approx(20.0 * 1.5 / 1500.0)


def test_an_index_error_found_by_a_bar_check_is_taken_off():
    found = sounded(20.1, index_error_m=0.1)
    assert found.depth.value_m == pytest.approx(20.98)
    assert found.steps[1].change_m == -0.1


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"set_speed_mps": 4921.0}, "4921 m/s is no speed"),
        ({"speed_mps": 0.0}, "0 m/s is no speed"),
        ({"draft_m": -0.5}, "negative"),
        ({"set_draft_m": 0.5}, "counts from the transducer, yet a draft"),
        ({"from_waterline": True, "set_draft_m": 20.0}, "leaves no water"),
        ({"indicated_m": math.nan}, "no depth"),
    ],
)
def test_a_sounding_that_cannot_be_is_refused(changes, words):
    with pytest.raises(QuantityError, match=words):
        sounded(**changes)


@given(
    depth=st.floats(1.0, 100.0),
    change=st.floats(-5.0, 5.0),
    doubts=st.lists(st.floats(0.0, 2.0), min_size=1, max_size=6),
)
def test_the_steps_add_up_and_the_shares_are_one(depth, change, doubts):
    terms = [BudgetTerm(source=f"{n}", u95_m=doubt) for n, doubt in enumerate(doubts)]
    below = lead_line_depth(depth, terms=terms)
    assume(depth > change)
    done = reduce_to_datum(below, tide_m=change, tide_how="", tide_terms=(), datum="MLLW")
    total = done.steps[0].depth_m + math.fsum(step.change_m for step in done.steps)
    assert total == pytest.approx(done.depth.value_m, abs=1e-9)
    assert done.depth.u95_m >= max(doubts) * (1 - 1e-12)
    rows = budget_rows(done.terms)
    assert math.fsum(row.share for row in rows) == pytest.approx(1.0 if any(doubts) else 0.0, abs=1e-9)


def test_every_chain_has_its_six_steps():
    chains = [
        sounded(),
        gauge_depth(20.0, setting="msw", density_kgpm3=1025, density_u95_kgpm3=5, lat_deg=34),
        pressure_sensor_depth(20.0, air_dbar=0.0, air_u95_dbar=0.0, lat_deg=34),
        lead_line_depth(20.0),
        chart_depth(20.0, ()),
    ]
    for chain in chains:
        names = [
            step.name
            for step in reduce_to_datum(chain, tide_m=0.0, tide_how="", tide_terms=(), datum="LAT").steps
        ]
        assert names[:3] == ["raw", "instrument", "draft"]
        assert names[3] in ("sound speed", "density")
        assert names[4:] == ["tide", "datum"]


def test_a_falling_tide_below_datum_adds_depth():
    done = reduce_to_datum(lead_line_depth(10.0), tide_m=-0.3, tide_how="", tide_terms=(), datum="MLLW")
    assert done.depth.value_m == pytest.approx(10.3)


def test_a_tide_of_the_wrong_sign_that_dries_the_seabed_is_asked_about():
    with pytest.raises(QuantityError, match="Check the sign of the tide"):
        reduce_to_datum(lead_line_depth(1.0), tide_m=1.5, tide_how="", tide_terms=(), datum="MLLW")


def test_more_pressure_of_air_leaves_less_water():
    high, low = (
        pressure_sensor_depth(30.0, air_dbar=air, air_u95_dbar=0.1, lat_deg=34).depth.value_m
        for air in (10.3, 9.9)
    )
    assert low - high == pytest.approx(0.4 * 0.993, abs=0.002)


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: gauge_depth(20, setting=cast("GaugeSetting", "salt"), density_kgpm3=1025, density_u95_kgpm3=5, lat_deg=34), "no setting"),
        (lambda: gauge_depth(20, setting="msw", density_kgpm3=1.025, density_u95_kgpm3=5, lat_deg=34), "not the density"),
        (lambda: gauge_depth(20, setting="msw", density_kgpm3=1025, density_u95_kgpm3=5, lat_deg=340), "not a latitude"),
        (lambda: gauge_depth(0.2, setting="msw", density_kgpm3=1025, density_u95_kgpm3=5, lat_deg=3, index_error_m=0.3), "no depth"),
        (lambda: pressure_sensor_depth(9.0, air_dbar=10.1, air_u95_dbar=0, lat_deg=34), "leaves no water"),
        (lambda: pressure_sensor_depth(30.0, air_dbar=0, air_u95_dbar=0, lat_deg=34, above_seabed_m=-1), "in it"),
        (lambda: lead_line_depth(20.0, stretch_share=0.5), "stretches"),
        (lambda: lead_line_depth(2.0, read_above_water_m=2.5), "is no depth"),
        (lambda: chart_depth(-0.4, ()), "is dry"),
        (lambda: BudgetTerm(source="x", u95_m=-0.1), "is not one"),
    ],
)  # fmt: skip
def test_what_no_instrument_gives_is_refused(call, words):
    with pytest.raises(QuantityError, match=words):
        call()
