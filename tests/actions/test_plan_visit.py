"""A visit: the way, the water, the light, what was seen, and whose words are whose."""

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from typing import Any

import pytest
from geographiclib.geodesic import Geodesic

from registry.actions.choose_publication import declare_publication
from registry.actions.locate_module import locate_module
from registry.actions.plan_visit import plan_visit
from registry.actions.tell_visitors import tell_visitors, told_visitors
from registry.actions.tide_day import tide_day
from registry.errors import ConflictError, FrameError, InvalidRecordError, NotFoundError
from registry.formats.written_position import read_position
from registry.measure.movement import Motion
from registry.records.publication import Publication
from registry.records.visit import Visit
from tests.builders import (
    ACTOR,
    a_memorial,
    a_module,
    a_placement,
    a_programme,
    a_resurvey,
    a_stocked_registry,
    many_placements,
    module_amended,
    placement_logged,
    placement_resurveyed,
)
from tests.fakes import FixedClock, MemoryRegister
from tests.tide_builders import a_station

DAY = date(2026, 6, 14)
INLET = read_position("33 53.1000 N 077 10.5000 W WGS 84")


@pytest.fixture
def register():
    register = MemoryRegister(a_programme(), actor=ACTOR, clock=FixedClock(step_s=1.0))
    register.append(a_stocked_registry())
    return register


@pytest.fixture
def placed(register):
    register.append([placement_logged()])
    return register


def visit_of(register, **changes: Any) -> Visit:
    asked: dict[str, Any] = {"day": DAY, "start_name": "Harbour Inlet", "start": INLET} | changes
    return plan_visit(register, "MR-0001", **asked)


def test_the_course_is_the_geodesic_between_both_in_wgs84_of_the_day(placed):
    """Outside reference: geographiclib, which is another code than PROJ's."""
    visit = visit_of(placed)
    located = locate_module(placed, "MR-0001", on=datetime(2026, 6, 14, 16, tzinfo=UTC))
    assert visit.position == located.position
    line = Geodesic.WGS84.Inverse(
        visit.course.start.lat_deg, visit.course.start.lon_deg, visit.position.lat_deg, visit.position.lon_deg
    )
    assert visit.course.distance_m == pytest.approx(line["s12"], abs=0.001)
    assert visit.course.bearing_deg == pytest.approx(line["azi1"] % 360, abs=1e-6)
    # Stated in WGS 84 and asked in WGS 84 of the same day, the start comes back as it was written.
    assert visit.course.start.lat_deg == pytest.approx(INLET.lat_deg, abs=1e-8)
    assert visit.course.start.lon_deg == pytest.approx(INLET.lon_deg, abs=1e-8)


def test_a_start_without_a_frame_is_read_at_home_and_said_so(placed):
    plain = read_position("33 53.1000 N 077 10.5000 W")
    at_home, stated = visit_of(placed, start=plain), visit_of(placed, start=plain, start_frame="WGS 84")
    assert any("home frame" in sentence for sentence in at_home.course.basis)
    moved = Geodesic.WGS84.Inverse(
        at_home.course.start.lat_deg, at_home.course.start.lon_deg,
        stated.course.start.lat_deg, stated.course.start.lon_deg,
    )["s12"]  # fmt: skip
    assert 0.5 < moved < 3.0
    with pytest.raises(FrameError):
        visit_of(placed, start=plain, start_frame="EPSG:1")


def test_the_magnetic_bearing_is_the_true_one_less_the_variation_east(placed):
    course = visit_of(placed).course
    assert course.variation_east_deg is not None
    assert course.variation_east_deg < 0
    assert course.magnetic_deg == pytest.approx(course.bearing_deg - course.variation_east_deg)
    later = visit_of(placed, day=date(2056, 6, 14)).course
    assert later.magnetic_deg is None
    assert "No magnetic model" in later.no_variation


def test_the_water_is_the_chart_plus_the_tide_and_its_doubts_add_by_their_squares(placed):
    station = a_station()
    visit = visit_of(placed, station=station)
    tide = tide_day(station, DAY, zone="America/New_York", datum="MLLW")
    assert [each.at for each in visit.expected] == [turn.at for turn in tide.turns]
    assert {each.kind for each in visit.expected} == {"high", "low"}
    for each, turn in zip(visit.expected, tide.turns, strict=True):
        assert each.depth.value_m == pytest.approx(20.36 + turn.height_m)
        assert each.over.value_m == pytest.approx(20.36 + turn.height_m - 1.2)
        assert each.depth.u95_m == pytest.approx((0.4**2 + tide.u95_m**2) ** 0.5)
        assert each.over.u95_m > each.depth.u95_m


def test_a_station_without_the_datum_of_the_permit_is_refused(placed):
    with pytest.raises(NotFoundError, match="MLLW"):
        visit_of(placed, station=a_station(datums={"MSL": 1.02, "LAT": 0.1}, chart_datum="LAT"))


