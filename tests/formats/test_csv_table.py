import pytest
from hypothesis import given
from hypothesis import strategies as st

from registry.errors import TableError
from registry.formats.csv_table import read_csv_table, write_csv_table, write_reject_table


def cells_of(table):
    return [row.cells for row in table.rows()]


@pytest.mark.parametrize("delimiter", [",", ";", "\t"], ids=["comma", "semicolon", "tab"])
def test_sniffs_the_delimiter(delimiter):
    text = delimiter.join(["Tag", "Where"]) + "\r\n" + delimiter.join(["MC-1", "here"]) + "\r\n"
    table = read_csv_table(text)
    assert table.delimiter == delimiter
    assert cells_of(table) == [("MC-1", "here")]


def test_decimal_commas_do_not_mislead_the_sniffing():
    table = read_csv_table("tag;lat;lon\nMC-1;34,01;-77,02\nMC-2;34,02;-77,03\n")
    assert table.delimiter == ";"


def test_commas_in_a_header_name_lose_to_the_delimiter_that_the_rows_agree_with():
    table = read_csv_table("tag;depth, tide off\nMC-1;18\nMC-2;19\n")
    assert table.header == ("tag", "depth_tide_off")


def test_two_delimiters_that_fit_equally_are_never_guessed():
    text = "a,b;c\n1,2;3\n"
    with pytest.raises(TableError, match="comma and semicolon"):
        read_csv_table(text)
    assert read_csv_table(text, delimiter=";").header == ("a_b", "c")


def test_unknown_delimiter():
    with pytest.raises(TableError, match="does not separate"):
        read_csv_table("a|b\n", delimiter="|")


def test_one_column_is_a_table():
    assert cells_of(read_csv_table("tag\nMC-1\nMC-2\n")) == [("MC-1",), ("MC-2",)]


@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"], ids=["lf", "crlf", "cr"])
def test_line_ends(end):
    table = read_csv_table(end.join(["a,b", "1,2", "3,4"]))
    assert cells_of(table) == [("1", "2"), ("3", "4")]


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16"])
def test_encodings_with_a_mark(encoding):
    table = read_csv_table("tag,position\nMC-1,34°01.250′N\n".encode(encoding))
    assert table.header == ("tag", "position")
    assert cells_of(table) == [("MC-1", "34°01.250′N")]


def test_another_encoding_names_line_and_byte():
    with pytest.raises(TableError, match=r"Line 2 holds the byte 0xb0.*UTF-8"):
        read_csv_table("tag,position\nMC-1,34°01.250 N\n".encode("cp1252"))


def test_nul_names_its_line():
    with pytest.raises(TableError, match="Line 3 holds a NUL"):
        read_csv_table("a\nb\nc\0\n")


@pytest.mark.parametrize("text", ["", "\n\n", ",,,\n", "\ufeff"])
def test_empty_tables(text):
    with pytest.raises(TableError, match="empty"):
        read_csv_table(text)


def test_header_is_normalised_and_kept():
    table = read_csv_table(" Depth  (ft) ,R95 [m],LATITUDE,Ｔａｇ\n1,2,3,4\n")
    assert table.header == ("depth_ft", "r95_m", "latitude", "tag")
    assert table.written_header == ("Depth  (ft)", "R95 [m]", "LATITUDE", "Ｔａｇ")


def test_names_that_are_equal_once_normalised_are_refused():
    with pytest.raises(TableError, match=r"Columns 1 and 3 .* both called 'Depth \(ft\)'"):
        read_csv_table("Depth (ft),tag,depth_ft\n")


def test_a_column_without_name_is_refused_but_empty_ones_at_the_end_are_dropped():
    with pytest.raises(TableError, match="Column 2"):
        read_csv_table("tag,,lon\n")
    table = read_csv_table("tag,lon,,\n1,2,,\n3,4,,x\n")
    assert table.header == ("tag", "lon")
    sound, ragged = table.rows()
    assert (sound.cells, sound.problem) == (("1", "2"), None)
    assert "4 cells" in str(ragged.problem)
    assert ragged.raw == "3,4,,x"


def test_rows_are_numbered_as_a_spreadsheet_numbers_them():
    table = read_csv_table('tag,note\nMC-1,"two\nlines"\n\n,\nMC-2,x\n')
    assert [(row.number, row.cells) for row in table.rows()] == [
        (2, ("MC-1", "two\nlines")),
        (5, ("MC-2", "x")),
    ]


