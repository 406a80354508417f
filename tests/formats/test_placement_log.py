"""The spreadsheet of a day at sea: columns by the names that people give them, rows as they are typed."""

import pytest

from registry.errors import LeadlineError, TableError
from registry.formats.csv_table import read_csv_table
from registry.formats.log_columns import understood_columns
from registry.formats.placement_log import read_placement_log
from registry.records.log_row import LogRow

SOURCE = {"file": "log.csv", "sha256": "0" * 64}
ZONE = "America/New_York"


def rows_of(text, **options):
    options = {"zone": ZONE, "permit": "HB-0417", "source": SOURCE} | options
    return [read for _, read in read_placement_log(read_csv_table(text), **options)]


def one(**cells):
    cells = {"tag": "MC-1", "position": "34 00.1 N 77 00.0 W", "when": "2026-06-14T10:00Z"} | cells
    given = {name: cell for name, cell in cells.items() if cell is not None}
    (read,) = rows_of("\t".join(given) + "\n" + "\t".join(given.values()) + "\n")
    return read


@pytest.mark.parametrize(
    ("written", "meaning"),
    [
        ("Tag", "tag"), ("Module ID", "tag"), ("MODULE", "tag"), ("module-tag", "tag"),
        ("Coordinates", "position"), ("Lat/Long", "position"), ("Pos.", "position"),
        ("Date Time", "when"), ("Touchdown", "when"), ("Placed at", "when"),
        ("Water depth", "depth"), ("Depth (ft)", "depth"), ("depth [m]", "depth"), ("DEPTH FATHOMS", "depth"),
        ("Tide height", "tide"), ("Tide (m)", "tide"), ("Accuracy", "r95"), ("R95 m", "r95"),
        ("GNSS", "receiver"), ("Datum", "frame"), ("CRS", "frame"), ("Divers", "crew"), ("Boat", "vessel"),
        ("Remarks", "note"), ("Permit number", "permit"), ("Module type", "type"),
    ],
)  # fmt: skip
def test_columns_are_known_by_the_names_that_people_give_them(written, meaning):
    header = ["tag", "position", "when"]
    place = next((i for i, name in enumerate(header) if name == meaning), len(header))
    header[place : place + 1] = [written]
    columns = understood_columns(read_csv_table("\t".join(header) + "\nx\n", delimiter="\t"))
    assert meaning in columns.by_meaning
    assert columns.others == ()


@pytest.mark.parametrize(
    "header",
    [
        "position,when",
        "tag,when",
        "tag,position",
        "tag,lat,when",
        "tag,position,date",
        "tag,position,lat,lon,when",
        "tag,position,easting,northing,when",
        "tag,easting,when",
        "tag,module,position,when",
        "tag,position,when,depth_ft,depth_m",
        "tag,position,when,charted_depth,tide",
        "tag,position,when,charted_depth_m,tide_ft",
    ],
)
def test_a_header_that_cannot_be_understood_is_refused_with_the_remedy(header):
    with pytest.raises(TableError) as refusal:
        understood_columns(read_csv_table(header + "\n"))
    assert refusal.value.remedy


def test_a_row_is_read_as_it_stands():
    row = one(depth="60 ft", tide="0.5 m", r95="2 m", frame="EPSG:6318", crew=" Ada, Ben ", weather="fair")
    assert isinstance(row, LogRow)
    assert (row.tag, row.permit, row.frame, row.crew) == ("MC-1", "HB-0417", "EPSG:6318", "Ada, Ben")
    assert row.depth is not None
    assert row.depth.value == pytest.approx(18.288)
    assert row.source["columns"] == {"weather": "fair"}
    assert row.source["row"] == 2
    assert "60 ft" in row.source["raw"]


def test_latitude_and_longitude_may_stand_apart_and_date_and_time_too():
    row = one(position=None, lat="34 00.1 N", lon="77 00.0 W", when=None, date="2026-06-14", time="06:00")
    assert isinstance(row, LogRow)
    assert (row.position.lat_deg, row.position.lon_deg) == pytest.approx((34 + 0.1 / 60, -77.0))
    # The programme's zone, in summer four hours behind UTC.
    assert row.placed_at.isoformat() in ("2026-06-14T06:00:00-04:00", "2026-06-14T10:00:00+00:00")


