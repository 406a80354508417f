"""A position derived step by step: what enters, what decides, what is refused."""

import json
import math
from typing import Any

import numpy as np
import pytest

from registry.actions.derive_survey import derive_survey
from registry.errors import (
    AmbiguousPositionError,
    FrameError,
    InvalidRecordError,
    NotFoundError,
    QuantityError,
)
from registry.formats.written_position import read_position
from registry.measure.geodesic import direct, inverse
from registry.measure.offsets import body_to_level
from registry.records.derivation import Derivation, Step
from registry.records.fix import FixTable, LogAccount
from registry.records.survey import (
    AcousticFix,
    Bearing,
    Buoy,
    Current,
    Descent,
    FixedPoint,
    LeverArm,
    LoggedFixes,
    MarkRange,
    Sighting,
    Survey,
)

LON, LAT = -77.335, 34.02
START_S = 1781447400.0  # 2026-06-14T14:30:00Z


def table(n=300, quality=2, *, east=None, north=None, heading=np.nan, sigma=np.nan, lon=LON, lat=LAT):
    rng = np.random.default_rng(4)
    east = rng.normal(size=n) * 0.4 if east is None else east
    north = rng.normal(size=n) * 0.4 if north is None else north
    lons, lats = direct(lon, lat, np.degrees(np.arctan2(east, north)), np.hypot(east, north))
    column = np.full(n, np.nan)
    return FixTable(
        time_s=START_S + np.arange(n),
        lon_deg=lons,
        lat_deg=lats,
        quality=np.broadcast_to(np.asarray(quality, dtype=np.int64), n).copy(),
        satellites=np.full(n, 12),
        hdop=column + 0.8,
        sigma_east_m=np.full(n, sigma),
        sigma_north_m=np.full(n, sigma),
        heading_deg=np.broadcast_to(np.asarray(heading, dtype=float), n).copy(),
        resolution_min=np.full(n, 1e-5),
        file=np.zeros(n, dtype=np.int64),
        offset=np.arange(n),
    )


def survey(fixes=None, receiver="sbas", **rest):
    fixes = table() if fixes is None else fixes
    logged = LoggedFixes(fixes=fixes, account=LogAccount(), receiver=receiver)
    return Survey(frame="EPSG:4326", logged=logged, **rest)


def rows(derived):
    return {row.source: row.size_m for row in derived.budget}


def away_m(derived, lon, lat):
    return float(inverse(derived.position.lon_deg, derived.position.lat_deg, lon, lat)[0])


def test_fixes_alone():
    derived = derive_survey(survey())
    assert away_m(derived, LON, LAT) < 0.2
    assert derived.position.r95_m > 3.0
    assert rows(derived)["receiver, class sbas"] == pytest.approx(3.0)
    assert derived.position.epoch == pytest.approx(2026.45, abs=0.01)
    assert not derived.warnings
    (average,) = [step for step in derived.steps if step.name == "average"]
    assert "median" in average.sentence
    assert "Huber" in average.sentence
    assert average.figures["n"] == 300
    json.dumps(derived.as_json(), allow_nan=False)


def test_the_class_is_never_beaten_however_many_fixes():
    for n in (1, 10, 3000):
        assert derive_survey(survey(table(n))).position.r95_m >= 3.0


def test_a_quality_worse_than_the_class_decides():
    derived = derive_survey(survey(table(quality=5), receiver="rtk"))
    assert rows(derived)["receiver, class float"] == pytest.approx(1.0)
    assert any("float" in warning for warning in derived.warnings)


def test_the_receivers_own_figure_counts_where_it_is_worse():
    derived = derive_survey(survey(table(quality=4, sigma=0.5), receiver="rtk"))
    assert rows(derived)["receiver, as it states itself (GST)"] == pytest.approx(0.5 * 2.4477, abs=1e-3)


def test_fixed_is_kept_apart_from_float():
    quality = np.where(np.arange(300) < 200, 4, 5)
    east = np.where(quality == 4, 0.0, 3.0)
    derived = derive_survey(survey(table(quality=quality, east=east, north=np.zeros(300)), receiver="rtk"))
    assert away_m(derived, LON, LAT) < 1e-3
    assert "RTK fixed" in next(s.sentence for s in derived.steps if s.name == "quality")
    few = np.where(np.arange(300) < 100, 4, 5)
    mixed = derive_survey(survey(table(quality=few), receiver="rtk"))
    assert rows(mixed)["receiver, class float"] == pytest.approx(1.0)
    assert any("several qualities" in warning for warning in mixed.warnings)


def test_a_fifth_of_wild_fixes_is_told_and_survived():
    rng = np.random.default_rng(4)
    east, north = rng.normal(size=(2, 300)) * 0.4
    east[:60] += 400.0
    derived = derive_survey(survey(table(east=east, north=north)))
    assert away_m(derived, LON, LAT) < 0.6
    east[:75] += 400.0
    assert any("wild" in warning for warning in derive_survey(survey(table(east=east, north=north))).warnings)


