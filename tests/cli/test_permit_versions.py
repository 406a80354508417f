"""A permit is amended, transferred and shown with its versions; the file stays sound."""

from datetime import UTC, date, datetime, timedelta

import pytest

from tests.cli.reef import PERMIT, Reef

#: Days around today, since the command reads the clock.
TODAY = datetime.now(tz=UTC).date()
PAST, COMING = (TODAY + timedelta(days=days) for days in (-60, 60))
TIGHTER = PERMIT.replace("least_m = 6.0", "least_m = 8.0")


def amend(reef: Reef, text: str = TIGHTER, *options: str, effective: date = PAST, why: str = "Amendment 1"):
    file = reef.write("amended.toml", text)
    return reef("permit", "amend", "HB-0417", file, "--effective", effective, "--why", why, *options)


def test_a_permit_is_amended_and_each_version_is_told(reef):
    answer = amend(reef)
    assert (answer.code, answer.err) == (0, "")
    assert "spacing: least 6.0 m [Special condition 4] -> least 8.0 m [Special condition 4]" in answer.out
    assert f"Placements from {PAST} on are judged by it" in answer.out
    coming = reef.good(
        "permit", "transfer", "HB-0417", "--to", "Tern Reef Trust", "--effective", COMING, "--why", "Letter"
    )
    assert "holder: not stated -> Tern Reef Trust" in coming.out
    shown = reef.good("permit", "show", "HB-0417").out
    assert "(in force)" in shown
    assert "least 8.0 m" in shown
    versions = shown.partition("Versions:\n")[2].splitlines()
    assert versions == [
        "  from 2024-05-01: as first issued",
        f"  from {PAST} (shown above): Amendment 1",
        "    spacing: least 6.0 m [Special condition 4] -> least 8.0 m [Special condition 4]",
        f"  from {COMING}: Letter",
        "    holder: not stated -> Tern Reef Trust",
    ]
    listed = reef.good("permit", "list").out.splitlines()
    assert listed[1:] == [
        f"  as amended, in force from {PAST}: Amendment 1",
        f"  amended from {COMING} on: Letter",
    ]
    reef.is_sound()
    reef.good("journal", "rebuild")
    reef.is_sound()
    assert reef.good("permit", "show", "HB-0417").out == shown


def test_versions_in_json(reef):
    amended = amend(reef, TIGHTER, "--json").json
    assert amended["superseded_from"] is None
    assert amended["permit"]["in_force_from"] == PAST.isoformat()
    assert len(amended["changes"]) == 1
    shown = reef.good("permit", "show", "HB-0417", "--json").json
    assert shown["standing"] == "in force"
    assert [(v["begins_on"], len(v["changes"])) for v in shown["versions"]] == [
        ("2024-05-01", 0),
        (PAST.isoformat(), 1),
    ]
    (listed,) = reef.good("permit", "list", "--json").json["permits"]
    assert listed == shown


def test_a_slip_is_mended_and_a_late_paper_finds_its_place(reef):
    amend(reef, effective=COMING)
    between = amend(reef, PERMIT.replace("6.0", "7.0"), effective=PAST, why="found in a drawer")
    assert f"Another version is recorded from {COMING} on" in between.out
    again = amend(reef, PERMIT.replace("6.0", "7.5"), effective=PAST, why="found in a drawer")
    assert f"It takes the place of what was recorded for {PAST}" in again.out
    shown = reef.good("permit", "show", "HB-0417", "--json").json
    assert [v["conditions"][0]["limits"]["least"]["value"] for v in shown["versions"]] == [6.0, 7.5, 8.0]


def test_the_list_says_what_the_dates_make_of_a_permit(reef):
    for number, begins, ends in (
        ("HB-0001", "2020-01-01", "2021-01-01"),
        ("HB-0002", COMING.isoformat(), "2090-01-01"),
    ):
        text = PERMIT.replace("HB-0417", number).replace("2024-05-01", begins).replace("2034-04-30", ends)
        reef.good("permit", "add", reef.write(f"{number}.toml", text))
    standing = [line.split("  ")[2] for line in reef.good("permit", "list").out.splitlines()]
    assert standing == ["expired", "not yet valid", "in force"]


