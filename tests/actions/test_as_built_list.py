"""What was built: in the permit's own frame and notation, what is used, how shallow, and nobody's name."""

from dataclasses import replace
from datetime import timedelta

import pytest

from registry.errors import NotFoundError
from registry.measure.datum import transform
from registry.measure.decision import Verdict
from registry.measure.movement import Motion
from tests.as_built import (
    CAPACITY,
    CIRCLE,
    HEAD,
    HOLED,
    PRIVATE,
    SQUARE,
    a_list,
    a_reef,
    listed,
    reporting,
    three_placements,
    two_part_permit,
)
from tests.builders import NOON, a_placement, a_resurvey, placement_resurveyed

NAN = float("nan")


def test_corners_in_their_own_frame_are_digit_by_digit_what_the_permit_says():
    (area,) = a_list().areas
    assert [corner.written for corner in area.corners] == [
        "34 00.600 N 077 00.600 W", "34 00.600 N 076 59.400 W",
        "33 59.400 N 076 59.400 W", "33 59.400 N 077 00.600 W",
    ]  # fmt: skip
    assert [" ".join(corner.text) for corner in area.corners] == [corner.written for corner in area.corners]
    assert {corner.ring for corner in area.corners} == {"outline"}
    assert area.operation == "none: same frame"


def test_corners_in_another_frame_are_carried_there_and_the_words_stay():
    built = a_list(permit=HEAD + SQUARE + reporting(frame="EPSG:4326", notation="dd"))
    corner = built.areas[0].corners[0]
    moved = transform(-77.01, 34.01, source="EPSG:6318", target="EPSG:9990", epoch=built.epoch)
    assert (corner.lat_deg, corner.lon_deg) == pytest.approx(
        (float(moved.lat_deg), float(moved.lon_deg)), abs=1e-9
    )
    assert corner.written == "34 00.600 N 077 00.600 W"
    assert built.epoch == pytest.approx(2026.9, abs=0.01)
    assert "EPSG:10334" in built.areas[0].operation
    assert "EPSG:10334" in built.operation
    assert built.form.startswith("WGS 84 (EPSG:4326, epoch 2026.9")
    # Three decimals of a minute are 1.86 m; carried to another datum a digit more, or its shift would be lost.
    assert corner.text[0] == "34.010008 N"


def test_a_moving_frame_keeps_the_epoch_of_the_permit_for_areas_and_modules_alike():
    square = SQUARE.replace('"EPSG:6318"', '"EPSG:4326"\nepoch = 2024.5')
    built = a_list(permit=HEAD + square)
    assert (built.frame, built.epoch) == ("EPSG:4326", 2024.5)
    assert " ".join(built.areas[0].corners[0].text) == "34 00.600 N 077 00.600 W"
    moved = transform(-77.0, 34.0, source="EPSG:6318", target="EPSG:9990", epoch=2024.5)
    assert built.modules[0].lat_deg == pytest.approx(float(moved.lat_deg), abs=1e-10)


def test_modules_have_the_digits_that_their_radius_supports_and_no_more():
    sure, vague = a_list(
        a_placement(r95_m=0.05), a_placement(tag="MR-0002", r95_m=40.0, lon_deg=-77.0002)
    ).modules
    assert sure.text == ("34 00.000000 N", "077 00.000000 W")
    assert vague.text == ("34 00.000 N", "077 00.012 W")


def test_a_grid_goes_before_a_notation():
    # EPSG:6347 is NAD83(2011) / UTM zone 18N; 77 W lies 2 degrees west of its meridian.
    built = a_list(permit=HEAD + SQUARE + reporting(frame="EPSG:6347"))
    assert built.coordinate_names == ("northing (metre)", "easting (metre)")
    northing, easting = built.modules[0].text
    assert float(easting) == pytest.approx(315_276, abs=30)
    assert float(northing) == pytest.approx(3_763_900, abs=300)
    assert len(built.areas[0].corners[0].text[0].partition(".")[2]) == 1


