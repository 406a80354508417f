"""
Every mistake that is known at sea is noticed: positions far from every area, depths in the wrong unit.

The slips and their sizes are common practice, no source; displacements are geodesics worked out beforehand.
The truth is 27 30.500 N 80 06.250 W, in a square area of a quarter nautical mile (463 m).
"""

import pytest
from shapely import MultiPolygon

from registry.actions.warn_of_slips import slips_of_depth, slips_of_position
from registry.formats.written_position import read_position
from tests.actions.stocked import a_register, logged, settled
from tests.builders import a_permit, an_area
from tests.rules.one_case import FOOT_M, a_square

TRUE = read_position("27 30.500 N 80 06.250 W")
SITE = an_area(shape=a_square(TRUE.lon_deg, TRUE.lat_deg, 231.5))
PERMIT = a_permit(areas=(SITE,), conditions=())

# What came ashore, how far off it lies (km, as the warning says), and what the warning must name.
AT_SEA = [
    ("27.30500, -80.06250", 22.7, "Minutes were typed behind the decimal point of the degrees"),
    ("27 30 50.0 N 80 06 25.0 W", None, "Decimals of the minutes were typed as seconds"),
    ("27.50833, -79.89583", 20.4, "The minus was taken for the degrees only"),
    ("27 30.500 N 80 06.250 E", 13562, "The longitude was meant with W or minus, not E"),
    ("80 06.250 S 27 30.500 E", 13333, "Latitude and longitude were swapped"),
    ("27 30.050 N 80 06.250 W", None, "Two neighbouring digits of the latitude were transposed"),
    ("27 30.500 N 80 02.650 W", 5.7, "Two neighbouring digits of the longitude were transposed"),
    ("27 30.500 S 80 06.250 W", None, "The latitude was meant with N, not S or minus"),
]


def warned(text, permits=(PERMIT,), **stated):
    frame = stated.pop("frame", "ITRF2020")
    found = settled(text, frame=frame, **stated) if "S" not in text and "E" not in text else None
    written = read_position(text)
    if found is None:
        # So far away the home frame does not hold; the warning needs a position all the same.
        from registry.records.position import Position

        here = Position(
            lat_deg=written.lat_deg, lon_deg=written.lon_deg, frame="EPSG:6318", epoch=2010.0, r95_m=1.5
        )
        return slips_of_position(written, here, here, permits)
    return slips_of_position(written, found.observed, found.home.position, permits)


@pytest.mark.parametrize(("typed", "away_km", "named"), AT_SEA, ids=[row[2] for row in AT_SEA])
def test_each_known_mistake_at_sea_is_named(typed, away_km, named):
    (sentence,) = warned(typed)
    assert named in sentence
    assert sentence.endswith("Correct it if so; it is recorded as typed.")
    if away_km is not None:
        told = float(sentence.split(" km")[0].split()[-1])
        assert told == pytest.approx(away_km, abs=max(0.3, 0.003 * away_km))


@pytest.mark.parametrize(
    "typed", ["27 30.500 N 80 06.250 W", "27 30.620 N 80 06.250 W", "27 30.700 N 80 06.250 W"]
)
def test_in_or_near_the_area_nothing_is_suspected(typed):
    assert warned(typed) == ()


def test_a_position_that_no_slip_explains_is_told_plainly():
    (sentence,) = warned("30 11.000 N 79 47.000 W")
    assert "No common slip of typing explains it" in sentence


def test_a_poor_fix_may_lie_farther_off_before_anybody_worries():
    assert warned("27 30.900 N 80 06.250 W") != ()
    assert warned("27 30.900 N 80 06.250 W", r95_m=400.0) == ()


def test_any_permit_of_the_registry_may_hold_the_place():
    other = a_permit(
        number="TN-0033", areas=(an_area(area_id="tern-patch", shape=a_square(-80.0625, 27.305, 231.5)),)
    )
    assert warned("27.30500, -80.06250", (PERMIT, other)) == ()


