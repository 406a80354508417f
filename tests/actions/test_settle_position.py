"""What a written position means: frame, epoch and doubt, each said, never guessed."""

import math
from datetime import UTC, datetime

import pytest
from pyproj import Geod

from registry.actions.settle_position import Settled, Stated, settle, settle_all
from registry.errors import FrameError, LeadlineError, MissingGridError
from registry.formats.written_position import read_position
from tests.actions.stocked import settled
from tests.builders import EPOCH, FRAME, NOON, a_programme

GRS80 = Geod(ellps="GRS80")
PRECISE = "33.0000000, -78.0000000"


def shift_m(found: Settled) -> float:
    seen, home = found.observed, found.home.position
    return float(GRS80.inv(seen.lon_deg, seen.lat_deg, home.lon_deg, home.lat_deg)[2])


def test_without_a_frame_the_home_frame_is_taken_and_said():
    found = settled("34 00.000 N 077 00.000 W")
    assert (found.observed.frame, found.observed.epoch) == (FRAME, EPOCH)
    assert shift_m(found) == 0.0
    assert any("No frame was stated" in sentence and "NAD83(2011)" in sentence for sentence in found.basis)


def test_wgs84_moves_home_by_the_ground_since_2010_and_the_datum():
    # NAD83(2011) 33 N 78 W -> ITRF2020 at 2026.9: 1.0703 m toward 322.74, by EPSG:10334, worked out with
    # PROJ 9.5.1 and independently from its fourteen parameters; the way home is the same backward.
    found = settled(PRECISE, frame="WGS 84", epoch=2026.9)
    assert shift_m(found) == pytest.approx(1.0703, abs=2e-4)
    seen, home = found.observed, found.home.position
    azimuth = GRS80.inv(home.lon_deg, home.lat_deg, seen.lon_deg, seen.lat_deg)[0] % 360
    assert azimuth == pytest.approx(322.74, abs=0.02)
    assert home.frame == FRAME
    assert home.epoch == EPOCH
    assert "EPSG:10334" in found.home.operation


def test_the_epoch_of_a_moving_frame_is_the_day_of_observation_and_said():
    at = datetime(2026, 11, 24, 12, tzinfo=UTC)
    found = settled(PRECISE, frame="ITRF2020", at=at)
    assert found.observed.epoch == pytest.approx(2026.8974, abs=1e-4)
    assert any("2026.90, the day of observation (2026-11-24)" in sentence for sentence in found.basis)
    assert shift_m(found) == pytest.approx(1.0703, abs=1e-3)


def test_a_stated_epoch_is_used():
    assert shift_m(settled(PRECISE, frame="ITRF2020", epoch=2010.0)) == pytest.approx(0.876, abs=1e-3)
    assert shift_m(settled(PRECISE, frame="ITRF2020", epoch=2056.9)) == pytest.approx(1.464, abs=1e-3)


def test_the_frame_in_the_text_is_enough():
    found = settled("33.0000000, -78.0000000 WGS84", epoch=2026.9)
    assert shift_m(found) == pytest.approx(1.0703, abs=2e-4)
    assert any("The text itself names the frame" in sentence for sentence in found.basis)


def test_text_and_statement_that_agree_are_no_conflict():
    assert shift_m(
        settled("33.0000000, -78.0000000 WGS84", frame="EPSG:4326", epoch=2026.9)
    ) == pytest.approx(1.07, abs=0.01)


def test_text_and_statement_that_differ_are_refused_with_both_named():
    with pytest.raises(FrameError, match=r"WGS 84.*NAD83\(2011\).*State one frame"):
        settled("33.0000000, -78.0000000 WGS84", frame="EPSG:6318")


def test_two_epochs_are_refused_with_both_named():
    from dataclasses import replace

    written = replace(read_position("33.0000000, -78.0000000 WGS84"), epoch=2020.5)
    with pytest.raises(FrameError, match=r"2020\.5.*2026\.9.*State one epoch"):
        settle(Stated(written=written, epoch=2026.9, r95_m=1.0, at=NOON), a_programme())
    found = settle(Stated(written=written, epoch=2020.5, r95_m=1.0, at=NOON), a_programme())
    assert found.observed.epoch == 2020.5


def test_nad27_without_its_grid_stops_and_names_it():
    with pytest.raises(MissingGridError) as refusal:
        settled("34 00.000 N 077 00.000 W", frame="NAD27")
    assert ".tif" in str(refusal.value) or ".gsb" in str(refusal.value) or "conus" in str(refusal.value)


@pytest.mark.parametrize("frame", ["EPSG:99999", "plotter", "4326", "EPSG:5773"])
def test_a_frame_that_nobody_knows_is_refused(frame):
    with pytest.raises(FrameError):
        settled(frame=frame)


def test_a_position_far_from_its_plate_is_settled_with_a_warning():
    # Axes swapped: 77 S 34 E lies nowhere near North America; it is recorded before it is mended.
    found = settled("77 00.000 S 034 00.000 E", frame="WGS 84", epoch=2026.5)
    assert found.home.position.lat_deg == pytest.approx(-77.0, abs=1e-3)
    assert found.home.position.lon_deg == pytest.approx(34.0, abs=1e-3)
    assert any("outside the region of NAD83(2011)" in warning for warning in found.warnings)


