"""Positions and depths off instruments, through ``place``, ``check``, ``intake`` and the journal."""

import hashlib
import json
import os
import socket
import threading
from datetime import UTC, datetime, timedelta

import pytest

from registry.actions.derive_depth import derive_depth
from registry.actions.derive_survey import derive_survey
from registry.cli.main import run
from registry.formats.nmea_log import read_nmea_logs
from registry.formats.nmea_sentence import nmea_checksum
from registry.records.sounding import reading_from_body, tide_from_body
from registry.records.survey_body import survey_body, survey_from_body

START = datetime(2026, 6, 14, 14, 30, tzinfo=UTC)
WHEN = ("--when", "2026-06-14T10:33-04:00")
FIXES = ("--fixes", "day.nmea", "--receiver", "sbas", "--frame", "EPSG:4326")
PLACE = ("place", "MC-0001", "--permit", "HB-0417", *WHEN)
GAUGE = ("--depth", "18.6 m", "--depth-kind", "gauge", "--gauge-setting", "en13319")
STATION = """
[station]
name = "Gannet Pier"
position = "34 01.250 N 077 20.110 W"
source = "invented"
chart_datum = "MLLW"
length_unit = "m"
phases = "greenwich"
nodal = "schureman"

[datums]
MLLW = 0.20
MSL = 0.86

[constituents]
M2 = { amplitude = 0.61, phase_deg = 9.0 }
"""


def log(seconds=600):
    lines = []
    for i in range(seconds):
        at = START + timedelta(seconds=i)
        place = f"3401.{20000 + i % 7:05d},N,07720.{10000 + i % 5:05d},W"
        lines.append(f"GNGGA,{at:%H%M%S}.00,{place},2,12,0.8,3.0,M,-36.0,M,,")
        lines.append(f"GNRMC,{at:%H%M%S}.00,A,{place},0.0,0.0,{at:%d%m%y},,,D")
    lines.append("GNEVE,143500.00,drop-1,down")
    return "".join(f"${body}*{nmea_checksum(body)}\r\n" for body in lines).encode()


@pytest.fixture
def sea_day(reef, tmp_path):
    (tmp_path / "day.nmea").write_bytes(log())
    rows = "".join(f"2026-06-14 14:{m:02d},{0.60 + m * 0.002:.3f}\n" for m in range(0, 60, 6))
    (tmp_path / "tide.csv").write_text(f"Time (UTC),Height above MLLW (m)\n{rows}", encoding="utf-8")
    (tmp_path / "cast.csv").write_text("Depth (m),Sound speed (m/s)\n0,1530\n25,1524\n", encoding="utf-8")
    (tmp_path / "pier.toml").write_text(STATION, encoding="utf-8")
    return tmp_path


def answered(capsys, *line):
    code = run([*line, "--json"])
    return code, json.loads(capsys.readouterr().out)


def refused(capsys, *line):
    code = run(line)
    err = capsys.readouterr().err
    assert code in (2, 4)
    assert "Traceback" not in err
    return err


def journal_body(capsys, number=-1):
    _, answer = answered(capsys, "journal", "show", "--full")
    return answer["entries"][number]["body"]


def test_position_and_depth_are_derived_again_from_the_journal_and_the_log_alone(sea_day, capsys):
    line = (*PLACE, *FIXES, "--around", "120s", "--lever=-4.2,1.5,3.0", "--heading", "237", *GAUGE)
    code, placed = answered(capsys, *line, "--fall-speed", "2 m/s", "--tide-gauge", "tide.csv")
    assert code in (0, 1, 3)
    body = journal_body(capsys)
    kept, content = body["survey"], (sea_day / "day.nmea").read_bytes()
    (file,) = kept["inputs"]["logged"]["files"]
    assert file == {"name": "day.nmea", "sha256": hashlib.sha256(content).hexdigest()}
    read = read_nmea_logs([content])
    survey = survey_from_body(kept["inputs"], fixes=read.fixes, account=read.account)
    again = derive_survey(survey).as_json()
    assert again == {name: said for name, said in kept.items() if name != "inputs"}
    assert placed["position"] == kept["position"] == again["position"]
    assert survey_body(survey) == kept["inputs"]

    depth = body["depth"]
    deep = derive_depth(
        reading_from_body(depth["inputs"]["reading"]),
        tide=tide_from_body(depth["inputs"]["tide"]),
        datum=depth["datum"],
        lat_deg=depth["inputs"]["lat_deg"],
    )
    assert deep.as_json() == {k: v for k, v in depth.items() if k != "inputs"}
    assert deep.depth.value_m == placed["charted_depth_m"] == body["charted_depth_m"]
    assert run(["journal", "verify"]) == 0
    assert run(["journal", "rebuild"]) == 0
    assert run(["journal", "verify"]) == 0