@pytest.mark.parametrize(
    ("text", "effective", "why", "words"),
    [
        (TIGHTER, "2024-04-30", "x", ("would begin before the permit", "--effective")),
        (TIGHTER, "2034-05-01", "x", ("after its own end",)),
        (TIGHTER, "01/02/2026", "x", ("01/02/2026",)),
        (TIGHTER, "2026-03-01", " ", ("no reason", "--why")),
        (PERMIT, "2026-03-01", "x", ("says all of that already",)),
        (TIGHTER.replace("HB-0417", "HB-0418"), "2026-03-01", "x", ("HB-0418, not HB-0417",)),
        (TIGHTER.replace('cite = "Special condition 4"', ""), "2026-03-01", "x", ("cite",)),
    ],
)
def test_an_amendment_that_cannot_be_is_told_and_nothing_is_written(reef, text, effective, why, words):
    before = len(reef.good("journal", "show", "--json").json["entries"])
    amend(reef, text, effective=effective, why=why).is_told(*words, code=2)
    assert len(reef.good("journal", "show", "--json").json["entries"]) == before


def test_a_permit_that_nobody_added_cannot_be_transferred(reef):
    reef("permit", "transfer", "HB-0999", "--to", "Tern", "--effective", "2026-03-01", "--why", "x").is_told(
        "HB-0999", "HB-0417", code=2
    )


def test_how_reports_are_wanted_is_shown(reef):
    reporting = """
[reporting]
frame = "NAD83(2011)"
notation = "dms"
length_unit = "ftUS"
notice_days_before = 1
notice_cite = "General condition 3"
report_days_after = 30
report_cite = "General condition 5"
"""
    answer = amend(reef, PERMIT + reporting)
    assert "reporting, notice days before: not stated -> 1" in answer.out
    shown = reef.good("permit", "show", "HB-0417").out
    assert "Reported in EPSG:6318, degrees, minutes and seconds; ftUS, kg" in shown
    assert "Notice 1 day before the work [General condition 3]" in shown
    assert "Report 30 days after the work [General condition 5]" in shown


def place(reef: Reef, number: int, day: date, minute: int = 0):
    return reef.good(
        *("place", f"LN-{number:05d}", "--type", "hump-60", "--permit", "HB-0417"),
        *(
            "--at",
            f"{33.9950 + 0.00007 * number:.6f} N 77.000000 W",
            "--frame",
            "EPSG:6318",
            "--r95",
            "0.1 m",
        ),
        *("--depth", "70 ft", "--depth-u95", "1 ft", "--when", f"{day}T12:{minute:02d}:00Z"),
    )


def test_an_audit_judges_by_the_version_of_the_day_and_tells_apart_what_today_asks(reef):
    place(reef, 1, PAST - timedelta(days=10))
    place(reef, 2, PAST - timedelta(days=9))  # 7.8 m from the first, less two bases of 0.45 m
    amend(reef)
    place(reef, 5, PAST + timedelta(days=5))
    told = reef.good("audit").out
    assert "Permit HB-0417 of Harbour Bay Coastal Office\n  2 placements: 2 conforming" in told
    assert f"Permit HB-0417 (amended from {PAST}) of Harbour Bay Coastal Office\n  1 placement:" in told
    assert f"Permit HB-0417 as it is in force today (from {PAST}) would find otherwise of 2:" in told
    assert "  LN-00001: conforming by its own day, nonconforming by today." in told
    assert "conforming: 3 placements under 1 permit" in told.lower()
    data = reef.good("audit", "--json").json
    assert [each["in_force_from"] for each in data["permits"]] == ["2024-05-01", PAST.isoformat()]
    (today,) = data["today"]
    assert (today["otherwise"], today["now"]["nonconforming"], today["then"]["conforming"]) == (2, 2, 3)
    reef("audit", "--out", "officer")
    page = (reef.folder / "officer" / "report.html").read_text(encoding="utf-8")
    assert '<h2 id="today">By the conditions of today</h2>' in page
    assert "LN-00001" in page.partition('id="today"')[2]


def test_a_permit_that_has_expired_is_still_audited(reef):
    short = PERMIT.replace("valid_to = 2034-04-30", f"valid_to = {PAST}").replace("HB-0417", "TN-0033")
    reef.good("permit", "add", reef.write("short.toml", short))
    reef(
        *("place", "LN-00009", "--type", "hump-60", "--permit", "TN-0033", "--at", "34.0000 N 77.00000 W"),
        *("--frame", "EPSG:6318", "--r95", "0.1 m", "--depth", "70 ft", "--depth-u95", "1 ft"),
        *("--when", f"{PAST + timedelta(days=2)}T12:00:00Z"),
    )
    answer = reef("audit", "--permit", "TN-0033")
    assert answer.code == 1
    assert f"the permit is valid from 2024-05-01 to {PAST}" in answer.out
