"""``leadline convert``: one position, a column, NAD27 with and without its grid."""

import csv
import math
import os
import struct
import subprocess
import sys
from pathlib import Path

import pytest

from tests.cli.reef import Reef

ROOT = Path(__file__).parents[2]


def test_one_position_is_told_with_operation_accuracy_and_epoch(reef: Reef):
    answer = reef(
        "convert",
        "34 01.250 N 077 20.110 W",
        "--from",
        "EPSG:4326",
        "--epoch",
        "2026.5",
        "--to",
        "NAD83(2011)",
    )
    assert answer.code == 0
    first, *rest = answer.out.splitlines()
    assert first == "34 01.2495 N 077 20.1096 W"
    told = "\n".join(rest)
    for words in (
        "NAD83(2011) (EPSG:6318), epoch 2010",
        "EPSG:10334 ITRF2020 to NAD83(2011)",
        "1.09 m toward 14",
        "95 %",
    ):
        assert words in told


def test_json_gives_the_whole_value(reef: Reef):
    answer = reef(
        "convert",
        "34.0208333 -77.3351667",
        "--from",
        "EPSG:6318",
        "--to",
        "EPSG:32618",
        "--on",
        "2056-06-14",
        "--json",
    )
    said = answer.json
    assert said["position"]["frame"] == "EPSG:4326"
    assert said["position"]["epoch"] == pytest.approx(2056.45, abs=0.01)
    assert said["grid"]["name"] == "WGS 84 / UTM zone 18N"
    assert said["text"].startswith("EPSG:32618 ")
    assert said["operation"].startswith("INVERSE(EPSG:10334)")
    assert said["shift"]["distance_m"] == pytest.approx(1.5, abs=0.1)


@pytest.mark.parametrize(("notation", "begins"), [
    ("dd", "34.02"), ("ddm", "34 01."), ("dms", "34 01 15"), ("utm", "EPSG:32618 "), ("mgrs", "18STC"),
    ("iso6709", "+34.02"), ("geo", "geo:34.02"),
])  # fmt: skip
def test_every_notation(reef: Reef, notation, begins):
    answer = reef(
        "convert", "34 01.2500 N 077 20.1100 W", "--from", "WGS 84", "--to", "WGS 84", "--notation", notation
    )
    assert answer.out.startswith(begins)
    written = answer.out.splitlines()[0]
    again = reef("convert", written, "--from", "WGS 84", "--to", "WGS 84", "--json").json
    assert again["position"]["lat"] == pytest.approx(34.0208333, abs=1e-5)


def test_bare_numbers_on_a_grid_named_beside_them(reef: Reef):
    """State plane in US survey feet and in international feet, from the same place."""
    there = reef("convert", "33.5 -79.0", "--from", "EPSG:6318", "--to", "EPSG:6570", "--json").json["grid"]
    assert there["unit"] == "foot"
    feet = f"{there['easting']:.3f} {there['northing']:.3f}"
    back = reef("convert", feet, "--from", "EPSG:6570", "--to", "EPSG:6318", "--json").json["position"]
    assert (back["lat"], back["lon"]) == pytest.approx((33.5, -79.0), abs=1e-8)


def test_a_radius_is_stated_only_where_somebody_knows_it(reef: Reef):
    line = (
        "convert",
        "34.0208333 -77.3351667",
        "--from",
        "WGS 84",
        "--to",
        "WGS 84",
        "--notation",
        "geo",
        "--json",
    )
    unknown, known = reef(*line).json, reef(*line, "--r95", "3 m").json
    assert (unknown["position"]["r95_m"], ";u=" in unknown["text"]) == (None, False)
    assert known["text"].endswith(";u=3.1")
    assert known["position"]["r95_m"] == pytest.approx(3.0, abs=1e-3)


def test_a_position_may_begin_with_a_minus_sign(reef: Reef):
    answer = reef(
        "convert", "-34.0 151.5", "--from", "EPSG:4326", "--epoch", "2026.5", "--to", "GDA2020", "--json"
    )
    assert answer.json["position"]["lat"] == pytest.approx(-34.0, abs=1e-5)
    assert reef("convert", "--to", "GDA2020", "--from", "GDA94", "-34.0 151.5").code == 0
    reef("convert", "-x", "34 -77", "--to", "EPSG:4326").is_told("-x", code=2)


