"""Converting written coordinates: epochs, contradictions, round trips through every frame."""

import numpy as np
import pytest

from registry.actions.convert_position import Conversion, convert_position
from registry.errors import FrameError, MissingGridError
from registry.formats.written_position import read_position
from registry.measure.geodesic import inverse
from registry.measure.plate_motion import moved

TEXT = "34.0208333 -77.3351667"


def converted(text=TEXT, **asked):
    return convert_position(read_position(text), Conversion(**asked))


def apart_m(a, lon, lat) -> float:
    return float(inverse(a.lon_deg, a.lat_deg, lon, lat)[0])


FRAMES = [
    ("NAD83(2011)", 34.0208333, -77.3351667), ("NAD83(PA11)", 21.0, -157.0), ("GDA2020", -34.0, 151.5),
    ("GDA94", -34.0, 151.5), ("ETRF2000", 50.0, -2.0), ("NAD83(CSRS)v8", 44.5, -63.0), ("ITRF2014", 34.0, -77.0),
    ("NAD83", 34.0, -77.0), ("NAD83(MA11)", 13.4, 144.7), ("EPSG:32618", 34.0, -77.0), ("EPSG:6543", 34.2, -77.3),
    ("EPSG:6570", 33.5, -79.0),
]  # fmt: skip


@pytest.mark.parametrize(("frame", "lat", "lon"), FRAMES)
def test_there_and_back_in_every_frame(frame, lat, lon):
    text = f"{lat:+.9f} {lon:+.9f}"
    out = converted(text, source="EPSG:4326", epoch=2026.5, target=frame)
    back_text = f"{out.position.lat_deg:+.9f} {out.position.lon_deg:+.9f}"
    back = converted(
        back_text, source=out.target.code, epoch=out.position.epoch, target="WGS 84", to_epoch=2026.5
    )
    assert apart_m(back.position, lon, lat) < 2e-4
    assert back.position.epoch == 2026.5
    assert (out.grid is not None) == frame.startswith("EPSG")


def test_between_epochs_a_mark_rides_with_its_plate():
    """Against the plate motion model of ITRF2020, a path that shares no number with the one taken."""
    out = converted(source="WGS 84", epoch=2026.5, target="WGS 84", to_epoch=2056.5)
    lon, lat = moved(-77.3351667, 34.0208333, plate="NOAM", years=30.0)
    assert 0.35 < out.shift_m < 0.50
    assert apart_m(out.position, float(lon), float(lat)) < out.accuracy_m < 0.15
    assert "then" in out.operation


def test_restless_ground_is_doubted_by_all_the_years_between():
    """On the Pacific side of California the ground may leave NAD83 by 5 cm a year: 1 m in twenty."""
    out = converted("33.0 -118.0", source="WGS 84", epoch=2000.0, target="WGS 84", to_epoch=2020.0)
    lon, lat = moved(-118.0, 33.0, plate="PCFC", years=20.0)
    assert apart_m(out.position, float(lon), float(lat)) < out.accuracy_m
    assert out.accuracy_m >= 1.0


def test_a_day_must_be_named_for_a_frame_in_which_the_ground_moves():
    with pytest.raises(FrameError, match="no day was named") as caught:
        converted(source="NAD83(2011)", target="WGS 84")
    assert "--to-epoch" in caught.value.remedy
    with pytest.raises(FrameError, match="no day was named"):
        converted(source="NAD83(2011)", epoch=2026.5, target="WGS 84")
    with pytest.raises(FrameError, match="was not given"):
        converted(source="WGS 84", target="WGS 84", to_epoch=2056.5)
    with pytest.raises(FrameError, match="no epoch was given"):
        converted(source="WGS 84", target="NAD83(2011)")


def test_a_frame_that_rides_on_its_plate_has_an_epoch_of_its_own():
    with pytest.raises(FrameError, match="of epoch 2010, not of 2056"):
        converted(source="WGS 84", epoch=2026.5, target="NAD83(2011)", to_epoch=2056.5)


def test_no_plate_no_journey_through_time():
    with pytest.raises(FrameError, match="No plate-fixed frame"):
        converted("-20.0 -30.0", source="WGS 84", epoch=2026.5, target="WGS 84", to_epoch=2056.5)


@pytest.mark.parametrize(("text", "asked", "words"), [
    (TEXT, {}, "does not say its frame"),
    (f"{TEXT} NAD83(2011)", {"source": "EPSG:4326"}, "is stated beside it"),
    (f"{TEXT} WGS 84 epoch 2020.0", {"epoch": 2021.0}, "is stated beside it"),
])  # fmt: skip
def test_what_contradicts_or_is_missing(text, asked, words):
    with pytest.raises(FrameError, match=words):
        converted(text, target="WGS 84", **asked)


def test_the_text_may_name_frame_and_epoch():
    out = converted(f"{TEXT} ITRF2020 epoch 2020.0", target="NAD83(2011)")
    assert (out.source.name, out.source_epoch, out.position.epoch) == ("ITRF2020", 2020.0, 2010.0)


def test_nad27_without_its_grid_is_refused():
    with pytest.raises(MissingGridError, match="conus"):
        converted(source="NAD27", target="NAD83(2011)")


def test_the_radius_holds_digits_operation_and_what_was_stated():
    coarse = converted("34 01.2 N 077 20.1 W", source="WGS 84", epoch=2026.5, target="NAD83(2011)")
    assert 80 < coarse.position.r95_m < 150
    stated = converted(source="WGS 84", epoch=2026.5, target="NAD83(2011)", r95_m=3.0)
    assert stated.position.r95_m == pytest.approx(np.hypot(3.0, stated.accuracy_m), abs=1e-3)
    assert not any("not known" in line for line in stated.basis)
    assert any("not known" in line for line in coarse.basis)
    grid = converted("EPSG:32618 284382.6 3766925.1", epoch=2026.5, target="WGS 84")
    assert grid.position.r95_m == pytest.approx(0.065, abs=0.02)