def test_lever_arm_with_a_stated_heading():
    lever = LeverArm(
        forward_m=-14.6, starboard_m=5.1, down_m=7.8, heading_deg=237.0, roll_deg=4.0, pitch_deg=-2.5
    )
    plain = derive_survey(survey())
    derived = derive_survey(survey(lever=lever))
    lon, lat = direct(plain.position.lon_deg, plain.position.lat_deg, 40.0858, 15.6166)
    assert away_m(derived, lon, lat) < 1e-3
    assert rows(derived)["heading"] == pytest.approx(
        math.hypot(11.9479, 10.0560) * math.radians(3.0), rel=1e-3
    )
    unnoted = LeverArm(forward_m=-14.6, starboard_m=5.1, down_m=7.8, heading_deg=237.0)
    assert rows(derive_survey(survey(lever=unnoted)))["roll and pitch"] > rows(derived)["roll and pitch"]


def test_a_swinging_vessel_is_taken_to_the_hook_fix_by_fix():
    """The hook stands still at LON, LAT while the antenna goes round it on 10 m."""
    heading = np.linspace(-40.0, 60.0, 300) % 360.0
    arm_east, arm_north, _ = body_to_level(10.0, 0.0, 0.0, heading_deg=heading)
    fixes = table(east=-arm_east, north=-arm_north, heading=heading)
    derived = derive_survey(survey(fixes, lever=LeverArm(forward_m=10.0, starboard_m=0.0, down_m=0.0)))
    assert away_m(derived, LON, LAT) < 1e-3
    assert rows(derived)["scatter of the fixes"] < 1e-3
    assert rows(derive_survey(survey(fixes)))["scatter of the fixes"] > 5.0


def test_no_heading_is_no_lever_arm():
    with pytest.raises(QuantityError, match="no heading"):
        derive_survey(survey(lever=LeverArm(forward_m=10.0, starboard_m=0.0, down_m=0.0)))


def test_drift_buoy_and_acoustic_lead_on():
    plain = derive_survey(survey()).position
    current = Current(speed_mps=0.5, toward_deg=120.0)
    fallen = derive_survey(survey(descent=Descent(depth_m=20.0, fall_speed_mps=2.0), current=current))
    lon, lat = direct(plain.lon_deg, plain.lat_deg, 120.0, 5.0)
    assert away_m(fallen, lon, lat) < 1e-3
    unseen = derive_survey(survey(descent=Descent(depth_m=20.0, fall_speed_mps=2.0)))
    assert away_m(unseen, plain.lon_deg, plain.lat_deg) < 1e-3
    assert any("No current" in warning for warning in unseen.warnings)
    buoyed = derive_survey(survey(buoy=Buoy(depth_m=20.0, line_m=25.0), current=current))
    lon, lat = direct(plain.lon_deg, plain.lat_deg, 300.0, 7.5)
    assert away_m(buoyed, lon, lat) < 1e-3
    heard = AcousticFix(slant_m=20.0, bearing=Bearing(degrees=90.0, reference="true"), depression_deg=60.0)
    lon, lat = direct(plain.lon_deg, plain.lat_deg, 90.0, 10.0)
    assert away_m(derive_survey(survey(acoustic=heard)), lon, lat) < 1e-3
    for derived in (fallen, unseen, buoyed):
        assert derived.position.r95_m > plain.r95_m


def test_a_bearing_relative_to_the_bow_needs_the_heading():
    heard = AcousticFix(
        slant_m=20.0, bearing=Bearing(degrees=30.0, reference="relative"), depression_deg=60.0
    )
    with pytest.raises(QuantityError, match="heading"):
        derive_survey(survey(acoustic=heard))
    lever = LeverArm(forward_m=0.0, starboard_m=0.0, down_m=0.0, heading_deg=60.0)
    derived = derive_survey(survey(acoustic=heard, lever=lever))
    plain = derive_survey(survey()).position
    lon, lat = direct(plain.lon_deg, plain.lat_deg, 90.0, 10.0)
    assert away_m(derived, lon, lat) < 1e-3


MARK = FixedPoint(lon_deg=LON, lat_deg=LAT, r95_m=0.5)


def test_range_and_bearing_true_and_magnetic():
    true = Sighting(mark=MARK, range_m=23.7, bearing=Bearing(degrees=118.5, reference="true"))
    derived = derive_survey(Survey(frame="EPSG:6318", sighting=true))
    lon, lat = direct(LON, LAT, 118.5, 23.7)
    assert away_m(derived, lon, lat) < 1e-6
    assert derived.position.epoch == 2010.0
    magnetic = Sighting(mark=MARK, range_m=23.7, bearing=Bearing(degrees=118.5, reference="magnetic"))
    by_model = derive_survey(Survey(frame="EPSG:6318", sighting=magnetic, epoch=2026.5))
    stated = derive_survey(Survey(frame="EPSG:6318", sighting=magnetic, variation_east_deg=-9.9))
    lon, lat = direct(LON, LAT, 118.5 - 9.9, 23.7)
    assert away_m(stated, lon, lat) < 1e-6
    assert away_m(by_model, lon, lat) < 0.1
    with pytest.raises(QuantityError, match="year"):
        derive_survey(Survey(frame="EPSG:6318", sighting=magnetic))