def test_few_sentences_are_kept_themselves_and_give_the_same_fixes(sea_day, capsys):
    answered(capsys, *PLACE, *FIXES, "--around", "10")
    kept = journal_body(capsys)["survey"]
    logged = kept["inputs"]["logged"]
    lines = logged["sentences"]
    assert (len(lines), lines[0][:16]) == (41, "$GNGGA,143250.00")
    read = read_nmea_logs(["\r\n".join(lines).encode()])
    survey = survey_from_body(kept["inputs"], fixes=read.fixes)
    position = derive_survey(survey).position
    assert (position.lat_deg, position.lon_deg) == (kept["position"]["lat"], kept["position"]["lon"])


def test_many_sentences_are_told_by_digest_and_window(sea_day, capsys):
    (sea_day / "day.nmea").write_bytes(log(3000))
    answered(capsys, *PLACE, *FIXES, "--from", "2026-06-14T14:31Z", "--to", "2026-06-14T15:11Z")
    logged = journal_body(capsys)["survey"]["inputs"]["logged"]
    assert logged["sentences"] == []
    assert (logged["start_s"], logged["end_s"]) == (1781447460.0, 1781449860.0)


def test_the_radius_is_that_of_the_budget_and_judged(sea_day, capsys):
    _, placed = answered(capsys, *PLACE, *FIXES, "--event", "drop-1")
    budget = placed["survey"]["budget"]
    assert placed["position"]["r95_m"] == pytest.approx(
        sum(row["size_m"] ** 2 for row in budget) ** 0.5, rel=1e-9
    )
    assert placed["home"]["r95_m"] >= placed["position"]["r95_m"] >= 3.0
    (found,) = (f for f in placed["findings"] if f["rule"] == "inside-area")
    assert found["u95"] == pytest.approx(placed["home"]["r95_m"])


def test_marks_serve_where_no_receiver_was_aboard(sea_day, capsys):
    _, placed = answered(
        capsys, *PLACE, "--mark", "34 01.250 N 077 20.110 W", "--mark-r95", "0.3 m", "--range", "40 m",
        "--bearing", "118.5 true", "--frame", "EPSG:6318",
    )  # fmt: skip
    assert [row["name"] for row in placed["survey"]["steps"]] == ["mark", "range and bearing"]
    kept = journal_body(capsys)["survey"]
    assert derive_survey(survey_from_body(kept["inputs"])).as_json()["position"] == kept["position"]


@pytest.mark.parametrize(
    ("tide", "kind"),
    [
        (("--tide", "0.67 m"), "stated"),
        (("--tide-gauge", "tide.csv"), "observed"),
        (("--tide-station", "pier.toml"), "predicted"),
    ],
)
def test_stated_observed_and_predicted_tides_are_told_apart(sea_day, capsys, tide, kind):
    at = ("--at", "34 01.200 N 077 20.100 W", "--r95", "2 m")
    _, placed = answered(capsys, *PLACE, *at, *GAUGE, *tide)
    assert placed["depth"]["tide"] == placed["depth"]["inputs"]["tide"]["kind"] == kind
    assert any(f"{kind} tide" in sentence for sentence in placed["basis"])
    doubt = sum(term["u95_m"] ** 2 for term in placed["depth"]["inputs"]["tide"]["terms"]) ** 0.5
    assert (doubt < 0.1) == (kind == "observed")
    assert journal_body(capsys)["depth"]["tide"] == kind


