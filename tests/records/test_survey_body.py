"""Surveys and soundings as the journal keeps them, and back to the last bit."""

import json
from datetime import UTC, datetime

import pytest

from registry.errors import InvalidRecordError
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
from registry.records.fix import FixTable, LogAccount
from registry.records.quantity import Quantity
from registry.records.sounding import Sounding, reading_body, reading_from_body, tide_body, tide_from_body
from registry.records.survey import (
    AcousticFix,
    Bearing,
    Buoy,
    Current,
    Descent,
    FixedPoint,
    LeverArm,
    LogFile,
    LoggedFixes,
    MarkRange,
    Sighting,
    Survey,
)
from registry.records.survey_body import survey_body, survey_from_body
from registry.records.tide_height import TideHeight
from registry.records.written_position import WrittenAngle, WrittenPosition

WRITTEN = WrittenPosition(
    text="34 01.250 N 077 20.110 W",
    lat_deg=34.02083333,
    lon_deg=-77.33516667,
    notation="ddm",
    resolution_lat_deg=1 / 60000,
    resolution_lon_deg=1 / 60000,
    warnings=("look again",),
    angles=(
        WrittenAngle(degrees="34", minutes="01.250", hemisphere="N"),
        WrittenAngle(degrees="077", minutes="20.110", hemisphere="W"),
    ),
)
MARK = FixedPoint(lon_deg=-77.3, lat_deg=34.0, r95_m=0.3, name="the beacon", written=WRITTEN)
BARE = FixedPoint(lon_deg=-77.31, lat_deg=34.01, r95_m=0.1)
DEPTH = Quantity(value=0.1 + 0.2, dimension="length", written="0.3 m", resolution=0.1)


@pytest.mark.parametrize(
    "survey",
    [
        Survey(
            frame="EPSG:6318",
            sighting=Sighting(mark=MARK, range_m=23.7, bearing=Bearing(degrees=118.5, reference="magnetic")),
            variation_east_deg=-9.1,
            descent=Descent(depth_m=18.0, fall_speed_mps=2.0),
            current=Current(speed_mps=0.5, toward_deg=120.0),
        ),
        Survey(
            frame="EPSG:4326",
            epoch=2026.45,
            ranges=(MarkRange(mark=MARK, range_m=100.0), MarkRange(mark=BARE, range_m=120.0)),
            near=(-77.3, 34.0),
            acoustic=AcousticFix(
                slant_m=20.0, bearing=Bearing(degrees=30, reference="true"), depression_deg=60.0
            ),
        ),
        Survey(
            frame="EPSG:6318",
            ranges=(MarkRange(mark=BARE, range_m=1 / 3), MarkRange(mark=MARK, range_m=120.0)),
            buoy=Buoy(depth_m=18.0, line_m=25.0),
        ),
    ],
)
def test_a_survey_comes_back_from_json_as_it_was(survey):
    assert survey_from_body(json.loads(json.dumps(survey_body(survey), allow_nan=False))) == survey


def test_fixes_are_kept_as_window_files_and_sentences():
    logged = LoggedFixes(
        fixes=FixTable(), account=LogAccount(), receiver="sbas", window="all", start_s=1.5, end_s=None,
        files=(LogFile(name="day.nmea", sha256="ab" * 32),), sentences=("$GPGGA",), day="2026-06-14",
    )  # fmt: skip
    arm = LeverArm(forward_m=-4.2, starboard_m=1.5, down_m=3.0)
    survey = Survey(frame="EPSG:4326", logged=logged, lever=arm)
    body = json.loads(json.dumps(survey_body(survey), allow_nan=False))
    again = survey_from_body(body, fixes=FixTable())
    assert survey_body(again) == body
    assert again.logged is not None
    assert (again.lever, again.logged.files, again.logged.day) == (arm, logged.files, "2026-06-14")
    assert body["lever"]["heading_u95_deg"] == 3.0  # doubts that were taken are kept, not only those stated


@pytest.mark.parametrize(
    "reading",
    [
        *(
            EchoSounding(
                depth=DEPTH, counts_from="waterline", set_speed_mps=1500.0, set_draft_m=0.5, draft_m=0.7,
                sound=sound,
            )
            for sound in (
                SpeedOfSound(speed_mps=1536.0, u95_mps=2.0, method="bar check"),
                WaterSample(temperature_c=22.5, salinity=35.1),
                SoundCast(depths_m=(0.0, 9.0), speeds_mps=(1530.0, 1524.0), equation="measured", source="c"),
            )
        ),
        GaugeReading(depth=DEPTH, setting="EN 13319"),
        LeadLineSounding(depth=DEPTH, read_above_water_m=1.5),
        PressureReading(pressure_dbar=30.2, air_dbar=10.13),
        ChartSounding(depth=DEPTH, datum="MLLW", zone_of_confidence="B"),
    ],
)  # fmt: skip
def test_a_reading_comes_back_from_json_as_it_was(reading):
    assert reading_from_body(json.loads(json.dumps(reading_body(reading), allow_nan=False))) == reading


@pytest.mark.parametrize(("kind", "at"), [("stated", None), ("observed", datetime(2026, 6, 14, tzinfo=UTC))])
def test_a_tide_comes_back_from_json_as_it_was(kind, at):
    tide = TideHeight(
        kind=kind, at=at, height_m=0.62, datum="MLLW", source="pier",
        terms=(BudgetTerm(source="tide", u95_m=0.3), BudgetTerm(source="digits", u95_m=0.005)),
    )  # fmt: skip
    assert tide_from_body(json.loads(json.dumps(tide_body(tide)))) == tide


def test_a_tide_is_stated_or_found_and_its_doubt_needs_it():
    reading = GaugeReading(depth=DEPTH, setting="msw")
    at = datetime(2026, 6, 14, tzinfo=UTC)
    with pytest.raises(InvalidRecordError, match="no tide"):
        Sounding(reading=reading, written="0.3 m", at=at, tide_u95=DEPTH)