def test_a_mark_written_with_few_digits_is_in_doubt_by_them():
    written = read_position("34 01.250 N 077 20.110 W")
    mark = FixedPoint(lon_deg=written.lon_deg, lat_deg=written.lat_deg, r95_m=0.5, written=written)
    sighting = Sighting(mark=mark, range_m=23.7, bearing=Bearing(degrees=118.5, reference="true"))
    derived = derive_survey(Survey(frame="EPSG:6318", sighting=sighting))
    assert rows(derived)["digits of the mark"] == pytest.approx(1.03, abs=0.02)


def test_ranges():
    lons, lats = direct(LON, LAT, [300.0, 40.0, 170.0], [80.0, 60.0, 90.0])
    marks = [FixedPoint(lon_deg=a, lat_deg=b, r95_m=0.3) for a, b in zip(lons, lats, strict=True)]
    ranges = tuple(MarkRange(mark=m, range_m=r) for m, r in zip(marks, (80.0, 60.0, 90.0), strict=True))
    three = derive_survey(Survey(frame="EPSG:6318", ranges=ranges))
    assert away_m(three, LON, LAT) < 1e-6
    with pytest.raises(AmbiguousPositionError) as caught:
        derive_survey(Survey(frame="EPSG:6318", ranges=ranges[:2]))
    assert len(caught.value.readings) == 2
    two = derive_survey(Survey(frame="EPSG:6318", ranges=ranges[:2], near=(LON + 0.0001, LAT)))
    assert away_m(two, LON, LAT) < 1e-6
    assert any("cannot check" in warning for warning in two.warnings)
    bad = (*ranges[:2], MarkRange(mark=marks[2], range_m=104.0))
    assert any("contradict" in w for w in derive_survey(Survey(frame="EPSG:6318", ranges=bad)).warnings)


def test_the_budget_adds_up_and_its_steps_can_be_walked_again():
    lever = LeverArm(forward_m=-14.6, starboard_m=5.1, down_m=7.8, heading_deg=237.0)
    derived = derive_survey(
        survey(
            lever=lever,
            descent=Descent(depth_m=20.0, fall_speed_mps=2.0),
            current=Current(speed_mps=0.3, toward_deg=90.0),
        )
    )
    assert math.fsum(row.share for row in derived.budget) == pytest.approx(1.0)
    assert derived.position.r95_m >= max(row.size_m for row in derived.budget)
    at = [step for step in derived.steps if step.lat_deg is not None]
    assert (at[-1].lon_deg, at[-1].lat_deg) == (derived.position.lon_deg, derived.position.lat_deg)
    before, drift = at[-2], at[-1]
    figures: dict[str, Any] = dict(drift.figures)
    east, north = figures["east_m"], figures["north_m"]
    assert before.lon_deg is not None
    assert before.lat_deg is not None
    lon, lat = direct(
        before.lon_deg, before.lat_deg, math.degrees(math.atan2(east, north)), math.hypot(east, north)
    )
    assert (float(lon), float(lat)) == pytest.approx((drift.lon_deg, drift.lat_deg), abs=1e-12)


def test_across_the_180th_meridian():
    derived = derive_survey(survey(table(lon=180.0, lat=-17.0)))
    assert away_m(derived, 180.0, -17.0) < 0.2


def test_what_cannot_be_derived():
    with pytest.raises(NotFoundError, match="No usable fix"):
        derive_survey(survey(FixTable()))
    with pytest.raises(QuantityError, match="class"):
        derive_survey(survey(receiver="best"))
    with pytest.raises(FrameError):
        derive_survey(Survey(frame="nowhere", logged=survey().logged))
    sighting = Sighting(mark=MARK, range_m=1.0, bearing=Bearing(degrees=1.0, reference="true"))
    with pytest.raises(QuantityError, match="when this was measured"):
        derive_survey(Survey(frame="EPSG:4326", sighting=sighting))


@pytest.mark.parametrize(
    "make",
    [
        lambda: Survey(frame="EPSG:4326"),
        lambda: survey(
            sighting=Sighting(mark=MARK, range_m=1.0, bearing=Bearing(degrees=1.0, reference="true"))
        ),
        lambda: survey(buoy=Buoy(depth_m=1, line_m=2), descent=Descent(depth_m=1, fall_speed_mps=1)),
        lambda: survey(current=Current(speed_mps=1.0, toward_deg=0.0)),
        lambda: survey(variation_east_deg=math.nan),
        lambda: survey(epoch=math.inf),
        lambda: Bearing(degrees=400.0, reference="true"),
        lambda: Bearing(degrees=4.0, reference="grid"),  # type: ignore[arg-type]
        lambda: LeverArm(forward_m=math.nan, starboard_m=0.0, down_m=0.0),
        lambda: Step(name="x", sentence=""),
        lambda: Step(name="x", sentence="y", lat_deg=1.0),
        lambda: Derivation(position=derive_survey(survey()).position, steps=(), budget=()),
    ],
)
def test_what_contradicts_itself(make):
    with pytest.raises(InvalidRecordError):
        make()