def test_every_part_of_an_area_may_hold_the_meant_place():
    shape = MultiPolygon([a_square(-70.0, 20.0), a_square(TRUE.lon_deg, TRUE.lat_deg)])
    (sentence,) = warned("27.30500, -80.06250", (a_permit(areas=(an_area(shape=shape),)),))
    assert "Minutes were typed" in sentence


def test_without_a_permit_there_is_nothing_to_compare_with():
    assert warned("30 11.000 N 79 47.000 W", ()) == ()


AROUND = [19.5, 20.0, 20.5, 21.0, 20.2]

# A depth as typed, in metres as understood, and the confusion that explains it. Foot and fathom: NIST SP 811.
DEPTHS = [
    ("66 m", 66.0, "feet typed as metres would give 20.1 m"),
    ("20 ft", 20 * FOOT_M, "metres typed as feet would give 20.0 m"),
    ("11 m", 11.0, "fathoms typed as metres would give 20.1 m"),
    ("20 fm", 20 * 6 * FOOT_M, "metres typed as fathoms would give 20.0 m"),
    ("11 ft", 11 * FOOT_M, "fathoms typed as feet would give 20.1 m"),
    ("66 fm", 66 * 6 * FOOT_M, "feet typed as fathoms would give 20.1 m"),
]


@pytest.mark.parametrize(("typed", "depth_m", "told"), DEPTHS, ids=[row[2] for row in DEPTHS])
def test_a_depth_in_the_wrong_unit_is_named(typed, depth_m, told):
    (sentence,) = slips_of_depth(depth_m, typed, AROUND)
    assert told in sentence
    assert typed in sentence


@pytest.mark.parametrize("depth_m", [18.5, 20.0, 22.9])
def test_a_depth_like_those_around_is_no_slip(depth_m):
    assert slips_of_depth(depth_m, "as read", AROUND) == ()


def test_a_depth_that_no_unit_explains_is_told_plainly():
    (sentence,) = slips_of_depth(31.0, "31 m", AROUND)
    assert sentence == "A depth of 31 m (31.0 m) disagrees with 20.2 m around it."


def test_two_neighbours_prove_nothing():
    assert slips_of_depth(66.0, "66 m", [20.0, 20.0]) == ()


def test_a_slip_is_recorded_as_typed_with_its_warning():
    register = a_register()
    found = logged(register, position="34 00.0000 N 077 05.0000 W")
    assert found.placement.position_text == "34 00.0000 N 077 05.0000 W"
    assert any("outside every permit area" in sentence for sentence in found.placement.warnings)
    assert register.placement(found.placement_id).warnings == found.placement.warnings


def test_feet_typed_as_metres_are_noticed_when_logged():
    register = a_register()
    for number, depth in enumerate(["20.1 m", "20.5 m", "19.9 m"], start=1):
        logged(register, f"MR-000{number}", f"34 00.0{number}00 N 077 00.0000 W", depth=depth)
    found = logged(register, "MR-0004", "34 00.0500 N 077 00.0000 W", depth="66 m")
    assert any("feet typed as metres would give 20.1 m" in sentence for sentence in found.placement.warnings)
    far = logged(register, "MR-0005", "34 00.5500 N 077 00.0000 W", depth="66 m")
    assert not any("typed as" in sentence for sentence in far.placement.warnings)


def test_depths_are_compared_across_the_180th_meridian():
    permit = a_permit(areas=(an_area(shape=a_square(180.0, 52.0, 2000.0)),), conditions=())
    register = a_register(permits=[permit], keep_outs=False)
    for number, depth in enumerate(["20.1 m", "20.5 m", "19.9 m"], start=1):
        logged(register, f"MR-000{number}", f"52 00.0{number}00 N 179 59.9900 E", depth=depth)
    found = logged(register, "MR-0004", "52 00.0500 N 179 59.9900 W", depth="66 m")
    assert any("feet typed as metres" in sentence for sentence in found.placement.warnings)
