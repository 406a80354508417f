"""What was built, as spreadsheets in the units that the permit asks for."""

import pytest

from registry.formats import as_built_table as tables
from registry.formats.csv_table import read_csv_table
from registry.formats.written_position import read_position
from tests.as_built import (
    CAPACITY,
    CIRCLE,
    HEAD,
    PRIVATE,
    SQUARE,
    a_list,
    a_reef,
    listed,
    reporting,
    three_placements,
    two_part_permit,
)
from tests.builders import a_placement

WRITERS = (
    tables.write_modules_table,
    tables.write_corners_table,
    tables.write_areas_table,
    tables.write_use_table,
    tables.write_chart_table,
)


def rows(content):
    table = read_csv_table(content)
    return [table.by_name(row) for row in table.rows()]


def test_modules_in_metres():
    first = rows(tables.write_modules_table(a_list()))[0]
    assert first == {
        "tag": "MR-0001",
        "type": "dome-120",
        "area": "gannet-patch",
        "inside_area": "yes",
        "latitude": "34 00.0000 N",
        "longitude": "077 00.0000 W",
        "within_95_m": "1.5",
        "depth_m": "20.36",
        "depth_u95_m": "0.40",
        "relief_m": "1.200",
        "clearance_m": "19.16",
        "clearance_u95_m": "0.41",
        "mass_kg": "1400",
        "placed_on": "2026-06-01",
        "found_moved": "no",
        "latitude_deg": "34.000000",
        "longitude_deg": "-77.000000",
        "frame": "EPSG:6318",
        "epoch": "2010",
        "chart_datum": "MLLW",
        "placement": first["placement"],
    }


@pytest.mark.parametrize(
    ("unit", "depth"),
    # 20.36 m: NIST Handbook 44, foot 0.3048 m, survey foot 1200/3937 m, fathom 6 ft.
    [("ft", "66.8"), ("ftUS", "66.8"), ("fathoms", "11.13")],
)
def test_lengths_in_the_unit_that_is_asked_for(unit, depth):
    built = a_list(permit=HEAD + SQUARE + reporting(length_unit=unit, mass_unit="short tons"))
    first = rows(tables.write_modules_table(built))[0]
    assert first[f"depth_{unit.lower()}"] == depth
    # 1400 kg / 907.18474 kg.
    assert first["mass_short_tons"] == "1.543"


def test_masses_in_pounds_where_a_permit_asks_for_them():
    built = a_list(permit=HEAD + SQUARE + CAPACITY + reporting(mass_unit="lb"))
    # International avoirdupois pound, 0.45359237 kg exactly (24 FR 5348): 1400 kg, and 4200 kg of 5000 kg.
    assert rows(tables.write_modules_table(built))[0]["mass_lb"] == "3086"
    _, mass = rows(tables.write_use_table(built))
    assert (mass["used"], mass["authorised"], mass["unit"]) == ("9259", "11023", "lb")


def test_what_is_unknown_is_empty_and_never_a_number():
    nobody = a_placement(tag="NOBODY", charted_depth_m=None, depth_u95_m=None)
    (row,) = rows(tables.write_modules_table(a_list(nobody)))
    assert {
        row[name] for name in ("depth_m", "depth_u95_m", "relief_m", "clearance_m", "mass_kg", "type")
    } == {""}
    assert b"nan" not in tables.write_areas_table(a_list(nobody)).lower()


def test_corners_stand_beside_the_words_of_the_permit():
    found = rows(tables.write_corners_table(a_list(permit=HEAD + SQUARE + reporting(frame="EPSG:4326"))))
    assert found[0]["as_written"] == "34 00.600 N 077 00.600 W"
    assert found[0]["frame"] == "EPSG:4326"
    assert "EPSG:10334" in found[0]["operation"]
    assert found[0]["stated_in"] == "NAD83(2011) (EPSG:6318, epoch 2010)"
    back = read_position(f"{found[0]['latitude']} {found[0]['longitude']}")
    assert float(found[0]["latitude_deg"]) == pytest.approx(back.lat_deg, abs=1.7e-5)


def test_a_circle_and_a_drawing():
    (centre,) = rows(tables.write_corners_table(a_list(permit=HEAD + CIRCLE)))
    assert (centre["ring"], centre["radius"]) == ("centre", "500 ft")
    drawn = rows(tables.write_corners_table(a_list(permit=two_part_permit())))
    assert {row["source"] for row in drawn} == {"twins.gpkg, layer a"}
    assert {row["ring"] for row in drawn} == {"part 1, outline", "part 2, outline", "part 2, hole 1"}


def test_areas_and_use():
    (area,) = rows(tables.write_areas_table(a_list()))
    assert (area["modules"], area["mass_kg"], area["least_clearance_m"], area["over"]) == (
        "3",
        "4200",
        "17.82",
        "MR-0002",
    )
    assert area["authorised_clearance"] == "50 ft (Special condition 2)"
    number, mass = rows(
        tables.write_use_table(a_list(permit=HEAD + SQUARE + CAPACITY + reporting(mass_unit="t")))
    )
    assert (number["used"], number["authorised"], number["verdict"]) == ("3", "3", "conforming")
    assert (mass["used"], mass["authorised"], mass["unit"], mass["as_written"]) == (
        "4.200",
        "5.000",
        "t",
        "5 t",
    )


def test_chart_attributes_have_a_value_or_a_reason():
    for row in rows(tables.write_chart_table(a_list())):
        assert row["meaning"]
        assert row["s57"] or row["s101"]


def test_an_empty_permit_gives_headers_and_areas():
    empty = listed(a_reef())
    assert rows(tables.write_modules_table(empty)) == []
    (area,) = rows(tables.write_areas_table(empty))
    assert (area["modules"], area["least_clearance_m"], area["first_placed"]) == ("0", "", "")


@pytest.mark.parametrize("write", WRITERS)
def test_no_name_of_anybody_and_no_cell_that_acts(write):
    register = a_reef(*three_placements())
    content = write(listed(register)).decode("utf-8-sig")
    assert not any(name in content for name in PRIVATE)
    assert write(listed(register)) == write(listed(register))
    for line in content.splitlines():
        assert not line.startswith(("=", "+", "@"))
