import csv
import io

import numpy as np
import pytest

from registry.formats.csv_table import read_csv_table
from registry.formats.findings_table import COLUMNS, write_findings_table
from registry.measure.decision import Verdict
from tests.audited import PRIVATE_NAME, audit_summary, audited_registry, strict_permit
from tests.builders import ACTOR, a_module, a_placement, a_programme, module_added, placement_logged
from tests.fakes import FixedClock, MemoryRegister

HOSTILE = '=HYPERLINK("http://x")'


def rows_of(written: bytes):
    table = read_csv_table(written)
    return [table.by_name(row) for row in table.rows()]


@pytest.fixture(scope="module")
def rows():
    return rows_of(write_findings_table(audit_summary()))


def test_the_columns_are_the_names_of_the_contract_and_where_it_lies():
    text = write_findings_table(audit_summary()).decode("utf-8-sig")
    header = next(csv.reader(io.StringIO(text, newline="")))
    assert tuple(header) == COLUMNS
    contract = next(audit_summary().permits[0].flagged().__iter__())[1].as_json()
    assert set(contract) <= set(COLUMNS)
    assert text.count("\r\n") == len(text.splitlines())


def test_there_is_a_row_for_each_placement_and_condition(rows):
    assert len(rows) == 8 * 8
    assert [row["placement"] for row in rows[::8]] == [*(f"MR-000{n}" for n in (1, 2, 3, 4, 5, 6, 7, 8))]
    assert len({(row["placement_id"], row["rule"]) for row in rows}) == 64


def test_a_finding_tells_what_was_measured_against_what(rows):
    (found,) = (row for row in rows if row["placement"] == "MR-0007" and row["rule"] == "clearance")
    told = {name: found[name] for name in ("verdict", "measured", "limit", "u95", "unit", "cite")}
    # 14.6 m of water over a module of 1.2 m; U by JCGM 100: sqrt(0.40^2 + 0.03^2) = 0.4011, rounded up.
    assert told == {
        "verdict": "nonconforming",
        "measured": "13.40",
        "limit": "15.24",
        "u95": "0.41",
        "unit": "m",
        "cite": "Special condition 2",
    }
    assert (found["frame"], found["epoch"], found["area"]) == ("EPSG:6318", "2010", "gannet-patch")
    assert (found["lat"], found["lon"], found["placed_at"]) == (
        "34.004000",
        "-77.000000",
        "2026-06-04T16:00:00Z",
    )


def test_a_placement_outside_lies_in_no_area(rows):
    assert {row["area"] for row in rows if row["placement"] == "MR-0005"} == {""}


def test_no_digit_beyond_what_r95_supports():
    register = audited_registry(
        module_added(a_module(tag="MR-0009")),
        placement_logged(a_placement(tag="MR-0009", lon_deg=-77.00123456789, r95_m=25.0)),
    )
    (row, *_) = (
        r for r in rows_of(write_findings_table(audit_summary(register))) if r["placement"] == "MR-0009"
    )
    assert (row["lon"], row["r95_m"]) == ("-77.00123", "25")


def test_what_is_unknown_is_an_empty_cell():
    register = audited_registry(
        module_added(a_module(tag="MR-0009")),
        placement_logged(a_placement(tag="MR-0009", charted_depth_m=None, depth_u95_m=None)),
    )
    found = [r for r in rows_of(write_findings_table(audit_summary(register))) if r["placement"] == "MR-0009"]
    (row,) = (r for r in found if r["rule"] == "clearance")
    assert (row["verdict"], row["measured"], row["u95"]) == ("inconclusive", "", "")
    assert not any("nan" in cell.lower().split() for each in found for cell in each.values())


def test_a_cell_that_a_spreadsheet_would_run_is_made_harmless():
    register = audited_registry(
        module_added(a_module(tag=HOSTILE.replace("/", "|"))),
        placement_logged(a_placement(tag=HOSTILE.replace("/", "|"))),
    )
    text = write_findings_table(audit_summary(register)).decode("utf-8-sig")
    cells = [cell for row in csv.reader(io.StringIO(text, newline="")) for cell in row]
    assert not any(cell.startswith(("=", "@", "+")) for cell in cells)
    assert any(cell == "'" + HOSTILE.replace("/", "|") for cell in cells)


def test_nothing_private_is_in_the_table():
    assert PRIVATE_NAME not in write_findings_table(audit_summary()).decode()


def test_the_same_audit_gives_the_same_bytes():
    assert write_findings_table(audit_summary()) == write_findings_table(audit_summary())


def test_a_registry_without_placements_gives_the_header_alone():
    register = MemoryRegister(a_programme(), actor=ACTOR, clock=FixedClock())
    assert write_findings_table(audit_summary(register)).decode("utf-8-sig") == ",".join(COLUMNS) + "\r\n"


def test_counts_and_rows_agree(rows):
    summary = audit_summary(audited_registry(permit=strict_permit()))
    for each in summary.permits[0].conditions:
        written = [row["verdict"] for row in rows if row["rule"] == each.condition.rule]
        assert written.count("nonconforming") == each.counts.nonconforming
        assert (
            written.count("inconclusive")
            == each.counts.inconclusive
            == int(np.sum(each.findings.verdict == Verdict.INCONCLUSIVE))
        )