def test_ragged_rows_are_reported_and_the_others_go_on():
    table = read_csv_table("a,b\n1\n1,2\n1,2,3\n")
    assert [row.problem is None for row in table.rows()] == [False, True, False]


def test_minutes_and_seconds_may_stand_in_a_cell():
    table = read_csv_table("tag,position\nMC-1,34°01'15.0\"N 077°20'06.6\"W\n")
    assert cells_of(table) == [("MC-1", "34°01'15.0\"N 077°20'06.6\"W")]


def test_a_quote_that_is_never_closed_costs_its_own_row_only():
    table = read_csv_table('tag,note\nMC-1,"open\nMC-2,x\nMC-3,"a ""b"""\n')
    bad, second, third = table.rows()
    assert "quotation mark" in str(bad.problem)
    assert bad.raw == 'MC-1,"open'
    assert (second.cells, third.cells) == (("MC-2", "x"), ("MC-3", 'a "b"'))


def test_a_quote_that_swallows_everything_is_found_out():
    rows = "".join(f"MC-{number},x\n" for number in range(20_000))
    table = read_csv_table(f'tag,note\nMC-0,"open\n{rows}')
    problems = [row.problem for row in table.rows()]
    assert len(problems) == 20_001
    assert [problem is None for problem in problems] == [False, *[True] * 20_000]


def test_many_rows_are_streamed():
    rows = "".join(f"MC-{number},34 01.250 N\n" for number in range(100_000))
    stream = read_csv_table(f"tag,position\n{rows}").rows()
    assert next(stream).cells == ("MC-0", "34 01.250 N")
    assert sum(1 for _ in stream) == 99_999


@pytest.mark.parametrize("start", ["=", "+", "-", "@", "\t", "\r"], ids=["=", "+", "-", "@", "tab", "cr"])
def test_cells_that_a_spreadsheet_would_run_are_made_text(start):
    text = write_csv_table(["note"], [[f"{start}cmd|' /c calc'!A1"]])
    assert text.removeprefix("note\r\n").lstrip('"').startswith("'" + start)


@pytest.mark.parametrize("number", [-77.0123, 1.5e-7, "-77,02", "+3", "-1.5E+3", ".5", 4])
def test_numbers_stay_numbers(number):
    assert write_csv_table(["n"], [[number]], delimiter=";") == f"n\r\n{number}\r\n"


def test_none_is_an_empty_cell():
    assert write_csv_table(["a", "b"], [[None, 1]]) == "a,b\r\n,1\r\n"


#: Whatever a person or a program may put into a cell; NUL and lone surrogates are refused elsewhere.
cells = st.text(
    st.characters(exclude_categories=["Cs"], exclude_characters="\0"), max_size=12
) | st.from_regex(r"['=+\-@\t\r\n\";,]{0,4}[0-9a-z]{0,3}", fullmatch=True)


@given(st.lists(st.tuples(cells, cells, cells), max_size=8), st.sampled_from(",;\t"))
def test_written_tables_read_back_exactly(rows, delimiter):
    text = write_csv_table(["a", "b", "c"], rows, delimiter=delimiter)
    table = read_csv_table(text.encode("utf-8-sig"), delimiter=delimiter)
    assert cells_of(table) == [row for row in rows if any(cell.strip() for cell in row)]


@given(st.text(st.characters(exclude_categories=["Cs"]), max_size=80))
def test_any_text_is_read_or_refused_and_nothing_is_lost(text):
    try:
        table = read_csv_table(f"a,b\n{text}", delimiter=",")
    except TableError:
        assert "\0" in text
        return
    kept = "".join(row.raw for row in table.rows())
    blank = set("\r\n, \t\"'") | {c for c in text if not c.strip()}
    assert [c for c in kept if c not in blank] == [c for c in text if c not in blank]


def test_reject_file_keeps_columns_and_can_be_read_again():
    table = read_csv_table('Tag;Depth (ft);reason\nMC-1;60;old\n-x;=1;y\n"open;1\nMC-4;1\n')
    text = write_reject_table(table, [(row, row.problem or "too deep") for row in table.rows()])
    again = read_csv_table(text)
    assert again.written_header == ("Tag", "Depth (ft)", "reason", "reason_2")
    rows = cells_of(again)
    assert rows[0] == ("MC-1", "60", "old", "row 2: too deep")
    assert rows[1][:3] == ("-x", "=1", "y")
    assert rows[2][0] == '"open;1'
    assert rows[3][:3] == ("MC-4", "1", "")
    assert "2 cells" in rows[3][3]
    assert ";'=1;" in text
