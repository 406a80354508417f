"""A sample as a table, as GPX and as a list: what is known, how it was drawn, what to fill in."""

import shlex
from datetime import UTC, datetime
from pathlib import Path
from xml.etree import ElementTree as ET

import pytest
import xmlschema

from registry.errors import InvalidRecordError, LeadlineError
from registry.formats.check_survey import read_check_survey
from registry.formats.csv_table import read_csv_table
from registry.formats.sample_gpx import write_sample_gpx
from registry.formats.sample_list import sample_lines, write_sample_list
from registry.formats.sample_table import COLUMNS, write_sample_table
from registry.formats.sample_words import again_command
from registry.formats.written_position import read_position
from registry.records.log_row import LogRow
from tests.formats.sampled import a_sample, a_sampled_module

SCHEMA = xmlschema.XMLSchema(
    str(Path(__file__).parents[1] / "published" / "schemas" / "gpx-1.1.xsd"), validation="lax"
)
NS = {"g": "http://www.topografix.com/GPX/1/1"}


def rows(sample):
    table = read_csv_table(write_sample_table(sample))
    return [table.by_name(row) for row in table.rows()]


def test_what_is_to_be_filled_in_is_empty_and_the_rest_is_not():
    first, second = rows(a_sample())
    assert first["tag"] == "MC-0001"
    assert {first[name] for name in ("position", "frame", "when", "r95", "receiver", "note")} == {""}
    assert {name for name in COLUMNS if not first[name]} == {
        "position", "frame", "when", "r95", "receiver", "crew", "vessel", "note",
    }  # fmt: skip
    assert first["recorded_position"] == "34 01.2500 N 077 20.1100 W"
    assert first["recorded_r95_m"] == "3.1"
    assert first["recorded_depth"] == "20.36 ± 0.41 m below MLLW"
    assert (second["recorded_position"], second["recorded_depth"]) == (
        "34 01.800 N 077 20.110 W",
        "not measured",
    )
    assert (second["verdict"], second["visit"], second["chance"]) == ("inconclusive", "2", "0.5123")


def test_every_row_tells_how_it_was_drawn_and_how_to_fill_it_in():
    for row in rows(a_sample()):
        assert "--seed 4711 --as-of 2027-03-02T15:00:00.250Z (journal head abab" in row["drawn"]
        assert "what the receiver is set to" in row["how_to_fill"]


def test_the_recorded_position_reads_back():
    read = read_position(rows(a_sample())[0]["recorded_position"])
    assert (read.lat_deg, read.lon_deg) == pytest.approx((34.0208333, -77.3351667), abs=1e-6)


def filled(sample, **cells):
    content = write_sample_table(sample).decode("utf-8-sig").splitlines()
    names = content[0].split(",")
    assert names[: len(cells) + 1][0] == "tag"
    lines = [content[0]]
    for line in content[1:]:
        parts = line.split(",")
        for name, value in cells.items():
            parts[names.index(name)] = value
        lines.append(",".join(parts))
    return read_csv_table("\n".join(lines) + "\n")


def test_a_filled_table_is_a_check_survey():
    said = filled(
        a_sample(), position="34.020833 N 77.335167 W", frame="EPSG:4326", when="2027-03-03", r95="0.5 m"
    )
    found = [
        row for _, row in read_check_survey(said, zone="America/New_York", source={"file": "sample.csv"})
    ]
    assert all(isinstance(row, LogRow) for row in found)
    first = found[0]
    assert isinstance(first, LogRow)
    assert (first.tag, first.frame, first.placed_at) == (
        "MC-0001",
        "EPSG:4326",
        datetime(2027, 3, 3, 17, tzinfo=UTC),
    )
    assert first.r95 is not None
    assert first.r95.value == 0.5


def test_rows_that_were_left_blank_are_told_and_take_nothing_with_them():
    said = filled(a_sample(), when="2027-03-03")
    found = [
        row for _, row in read_check_survey(said, zone="America/New_York", source={"file": "sample.csv"})
    ]
    assert all(isinstance(row, LeadlineError) and "has no position" in str(row) for row in found)


def test_no_cell_acts():
    (row,) = rows(a_sample(a_sampled_module(tag="=1+1", area_id="@area")))
    assert b"'=1+1" in write_sample_table(a_sample(a_sampled_module(tag="=1+1")))
    assert row["tag"] == "=1+1"


def test_gpx_is_valid_and_holds_waypoints_and_one_route():
    content = write_sample_gpx(a_sample())
    SCHEMA.validate(content.decode())
    root = ET.fromstring(content)
    names = [point.findtext("g:name", namespaces=NS) for point in root.findall("g:wpt", NS)]
    assert names == [point.findtext("g:name", namespaces=NS) for point in root.findall("g:rte/g:rtept", NS)]
    assert names == ["MC-0001", "MC-0002"]
    first, second = root.findall("g:wpt", NS)
    assert (first.get("lat"), first.get("lon")) == ("34.020833", "-77.335167")
    assert second.get("lat") == "34.03000"
    assert "± 15 m; inconclusive" in str(second.findtext("g:cmt", namespaces=NS))
    desc = str(root.findtext("g:metadata/g:desc", namespaces=NS))
    for words in ("Seed: 4711", "abab", "WGS 84 (G2296)", "epoch 2027.2", "Not for navigation"):
        assert words in desc
    assert "official charts" in str(root.findtext("g:rte/g:desc", namespaces=NS))


def test_gpx_carries_no_character_that_xml_forbids():
    SCHEMA.validate(write_sample_gpx(a_sample(a_sampled_module(tag="a\x01<&>", area_id="\ud800"))).decode())


def test_a_sample_too_wide_for_a_course_has_no_route():
    assert b"<rte>" not in write_sample_gpx(a_sample(course_m=None))


def test_the_list_says_all_and_its_columns_stand_under_one_another():
    lines = sample_lines(a_sample())
    assert lines[0] == "2 of the 40 modules under permit HB-0417, to be looked at again"
    heading = next(number for number, line in enumerate(lines) if "R95" in line)
    assert (
        lines[heading].index("R95") == lines[heading + 1].index("3.1 m") == lines[heading + 2].index("15 m")
    )
    assert any("Spread: 0.08" in line and "1021 m" not in line and "0.6 nmi" in line for line in lines)
    assert "Note: A note." in lines
    text = write_sample_list(a_sample()).decode()
    for words in ("How to fill in sample.csv", "leadline accuracy sample.csv", "Not for navigation"):
        assert words in text


def test_the_command_that_draws_it_again_can_be_typed_whatever_the_seed():
    words = shlex.split(again_command(a_sample(seed='o\'clock "nine" $HOME', permit="HB 04;17")))
    assert words[:2] == ["leadline", "sample"]
    assert words[words.index("--seed") + 1] == 'o\'clock "nine" $HOME'
    assert words[words.index("--permit") + 1] == "HB 04;17"


def test_the_same_sample_gives_the_same_bytes():
    for write in (write_sample_table, write_sample_gpx, write_sample_list):
        assert write(a_sample()) == write(a_sample())


def test_a_sample_of_another_size_than_it_says_is_refused():
    with pytest.raises(InvalidRecordError):
        a_sample(size=3)
