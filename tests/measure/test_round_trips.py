"""Every frame of the table there and back, anywhere in its region, at any epoch: a property of all of them."""

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from registry.measure.datum import transform
from registry.measure.frames import FRAMES, in_box
from registry.measure.geodesic import inverse

ROWS = [row for row in FRAMES if not row.grid_operations]


@st.composite
def a_place(draw, box):
    west, south, east, north = box
    width = 360.0 if east - west >= 360.0 else (east - west) % 360.0
    lon = (west + draw(st.floats(0.001, 0.999)) * width + 180.0) % 360.0 - 180.0
    lat = draw(st.floats(max(south, -89.0) + 1e-3, min(north, 89.0) - 1e-3))
    return lon, lat


@pytest.mark.parametrize("row", ROWS, ids=lambda row: row.name)
@given(data=st.data(), epoch=st.floats(1985.0, 2095.0))
def test_there_and_back(row, data, epoch):
    lon, lat = data.draw(a_place(row.box))
    assume(not any(bool(in_box(lon, lat, box)) for box, _ in row.elsewhere))
    out = transform(lon, lat, source=row.code, target="ITRF2020", epoch=epoch)
    back = transform(out.lon_deg, out.lat_deg, source="ITRF2020", target=row.code, epoch=epoch)
    assert float(inverse(lon, lat, back.lon_deg, back.lat_deg)[0]) < 1e-5
    # No frame of today is farther from another than this, whatever the year: a plate crawls 10 cm a year.
    assert float(inverse(lon, lat, out.lon_deg, out.lat_deg)[0]) < 15.0
