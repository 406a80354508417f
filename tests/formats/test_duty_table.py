"""A draft as a spreadsheet says what its page says, and no cell of it acts."""

from dataclasses import replace

from registry.formats.csv_table import read_csv_table
from registry.formats.duty_table import COLUMNS, write_draft_table, write_duty_fields
from registry.records.duty_draft import DraftSection, DraftTable, blank, filled
from tests.documents.test_duty_draft import DRAFT


def rows_of(content: bytes) -> list[tuple[str, ...]]:
    table = read_csv_table(content)
    assert table.written_header[: len(COLUMNS)]
    return [row.cells for row in table.rows()]


def test_every_field_blank_basis_and_caution_is_a_row():
    rows = rows_of(write_duty_fields(DRAFT))
    assert ("Draft", "title", DRAFT.title, "private: it names a person") == rows[0]
    assert (
        "The deceased",
        "Date of birth",
        "to be filled in by the programme",
        "Leadline does not hold it",
    ) in rows
    assert ("Authority basis on record", "basis", "state permit: HB-0417", "") in rows
    assert ("Who must decide", "", "The office decides.", "") in rows
    assert ("Before it is sent", "", "Check every line.", "") in rows


def test_where_no_basis_is_recorded_the_table_says_so():
    assert ("Authority basis on record", "basis", "", "none is recorded") in rows_of(
        write_duty_fields(replace(DRAFT, bases=()))
    )


def test_a_table_of_a_draft_has_a_row_for_each_of_its_rows():
    content = write_draft_table(DRAFT.tables[0])
    assert read_csv_table(content).written_header == ("tag", "depth (ft)")
    assert rows_of(content) == [("MC-0001", "66.8")]


def test_no_cell_acts():
    sections = (DraftSection(title="Vessel", fields=(filled("Vessel", "=HYPERLINK(1)"), blank("Port"))),)
    content = write_duty_fields(replace(DRAFT, sections=sections)).decode("utf-8-sig")
    assert "'=HYPERLINK(1)" in content
    assert "'=1" in write_draft_table(DraftTable(title="t", columns=("tag",), rows=(("=1",),))).decode(
        "utf-8-sig"
    )