def test_what_nobody_measured_is_not_made_up(register):
    register.append([placement_logged(a_placement(charted_depth_m=None, depth_u95_m=None))])
    visit = visit_of(register, station=a_station())
    assert (visit.charted, visit.charted_over, visit.expected) == (None, None, ())
    assert any("Nobody measured the depth" in note for note in visit.notes)


def test_surveys_up_to_the_day_are_told_newest_first_with_their_notes(placed):
    reference = placed.placement_ids("MR-0001")[0]
    for days, note, motion in (
        (30, "two wrasse", Motion.NOT_SHOWN),
        (60, "half in sand", Motion.INCONCLUSIVE),
    ):
        made = a_resurvey(
            placement_id=reference, observed_at=datetime(2026, 6, 1, tzinfo=UTC) + timedelta(days), note=note
        )
        placed.append([placement_resurveyed(replace(made, movement=replace(made.movement, verdict=motion)))])
    assert visit_of(placed).seen == ()
    assert [seen.note for seen in visit_of(placed, day=date(2026, 7, 15)).seen] == ["two wrasse"]
    assert [seen.note for seen in visit_of(placed, day=date(2027, 7, 15)).seen] == [
        "half in sand",
        "two wrasse",
    ]


def test_a_name_is_shown_with_consent_or_to_the_family_alone(placed):
    for listed, asked, shown, private in (
        (True, False, True, False),
        (True, True, True, False),
        (False, False, False, False),
        (False, True, True, True),
    ):
        module = a_module(memorial=a_memorial(consent_listed=listed))
        placed.append([module_amended(module)])
        visit = visit_of(placed, for_family=asked)
        assert (bool(visit.name), visit.private) == (shown, "for the family" if private else "")


def test_where_the_programme_publishes_sites_alone_no_neighbour_is_drawn(register):
    register.append([placement_logged(each) for each in many_placements(3)])
    declare_publication(register, Publication(sites_only=True), actor=ACTOR)
    visit = visit_of(register)
    assert visit.plan.others == ()
    assert "does not publish exact positions" in visit.private


def test_the_plan_has_every_other_module_near_and_none_of_their_names(register):
    register.append([placement_logged(each) for each in many_placements(3)])
    visit = visit_of(register)
    assert sorted(tag for tag, _, _ in visit.plan.others) == ["MR-0002", "MR-0003"]
    assert len(visit.plan.rings) == 1


@pytest.mark.parametrize(
    ("lat", "words"), [(34.0, "gannet-patch"), (34.0115, "near gannet-patch"), (34.03, "2.2 km from")]
)
def test_a_module_outside_its_area_is_never_said_to_lie_in_it(register, lat, words):
    register.append([placement_logged(a_placement(lat_deg=lat))])
    assert visit_of(register).reef.startswith(words)


def test_a_module_in_two_places_or_none_has_no_sheet(register):
    with pytest.raises(NotFoundError):
        visit_of(register)
    register.append([placement_logged(), placement_logged(a_placement(lon_deg=-77.001))])
    with pytest.raises(ConflictError):
        visit_of(register)


def test_the_programmes_words_hold_for_its_permit_and_the_last_one_stands(placed):
    tell: dict[str, Any] = {"permit": None, "young_reef": None, "rules": None, "actor": ACTOR}
    assert (visit_of(placed).young_reef, visit_of(placed).rules) == ("", "")
    tell_visitors(placed, **tell | {"young_reef": "Wait two summers.", "rules": "No anchors."})
    tell_visitors(placed, **tell | {"rules": "No anchors, no nets."})
    visit = visit_of(placed)
    assert (visit.young_reef, visit.rules) == ("Wait two summers.", "No anchors, no nets.")
    tell_visitors(placed, **tell | {"permit": "HB-0417", "rules": "Ask first."})
    assert (visit_of(placed).young_reef, visit_of(placed).rules) == ("", "Ask first.")
    tell_visitors(placed, **tell | {"permit": "HB-0417", "rules": ""})
    assert told_visitors(placed)["HB-0417"].rules == ""


def test_words_that_say_nothing_or_show_otherwise_are_refused(placed):
    tell: dict[str, Any] = {"permit": None, "young_reef": None, "rules": None, "actor": ACTOR}
    length = placed.journal_length()
    with pytest.raises(InvalidRecordError, match="Nothing is told"):
        tell_visitors(placed, **tell)
    with pytest.raises(NotFoundError):
        tell_visitors(placed, **tell | {"permit": "XX", "rules": "x"})
    with pytest.raises(InvalidRecordError, match="characters"):
        tell_visitors(placed, **tell | {"rules": "x" * 601})
    assert placed.journal_length() == length


def test_an_expired_permit_and_a_visit_before_the_placement_are_told(placed):
    assert any("ends on 2034-04-30" in note for note in visit_of(placed, day=date(2056, 6, 14)).notes)
    assert any("may not have been there" in note for note in visit_of(placed, day=date(2026, 5, 1)).notes)
