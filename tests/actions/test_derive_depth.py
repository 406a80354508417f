"""The whole chain from a reading to a charted depth."""

import json
import math
from datetime import UTC, datetime
from typing import Any

import pytest

from registry.actions.derive_depth import derive_depth, mean_sound_speed
from registry.actions.tide_at import observed_tide, predicted_tide
from registry.errors import InvalidRecordError, QuantityError
from registry.formats.written_quantity import read_length
from registry.measure.depth import BudgetTerm
from registry.records.depth_reading import (
    ChartSounding,
    EchoSounding,
    GaugeReading,
    LeadLineSounding,
    PressureReading,
    SoundCast,
    SpeedOfSound,
    WaterSample,
)
from registry.records.tide_height import TideHeight
from tests.tide_builders import a_station, some_readings

AT = datetime(2026, 6, 14, 14, 32, tzinfo=UTC)
TIDE = TideHeight(
    kind="stated",
    at=None,
    height_m=0.62,
    datum="MLLW",
    source="tide table",
    terms=(BudgetTerm(source="tide as stated", u95_m=0.3),),
)


def an_echo(**changes: Any) -> EchoSounding:
    values: dict[str, Any] = {
        "depth": read_length("20.00 m"),
        "counts_from": "transducer",
        "set_speed_mps": 1500.0,
        "set_draft_m": 0.0,
        "draft_m": 0.5,
        "sound": SpeedOfSound(speed_mps=1536.0, u95_mps=2.0, method="bar check"),
    }
    return EchoSounding(**values | changes)


READINGS = [
    an_echo(),
    GaugeReading(depth=read_length("66 ft"), setting="EN 13319"),
    LeadLineSounding(depth=read_length("11 fm")),
    PressureReading(pressure_dbar=30.3, air_dbar=10.13),
]


def derived(reading, tide=TIDE, datum="MLLW"):
    return derive_depth(reading, tide=tide, datum=datum, lat_deg=34.0)


@pytest.mark.parametrize("reading", READINGS, ids=[type(r).__name__ for r in READINGS])
def test_every_kind_of_reading_comes_to_a_charted_depth(reading):
    found = derived(reading)
    assert found.depth.value_m == pytest.approx(19.5, abs=0.9)
    assert found.steps[-1].how == "below MLLW"
    assert math.fsum(row.share for row in found.budget) == pytest.approx(1.0)
    assert found.depth.u95_m == pytest.approx(math.hypot(*(row.u95_m for row in found.budget)))
    assert found.order in ("1a", "2")
    json.dumps(found.as_json(), allow_nan=False)


def test_the_raw_depth_is_the_reading_as_it_was():
    assert derived(READINGS[1]).steps[0].depth_m == pytest.approx(66 * 0.3048)


def test_a_doubt_that_nobody_stated_is_said():
    found = derived(an_echo())
    assert any("No accuracy was stated for echo sounder" in line for line in found.basis)
    stated = derived(an_echo(instrument_u95_m=0.05, draft_u95_m=0.02, waves_u95_m=0.1))
    assert not any("No accuracy" in line for line in stated.basis)
    assert stated.depth.u95_m < found.depth.u95_m


def test_the_record_names_the_equation():
    water = WaterSample(temperature_c=25.0, salinity=36.0, equation="Mackenzie")
    found = derived(an_echo(sound=water))
    assert any("Mackenzie" in line for line in found.basis)


def test_water_sample_and_flat_cast_agree():
    water = WaterSample(temperature_c=25.0, salinity=36.0)
    by_water = mean_sound_speed(water, start_m=0.5, end_m=20.5, lat_deg=34.0).speed_mps
    cast = SoundCast(depths_m=(0.0, 30.0), speeds_mps=(by_water, by_water), equation="measured", source="c")
    by_cast = mean_sound_speed(cast, start_m=0.5, end_m=20.5, lat_deg=34.0)
    assert by_cast.speed_mps == pytest.approx(by_water)
    assert derived(an_echo(sound=cast)).depth.value_m == pytest.approx(
        derived(an_echo(sound=water)).depth.value_m
    )


def test_a_degree_is_about_two_and_a_half_metres_per_second_in_warm_water():
    """And more in cold: the rule of 4.5 m/s for a degree (IHO C-13) is that of cold water."""
    slopes = []
    for temperature in (5.0, 25.0):
        water = WaterSample(
            temperature_c=temperature, salinity=35.0, temperature_u95_c=1.0, salinity_u95=1e-6
        )
        u95 = mean_sound_speed(water, start_m=0.0, end_m=20.0, lat_deg=34.0).u95_mps
        slopes.append(math.sqrt(u95**2 - 0.8**2))
    assert slopes == pytest.approx([4.1, 2.5], abs=0.2)


def test_doubt_of_water_at_the_edge_of_a_range_is_still_found():
    water = WaterSample(temperature_c=30.0, salinity=40.0, equation="Mackenzie")
    assert mean_sound_speed(water, start_m=0.0, end_m=20.0, lat_deg=34.0).u95_mps > 0.8


def test_a_cast_that_stops_short_of_the_seabed_is_refused():
    cast = SoundCast(depths_m=(0.0, 12.0), speeds_mps=(1530.0, 1520.0), equation="measured", source="c")
    with pytest.raises(QuantityError, match="reaches the seabed"):
        derived(an_echo(sound=cast))


def test_a_predicted_tide_makes_a_wider_depth_than_an_observed_one():
    seen = derived(an_echo(), observed_tide(some_readings(), AT, "MLLW"))
    told = derived(an_echo(), predicted_tide(a_station(), AT, "MLLW"))
    assert (seen.tide_kind, told.tide_kind) == ("observed", "predicted")
    assert told.depth.u95_m > seen.depth.u95_m
    assert told.steps[4].how.startswith("predicted tide at 2026-06-14 14:32Z: Gannet Pier")


def test_without_a_tide_nothing_is_known_below_datum():
    with pytest.raises(InvalidRecordError, match="No tide is known"):
        derived(an_echo(), None)


def test_a_tide_above_another_datum_is_refused():
    with pytest.raises(InvalidRecordError, match="counts from MLLW, the depth is wanted below LAT"):
        derived(an_echo(), datum="LAT")


def test_a_charted_depth_takes_no_tide():
    chart = ChartSounding(depth=read_length("20 m"), datum="MLLW", zone_of_confidence="B")
    found = derived(chart, None)
    assert (found.depth.value_m, found.tide_kind) == (20.0, "in the chart")
    # S-57 supplement 3: zone B is 1.00 m + 2 %; half a unit of the last digit in quadrature.
    assert found.depth.u95_m == pytest.approx(math.hypot(1.4, 0.475))
    with pytest.raises(InvalidRecordError, match="no tide is in it"):
        derived(chart)
    with pytest.raises(InvalidRecordError, match="The chart counts from MLLW"):
        derived(chart, None, datum="LAT")


def test_a_depth_may_meet_no_order():
    chart = ChartSounding(depth=read_length("20 m"), datum="MLLW", zone_of_confidence="C")
    assert derived(chart, None).order is None