def test_a_slip_abroad_does_not_blur_the_others_of_its_batch():
    texts = ("34 00.0000 N 077 00.0000 W", "34 00.0000 S 077 00.0000 W")
    lines = [
        Stated(written=read_position(t), frame="WGS 84", epoch=2026.5, r95_m=1.5, at=NOON) for t in texts
    ]
    near, far = settle_all(lines, a_programme())
    assert isinstance(near, Settled)
    assert isinstance(far, Settled)
    assert near.home.position.r95_m == settle(lines[0], a_programme()).home.position.r95_m
    assert (near.warnings, len(far.warnings)) == ((), 1)


@pytest.mark.parametrize("epoch", [26.5, 1_790_000_000.0, 61000.0])
def test_an_epoch_that_is_no_year_is_refused(epoch):
    with pytest.raises(FrameError, match="decimal year"):
        settled(frame="ITRF2020", epoch=epoch)


def test_digits_that_were_not_written_widen_the_doubt():
    # 0.001' is 1.85 m of latitude (one minute of arc at 34 N: 1849 m), a tenth of a minute 185 m.
    fine, usual, coarse = (
        settled(text, r95_m=0.2).home.position.r95_m
        for text in ("34 00.0000 N 077 00.0000 W", "34 00.000 N 077 00.000 W", "34 00.0 N 077 00.0 W")
    )
    assert fine == pytest.approx(0.2, rel=0.2)
    assert 0.8 < usual < 1.3
    assert 80.0 < coarse < 130.0
    assert any(
        "the digits written" in sentence for sentence in settled("34 00.0 N 077 00.0 W", r95_m=0.2).basis
    )


def test_the_coarser_of_the_two_angles_decides():
    assert settled("34.0 N 77.000000 W", r95_m=0.2).home.position.r95_m > 3000


def test_whole_degrees_are_known_to_tens_of_kilometres():
    assert 30_000 < settled("34 N 77 W", r95_m=1.0).home.position.r95_m < 80_000


def test_an_unstated_accuracy_is_taken_wide_and_said():
    found = settled(r95_m=None)
    assert found.observed.r95_m == 15.0
    assert any("No accuracy was stated" in sentence for sentence in found.basis)


def test_the_doubt_of_a_geo_uri_is_its_own():
    # RFC 5870: the u parameter is in metres.
    found = settled("geo:34.000000,-77.000000;crs=wgs84;u=7.5", r95_m=None, epoch=2026.9)
    assert found.observed.r95_m == 7.5
    assert found.home.position.r95_m >= 7.5


def test_the_doubt_of_an_unspoken_datum_widens():
    plain = settled("34 00.0000 N 077 00.0000 W", r95_m=1.0).home.position.r95_m
    found = settled("34 00.0000 N 077 00.0000 W (datum unknown)", r95_m=1.0)
    assert found.home.position.r95_m > plain + 0.5


def test_home_is_never_known_better_than_the_fix():
    for frame in (None, "ITRF2020", "NAD83", "WGS 84"):
        found = settled(PRECISE, frame=frame, r95_m=0.02)
        assert found.home.position.r95_m >= 0.02
        assert found.home.accuracy_m >= 0.0
        assert found.home.software


def test_a_home_frame_across_the_180th_meridian_keeps_longitudes_below_180():
    programme = a_programme(frame="EPSG:6322", frame_epoch=2010.0)  # NAD83(PA11) reaches Midway and beyond
    found = settled("28.2000000, -177.3700000", frame="EPSG:6322", programme=programme)
    assert -180 <= found.home.position.lon_deg < 180


def a_batch():
    texts = [
        ("33.0000000, -78.0000000", "WGS 84", 2026.9),
        ("33.0000000, -78.0000000", None, None),
        ("33.0000000, -78.0000000 WGS84", "EPSG:6318", None),
        ("34 00.000 N 077 00.000 W", "NAD27", None),
        ("78 00.000 S 033 00.000 E", "WGS 84", 2026.9),
        ("33.5000000, -78.0000000", "WGS 84", 2026.9),
        ("33.0000000, -78.0000000", "nowhere", None),
        ("33.0000000, -78.0000000", "WGS 84", None),
    ]
    return [Stated(written=read_position(t), frame=f, epoch=e, r95_m=1.5, at=NOON) for t, f, e in texts]


def test_one_bad_position_does_not_take_the_others_with_it():
    answers = settle_all(a_batch(), a_programme())
    good = [isinstance(answer, Settled) for answer in answers]
    assert good == [True, True, False, False, True, True, False, True]
    assert isinstance(answers[3], MissingGridError)


def test_many_are_settled_as_each_would_be_alone():
    for stated, together in zip(a_batch(), settle_all(a_batch(), a_programme()), strict=True):
        if isinstance(together, LeadlineError):
            with pytest.raises(type(together)):
                settle(stated, a_programme())
            continue
        alone = settle(stated, a_programme())
        assert alone.home.position.lat_deg == pytest.approx(together.home.position.lat_deg, abs=1e-12)
        assert alone.home.position.lon_deg == pytest.approx(together.home.position.lon_deg, abs=1e-12)
        assert alone.observed == together.observed
        assert math.isclose(alone.home.position.r95_m, together.home.position.r95_m, rel_tol=0.02)


def test_nothing_is_settled_from_nothing():
    assert settle_all([], a_programme()) == []