def test_a_column_and_its_rejects(reef: Reef):
    table = reef.folder / "marks.csv"
    table.write_text(
        "Name,Lat,Lon\nfirst,34.02083,-77.33517\nsecond,95,-77\nthird,34 01.250 N,077 20.110 W\n"
    )
    answer = reef(
        "convert",
        "--csv",
        table,
        "--column",
        "Lat",
        "--column",
        "lon",
        "--from",
        "EPSG:4326",
        "--epoch",
        "2026.5",
        "--to",
        "EPSG:6318",
        "--notation",
        "dd",
    )
    assert answer.code == 1
    with (reef.folder / "marks.csv.converted.csv").open(encoding="utf-8-sig", newline="") as stream:
        rows = list(csv.DictReader(stream))
    assert [row["Name"] for row in rows] == ["first", "third"]
    assert rows[0]["position"] == "34.020822 N 77.335163 W"
    assert rows[0]["frame"] == "EPSG:6318"
    assert rows[0]["operation"].startswith("EPSG:10334")
    rejected = (reef.folder / "marks.csv.rejected.csv").read_text()
    assert "second" in rejected
    assert "row 3" in rejected


@pytest.mark.parametrize(("arguments", "words"), [
    (("--to", "EPSG:4326"), "one position"),
    (("34 -77", "--csv", "marks.csv", "--to", "EPSG:4326"), "one position"),
    (("34 -77", "--column", "x", "--from", "EPSG:4326", "--to", "EPSG:4326"), "belong to --csv"),
    (("34 -77", "--from", "EPSG:6318", "--to", "EPSG:4326"), "no day was named"),
    (("34 -77", "--from", "EPSG:4326", "--to", "EPSG:4326", "--on", "2030-01-01", "--to-epoch", "2030"), "Both"),
    (("34 -77", "--from", "Atlantis", "--to", "EPSG:4326"), "Atlantis"),
    (("34 -77", "--from", "EPSG:6318", "--to", "EPSG:6318", "--notation", "geo"), "in WGS 84"),
])  # fmt: skip
def test_wrong_requests(reef: Reef, arguments, words):
    (reef.folder / "marks.csv").write_text("a\n1\n")
    reef("convert", *arguments).is_told(words, code=2)


def test_columns_are_named(reef: Reef):
    (reef.folder / "marks.csv").write_text("Name,Position\na,34.02083 -77.33517\n")
    asked = ("convert", "--csv", "marks.csv", "--from", "EPSG:6318", "--to", "EPSG:6318")
    reef(*asked).is_told("0 columns", code=2)
    reef(*asked, "--column", "Place").is_told("Name, Position", code=2)
    reef(*asked, "--column", "position", "--out", "marks.csv").is_told("being converted", code=2)
    assert reef(*asked, "--column", "position").code == 0
    assert "position_converted" in (reef.folder / "marks.csv.converted.csv").read_text()


def test_nad27_needs_its_grid(reef: Reef):
    reef("convert", "34.0 -77.0", "--from", "NAD27", "--to", "EPSG:6318").is_told(
        "conus", "--grids DIR", code=4
    )
    reef("convert", "34.0 -77.0", "--from", "NAD27", "--to", "EPSG:6318", "--grids", "nowhere").is_told(
        "nowhere", code=4
    )


def test_nad27_with_its_grid(tmp_path):
    """
    NGS station EA0344 within 50 mm, by the four nodes of the NADCON grid around it (NOAA, public domain).

    In a process of its own, because a folder of grids holds for the whole process.
    """
    corner = [math.radians(x) for x in (-77.5, 34.5, 0.25, 0.25)]
    header = struct.pack("<16s80s4d2i24x", b"CTABLE V2.0     ", b"four nodes of conus", *corner, 2, 2)
    shifts = [-1.11923, 0.6005, -1.1665, 0.59436, -1.119, 0.592, -1.16052, 0.58064]
    (tmp_path / "conus").write_bytes(header + struct.pack("<8f", *(math.radians(s / 3600) for s in shifts)))
    line = [
        "convert",
        "34 34 50.18422 N 77 29 03.59149 W",
        "--from",
        "NAD27",
        "--to",
        "NAD83(2011)",
        "--notation",
        "dms",
    ]
    done = subprocess.run(
        [sys.executable, "-m", "registry", *line, "--grids", str(tmp_path)],
        capture_output=True, text=True, check=True, cwd=ROOT, env=os.environ | {"PYTHONPATH": str(ROOT)},
    )  # fmt: skip
    assert done.stdout.startswith("34 34 50.78 N 077 29 02.47 W")  # published 50.78140, 02.46988
    assert "EPSG:1241 NAD27 to NAD83(2011)" in done.stdout
    assert "Accuracy   2.6 m" in done.stdout
