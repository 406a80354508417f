"""``leadline intake``: what a spreadsheet may be, and that nothing in it is lost."""

import csv
import io
import subprocess

import pytest

from registry.storage.geopackage import open_register
from tests.cli.reef import HEADER, PERMIT, Reef, a_log, log_line
from tests.fakes import FixedClock

UTF16 = "utf-16"


def take(reef: Reef, content: str | bytes, *more: str, name: str = "log.csv"):
    return reef("intake", reef.write(name, content), "--permit", "HB-0417", *more)


def rejected_rows(path) -> list[list[str]]:
    return list(csv.reader(io.StringIO(path.read_text(encoding="utf-8"), newline="")))


def test_good_rows_go_in(reef):
    answer = take(reef, a_log(3))
    assert (answer.code, answer.err) == (0, "")
    assert "3 placements recorded" in answer.out
    assert reef.tags() == ["LN-00000", "LN-00001", "LN-00002"]
    reef.is_sound()


def test_the_json_answer_tells_every_row(reef):
    answer = take(reef, a_log(2, log_line(2, position="nowhere")), "--json")
    assert (answer.code, answer.err) == (1, "")
    assert set(answer.json) == {"verdict", "taken", "repeated", "rejected", "reject_file", "findings"}
    assert [row["row"] for row in answer.json["taken"]] == [2, 3]
    assert [row["row"] for row in answer.json["rejected"]] == [4]
    assert answer.json["reject_file"].endswith("log.csv.rejected.csv")
    assert set(answer.json["findings"][0]) == {
        "placement", "rule", "verdict", "measured", "limit", "u95", "unit", "cite", "message",
    }  # fmt: skip


def test_the_same_file_taken_in_again_changes_nothing(reef):
    take(reef, a_log(3))
    answer = take(reef, a_log(3), "--json", name="copy.csv")
    assert (answer.code, answer.json["taken"], answer.json["repeated"]) == (0, [], [2, 3, 4])
    assert len(reef.tags()) == 3


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"", "empty"),
        (b"\n\n\n", "empty"),
        (b"PK\x03\x04rest of a workbook", "workbook"),
        (b"\xd0\xcf\x11\xe0rest of an old workbook", "workbook"),
        (b"%PDF-1.7", "PDF"),
        (b"SQLite format 3\0" + b"\0" * 99, "database"),
        (b"\xef\xbb\xbf" + f"{HEADER},note\n{log_line(0)},Zo\xeb\n".encode("latin-1"), "0xEB"),
        (a_log(1).encode("utf-16-le"), "zero"),
        (a_log(1).encode(UTF16)[:-1], "UTF-16"),
        (b"tag,position\nMC-0001,34 N 77 W\n", "when"),
        (b"tag,when\nMC-0001,2026-06-14T10:00Z\n", "position"),
        (b"position,when\n34 N 77 W,2026-06-14T10:00Z\n", "tag"),
        (b"tag,tag,position,when\n", "tag"),
        (b"tag,position,when,depth_ft,depth_m\n", "depth"),
        (b"tag,position,lat,lon,when\n", "position, lat, lon"),
        (b"tag,position,when,charted_depth,tide\n", "tide"),
        (b"just one line of prose", "column"),
    ],
    ids=lambda value: value[:24].decode("latin-1") if isinstance(value, bytes) else value,
)
def test_a_file_that_is_no_log_is_refused_whole(reef, content, words):
    answer = take(reef, content)
    assert answer.code in (2, 4)
    answer.is_told(words, code=answer.code)
    assert reef.tags() == []
    assert not (reef.folder / "log.csv.rejected.csv").exists()


def test_a_missing_file_and_a_folder_are_told(reef):
    reef("intake", "none.csv", "--permit", "HB-0417").is_told("none.csv", code=4)
    reef("intake", ".", "--permit", "HB-0417").is_told("folder", code=4)


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", UTF16, "utf-32", "cp1252", "latin-1"])
@pytest.mark.parametrize("delimiter", [",", ";", "\t"])
@pytest.mark.parametrize("line_end", ["\n", "\r\n"], ids=["lf", "crlf"])
def test_encodings_and_separators_of_office_programs_are_read(reef, encoding, delimiter, line_end):
    text = f"{HEADER},crew\n{log_line(0)},Zoë\n".replace(",", delimiter).replace("\n", line_end)
    answer = take(reef, text.encode(encoding))
    assert (answer.code, answer.err) == (0, "")
    entry = reef("journal", "show", "--json", "--last", "2").json["entries"][0]
    assert entry["body"]["crew"] == "Zoë"
    assert ("Windows-1252" in answer.out) == (encoding in ("cp1252", "latin-1"))