@pytest.mark.parametrize(
    ("cells", "words"),
    [
        ({"tag": ""}, "no tag"),
        ({"position": ""}, "no position"),
        ({"when": ""}, "no time"),
        ({"position": None, "lat": "34 00.1 N", "lon": ""}, "no position"),
        ({"position": None, "lat": "77 00.0 W", "lon": "34 00.1 N"}, "W"),
        ({"position": "34 00.1 N 77 00.0"}, "hemisphere"),
        ({"when": "2026-06-14"}, ""),
        ({"when": "2026-11-01T01:30"}, ""),
        ({"when": "14/06/2026 10:00"}, ""),
        ({"when": None, "date": "2026-06-14", "time": ""}, ""),
        ({"when": None, "date": "", "time": "10:00"}, ""),
        ({"when": None, "date": "", "time": ""}, "no time"),
        ({"depth": "60"}, "unit"),
        ({"depth": "nan m"}, "finite"),
        ({"tide": "inf ft"}, "finite"),
        ({"epoch": "nan"}, "epoch"),
        ({"epoch": "inf"}, "epoch"),
        ({"epoch": "last year"}, "epoch"),
    ],
)
def test_a_row_that_cannot_be_read_gives_its_reason(cells, words):
    read = one(**cells)
    assert isinstance(read, LeadlineError)
    assert words in str(read)
    assert read.remedy


def test_eastings_and_northings_are_read_on_the_grid_of_the_row_or_of_the_file():
    text = (
        "Tag,Easting (m),Northing (m),When,Frame\n"
        "A,758658.4,3738167.977,2026-06-14T10:00Z,\n"
        "B,758658.4,3738167.977,2026-06-14T10:00Z,EPSG:32617\n"
        "C,758658.4,3738167.977,2026-06-14T10:00Z,EPSG:6318\n"
    )
    missing, good, wrong = rows_of(text)
    assert "no grid is named" in str(missing)
    assert isinstance(good, LogRow)
    assert (good.frame, good.position.grid) == ("EPSG:32617", "EPSG:32617")
    assert good.position.lat_deg == pytest.approx(33.75205, abs=1e-6)
    assert "is no grid" in str(wrong)
    assert isinstance(rows_of(text, frame="EPSG:32617")[0], LogRow)


def test_two_bare_numbers_are_read_on_the_grid_that_is_stated_beside_them():
    row = one(position="758658.4 3738167.977", frame="EPSG:32617")
    assert isinstance(row, LogRow)
    assert row.position.grid == "EPSG:32617"


def test_a_bad_row_does_not_touch_its_neighbours():
    text = "tag,position,when\nA,34 N 77 W,2026-06-14T10:00Z\nB,x\nC,34 N 77 W,never\nD,34 N 77 W,2026-06-14T10:00Z\n"
    assert [isinstance(read, LogRow) for read in rows_of(text)] == [True, False, False, True]


def test_a_unit_column_is_the_unit_of_bare_depths():
    row = one(depth="60", unit="ft")
    assert isinstance(row, LogRow)
    assert row.depth is not None
    assert row.depth.value == pytest.approx(18.288)


def test_the_permit_of_a_row_goes_before_that_of_the_file_and_one_is_needed():
    row = one(permit="HB-0522")
    assert isinstance(row, LogRow)
    assert row.permit == "HB-0522"
    (read,) = rows_of("tag,position,when\nA,34 N 77 W,2026-06-14T10:00Z\n", permit=None)
    assert isinstance(read, TableError)


def test_the_key_of_a_row_is_what_it_says_and_not_where_it_stands():
    first = "tag,position,when\nA,34 N 77 W,2026-06-14T10:00Z\n"
    moved = "tag,position,when\n\nB,34 N 77 W,2026-06-14T11:00Z\n A ,34 N 77 W,2026-06-14T10:00Z\n"
    other = "tag,position,when\nA,34 N 77 W,2026-06-14T10:01Z\n"
    keys = [
        [r.source["key"] for r in rows_of(text) if isinstance(r, LogRow)] for text in (first, moved, other)
    ]
    assert keys[0][0] == keys[1][1]
    assert len({keys[0][0], keys[1][0], keys[2][0]}) == 3
