"""``leadline survey`` as it is typed."""

import gzip
import json
from datetime import UTC, datetime, timedelta

import pytest

from registry.cli.main import COMMANDS, run
from registry.formats.nmea_sentence import nmea_checksum

START = datetime(2026, 6, 14, 14, 30, tzinfo=UTC)


@pytest.fixture
def survey(monkeypatch, tmp_path, capsys):
    monkeypatch.setitem(COMMANDS, "survey", "registry.cli.survey")
    monkeypatch.chdir(tmp_path)
    (tmp_path / "day.nmea").write_bytes(log())
    (tmp_path / "day.nmea.gz").write_bytes(gzip.compress(log()))

    def typed(*arguments):
        code = run(["survey", *arguments])
        out, err = capsys.readouterr()
        return code, out, err

    typed.folder = tmp_path  # type: ignore[attr-defined]
    return typed


def log(n=600):
    lines = []
    for i in range(n):
        at = START + timedelta(seconds=i)
        place = f"3401.{20000 + i % 7:05d},N,07720.{10000 + i % 5:05d},W"
        lines.append(f"GNGGA,{at:%H%M%S}.00,{place},2,12,0.8,3.0,M,-36.0,M,,")
        lines.append(f"GNRMC,{at:%H%M%S}.00,A,{place},0.0,0.0,{at:%d%m%y},,,D")
    lines.append("GNEVE,143500.00,MC-0017,down")
    return "".join(f"${body}*{nmea_checksum(body)}\r\n" for body in lines).encode()


FIXES = ("--fixes", "day.nmea", "--receiver", "sbas", "--frame", "EPSG:4326")


def test_the_derivation_is_shown_and_nothing_written(survey):
    before = sorted(survey.folder.iterdir())
    code, out, err = survey(
        *FIXES, "--from", "2026-06-14T14:31Z", "--to", "2026-06-14T10:36-04:00",
        "--lever", "-14.6,5.1,7.8", "--heading", "237", "--roll", "4", "--pitch", "-2.5",
        "--fall-speed", "2 m/s", "--depth", "60 ft", "--current", "1 kn toward 120",
    )  # fmt: skip
    assert (code, err) == (0, "")
    assert sorted(survey.folder.iterdir()) == before
    for words in (
        "301 fixes", "lever arm", "median of east", "Budget (95 %)", "receiver, class sbas", "3.00 m",
        "drift on descent", "1201 sentences", "Nothing was written",
    ):  # fmt: skip
        assert words in out
    assert max(map(len, out.splitlines())) <= 110


def test_json_packed_and_by_event_mark(survey):
    code, out, _ = survey(
        "--fixes", "day.nmea.gz", *FIXES[2:], "--event", "MC-0017", "--around", "30", "--json"
    )
    answer = json.loads(out)
    assert code == 0
    assert answer["steps"][0]["figures"]["n"] == 61
    assert answer["position"]["frame"] == "EPSG:4326"
    assert answer["log"]["fixes_by_quality"] == {"2 differential": 600}
    assert sum(row["share"] for row in answer["budget"]) == pytest.approx(1.0)


def test_from_marks(survey):
    common = ("--mark-r95", "0.3 m", "--frame", "EPSG:6318", "--json")
    code, out, _ = survey("--mark", "33 N 78 W", "--range", "23.7 m", "--bearing", "118.5 true", *common)
    assert code == 0
    assert json.loads(out)["position"]["lat"] == pytest.approx(32.9998980322, abs=1e-9)
    pair = (
        "--range-from",
        "34 00.000 N 077 20.000 W = 80 m",
        "--range-from",
        "34 00.050 N 077 20.000 W = 60 m",
    )
    code, out, _ = survey(*pair, *common)
    assert code == 2
    assert len(json.loads(out)["readings"]) == 2
    code, out, _ = survey(*pair, "--near", "34 00.020 N 077 19.960 W", *common)
    assert code == 0
    assert json.loads(out)["position"]["lon"] > -77.3333334


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (("--fixes", "day.nmea", "--frame", "EPSG:4326"), "--receiver"),
        (("--fixes", "none.nmea", "--receiver", "sbas", "--frame", "EPSG:4326"), "no file"),
        ((*FIXES, "--from", "2026-06-15T00:00Z"), "No usable fix"),
        ((*FIXES, "--from", "2026-06-14T14:31"), "zone"),
        ((*FIXES, "--event", "MC-0018"), "MC-0017"),
        ((*FIXES, "--event", "MC-0017", "--to", "2026-06-15T00:00Z"), "not both"),
        ((*FIXES, "--event", "MC-0017", "--around", "nan"), "seconds"),
        ((*FIXES, "--lever", "1,2"), "three"),
        ((*FIXES, "--lever", "1,2,3"), "heading"),
        ((*FIXES, "--lever", "1,2,3", "--heading", "nan"), "no number"),
        ((*FIXES, "--fall-speed", "2 m/s"), "--depth"),
        ((*FIXES, "--depth", "2 m"), "--depth"),
        ((*FIXES, "--fall-speed", "2", "--depth", "20 m"), "speed"),
        ((*FIXES, "--fall-speed", "2 m/s", "--depth", "20 m", "--current", "0.5 m/s"), "toward"),
        ((*FIXES, "--acoustic", "20 m, 30"), "depression"),
        ((*FIXES, "--acoustic", "20 m, 30, 60"), "counted"),
        ((*FIXES, "--buoy-line", "10 m", "--depth", "20 m"), "does not reach"),
        ((*FIXES, "--mark", "33 N 78 W"), "go together"),
        (("--mark", "33 N 78 W", "--range", "1 m", "--bearing", "1 true", "--frame", "EPSG:6318"), "--mark-r95"),
        (("--range-from", "33 N 78 W", "--mark-r95", "1 m", "--frame", "EPSG:6318"), "= 23.7 m"),
        (("--frame", "EPSG:4326"), "exactly one"),
        (FIXES[:4], "--frame"),
    ],
)  # fmt: skip
def test_what_is_refused(survey, arguments, words):
    code, _, err = survey(*arguments)
    assert code in (2, 4)
    assert words in err
    assert "Traceback" not in err
    assert len(err.splitlines()) <= 2


def test_a_file_that_is_no_log(survey):
    (survey.folder / "notes.txt").write_text("dropped two modules, all fine\n")
    code, _, err = survey("--fixes", "notes.txt", *FIXES[2:])
    assert code == 4
    assert "no sentence with a correct checksum" in err
