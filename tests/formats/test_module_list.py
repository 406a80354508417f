import csv
import io

import pytest

from registry.formats.csv_table import read_csv_table
from registry.formats.module_list import COLUMNS, write_module_list
from tests.formats.public_sites import EVERY_SITE, HOSTILE, HOSTILE_SITE, site


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
    assert read_csv_table(write_module_list(site())).header == COLUMNS