@pytest.mark.parametrize(
    ("said", "depth_m"),
    [
        # 20.00 m below a transducer of 0.50 m draft, 1500 m/s set, cast of 1527 m/s on the mean, tide 0.60 m.
        (
            ("--depth", "20.00 m", "--depth-kind", "echo", "--sounder-speed", "1500 m/s", "--transducer",
             "transducer", "--draft", "0.5 m", "--cast", "cast.csv", "--tide", "0.60 m"),
            20.0 * 1527.5 / 1500 + 0.5 - 0.6,
        ),
        (("--depth", "60 ft", "--depth-kind", "lead", "--above-water", "1.5 m", "--tide", "0.60 m"), 16.188),
        (("--pressure", "19.0 dbar", "--air", "zeroed", "--depth-kind", "pressure", "--tide", "0.60 m"), 18.28),
        (("--depth", "18 m", "--depth-kind", "chart", "--chart-datum", "MLLW", "--chart-zone", "A1"), 18.0),
    ],
)  # fmt: skip
def test_each_kind_of_depth_goes_down_its_chain(sea_day, capsys, said, depth_m):
    at = ("--at", "34 01.200 N 077 20.100 W", "--r95", "2 m")
    _, placed = answered(capsys, *PLACE, *at, *said)
    assert placed["charted_depth_m"] == pytest.approx(depth_m, abs=0.02)
    depth = journal_body(capsys)["depth"]
    again = derive_depth(
        reading_from_body(depth["inputs"]["reading"]),
        tide=tide_from_body(depth["inputs"]["tide"]) if depth["inputs"]["tide"] else None,
        datum="MLLW",
        lat_deg=depth["inputs"]["lat_deg"],
    )
    assert again.depth.value_m == depth["depth_m"]
    _, advice = answered(capsys, "check", "--permit", "HB-0417", "--type", "hump-90", *at, *said)
    assert advice["depth"]["depth_m"] == pytest.approx(placed["charted_depth_m"])


@pytest.mark.parametrize(
    ("line", "words"),
    [
        ((), "--fixes FILE"),
        (("--at", "34 N 77 W", *FIXES), "not both"),
        (FIXES[:4], "--frame"),
        ((*FIXES[:2], *FIXES[4:]), "--receiver"),
        ((*FIXES, "--r95", "2 m"), "--r95"),
        ((*FIXES, "--listen", "127.0.0.1:1"), "not both"),
        (("--at", "34 N 77 W", "--tide-gauge", "tide.csv"), "--depth-kind"),
        (("--at", "34 N 77 W", "--depth-kind", "echo", "--depth", "9 m"), "transducer"),
        (("--at", "34 N 77 W", "--depth-kind", "gauge", "--depth", "9 m", "--gauge-setting", "salt"), "manual"),
        (("--at", "34 N 77 W", *GAUGE), "tide"),
        (("--at", "34 N 77 W", *GAUGE, "--draft", "1 m"), "“draft” says nothing"),
        (("--at", "34 N 77 W", *GAUGE, "--tide", "1 m", "--tide-gauge", "tide.csv"), "one of them"),
        (("--at", "34 N 77 W", *GAUGE, "--tide-zone", "UTC"), "--tide-gauge"),
        (("--listen", "nowhere", *FIXES[2:]), "HOST:PORT"),
        (("--listen", "127.0.0.1:1", *FIXES[2:]), "cannot be listened to"),
        (("--listen", "/dev/no-such-port", *FIXES[2:]), "cannot be listened to"),
    ],
)  # fmt: skip
def test_what_does_not_go_together_is_refused_and_nothing_written(sea_day, capsys, line, words):
    before = (sea_day / "leadline.gpkg").read_bytes()
    assert words in refused(capsys, *PLACE, *line)
    assert (sea_day / "leadline.gpkg").read_bytes() == before
    assert not list(sea_day.glob("*received*"))


