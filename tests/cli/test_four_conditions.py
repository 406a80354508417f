"""Seasons, shores, plans and waves as they are typed: from the permit's file to the verdict and what is owed."""

import json

import pytest

from tests.cli.reef import GOOD_DEPTH, PERMIT, WHEN

SEASON = """
[[condition]]
rule = "season"
closed = "1 July to 31 October"
cite = "Special condition 10"
"""
SHORE = """
[[condition]]
rule = "offshore-distance"
least = "3 nmi"
baseline = "normal baseline"
cite = "Special condition 11"
"""
PLAN = """
[[condition]]
rule = "target-offset"
greatest_m = 10
cite = "Special condition 12"
"""
WAVE = """
[[condition]]
rule = "stability"
types = ["hump-90"]
least_sliding_factor = 1.5
least_overturning_factor = 2.0
wave_height = "14 ft"
wave_period = "11 s"
water_level_m = 0.5
water_density = "1025 kg/m3"
drag_coefficient = 1.0
inertia_coefficient = 1.7
lift_coefficient = 0.4
friction_coefficient = 0.40
force_height_m = 0.40
edge_distance_m = 0.55
cite = "Special condition 13"
"""
HERE = ("--at", "34 00.1000 N 077 00.0000 W", "--frame", "EPSG:6318", "--r95", "2 m")
COAST = {
    "type": "FeatureCollection",
    "features": [
        {
            "type": "Feature",
            "properties": {"name": "west"},
            "geometry": {"type": "LineString", "coordinates": [[-77.1, 33.5], [-77.1, 34.5]]},
        }
    ],
}


def amended(reef, *conditions):
    """Record another version of the permit with more conditions, in force from its first day."""
    file = reef.write("more.toml", PERMIT + "".join(conditions))
    return reef("permit", "amend", "HB-0417", file, "--effective", "2024-05-01", "--why", "Amendment 1")


def found(answer):
    """Give what each of the four rules found, several findings of one rule in order."""
    four = ("season", "offshore-distance", "target-offset", "stability")
    return [(f["rule"], f["verdict"]) for f in answer.json["findings"] if f["rule"] in four]


def check(reef, *said):
    return reef("check", "--permit", "HB-0417", "--type", "hump-90", *HERE, *GOOD_DEPTH, *said, "--json")


def test_the_four_conditions_from_file_to_verdict(reef):
    assert amended(reef, SEASON, SHORE, PLAN, WAVE).code == 0
    # What they are counted from is not recorded yet.
    first = check(reef, "--tag", "MC-0001")
    assert first.code == 3
    undecided = {f["rule"]: f for f in first.json["findings"] if f["verdict"] == "inconclusive"}
    assert set(undecided) == {"offshore-distance", "target-offset"}
    assert "leadline baseline add" in undecided["offshore-distance"]["message"]
    assert "leadline target add" in undecided["target-offset"]["message"]
    coast = reef.write("coast.geojson", json.dumps(COAST))
    reef.good("baseline", "add", coast, "--name", "normal baseline", "--epoch", "2024.5")
    reef.good("target", "add", "MC-0001", "--permit", "HB-0417", *HERE[:4])
    placed = reef("place", "MC-0001", "--permit", "HB-0417", *HERE, *GOOD_DEPTH, *WHEN, "--json")
    assert found(placed) == [
        ("offshore-distance", "conforming"),
        ("target-offset", "conforming"),
        ("stability", "conforming"),
        ("stability", "conforming"),
        ("season", "conforming"),
    ]
    findings = {(f["rule"], f["limit"]): f for f in placed.json["findings"]}
    assert findings["offshore-distance", 5556.0]["cite"] == "Special condition 11"
    assert findings["stability", 1.5]["unit"] == findings["stability", 2.0]["unit"] == "1"
    assert findings["season", 0.0]["unit"] == "d"
    late = reef(
        *("place", "MC-0002", "--type", "hump-90", "--permit", "HB-0417", *HERE[2:], *GOOD_DEPTH),
        *("--at", "34 00.1200 N 077 00.0000 W", "--when", "2026-07-01T10:32-04:00", "--json"),
    )
    assert ("season", "nonconforming") in found(late)
    assert ("target-offset", "inconclusive") in found(late)
    reef.is_sound()


def test_the_end_of_the_season_is_a_duty(reef):
    assert amended(reef, SEASON).code == 0
    duties = reef("duties", "--on", "2026-06-14", "--json").json["duties"]
    (season,) = (each for each in duties if each["kind"] == "season")
    assert (season["due"], season["cite"]) == ("2026-06-30", "Special condition 10")
    assert "due soon" in season["state"]


def test_an_audit_tells_of_them_on_page_and_paper(reef):
    amended(reef, SEASON, SHORE, PLAN, WAVE)
    reef("place", "MC-0001", "--permit", "HB-0417", *HERE, *GOOD_DEPTH, *WHEN)
    audit = reef("audit", "--out", reef.folder / "audit", "--json")
    assert audit.code == 3
    page = (reef.folder / "audit" / "report.html").read_text(encoding="utf-8")
    for words in (
        "by a screening",
        "wave height 14 ft (4.27 m)",
        "sliding: at least 1.5",
    ):
        assert words in page, words
    assert (reef.folder / "audit" / "report.pdf").stat().st_size > 10_000


@pytest.mark.parametrize(
    ("condition", "words"),
    [
        (SEASON.replace("1 July", "31 June"), ("'31 June to 31 October'", "05-01 to 10-31")),
        (SEASON.replace("1 July to 31 October", "01-01 to 12-31"), ("No day of the year is left",)),
        (SEASON.replace("closed", "shut"), ("'shut'", "open, closed")),
        (SHORE.replace('least = "3 nmi"', ""), ("states no limit", "least or greatest")),
        (SHORE.replace("3 nmi", "3 miles"), ("miles",)),
        (PLAN.replace("greatest_m = 10", 'least = "3 m"'), ("'least'", "greatest")),
        (WAVE.replace("lift_coefficient = 0.4\n", ""), ("without lift_coefficient", "Nothing of it is ever")),
        (WAVE.replace("edge_distance_m = 0.55\n", ""), ("least_overturning_factor without edge_distance",)),
        (WAVE.replace("1.0\n", "-1.0\n"), ("drag_coefficient", "below zero")),
        (WAVE.replace('"11 s"', '"0 s"'), ("wave_period", "not above zero")),
        (WAVE.replace('"14 ft"', "14"), ("wave_height = 14", "without unit")),
        (WAVE.replace("= 1.5", '= "1.5 m"'), ("least_sliding_factor", "plain number")),
        (WAVE.replace('"11 s"', '"11 m"'), ("wave_period", "a length", "Give a time")),
    ],
)
def test_a_condition_that_cannot_be_judged_is_refused_with_its_reason(reef, condition, words):
    amended(reef, condition).is_told(*words, code=2)
    assert reef.good("permit", "show", "HB-0417", "--json").json
