"""Targets one by one and from a spreadsheet, and baselines from files, as they are typed."""

import json

import pytest

AT = ("--permit", "HB-0417", "--frame", "EPSG:6318", "--at")
HERE = "34 00.1000 N 077 00.0000 W"
PLAN = """tag,latitude,longitude,remark
MC-0001,34 00.1000 N,077 00.0000 W,
MC-0002,34 00.1100 N,077 00.0000 W,
MC-0003,34 00.1100,077 00.0000,no hemispheres
MC-0002,34 00.1200 N,077 00.0000 W,twice
"""


def test_a_target_is_added_moved_and_listed(reef):
    added = reef.good("target", "add", "MC-0001", *AT, HERE)
    assert added.out.splitlines()[0] == f"Target of MC-0001 under permit HB-0417: {HERE}"
    assert "nothing was written" in reef.good("target", "add", "MC-0001", *AT, HERE).out
    there = HERE.replace("1000", "1100")
    reef("target", "add", "MC-0001", *AT, there).is_told("has a target", "leadline target move", code=2)
    moved = reef.good("target", "move", "MC-0001", *AT, there, "--why", "a ledge")
    assert f"instead of {HERE}" in moved.out
    assert reef.good("target", "list").out.strip() == (
        f"MC-0001  HB-0417  {there}  (EPSG:6318)  not placed yet"
    )
    reef(
        *("place", "MC-0001", *AT, there, "--r95", "2 m", "--depth", "70 ft", "--depth-u95", "1 ft"),
        *("--when", "2026-06-14T10:32-04:00"),
    )
    (target,) = reef.good("target", "list", "--permit", "HB-0417", "--json").json["targets"]
    assert (target["tag"], target["placed"], target["written"]) == ("MC-0001", True, there)
    reef("target", "list", "--permit", "HB-0999").is_told("HB-0999", code=2)
    reef.is_sound()


def test_a_plan_is_imported_and_bad_rows_go_to_a_file(reef):
    plan = reef.write("plan.csv", PLAN)
    answer = reef("target", "import", plan, "--permit", "HB-0417", "--frame", "EPSG:6318")
    assert answer.code == 1
    assert answer.out.startswith("Recorded 2 targets from ")
    assert "Columns that were left out: remark." in answer.out
    rejected = (reef.folder / "plan.csv.rejected.csv").read_text(encoding="utf-8")
    assert rejected.splitlines()[0] == "tag,latitude,longitude,remark,reason"
    assert "row 4: " in rejected
    assert "row 5: " in rejected
    again = reef("target", "import", plan, "--permit", "HB-0417", "--frame", "EPSG:6318", "--json").json
    assert (again["taken"], again["repeated"]) == (0, [2, 3])
    assert [each["row"] for each in again["rejected"]] == [4, 5]
    reef.is_sound()


def test_a_plan_from_the_screen_of_a_phone_warns_where_nothing_was_stated(reef):
    plan = reef.write("plan.csv", "tag,position\nMC-0001,34 10.1000 N 077 00.0000 W\n")
    answer = reef("target", "import", plan, "--permit", "HB-0417")
    assert answer.code == 0
    assert "No frame was stated" in answer.out
    assert "outside every permit area" in answer.out


def test_a_plan_that_is_no_plan_is_told(reef):
    reef("target", "import", reef.write("plan.csv", "a,b\n1,2\n"), "--permit", "HB-0417").is_told(
        "no column for tag", code=2
    )
    reef("target", "import", reef.write("plan.csv", PLAN), "--permit", "HB-0999").is_told("HB-0999", code=2)
    reef("target", "import", reef.folder / "none.csv", "--permit", "HB-0417").is_told("none.csv", code=4)


def shore(*geometries):
    features = [
        {"type": "Feature", "properties": {"name": name}, "geometry": {"type": kind, "coordinates": points}}
        for name, kind, points in geometries
    ]
    return json.dumps({"type": "FeatureCollection", "features": features})


WEST = ("west", "LineString", [[-77.6, 33.5], [-77.6, 34.5]])
ISLE = ("isle", "Polygon", [[[-77.3, 33.9], [-77.2, 33.9], [-77.2, 34.0], [-77.3, 33.9]]])


def test_baselines_are_added_and_listed(reef):
    file = reef.write("shore.geojson", shore(WEST, ISLE))
    added = reef.good("baseline", "add", file, "--name", "normal baseline", "--epoch", "2024.5")
    assert "baseline-0001: normal baseline: west, a line" in added.out
    assert "baseline-0002: normal baseline: isle, the side of the land" in added.out
    assert "stated in EPSG:4326, epoch 2024.5; EPSG:10334" in added.out
    assert reef.good("baseline", "list").out == added.out
    first, _ = reef.good("baseline", "list", "--json").json["baselines"]
    assert (first["id"], first["geometry"], first["epoch"]) == ("baseline-0001", "LineString", 2024.5)
    assert "SHA-256" in first["written"]
    reef.is_sound()


def test_an_empty_list_says_how_to_add(reef):
    assert "leadline baseline add" in reef.good("baseline", "list").out
    assert "leadline target add" in reef.good("target", "list").out
    assert reef.good("baseline", "list", "--json").json == {"baselines": []}


@pytest.mark.parametrize(
    ("name", "content", "options", "words", "code"),
    [
        ("shore.geojson", shore(("mark", "Point", [-77.0, 34.0])), (), ("neither a line nor a polygon",), 2),
        ("shore.geojson", shore(WEST), ("--frame", "EPSG:6318"), ("NAD83(2011)", "WGS 84"), 2),
        ("shore.txt", "x", (), ("no kind that can be read",), 4),
        ("shore.geojson", "", (), ("empty",), 4),
    ],
)
def test_a_source_that_is_no_baseline_is_told(reef, name, content, options, words, code):
    file = reef.write(name, content)
    reef("baseline", "add", file, "--name", "x", *options).is_told(*words, code=code)
    reef("baseline", "add", reef.registry, "--name", "x").is_told("the registry itself", code=2)
    assert reef.good("baseline", "list", "--json").json == {"baselines": []}
