"""The public view: WGS 84 at the epoch of issue, names only with consent, nothing private at all."""

from dataclasses import replace
from datetime import UTC, date, datetime

import pytest
from pyproj import Geod
from shapely import Polygon, get_coordinates

from registry.actions.publish_site import nearest_area, publish_site
from registry.actions.tell_visitors import tell_visitors
from registry.formats.written_position import read_position
from registry.measure.movement import Motion
from registry.records.module import Memorial
from tests.actions.stocked import a_register, logged
from tests.builders import a_module, a_permit, a_resurvey, an_area, placement_resurveyed
from tests.rules.one_case import a_square, a_table

GRS80 = Geod(ellps="GRS80")
NOW = datetime(2026, 11, 24, 2, 0, tzinfo=UTC)
LISTED, PRIVATE = "Zoë Quill", "Perdita Unlisted"


def a_site():
    register = a_register(
        modules=[
            a_module(tag="MR-0001", memorial=Memorial(name=LISTED, consent_listed=True)),
            a_module(tag="MR-0002", memorial=Memorial(name=PRIVATE)),
            a_module(tag="MR-0003"),
            a_module(tag="MR-0004", memorial=Memorial(name="Never Placed", consent_listed=True)),
        ]
    )
    logged(register, "MR-0001", crew="Ada Secretary", note="the widow was aboard", vessel="Sanderling")
    logged(register, "MR-0002", "34 00.1000 N 077 00.0000 W", note=f"ashes of {PRIVATE}")
    logged(register, "MR-0003", "34 00.2000 N 077 00.0000 W", depth=None, depth_u95=None)
    return register


def test_a_name_is_shown_only_with_consent():
    site = publish_site(a_site(), now=NOW)
    assert [(module.tag, module.name) for module in site.modules] == [
        ("MR-0001", LISTED),
        ("MR-0002", None),
        ("MR-0003", None),
    ]


@pytest.mark.parametrize(
    "word", ["Perdita", "Unlisted", "Never Placed", "Secretary", "widow", "Sanderling", "ashes"]
)
def test_nothing_private_is_anywhere_in_it(word):
    assert word not in repr(publish_site(a_site(), now=NOW))


def test_positions_are_wgs84_at_the_epoch_of_issue():
    # NAD83(2011) 33 N 78 W is 33.0000076810 N 78.0000069337 W in ITRF2020 at 2026.9, 1.0703 m toward 322.74
    # (EPSG:10334, by PROJ 9.5.1 and independently from its fourteen parameters).
    register = a_register(keep_outs=False)
    logged(register, position="33.00000000, -78.00000000")
    site = publish_site(register, now=NOW)
    (module,) = site.modules
    assert (module.lat_deg, module.lon_deg) == pytest.approx((33.0000076810, -78.0000069337), abs=2e-10)
    azimuth, _, away_m = GRS80.inv(-78.0, 33.0, module.lon_deg, module.lat_deg)
    assert away_m == pytest.approx(1.0703, abs=1e-4)
    assert azimuth % 360 == pytest.approx(322.74, abs=0.01)
    assert site.epoch == 2026.9
    assert site.issued_on == date(2026, 11, 23)  # the evening before, in New York


def test_areas_and_keep_outs_move_with_their_modules():
    site = publish_site(a_site(), now=NOW)
    corner = get_coordinates(site.areas[0].shape)
    nearest = min(GRS80.inv(-77.01, 33.99, lon, lat)[2] for lon, lat in corner)
    assert nearest == pytest.approx(1.07, abs=0.03)
    end = get_coordinates(site.keep_outs[0].shape)[0]
    assert GRS80.inv(-76.98, 33.95, *end)[2] == pytest.approx(1.07, abs=0.03)


def test_what_nobody_measured_is_none():
    module = publish_site(a_site(), now=NOW).modules[2]
    assert (module.charted_depth_m, module.depth_u95_m) == (None, None)
    assert module.relief_m == 1.2


def test_the_day_is_that_of_the_site():
    register = a_register()
    logged(register, placed_at=datetime(2026, 6, 2, 3, 30, tzinfo=UTC))
    assert publish_site(register, now=NOW).modules[0].placed_on == date(2026, 6, 1)


def test_a_registry_without_modules_or_permits_has_a_public_view_too():
    assert publish_site(a_register(), now=NOW).modules == ()
    site = publish_site(a_register(permits=[], keep_outs=False), now=NOW)
    assert (site.areas, site.keep_outs, site.chart_datum) == ((), (), "")


def test_across_the_180th_meridian_longitudes_stay_below_180():
    permit = a_permit(areas=(an_area(shape=a_square(179.99, 52.0, 2000.0)),), conditions=())
    register = a_register(permits=[permit], keep_outs=False)
    logged(register, "MR-0001", "52 00.0000 N 179 59.9999 E")
    logged(register, "MR-0002", "52 00.0000 N 179 59.9999 W")
    site = publish_site(register, now=NOW)
    assert all(-180 <= module.lon_deg < 180 for module in site.modules)
    assert site.areas[0].shape.bounds[2] - site.areas[0].shape.bounds[0] < 0.2


