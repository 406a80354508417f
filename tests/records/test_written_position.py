"""The records of written angles, positions and quantities refuse what contradicts itself."""

import math

import pytest

from registry.errors import InvalidRecordError
from registry.records.quantity import Quantity
from registry.records.written_position import WrittenAngle, WrittenPosition


@pytest.mark.parametrize(
    ("angle", "degrees", "resolution"),
    [
        (WrittenAngle(degrees="33.75205"), 33.75205, 1e-5),
        (WrittenAngle(degrees="33", minutes="45.123", hemisphere="S"), -33.75205, 1e-3 / 60),
        (WrittenAngle(sign="-", degrees="0", minutes="30"), -0.5, 1 / 60),
        (WrittenAngle(degrees="281", minutes="47", seconds="32.64", hemisphere="E"), -78.2076, 1e-2 / 3600),
    ],
)
def test_an_angle_is_worth_its_digits(angle, degrees, resolution):
    assert angle.value_deg == pytest.approx(degrees, abs=1e-12)
    assert angle.resolution_deg == pytest.approx(resolution)


def test_zero_west_is_plain_zero():
    assert math.copysign(1, WrittenAngle(degrees="0", hemisphere="W").value_deg) == 1


@pytest.mark.parametrize(("lat", "lon"), [(math.nan, 0.0), (91.0, 0.0), (0.0, 181.0), (0.0, math.inf)])
def test_no_place_no_record(lat, lon):
    with pytest.raises(InvalidRecordError):
        WrittenPosition(
            text="x", lat_deg=lat, lon_deg=lon, notation="dd", resolution_lat_deg=1.0, resolution_lon_deg=1.0
        )


@pytest.mark.parametrize(
    ("value", "resolution"), [(math.nan, 0.0), (math.inf, 0.0), (1.0, -1.0), (1.0, math.nan)]
)
def test_no_number_no_quantity(value, resolution):
    with pytest.raises(InvalidRecordError):
        Quantity(value=value, dimension="length", written="x", resolution=resolution)