def test_a_plain_placement_keeps_the_journal_keys_it_always_had(sea_day, capsys):
    answered(capsys, *PLACE, "--at", "34 01.200 N 077 20.100 W", "--depth", "60 ft", "--tide", "0.6 m")
    body = journal_body(capsys)
    assert "survey" not in body
    assert "depth" not in body


def test_a_correction_may_be_surveyed_too(sea_day, capsys):
    _, placed = answered(capsys, *PLACE, "--at", "34 01.100 N 077 20.100 W")
    _, mended = answered(
        capsys, "correct", placed["placement"], "--tag", "MC-0001", "--reason", "the log was found",
        "--permit", "HB-0417", *WHEN, *FIXES,
    )  # fmt: skip
    assert mended["survey"]["log"]["used"] == 600


@pytest.mark.parametrize("by", ["tcp", "serial"])
def test_what_a_receiver_sends_is_kept_before_anything_is_derived_from_it(sea_day, capsys, by):
    sent = log(100)
    if by == "tcp":
        server = socket.create_server(("127.0.0.1", 0))

        def serve():
            connection, _ = server.accept()
            with connection:
                connection.sendall(sent)

        source = f"127.0.0.1:{server.getsockname()[1]}"
    else:
        import pty
        import tty

        leader, follower = pty.openpty()
        tty.setraw(follower)

        def serve():
            os.write(leader, sent[:2000])

        source, sent = os.ttyname(follower), sent[:2000]
    thread = threading.Thread(target=serve)
    thread.start()
    line = ("--listen", source, "--for", "1s", "--baud", "9600", *FIXES[2:], "--from", "2026-06-14T14:30Z")
    code = run([*PLACE, *line, "--json"])
    thread.join()
    if by == "tcp":
        server.close()
    else:
        os.close(leader)
        os.close(follower)
    out, err = capsys.readouterr()
    (kept,) = sea_day.glob("leadline-received-*.nmea")
    assert code in (0, 1, 3), err
    assert kept.read_bytes() == sent
    (file,) = json.loads(out)["survey"]["inputs"]["logged"]["files"]
    assert file == {"name": kept.name, "sha256": hashlib.sha256(sent).hexdigest()}


def test_what_was_received_stays_where_it_cannot_be_used(sea_day, capsys):
    server = socket.create_server(("127.0.0.1", 0))

    def serve():
        connection, _ = server.accept()
        with connection:
            connection.sendall(b"not a receiver\r\n")

    thread = threading.Thread(target=serve)
    thread.start()
    source = f"127.0.0.1:{server.getsockname()[1]}"
    err = refused(capsys, *PLACE, "--listen", source, "--for", "1s", *FIXES[2:])
    thread.join()
    server.close()
    (kept,) = sea_day.glob("leadline-received-*.nmea")
    assert kept.name in err
    assert kept.read_bytes() == b"not a receiver\r\n"


SLATE = """tag,when,depth,type,from,to,event,depth_kind
MC-0020,2026-06-14T14:32Z,18.6 m,hump-90,,,,
MC-0021,2026-06-14T14:36Z,61 ft,hump-90,14:35,14:36:30,,
MC-0022,2026-06-14T14:37Z,18.6 m,hump-90,,,drop-1,lead
MC-0023,2026-06-14T15:32Z,18.6 m,hump-90,,,,
MC-0024,2026-06-14T20:32Z,18.6 m,hump-90,14:35,14:36:30,,
"""
INTAKE = (
    "intake", "slate.csv", "--permit", "HB-0417", *FIXES, "--around", "120s", "--lever=-4.2,1.5,3.0",
    "--heading", "237", "--depth-kind", "gauge", "--gauge-setting", "en13319", "--tide-gauge", "tide.csv",
)  # fmt: skip


