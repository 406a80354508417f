"""Plate motion: shapes, signs and refusals. Published velocities are in tests/published."""

import numpy as np
import pytest

from registry.errors import FrameError
from registry.measure.plate_motion import PLATES, drift, moved, velocity


@pytest.mark.parametrize("plate", sorted(PLATES))
def test_every_plate_of_the_table_turns(plate):
    assert 0.01 < float(drift(20.0, 10.0, plate=plate, years=10.0)[0]) < 1.5


def test_thirty_years_and_back_is_nowhere():
    lon, lat = moved(*moved(-77.0, 34.0, plate="NOAM", years=30.0), plate="NOAM", years=-30.0)
    assert (float(lon), float(lat)) == pytest.approx((-77.0, 34.0), abs=1e-11)


def test_arrays_give_arrays_of_their_shape():
    distance_m, azimuth_deg = drift([[-78.0], [-88.0]], 33.0, plate="NOAM", years=[0.0, 10.0, 20.0])
    assert distance_m.shape == azimuth_deg.shape == (2, 3)
    assert np.all(distance_m[:, 0] < 1e-9)
    assert distance_m[:, 2] == pytest.approx(2 * distance_m[:, 1], rel=1e-6)
    assert np.all((azimuth_deg >= 0) & (azimuth_deg < 360))


def test_the_american_plate_goes_west_and_the_australian_north():
    north, east = velocity([-78.0], [33.0], plate="NOAM")
    assert east[0] < -10
    assert abs(north[0]) < 5
    assert float(velocity(151.5, -34.0, plate="AUST")[0]) > 50


@pytest.mark.parametrize(("lon", "lat", "plate", "years"), [
    (-78.0, 33.0, "XXXX", 1.0), (np.nan, 33.0, "NOAM", 1.0), (-78.0, 95.0, "NOAM", 1.0), (-78.0, 33.0, "NOAM", np.inf),
])  # fmt: skip
def test_nonsense_is_refused(lon, lat, plate, years):
    with pytest.raises(FrameError):
        drift(lon, lat, plate=plate, years=years)
