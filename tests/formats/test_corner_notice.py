"""The corners as a notice prints them: read back from the text alone, they are the corners of the permit."""

import re

import pytest

from registry.actions.as_built_list import as_built_list
from registry.formats.corner_notice import write_corner_notice, write_marked
from registry.formats.written_position import read_position
from registry.measure.geodesic import inverse
from registry.records.permit import Reporting
from tests.as_built import (
    CIRCLE,
    CLEARANCE,
    HEAD,
    HOLED,
    MADE,
    PRIVATE,
    SQUARE,
    a_reef,
    three_placements,
    two_part_permit,
)
from tests.builders import a_permit, an_area
from tests.rules.one_case import a_square

POSITION = re.compile(r"\d+°\d+(?:\.\d+)?(?:′(?:[\d.]+″)?)? [NS], \d+°\d+(?:\.\d+)?(?:′(?:[\d.]+″)?)? [EW]")


def noticed(permit=HEAD + SQUARE + CLEARANCE, notation="dms", frame="WGS 84", placements=None):
    register = a_reef(*(three_placements() if placements is None else placements), permit=permit)
    return as_built_list(
        register,
        "HB-0417",
        now=MADE,
        read_position=read_position,
        write_position=write_marked,
        reporting=Reporting(frame=frame, notation=notation),
    )


def text(built):
    return write_corner_notice(built).decode()


@pytest.mark.parametrize("notation", ["ddm", "dms"])
@pytest.mark.parametrize("areas", [SQUARE, HOLED, CIRCLE], ids=["square", "with a hole", "circle"])
def test_the_list_and_the_sentence_give_back_the_corners(areas, notation):
    """By the reader of typed positions, ten times as well as the digits of the permit (0.001 minute, 1.9 m)."""
    built = noticed(HEAD + areas, notation)
    flat = " ".join(text(built).split())
    corners = built.areas[0].corners
    found = [read_position(words.replace(",", "")) for words in POSITION.findall(flat)]
    # Once in the list, once in the sentence, in the same order.
    assert len(found) == 2 * len(corners)
    for read, corner in zip(found, corners * 2, strict=True):
        assert float(inverse(corner.lon_deg, corner.lat_deg, read.lon_deg, read.lat_deg)[0]) < 0.2


def test_decimal_degrees_are_written_too():
    assert "34.010008° N, 77.010007° W" in " ".join(text(noticed(notation="dd")).split())


def test_in_the_frame_of_the_permit_each_corner_is_digit_by_digit_what_it_says():
    told = text(noticed(notation="ddm", frame="EPSG:6318"))
    assert "34°00.600′ N, 077°00.600′ W\n       in the permit: 34 00.600 N 077 00.600 W" in told
    assert "carried over by: none: same frame" in " ".join(told.split())


def test_wgs_84_is_said_with_its_epoch_and_lies_a_metre_off():
    built = noticed()
    told = " ".join(text(built).split())
    assert "WGS 84 (EPSG:4326, epoch 2026.9" in told
    first = built.areas[0].corners[0]
    written = read_position(first.written)
    away_m = float(inverse(written.lon_deg, written.lat_deg, first.lon_deg, first.lat_deg)[0])
    assert 0.9 < away_m < 1.3


def test_the_sentence_goes_round_and_ends_where_it_began():
    told = " ".join(text(noticed(HEAD + HOLED)).split())
    assert told.count("beginning at") == 2
    assert told.count("thence to the point of beginning") == 2
    assert "; and less the area bounded by geodesic lines" in told
    assert "A circle with a radius of 500 ft around" in " ".join(text(noticed(HEAD + CIRCLE)).split())


def test_a_drawing_of_two_parts_is_told_part_by_part():
    told = " ".join(text(noticed(two_part_permit())).split())
    assert told.count("point of beginning") == 3
    assert "Part 2, hole 1:" in told
    assert "The permit draws it in twins.gpkg, layer a." in told


def test_what_lies_there_and_what_is_authorised_stands_below():
    told = " ".join(text(noticed()).split())
    assert "3 modules of concrete, placed on" in told
    assert "Least clearance: 17.82 ± 0.41 m (95 %) below MLLW" in told
    assert "Authorised minimum clearance: 50 ft (Special condition 2)." in told
    assert "It reaches 2218 m from south to north and 1848 m from west to east." in told
    assert "No module lies in it yet." in " ".join(text(noticed(placements=[])).split())


def test_cautions_come_first_and_no_family_is_named():
    told = text(noticed())
    assert told.index("Not for navigation") < told.index("gannet-patch")
    assert "claims no legal authority" in " ".join(told.split())
    assert not any(name in told for name in PRIVATE)


def test_an_area_across_the_180th_meridian_is_as_wide_as_it_is():
    permit = a_permit(areas=(an_area(shape=a_square(179.999, 52.0, 2000.0)),), conditions=())
    told = " ".join(text(noticed(permit, placements=[])).split())
    assert re.search(r"and (39|40)\d\d m from west to east", told)
    assert " E, " not in told
    assert "179°" in told


def test_what_was_typed_stays_on_its_line():
    hostile = "<script>\n\n=HYPERLINK(1) ../../x"
    permit = a_permit(areas=(an_area(area_id=hostile, shape=a_square(-77.0, 34.0)),), conditions=())
    lines = text(noticed(permit, placements=[])).splitlines()
    assert "<script> =HYPERLINK(1) ../../x" in lines
    assert all(len(line) <= 78 for line in lines)


def test_the_same_list_makes_the_same_bytes():
    assert write_corner_notice(noticed()) == write_corner_notice(noticed())
