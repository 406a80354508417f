"""Home frames proposed by region."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from registry.measure.datum import home_frame, transform
from registry.measure.home_region import propose_home_frames


@pytest.mark.parametrize(
    ("lon", "lat", "first"),
    [
        (-77.3, 34.0, "EPSG:6318"),
        (-88.0, 30.0, "EPSG:6318"),
        (-118.0, 33.0, "EPSG:6318"),
        (-68.0, 44.0, "EPSG:6318"),
        (-150.0, 60.0, "EPSG:6318"),
        (-66.0, 18.5, "EPSG:6318"),
        (-157.0, 21.0, "EPSG:6322"),
        (144.7, 13.4, "EPSG:6325"),
        (-63.0, 44.5, "EPSG:10414"),
        (-123.5, 49.3, "EPSG:10414"),
        (151.5, -34.0, "EPSG:7844"),
        (-2.0, 50.0, "EPSG:10571"),
    ],
)
def test_the_usual_frame_comes_first(lon, lat, first):
    assert propose_home_frames(lon, lat)[0].code == first


@given(lon=st.floats(-180, 180), lat=st.floats(-90, 90))
def test_whatever_is_proposed_can_be_a_home_frame_there(lon, lat):
    for frame in propose_home_frames(lon, lat):
        assert home_frame(frame.code).epoch is not None
        transform(lon, lat, source=frame.code, target="WGS 84", epoch=2026.9)


def test_nothing_is_proposed_where_nothing_is_known():
    assert propose_home_frames(175.0, -41.0) == ()
