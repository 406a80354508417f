"""Records go into the journal as plain data and come back the same, to the last bit."""

import json
from datetime import date, datetime, timedelta, timezone

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import LineString, MultiPolygon, Point, Polygon

from registry.records.body import (
    baseline_body,
    baseline_from_body,
    keep_out_body,
    keep_out_from_body,
    module_body,
    module_from_body,
    permit_body,
    permit_from_body,
    placement_body,
    placement_from_body,
    programme_body,
    programme_from_body,
    target_body,
    target_from_body,
    type_body,
    type_from_body,
)
from registry.records.entry import canonical_json
from registry.records.permit import Reporting
from tests.builders import (
    a_baseline,
    a_condition,
    a_keep_out,
    a_memorial,
    a_module,
    a_permit,
    a_placement,
    a_programme,
    a_target,
    a_type,
    amended,
    an_area,
)
from tests.rules.one_case import a_square, asked, count_of, feet


def through_json(body):
    return json.loads(canonical_json(body))


HOLED = Polygon(a_square(-77.0, 34.0, 300.0).exterior.coords, [a_square(-77.0, 34.0, 20.0).exterior.coords])

SAME = [
    (a_programme(), programme_body, programme_from_body),
    (a_type(), type_body, type_from_body),
    (a_module(), module_body, module_from_body),
    (a_module(cast_on=None, mass_kg=1390.5, memorial=a_memorial()), module_body, module_from_body),
    (a_target(epoch=None), target_body, target_from_body),
    (a_baseline(shape=MultiPolygon([HOLED])), baseline_body, baseline_from_body),
    (a_permit(), permit_body, permit_from_body),
    (
        amended(
            holder="Tern Reef Trust",
            conditions=(a_condition(areas=("gannet-patch",)),),
            reporting=Reporting(
                frame="EPSG:32119", notation="dms", notice_days_before=14, notice_cite="GC 3"
            ),
        ),
        permit_body,
        permit_from_body,
    ),
    (
        a_permit(
            areas=(
                an_area(shape=HOLED),
                an_area(
                    area_id="b",
                    shape=MultiPolygon([HOLED, a_square(179.999, 52.0)]),
                    edges="rhumb",
                    epoch=None,
                ),
            ),
            conditions=(
                asked("spacing", least=feet(20), basis="centre"),
                asked("capacity", greatest_count=count_of(9)),
                asked("validity"),
            ),
        ),
        permit_body,
        permit_from_body,
    ),
    (a_keep_out(), keep_out_body, keep_out_from_body),
    (a_keep_out(shape=Point(-77.0, 34.0)), keep_out_body, keep_out_from_body),
    (
        a_keep_out(shape=LineString([(179.9, 0.1), (180.1, 0.2), (180.3, 0.1)]), epoch=None),
        keep_out_body,
        keep_out_from_body,
    ),
    (a_placement(), placement_body, placement_from_body),
    (
        a_placement(charted_depth_m=None, depth_u95_m=None, warnings=("Look again.",)),
        placement_body,
        placement_from_body,
    ),
]


@pytest.mark.parametrize(("record", "to_body", "from_body"), SAME, ids=[type(s[0]).__name__ for s in SAME])
def test_a_record_comes_back_the_same(record, to_body, from_body):
    assert from_body(through_json(to_body(record))) == record


@settings(deadline=None)
@given(st.floats(-90, 90), st.floats(-180, 179.999), st.floats(0, 1e5))
def test_a_position_comes_back_to_the_last_bit(lat_deg, lon_deg, r95_m):
    record = a_placement(lat_deg=lat_deg, lon_deg=lon_deg, r95_m=r95_m)
    assert placement_from_body(through_json(placement_body(record))) == record


@settings(deadline=None)
@given(st.datetimes(), st.integers(-14 * 60, 14 * 60))
def test_an_instant_comes_back_to_the_millisecond_whatever_its_zone(moment, offset_min):
    if not 2 < moment.year < 9998:
        return
    zone = timezone(timedelta(minutes=offset_min))
    at = moment.replace(microsecond=moment.microsecond // 1000 * 1000, tzinfo=zone)
    assert placement_from_body(through_json(placement_body(a_placement(placed_at=at)))).placed_at == at


def test_what_an_entry_says_beside_the_placement_is_left_aside():
    body = placement_body(a_placement()) | {"findings": [], "verdict": "conforming", "reason": "typo"}
    assert placement_from_body(through_json(body)) == a_placement()


def test_days_are_written_as_iso_8601():
    assert permit_body(a_permit(valid_from=date(2024, 5, 1)))["valid_from"] == "2024-05-01"
    body = placement_body(
        a_placement(placed_at=datetime(2026, 6, 1, 12, 0, tzinfo=timezone(timedelta(hours=-4))))
    )
    assert body["placed_at"] == "2026-06-01T16:00:00.000Z"