def test_seconds_are_written_where_the_permit_asks_for_them():
    assert a_list(permit=HEAD + SQUARE + reporting(notation="dms")).modules[0].text[0] == "34 00 00.00 N"


def test_a_circle_is_its_centre_and_radius():
    built = a_list(permit=HEAD + CIRCLE)
    (area,) = built.areas
    (centre,) = area.corners
    assert (centre.ring, centre.written, area.radius) == ("centre", "34 00.000 N 077 00.000 W", "500 ft")
    assert " ".join(centre.text) == centre.written
    assert area.count == 3


def test_holes_are_rings_of_their_own():
    (area,) = a_list(permit=HEAD + HOLED).areas
    rings = [corner.ring for corner in area.corners]
    assert (rings.count("outline"), rings.count("hole 1")) == (4, 3)
    assert area.corners[-1].written == "34 00.100 N 077 00.100 W"


def test_a_drawing_of_several_parts_gives_the_corners_of_each():
    (area,) = a_list(permit=two_part_permit()).areas
    assert area.source == "twins.gpkg, layer a"
    assert {corner.ring for corner in area.corners} == {
        "part 1, outline",
        "part 2, outline",
        "part 2, hole 1",
    }
    assert len(area.corners) == 12
    assert {corner.written for corner in area.corners} == {""}
    assert {round(corner.lon_deg, 6) for corner in area.corners} >= {-77.01, -76.99, -76.994}


def test_the_least_clearance_is_that_of_the_shallowest_top():
    (area,) = a_list().areas
    assert area.clearance is not None
    assert area.clearance.tag == "MR-0002"
    assert area.clearance.value_m == pytest.approx(19.02 - 1.2)
    assert area.clearance.u95_m == pytest.approx((0.4**2 + 0.03**2) ** 0.5)
    assert area.authorised_clearance == "50 ft (Special condition 2)"
    (without_limit,) = a_list(permit=HEAD + SQUARE + CAPACITY).areas
    assert without_limit.authorised_clearance == ""


def test_a_vague_depth_beside_the_least_widens_its_doubt():
    first, second, third = three_placements()
    (area,) = a_list(first, second, replace(third, depth_u95_m=6.0)).areas
    assert area.clearance is not None
    assert area.clearance.tag == "MR-0002"
    # The third may reach up to 21.5 - 1.2 - 6.0 = 14.3 m.
    assert area.clearance.value_m - area.clearance.u95_m == pytest.approx(14.3, abs=0.01)


def test_one_module_without_depth_leaves_the_least_clearance_open():
    first, second, third = three_placements()
    built = a_list(first, replace(second, charted_depth_m=None, depth_u95_m=None), third)
    (area,) = built.areas
    assert (area.clearance, area.unmeasured) == (None, 1)
    assert any("No depth was recorded for: MR-0002" in note for note in built.notes)


def test_number_and_mass_are_held_against_what_is_authorised():
    number, mass = a_list().used
    assert (number.used, number.authorised, number.verdict) == (3, 3, Verdict.CONFORMING)
    assert (mass.used, mass.authorised, mass.cite) == (4200, 5000, "Special condition 6")
    more = [*three_placements(), a_placement(tag="MR-0004", lon_deg=-77.001)]
    number, mass = a_list(*more).used
    assert (number.verdict, mass.verdict) == (Verdict.NONCONFORMING, Verdict.NONCONFORMING)


def test_an_unknown_mass_never_conforms():
    number, mass = a_list(a_placement(tag="NOBODY")).used
    assert (number.verdict, mass.verdict, mass.unknown) == (Verdict.CONFORMING, Verdict.INCONCLUSIVE, 1)


def test_use_is_told_where_no_limit_is_stated():
    number, mass = a_list(permit=HEAD + SQUARE).used
    assert (number.used, number.authorised, number.verdict) == (3, None, Verdict.NOT_APPLICABLE)
    assert mass.used == 4200