def test_each_module_is_named_with_the_area_of_its_own_permit():
    permits = [
        a_permit(
            areas=(
                an_area(area_id="a", shape=a_square(-77.0, 34.0)),
                an_area(area_id="b", shape=a_square(-77.1, 34.0)),
            )
        ),
        a_permit(number="TN-0033", areas=(an_area(area_id="c"),)),
    ]
    table = a_table(
        4, lon_deg=[-77.0, -77.09, -77.0, -77.0], permit=["HB-0417", "HB-0417", "TN-0033", "gone"]
    )
    assert nearest_area(table, permits) == ["a", "b", "c", ""]


def test_an_area_tells_its_permit_corners_and_conditions():
    # The corners of the stocked permit are drawn, so they come from the recorded shape: 33.99 N, 77.01 W first.
    site = publish_site(a_site(), now=NOW, read_position=read_position)
    (area,) = site.areas
    permit = a_register().permits()[0]
    assert (area.authority, area.chart_datum) == (permit.authority, permit.chart_datum)
    assert (area.valid_from, area.valid_to) == (permit.valid_from, permit.valid_to)
    assert [each.cite for each in area.conditions] == [each.cite for each in permit.conditions]
    assert [corner.number for corner in area.corners] == [1, 2, 3, 4]
    away = [GRS80.inv(corner.lon_deg, corner.lat_deg, -77.01, 33.99)[2] for corner in area.corners]
    assert min(away) == pytest.approx(1.07, abs=0.03)
    assert publish_site(a_site(), now=NOW).areas[0].corners == ()


def test_corners_that_the_permit_writes_keep_its_words_and_digits():
    written = "34 01.400 N 077 20.400 W; 34 01.400 N 077 19.800 W; 34 01.050 N 077 19.750 W"
    shape = Polygon([(-77.34, 34.0233333), (-77.33, 34.0233333), (-77.3291667, 34.0175)])
    permit = a_permit(areas=(an_area(shape=shape, written=written),), conditions=())
    site = publish_site(a_register(permits=[permit]), now=NOW, read_position=read_position)
    corners = site.areas[0].corners
    assert [corner.written for corner in corners] == written.split("; ")
    # A thousandth of a minute is 1.86 m; the move to WGS 84 is about 1.1 m and loses none of it.
    assert all(1.8 < corner.resolution_m < 2.5 for corner in corners)
    assert GRS80.inv(-77.34, 34.0233333, corners[0].lon_deg, corners[0].lat_deg)[2] < 1.2


def test_least_clearance_is_told_only_where_every_depth_is_known():
    register = a_register()
    logged(register, "MR-0001", depth="20 m", depth_u95="0.3 m")
    logged(register, "MR-0002", "34 00.1000 N 077 00.0000 W", depth="20.2 m", depth_u95="2 m")
    (area,) = publish_site(register, now=NOW).areas
    height_m = 1.2
    assert area.clearance is not None
    assert area.clearance.value_m == pytest.approx(20.0 - height_m)
    # The second is deeper, but may reach up to about 17 m, less well known as it is.
    assert area.clearance.value_m - area.clearance.u95_m == pytest.approx(20.2 - height_m - 2.0, abs=0.01)
    logged(register, "MR-0003", "34 00.2000 N 077 00.0000 W", depth=None, depth_u95=None)
    assert publish_site(register, now=NOW).areas[0].clearance is None


def test_the_programme_s_word_to_visitors_stands_with_its_areas():
    register = a_site()
    said = "Ask the harbour office."
    tell_visitors(register, permit=None, rules=said, young_reef=None, actor="Ada Secretary")
    (area,) = publish_site(register, now=NOW).areas
    assert (area.rules, area.young_reef) == ("Ask the harbour office.", "")
    assert "Secretary" not in repr(area)


def test_a_module_that_moved_is_shown_where_it_was_found_and_no_depth_is_claimed_there():
    register = a_site()
    before = {module.tag: module for module in publish_site(register, now=NOW).modules}
    (identifier,) = register.placement_ids("MR-0001")
    resurvey = a_resurvey(placement_id=identifier, lon_deg=-77.0005, r95_m=0.5)
    movement = replace(resurvey.movement, verdict=Motion.MOVED, compared_with=identifier)
    register.append([placement_resurveyed(replace(resurvey, movement=movement))])
    site = publish_site(register, now=NOW)
    after = {module.tag: module for module in site.modules}
    assert after["MR-0001"].lon_deg - before["MR-0001"].lon_deg == pytest.approx(-0.0005, abs=1e-8)
    assert before["MR-0001"].charted_depth_m is not None
    assert after["MR-0001"].charted_depth_m is None
    assert after["MR-0002"] == before["MR-0002"]