def test_a_slate_a_log_and_a_tide_make_a_day(sea_day, capsys):
    (sea_day / "slate.csv").write_text(SLATE, encoding="utf-8")
    code, answer = answered(capsys, *INTAKE)
    assert code == 1
    assert [one["tag"] for one in answer["taken"]] == ["MC-0020", "MC-0021", "MC-0022"]
    first, second = (one["reason"] for one in answer["rejected"])
    assert "No usable fix" in first
    assert "tide.csv" in second or "readings" in second
    _, shown = answered(capsys, "journal", "show")
    bodies = [e["body"] for e in shown["entries"] if e["kind"] == "placement.logged"]
    windows = [body["survey"]["inputs"]["logged"]["window"] for body in bodies]
    assert windows[0].startswith("120 s before and after touch-down")
    assert windows[1] == "2026-06-14T14:35:00Z to 2026-06-14T14:36:30Z"
    assert windows[2].startswith("120 s before and after the mark drop-1")
    assert [body["depth"]["kind"] for body in bodies] == ["diver's gauge", "diver's gauge", "lead line"]
    assert {body["depth"]["tide"] for body in bodies} == {"observed"}
    again = answered(capsys, *INTAKE)[1]
    assert (again["taken"], len(again["repeated"])) == ([], 3)


def test_rows_may_name_their_own_log_or_their_own_position(sea_day, capsys):
    (sea_day / "slate.csv").write_text(
        "tag,position,when,fixes,receiver,type\n"
        "MC-0020,,2026-06-14T14:32Z,day.nmea,sbas,hump-90\n"
        "MC-0021,34 01.200 N 077 20.200 W,2026-06-14T14:32Z,,sbas,hump-90\n"
        "MC-0022,,2026-06-14T14:32Z,../day.nmea,sbas,hump-90\n"
        "MC-0023,,2026-06-14T14:32Z,,sbas,hump-90\n",
        encoding="utf-8",
    )
    _, answer = answered(capsys, "intake", "slate.csv", "--permit", "HB-0417", "--frame", "EPSG:4326")
    assert [one["tag"] for one in answer["taken"]] == ["MC-0020", "MC-0021"]
    assert ["beside the spreadsheet" in one["reason"] for one in answer["rejected"]] == [True, False]


def test_a_few_fixes_are_no_position_of_a_row(sea_day, capsys):
    (sea_day / "slate.csv").write_text("tag,when,type\nMC-0020,2026-06-14T14:32Z,hump-90\n", encoding="utf-8")
    line = ("intake", "slate.csv", "--permit", "HB-0417", *FIXES, "--around", "1s")
    _, answer = answered(capsys, *line)
    assert "Only 3 usable fixes, where 5 are asked" in answer["rejected"][0]["reason"]


def test_survey_gives_the_home_frame_and_the_depth_and_writes_nothing(sea_day, capsys):
    before = (sea_day / "leadline.gpkg").read_bytes()
    said = (*FIXES, *WHEN, "--around", "120s", *GAUGE, "--tide-gauge", "tide.csv")
    code, shown = answered(capsys, "survey", *said, "--datum", "MLLW")
    assert code == 0
    assert (sea_day / "leadline.gpkg").read_bytes() == before
    _, placed = answered(capsys, *PLACE, *FIXES, "--around", "120s", *GAUGE, "--tide-gauge", "tide.csv")
    for name in ("lat", "lon", "r95_m", "frame"):
        assert shown["home"][name] == placed["home"][name]
    assert shown["depth"]["depth_m"] == pytest.approx(placed["charted_depth_m"], abs=1e-6)
    assert "--datum" in refused(capsys, "survey", *said)


def test_home_frames_are_proposed_and_never_chosen(tmp_path, monkeypatch, capsys):
    monkeypatch.chdir(tmp_path)
    new = ("new", "--programme", "X", "--registry", "new.gpkg")
    code, answer = answered(capsys, *new, "--near", "34 N 77 W")
    assert (code, [row["frame"] for row in answer["proposals"]]) == (2, ["EPSG:6318"])
    assert run([*new, "--near", "34 N 77 W"]) == 2
    assert "--frame EPSG:6318" in capsys.readouterr().out
    assert "--near" in refused(capsys, *new)
    assert "survey office" in refused(capsys, *new, "--near", "50 S 0 E")
    assert "leave it out" in refused(capsys, *new, "--near", "34 N 77 W", "--frame", "EPSG:6318")
    assert not (tmp_path / "new.gpkg").exists()