def test_a_capacity_of_one_area_counts_only_what_lies_there():
    small = CAPACITY.replace('cite = "Special condition 6"', 'area = "circle"\ncite = "Special condition 7"')
    far = CIRCLE.replace("34 00.000 N 077 00.000 W", "34 10.000 N 077 00.000 W")
    built = a_list(permit=HEAD + SQUARE + far + small)
    number = built.used[0]
    assert (number.areas, number.used) == (("circle",), 0)
    assert [area.count for area in built.areas] == [3, 0]


def test_a_permit_without_modules_still_lists_its_areas():
    built = listed(a_reef())
    (area,) = built.areas
    assert (built.modules, area.count, area.clearance, area.first_placed) == ((), 0, None, None)
    assert [used.used for used in built.used] == [0, 0]
    values = {each.s101: each for each in area.chart}
    assert (values["valueOfSounding"].value, values["valueOfSounding"].meaning) == (
        "",
        "no module lies in the area",
    )


def test_a_module_outside_is_listed_told_and_clears_no_area():
    astray = a_placement(tag="MR-0003", lat_deg=34.2, charted_depth_m=3.0)
    built = a_list(*three_placements()[:2], astray)
    (area,) = built.areas
    assert (area.count, len(built.modules)) == (2, 3)
    assert area.clearance is not None
    assert area.clearance.tag == "MR-0002"
    assert [module.inside for module in built.modules] == [True, True, False]
    assert any("Outside every area of the permit: MR-0003" in note for note in built.notes)
    assert built.used[0].used == 3


def test_a_module_in_two_areas_that_overlap_counts_in_each_and_once_in_all():
    built = a_list(permit=HEAD + SQUARE + CIRCLE)
    assert [area.count for area in built.areas] == [3, 3]
    assert built.used[0].used == 3
    assert any("In more than one area" in note for note in built.notes)


def test_days_are_those_of_the_programme():
    late = a_placement(tag="MR-0002", lon_deg=-77.0002, placed_at=NOON.replace(hour=2) + timedelta(days=9))
    (area,) = a_list(a_placement(), late).areas
    # 02:00 UTC on the 10th is 22:00 on the 9th in New York.
    assert (str(area.first_placed), str(area.last_placed)) == ("2026-06-01", "2026-06-09")


def test_material_is_told_by_type():
    (material,) = a_list().areas[0].materials
    assert (material.type_id, material.note, material.count, material.mass_kg) == (
        "dome-120", "a dome with holes", 3, 4200,
    )  # fmt: skip


def test_a_module_that_moved_is_listed_where_it_was_found():
    register = a_reef(*three_placements())
    identifier = str(register.placements().placement_id[0])
    resurvey = a_resurvey(placement_id=identifier, lon_deg=-77.0005, r95_m=0.5)
    movement = replace(resurvey.movement, verdict=Motion.MOVED, compared_with=identifier, distance_m=46.0)
    register.append([placement_resurveyed(replace(resurvey, movement=movement))])
    built = listed(register)
    first = next(module for module in built.modules if module.tag == "MR-0001")
    assert first.moved
    assert first.lon_deg == pytest.approx(-77.0005)
    assert any("Found moved" in note for note in built.notes)


def test_no_name_of_anybody_is_in_it():
    told = repr(a_list())
    assert not any(name in told for name in PRIVATE)


def test_an_unknown_permit_is_told():
    with pytest.raises(NotFoundError, match="HB-9"):
        listed(a_reef(), "HB-9")


def test_an_instrument_that_was_recorded_gives_the_technique():
    first, second, third = three_placements()
    read = {"inputs": {"reading": {"instrument": "echo"}}}
    (area,) = a_list(first, replace(second, depth=read), third).areas
    values = {each.s57: each.value for each in area.chart}
    assert values["TECSOU"] == "1"
