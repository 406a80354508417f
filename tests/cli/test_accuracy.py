"""``leadline accuracy``."""

import pytest

from tests.cli.reef import Reef, a_log


@pytest.fixture
def site(reef: Reef) -> Reef:
    (reef.folder / "day.csv").write_text(a_log(24))
    assert reef("intake", "day.csv", "--permit", "HB-0417").code in (0, 3)
    return reef


def checks(reef: Reef, count: int = 24, *, wild: int | None = None) -> str:
    lines = ["tag,lat,lon,date"]
    for number in range(count):
        north, east = (number * 5 % 7 - 3) * 2e-6, (number * 3 % 7 - 3) * 3e-6
        if number == wild:
            north += 0.0002
        lines.append(
            f"LN-{number:05d},{33.9920 + north:.7f},{-77.0080 + number * 0.00016 + east:.7f},2027-10-02"
        )
    (reef.folder / "checks.csv").write_text("\n".join(lines) + "\n")
    return "checks.csv"


STATED = ("--frame", "EPSG:6318", "--receiver", "rtk")


def test_a_sound_registry(site):
    answer = site("accuracy", checks(site), *STATED, "--out", "plot.svg")
    assert answer.code == 0
    for words in (
        "24 modules checked",
        "RMSE",
        "NSSDA, 95 %",
        "Ellipse, 95 %",
        "24 of 24",
        "S-44 order Special",
        "not conservative",
        "Wrote plot.svg",
    ):
        assert words in answer.out
    assert (site.folder / "plot.svg").read_text().startswith("<svg")


def test_fewer_than_twenty_points_are_said_so(site):
    answer = site("accuracy", checks(site, 19), *STATED)
    assert answer.code == 3
    assert "Only 19 points: the NSSDA asks for at least 20." in answer.out
    # FGDC-STD-007.3-1998: at least 20 check points; fewer support no class, however well they agree.
    assert "So few points support no order of IHO S-44: 20 are asked for." in answer.out
    assert "meets" not in answer.out
    assert site("accuracy", checks(site, 19), *STATED, "--json").json["s44_order"] is None


def test_one_point_is_told_as_one(site):
    out = site("accuracy", checks(site, 1), *STATED).out
    assert "1 module checked" in out
    assert "Only 1 point: the NSSDA" in out
    assert "support no order" in out


def test_where_no_row_can_be_used_the_first_reason_is_given(site):
    site.write("blank.csv", "tag,position,frame,when\nLN-00001,,,\nLN-00002,,,\n")
    site("accuracy", "blank.csv", *STATED).is_told("Row 2", "has no position", "1 more", code=2)
    site.write("none.csv", "tag,position,frame,when\n")
    site("accuracy", "none.csv", *STATED).is_told("has no row", code=2)
    site.write("other.csv", "tag,position,frame,when\nXX-1,34 N 77 W,EPSG:6318,2027-10-02\n")
    site("accuracy", "other.csv", *STATED).is_told("XX-1", code=2)


def test_an_outlier_is_named(site):
    answer = site("accuracy", checks(site, wild=7), *STATED, "--json")
    assert answer.code == 3
    said = answer.json
    assert [point["tag"] for point in said["points"] if point["outlier"]] == ["LN-00007"]
    assert said["accuracy"]["points"] == 24
    assert said["without_outliers"]["points"] == 23
    assert said["s44_order"] == "2"


def test_bad_rows_come_back(site):
    name = checks(site)
    with (site.folder / name).open("a") as stream:
        stream.write("XX-1,33.9,-77.0,2027-10-02\nLN-00001,,,2027-10-02\n")
    answer = site("accuracy", name, *STATED)
    assert answer.code == 1
    assert "row 26" in answer.out
    assert (site.folder / "checks.csv.rejected.csv").exists()


def test_nothing_is_written_to_the_registry(site):
    before = site.registry.read_bytes()
    site("accuracy", checks(site), *STATED)
    assert site.registry.read_bytes() == before


def test_wrong_requests(site):
    name = checks(site)
    site("accuracy", name, *STATED, "--r95", "1 m").is_told("--r95 and --receiver", code=2)
    site("accuracy", "nothing.csv").is_told("no file", code=4)
    site("accuracy", name, *STATED, "--out", "leadline.gpkg").is_told("registry", code=2)
    site("accuracy", name, *STATED, "--out", name).is_told("itself", code=2)
    (site.folder / "bad.csv").write_text("tag,lat\nLN-00001,34\n")
    site("accuracy", "bad.csv", *STATED).is_told("position", code=2)
