"""``leadline resurvey``: exit codes, words, a site from a spreadsheet, and the journal behind it."""

import pytest

from tests.cli.reef import GOOD, GOOD_DEPTH, WHEN, Reef, a_log

ASKED = ("--frame", "EPSG:6318", "--r95", "2 m", "--when", "2027-10-02")


@pytest.fixture
def placed(reef: Reef) -> Reef:
    assert reef("place", "MC-0001", *GOOD, *GOOD_DEPTH, *WHEN).code == 0
    return reef


def test_where_it_was(placed):
    answer = placed("resurvey", "MC-0001", "--at", "34 00.1003 N 077 00.0002 W", *ASKED)
    assert answer.code == 0
    assert (
        "+ MC-0001 not shown to have moved since 2026-06-14: 0.6 ± 2.9 m. A move of 4.6 m would have shown"
        in answer.out
    )
    assert "Recorded as" in answer.out
    assert "chi-square" in answer.out


def test_moved(placed):
    answer = placed("resurvey", "MC-0001", "--at", "34 00.1000 N 077 00.0100 W", *ASKED)
    assert answer.code == 1
    assert (
        "x MC-0001 moved 15.4 ± 2.9 m toward 270° true, some time between 2026-06-14 and 2027-10-02."
        in answer.out
    )
    assert placed("where", "MC-0001", "--frame", "EPSG:6318").out.startswith("34 00.1000 N 077 00.0100 W")
    assert placed("journal", "verify").code == 0
    assert placed("journal", "rebuild").code == 0


def test_json_and_dry_run(placed):
    before = placed("journal", "verify", "--json").json
    said = placed("resurvey", "MC-0001", "--at", "34 00.1000 N 077 00.0100 W", *ASKED, "--dry-run", "--json")
    assert said.code == 1
    assert (said.json["movement"], said.json["resurvey"]) == ("moved", None)
    assert said.json["distance_m"] == pytest.approx(15.4, abs=0.1)
    assert said.json["p_value"] < 1e-6
    assert placed("journal", "verify", "--json").json == before


def test_a_resurvey_is_corrected(placed):
    wrong = placed("resurvey", "MC-0001", "--at", "34 00.1000 N 077 00.1000 W", *ASKED, "--json").json
    line = ("resurvey", "MC-0001", "--at", "34 00.1000 N 077 00.0010 W", *ASKED)
    placed(*line, "--corrects", wrong["resurvey"]).is_told("--reason", code=2)
    right = placed(*line, "--corrects", wrong["resurvey"], "--reason", "a digit too many")
    assert right.code == 0


@pytest.mark.parametrize(("arguments", "words"), [
    ((), "one tag"), (("MC-0001", "--csv", "x.csv"), "one tag"), (("MC-0001",), "--at and --when"),
    (("MC-0001", "--at", "34 -77", "--when", "2020-01-01", "--frame", "EPSG:6318"), "before 2026-06-14"),
    (("XX", "--at", "34 -77", *ASKED), "XX"),
])  # fmt: skip
def test_wrong_requests(placed, arguments, words):
    placed("resurvey", *arguments).is_told(words, code=2)


def a_site(reef: Reef, *, east_deg=0.0, **moved: float) -> str:
    """Survey twelve modules of the log again; some moved north by so many degrees."""
    lines = ["Tag,Latitude,Longitude,Date,R95"]
    for number in range(12):
        tag = f"LN-{number:05d}"
        lat, lon = 33.9920 + moved.get(tag.replace("-", "_"), 0.0), 77.0080 - number * 0.00016 - east_deg
        wobble = (number * 7 % 5 - 2) * 1e-6
        lines.append(f"{tag},{lat + wobble:.6f} N,{lon - wobble:.6f} W,2027-10-02,1 m")
    path = reef.folder / "after-storm.csv"
    path.write_text("\n".join(lines) + "\n")
    return path.name


@pytest.fixture
def site(reef: Reef) -> Reef:
    (reef.folder / "day.csv").write_text(a_log(12))
    assert reef("intake", "day.csv", "--permit", "HB-0417").code in (0, 3)
    return reef


def test_a_site_at_rest(site):
    answer = site("resurvey", "--csv", a_site(site), "--frame", "EPSG:6318")
    assert answer.code == 0
    assert "12 + not shown to have moved" in answer.out
    assert "No common shift among 12 modules." in answer.out


def test_one_module_moved(site):
    answer = site("resurvey", "--csv", a_site(site, LN_00003=0.0001), "--frame", "EPSG:6318")
    assert answer.code == 1
    assert "LN-00003 moved 11.0 ± 2.3 m toward 000° true" in answer.out
    assert "No common shift" in answer.out


def test_the_whole_site_shifted_by_a_wrong_frame(site):
    """What is written in NAD83(2011) is stated as WGS 84: all shift by 1.1 m, and the cause is named."""
    alone = site("resurvey", "--csv", a_site(site), "--frame", "EPSG:4326", "--dry-run")
    assert alone.code == 3
    answer = site("resurvey", "--csv", a_site(site, LN_00003=0.0001), "--frame", "EPSG:4326")
    assert answer.code == 1
    assert "Common shift: 12 modules together show 1.1" in answer.out
    assert "WGS 84 stated where this survey was made in NAD83(2011)" in answer.out
    assert answer.out.count(" moved ") == 1


def test_rows_are_taken_in_once_and_bad_ones_come_back(site):
    name = a_site(site)
    with (site.folder / name).open("a") as stream:
        stream.write("XX-1,33.9920 N,77.0080 W,2027-10-02,1 m\nLN-00001,95 N,77 W,2027-10-02,1 m\n")
    first = site("resurvey", "--csv", name, "--frame", "EPSG:6318", "--json")
    assert first.code == 1
    assert len(first.json["resurveys"]) == 12
    assert {row["row"] for row in first.json["rejected"]} == {14, 15}
    again = site("resurvey", "--csv", name, "--frame", "EPSG:6318", "--json")
    assert again.json["resurveys"] == []
    assert len(again.json["repeated"]) == 12