def test_a_thousand_bad_rows_all_come_back_and_go_in_when_mended(reef):
    bad = {
        "position": ("nowhere", "34 00.1 N 77 00.0", "34 61.0 N 77 00.0 W", "", "nan, nan", "91 N 77 W"),
        "when": ("yesterday", "2026-06-14 10:00 EST", "14/06/2026 10:00", "", "2026-02-30T10:00Z", "inf"),
        "depth": ("70", "nan m", "-3 m", "inf ft", "70 cubits", "1e3 m"),
        "r95": ("2", "nan m", "-2 m", "inf m", "two metres", "0,5,1 m"),
        "frame": ("EPSG:99999", "MLLW", "=1+1", "<script>", "WGS", "NAD"),
        "type": ("no-type", "hump 60", "../x", "=cmd()", "'", "hump-600"),
        "tag": ("", "a/b", "x" * 41, "\x07", "..\\x", "   "),
    }
    lines, reasons = [], 0
    for index in range(1000):
        column = list(bad)[index % len(bad)]
        value = bad[column][index // len(bad) % 6]
        cells = log_line(2000 + index, **{column: f'"{value}"' if "," in value else value})
        lines.append(cells.replace('""', '"') if '""' in cells else cells)
        reasons += 1
    answer = take(reef, a_log(30, *lines), "--json")
    assert (answer.code, answer.err) == (1, "")
    assert len(answer.json["taken"]) == 30
    assert len(answer.json["rejected"]) == reasons
    assert all(row["reason"].strip() for row in answer.json["rejected"])
    path = reef.folder / "log.csv.rejected.csv"
    header, *rows = rejected_rows(path)
    assert header == [*HEADER.split(","), "reason"]
    assert len(rows) == reasons
    assert all(row[-1].startswith(f"row {32 + place}: ") for place, row in enumerate(rows))

    mended = io.StringIO()
    csv.writer(mended).writerows(
        [header, *([*log_line(2000 + place).split(","), row[-1]] for place, row in enumerate(rows))]
    )
    again = take(reef, mended.getvalue(), "--json", name=path.name)
    assert (len(again.json["taken"]), again.json["rejected"]) == (1000, [])
    assert len(reef.tags()) == 1030
    entries = reef("journal", "show", "--json").json["entries"]
    (read, _) = [e["body"] for e in entries if e["kind"] == "intake.read"]
    assert len(read["rejected"]) == 1000
    reef.is_sound()


def test_rejected_rows_keep_what_was_typed(reef):
    odd = ["  34 00.1 N  ", "=HYPERLINK(1)", "'quoted", "a\nb", "x;y", 'say "so"', "\u202ertl", "Zoë, Ådne"]
    out = io.StringIO()
    writer = csv.writer(out)
    writer.writerow(["tag", "position", "when", "note"])
    writer.writerows(["X-1", "nowhere", "never", text] for text in odd)
    take(reef, out.getvalue())
    rows = rejected_rows(reef.folder / "log.csv.rejected.csv")[1:]
    assert [row[3].removeprefix("'") if row[3].startswith("'=") else row[3] for row in rows][:2] == odd[:2]
    assert [row[3] for row in rows][3:] == odd[3:]
    # Read back, as the next intake will, everything is as it was typed.
    from registry.formats.csv_table import read_csv_table

    table = read_csv_table((reef.folder / "log.csv.rejected.csv").read_text(encoding="utf-8"))
    assert [row.cells[3] for row in table.rows()] == odd
    assert not any(cell.startswith(("=", "+", "@")) for row in rows for cell in row)


def test_an_older_reject_file_that_somebody_mends_is_left_alone(reef):
    content = a_log(0, log_line(0, position="nowhere"))
    take(reef, content)
    take(reef, content)
    first = reef.folder / "log.csv.rejected.csv"
    assert sorted(p.name for p in reef.folder.glob("*rejected*")) == [first.name]
    first.write_text("mended by hand", encoding="utf-8")
    answer = take(reef, content, "--json")
    assert first.read_text(encoding="utf-8") == "mended by hand"
    assert answer.json["reject_file"].endswith("log.csv.rejected-2.csv")
    take(reef, a_log(0, log_line(0, position="nowhere at all")))
    assert (reef.folder / "log.csv.rejected-3.csv").exists()


def test_rejected_rows_that_cannot_be_kept_are_told_and_nothing_is_lost(reef):
    (reef.folder / "absent").mkdir(mode=0o755)
    answer = take(reef, a_log(2, log_line(2, depth="70")), "--rejects", "absent/none/rejects.csv")
    answer.is_told("2 rows stand", "1 rejected", code=4)
    assert len(reef.tags()) == 2
    again = take(reef, a_log(2, log_line(2, depth="70")), "--rejects", "rejects.csv", "--json")
    assert (again.json["repeated"], len(again.json["rejected"])) == ([2, 3], 1)
    assert (reef.folder / "rejects.csv").exists()


def test_columns_that_are_not_understood_are_kept_verbatim(reef):
    take(reef, f"{HEADER},Weather; sea\n{log_line(0)},fair\n")
    source = reef("journal", "show", "--json", "--last", "2").json["entries"][0]["body"]["source"]
    assert source["columns"] == {"weather_sea": "fair"}
    assert source["raw"] == f"{log_line(0)},fair"


def test_a_log_comes_through_a_pipe_with_its_digest(reef):
    import hashlib

    content = a_log(2)
    process = reef.process("intake", "/dev/stdin", "--permit", "HB-0417", stdin=subprocess.PIPE)
    _, err = process.communicate(content, timeout=60)
    assert (process.returncode, err) == (0, "")
    body = reef("journal", "show", "--json", "--last", "1").json["entries"][0]["body"]
    assert body["sha256"] == hashlib.sha256(content.encode()).hexdigest()


def test_two_separators_that_fit_alike_are_asked_about(reef):
    answer = take(reef, "tag,position;when\nx,y;z\n")
    answer.is_told("comma and semicolon", code=2)


def test_what_stands_in_the_row_goes_before_the_option(reef):
    take(reef, a_log(1, log_line(1, frame="")), "--frame", "EPSG:4326")
    frames = [
        e["body"]["observed"]["frame"]
        for e in reef("journal", "show", "--json").json["entries"]
        if e["kind"] == "placement.logged"
    ]
    assert frames[0] == "EPSG:6318"
    assert frames[1] != "EPSG:6318"


def test_a_row_of_a_permit_that_is_not_there_is_rejected(reef):
    answer = reef("intake", reef.write("log.csv", a_log(1)), "--json")
    assert "names no permit" in answer.json["rejected"][0]["reason"]
    answer = reef("intake", "log.csv", "--permit", "NO-1", "--json")
    assert "NO-1" in answer.json["rejected"][0]["reason"]


@pytest.mark.parametrize("limit", ["nan", "inf", "-inf", "NaN", "∞", "1e999", "--5 m", "0x10 m"])
@pytest.mark.parametrize("column", ["depth", "depth_u95", "tide", "r95", "epoch", "lat", "lon"])
def test_no_cell_takes_an_endless_number(reef, column, limit):
    cells = {
        "tag": "X-1", "type": "hump-60", "lat": "34.0010 N", "lon": "77.0010 W", "when": "2026-06-14T10:00Z",
        "depth": "70 ft", column: limit,
    }  # fmt: skip
    answer = take(reef, ",".join(cells) + "\n" + ",".join(cells.values()) + "\n", "--json")
    assert (answer.code, answer.json["taken"]) == (1, [])
    assert len(answer.json["rejected"]) == 1


def test_the_unit_in_a_cell_goes_before_that_of_its_column(reef):
    text = "tag,type,position,when,depth_ft,r95_m\n"
    row = "{},hump-60,34.00{}0 N 77.0010 W,2026-06-14T10:00Z,{},2\n"
    take(reef, text + row.format("A", 1, "70") + row.format("B", 2, "70 ft") + row.format("C", 3, "21 m"))
    entries = reef("journal", "show", "--json").json["entries"]
    depths = [e["body"]["charted_depth_m"] for e in entries if e["kind"] == "placement.logged"]
    assert depths == pytest.approx([21.336, 21.336, 21.0])


def test_names_that_carry_code_stay_text_in_file_names_and_answers(reef):
    name = "=cmd <script>\u202e.csv"
    answer = take(reef, a_log(1, log_line(1, position="nowhere")), name=name)
    assert answer.code == 1
    assert (reef.folder / f"{name}.rejected.csv").exists()


#: Rows of a log of many transactions, and of these the wrong ones of each kind.
MANY, WRONG = 30_000, 20


@pytest.mark.slow
def test_many_thousand_rows_are_taken_in_and_right(reef):
    """Nearly all lie in their area, as they do; a few carry a slip, name no place or bear a tag twice."""
    wide = PERMIT.replace("HB-0417", "HB-0500").replace("34 00.600 N", "34 09.600 N")
    reef.good("permit", "add", reef.write("wide.toml", wide))
    slips = [log_line(MANY + n, position=f"39.39{n:02d}00 N 77.0000 W") for n in range(WRONG)]
    nowhere = [log_line(MANY + n, position="nowhere") for n in range(WRONG, 2 * WRONG)]
    twice = [log_line(n, when=f"2026-06-15T10:00:{n:02d}Z") for n in range(WRONG)]
    rows = a_log(MANY, *slips, *nowhere, *twice)
    answer = reef.apart("intake", reef.write("log.csv", rows), "--permit", "HB-0500")
    assert (answer.code, answer.err) == (1, "")
    recorded = MANY + 2 * WRONG
    assert f"{recorded} placements recorded" in answer.out
    assert len(rejected_rows(reef.folder / "log.csv.rejected.csv")) == WRONG + 1
    table = reef("export", "--format", "csv", "--out", "all.csv")
    assert (table.code, len((reef.folder / "all.csv").read_bytes().splitlines())) == (0, recorded + 1)
    reef.is_sound()
    with open_register(reef.registry, clock=FixedClock()) as register:
        placed = register.placements()
        flagged = placed.lat_deg > 39
        assert (len(placed), int(flagged.sum())) == (recorded, WRONG)
        named = [register.placement(one).warnings for one in placed.placement_id[flagged]]
    assert all("digits of the latitude were transposed" in " ".join(warnings) for warnings in named), named[0]
