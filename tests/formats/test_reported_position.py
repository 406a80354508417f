"""A position as an authority asks for it can be read back to within what it is known to."""

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pyproj import Geod

from registry.formats.reported_position import write_reported
from registry.formats.written_position import read_position
from registry.measure.datum import resolve
from registry.records.permit import Notation


@pytest.mark.parametrize("notation", ["dd", "ddm", "dms"])
@given(lat=st.floats(-80, 80), lon=st.floats(-179, 179), r95_m=st.floats(0.05, 100))
def test_what_is_written_is_read_back(notation: Notation, lat: float, lon: float, r95_m: float) -> None:
    words = write_reported(lat, lon, frame=resolve("EPSG:6318"), notation=notation, r95_m=r95_m)
    back = read_position(" ".join(words))
    off_m = Geod(ellps="GRS80").inv(lon, lat, back.lon_deg, back.lat_deg)[2]
    assert off_m <= 0.25 * r95_m + 1e-3


def test_a_grid_goes_before_the_notation_in_its_own_unit():
    feet = write_reported(34.02, -77.33, frame=resolve("EPSG:6543"), notation="dms", r95_m=3.0)
    metres = write_reported(34.02, -77.33, frame=resolve("EPSG:6542"), notation="dms", r95_m=3.0)
    for foot, metre in zip(feet, metres, strict=True):
        assert float(foot) * 1200 / 3937 == pytest.approx(float(metre), abs=0.1)
