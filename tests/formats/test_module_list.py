import csv
import io

import pytest

from registry.formats.csv_table import read_csv_table
from registry.formats.module_list import COORDINATES, module_columns, write_module_list, write_site_list
from registry.formats.written_position import read_position
from registry.measure.geodesic import inverse
from registry.records.publication import Publication
from tests.formats.public_sites import EVERY_SITE, HOSTILE, HOSTILE_SITE, ROUNDED_SITE, SITES_ONLY, site


@pytest.mark.parametrize("name", EVERY_SITE)
def test_the_same_site_gives_the_same_bytes(name):
    assert write_module_list(EVERY_SITE[name]) == write_module_list(EVERY_SITE[name])


def test_a_plain_reader_gets_numbers_with_honest_digits():
    text = write_module_list(site()).decode("utf-8-sig")
    first, _ = csv.DictReader(io.StringIO(text, newline=""))
    assert (first["latitude_deg"], first["longitude_deg"]) == ("34.012346", "-77.012346")
    assert (first["charted_depth_m"], first["r95_m"], first["epoch"]) == ("18.28", "2.7", "2026.9")


def test_no_cell_acts_in_a_spreadsheet():
    text = write_module_list(HOSTILE_SITE).decode("utf-8-sig")
    first, second, _ = csv.DictReader(io.StringIO(text, newline=""))
    assert first["tag"] == "'=CMD|'/c'!A1"
    assert second["charted_depth_m"] == ""
    table = read_csv_table(write_module_list(HOSTILE_SITE))
    row = table.by_name(next(table.rows()))
    assert (row["tag"], row["memorial"]) == ("=CMD|'/c'!A1", HOSTILE)


def test_the_header_tells_the_units():
    assert read_csv_table(write_module_list(site())).header == module_columns()


def rows(content):
    table = read_csv_table(content)
    return [table.by_name(row) for row in table.rows()]


def test_a_plotter_takes_its_own_notation():
    first = rows(write_module_list(site(), notation="ddm"))[0]
    assert (first["latitude_deg_min"], first["longitude_deg_min"]) == ("34 00.7407 N", "077 00.7407 W")
    first = rows(write_module_list(site(), notation="dms"))[0]
    assert (first["latitude_deg_min_sec"], first["longitude_deg_min_sec"]) == (
        "34 00 44.44 N",
        "077 00 44.44 W",
    )


@pytest.mark.parametrize("notation", COORDINATES)
@pytest.mark.parametrize("name", ["ordinary", "hostile", "antimeridian", "rounded"])
def test_what_is_written_is_read_back_within_its_doubt(name, notation):
    """By the reader of typed positions: in every notation the place is the same to a third of its R95."""
    given = EVERY_SITE[name]
    for module, row in zip(given.modules, rows(write_module_list(given, notation=notation)), strict=True):
        lat, lon = (row[column] for column in COORDINATES[notation])
        read = read_position(f"{lat}, {lon}" if notation == "dd" else f"{lat} {lon}")
        away_m = float(inverse(module.lon_deg, module.lat_deg, read.lon_deg, read.lat_deg)[0])
        assert away_m <= max(module.r95_m / 3.0, 0.02)


@pytest.mark.parametrize("notation", COORDINATES)
def test_rounded_places_have_no_digit_beyond_what_is_published(notation):
    for row in rows(write_module_list(ROUNDED_SITE, notation=notation)):
        lat, lon = (row[column] for column in COORDINATES[notation])
        digits = {"dd": 4, "ddm": 2, "dms": 1}[notation]
        last = [text.rstrip(" NSEW").split()[-1] for text in (lat, lon)]
        assert [len(text.partition(".")[2]) for text in last] == [digits, digits]
        assert row["r95_m"] in ("76.0", "85.0")


def test_names_are_those_that_a_plotter_shows():
    named = rows(write_module_list(site(), longest_name=6))
    assert [(row["name"], row["tag"]) for row in named] == [("MC0001", "MC-0001"), ("MC0002", "MC-0002")]
    assert [row["name"] for row in rows(write_module_list(site()))] == ["MC-0001", "MC-0002: Ada Quill"]


def test_sites_alone_have_a_row_each():
    first, second = rows(write_site_list(SITES_ONLY, notation="ddm"))
    assert (first["name"], first["modules"], first["whole_area_within_m"]) == ("gannet-patch", "2", "1444")
    assert (first["latitude_deg_min"], first["longitude_deg_min"]) == ("34 00.60 N", "077 00.60 W")
    assert (first["least_depth_m"], first["least_clearance_m"], first["epoch"]) == (
        "18.28",
        "17.08",
        "2026.9",
    )
    assert (second["name"], second["least_depth_m"], second["permit"]) == (HOSTILE, "", "=HB&1")
    assert Publication(sites_only=True).words.startswith("The programme publishes its sites")
