"""Notices and reports as they are typed: planned, owed, drafted, sent, and told when something changed since."""

import shutil
import subprocess

import pytest

from registry.formats.csv_table import read_csv_table
from tests.cli.reef import GOOD, GOOD_DEPTH, PERMIT, WHEN, Reef

REPORTING = """
[reporting]
notation = "dms"
length_unit = "ft"
mass_unit = "short tons"
notice_days_before = 14
notice_cite = "General condition 3"
report_days_after = 30
report_cite = "Special condition 9"
"""
ASBUILT = "asbuilt-HB-0418-2026-06-14"


@pytest.fixture
def owing(reef: Reef) -> Reef:
    """Stand in a programme that placed one memorial on 14 June 2026, under a permit that asks for papers."""
    reef.write("hb-0418.toml", PERMIT.replace("HB-0417", "HB-0418") + REPORTING)
    reef.good("permit", "add", "hb-0418.toml")
    asked = [word.replace("HB-0417", "HB-0418") for word in GOOD]
    reef.good("place", "MC-0001", *asked, *GOOD_DEPTH, *WHEN, "--vessel", "Sanderling")
    return reef


def ids(answer) -> list[str]:
    return [duty["id"] for duty in answer.json["duties"]]


def duty(owing: Reef, duty_id: str, on: str) -> dict:
    answer = owing("duties", "--on", on, "--json")
    return next(each for each in answer.json["duties"] if each["id"] == duty_id)


@pytest.mark.parametrize(
    ("on", "code", "words"),
    [
        ("2026-07-01", 1, "x overdue by 31 days  2026-05-31  notice-HB-0418-2026-06-14"),
        ("2026-07-01", 1, "! due soon"),
        ("2026-07-15", 1, "x overdue by 1 day"),
        ("2026-06-13", 0, "? not yet known"),
    ],
)
def test_the_list_says_state_and_day_in_words_and_the_code_says_the_worst(owing, on, code, words):
    answer = owing("duties", "--on", on)
    assert answer.code == code
    assert words in answer.out
    assert "An aid, not a ruling" in answer.out
    assert f"Duties on {on}, in days of " in answer.out


def test_due_soon_alone_is_three_and_what_is_done_in_time_is_counted(owing):
    owing.good("duties", "done", "notice-HB-0418-2026-06-14", "--sent", "2026-05-20")
    owing.good("duties", "declare", "--burial-report", "no", "--cite", "Letter 2024-118")
    answer = owing("duties", "--on", "2026-07-01", "--permit", "HB-0418")
    assert answer.code == 3
    assert "2 more done on time or not applying; --all prints them." in answer.out
    answer = owing("duties", "--on", "2026-07-01", "--permit", "HB-0418", "--all")
    assert "+ done " in answer.out
    assert "- does not apply " in answer.out
    assert "Sent on 2026-05-20" not in answer.out
    assert "Sent on 2026-05-20" in owing("duties", "--on", "2026-07-01", "--all", "--why").out


def test_a_question_that_the_programme_has_not_answered_is_three(reef):
    reef.good("place", "MC-0001", *GOOD, *GOOD_DEPTH, *WHEN)
    answer = reef("duties", "--json")
    assert answer.code == 3
    assert ids(answer)[0] == "burial-reports-HB-0417"
    assert answer.json["duties"][0]["state"] == "not yet known"
    assert any("asks for no notice before work" in note for note in answer.json["notes"])


def test_json_is_one_document_with_everything_in_it(owing):
    found = duty(owing, ASBUILT, "2026-07-01")
    placed = found.pop("placements")
    evidence = found.pop("evidence")
    assert len(placed) == 1
    assert evidence == ["It goes to Harbour Bay Coastal Office.", "1 placement on 2026-06-14."]
    assert found == {
        "id": ASBUILT,
        "kind": "asbuilt",
        "permit": "HB-0418",
        "what": "As-built report within 30 days of 2026-06-14",
        "due": "2026-07-14",
        "state": "due soon",
        "days_late": 0,
        "changed_since": False,
        "sent": None,
        "times_sent": 0,
        "cite": "Special condition 9",
    }


def test_sent_late_is_told_as_late_and_a_correction_afterwards_is_told(owing):
    answer = owing.good("duties", "done", ASBUILT, "--sent", "2026-07-26", "--note", "no. 88")
    assert "+ done, 12 days late  2026-07-14" in answer.out
    assert "Sent on 2026-07-26: no. 88" in answer.out
    (old,) = duty(owing, ASBUILT, "2026-08-01")["placements"]
    again = [word.replace("HB-0417", "HB-0418") for word in GOOD]
    depth = ("--depth", "71 ft", "--depth-u95", "1 ft")
    owing.good("correct", old, "--tag", "MC-0001", *again, *depth, *WHEN, "--reason", "misread")
    assert duty(owing, ASBUILT, "2026-08-01")["changed_since"] is True
    assert "done, 12 days late; changed since" in owing("duties", "--on", "2026-08-01").out
    owing.good("withdraw", duty(owing, ASBUILT, "2026-08-01")["placements"][0], "--reason", "never placed")
    assert duty(owing, ASBUILT, "2026-08-01")["state"] == "does not apply"
    owing.is_sound()


def test_plans_give_notices_their_day_and_may_be_called_off(owing):
    plan = ("duties", "plan", "--permit", "HB-0418", "--from", "2031-03-01")
    answer = owing.good(*plan, "--to", "2031-03-05")
    assert "2031-02-15  notice-HB-0418-2031-03-01" in answer.out
    assert owing.good(*plan, "--to", "2031-03-06", "--json").json["notice"]["due"] == "2031-02-15"
    assert "Called off" in owing.good(*plan, "--call-off").out
    assert "notice-HB-0418-2031-03-01" not in ids(owing("duties", "--json"))
    assert (
        "asks for no notice"
        in owing.good(
            "duties", "plan", "--permit", "HB-0417", "--from", "2031-03-01", "--to", "2031-03-01"
        ).out
    )


def test_what_is_declared_is_told_as_the_programmes_word(owing):
    answer = owing.good(
        *("duties", "declare", "--burial-report", "yes", "--cite", "40 CFR 229.1(d)"),
        *("--basis", "state permit: X-1", "--basis", "EPA correspondence: 2024-118"),
    )
    assert "burial-at-sea reports apply: yes, within 30 days." in answer.out
    assert "EPA correspondence: 2024-118" in answer.out
    assert "Leadline claims nothing" in answer.out
    assert duty(owing, "burial-MC-0001", "2026-07-01")["due"] == "2026-07-14"
    (declared,) = owing("duties", "--json").json["declared"]
    assert declared["applies"] == "yes"
    assert declared["bases"] == [
        {"kind": "state permit", "document": "X-1"},
        {"kind": "EPA correspondence", "document": "2024-118"},
    ]
    data = owing.good("duties", "declare", "--days", "20", "--json").json
    assert (data["days"], data["cite"], len(data["bases"])) == (20, "40 CFR 229.1(d)", 2)


def test_drafts_come_as_pdf_and_csv_and_record_nothing(owing):
    owing.good(
        *("duties", "declare", "--burial-report", "yes", "--cite", "40 CFR 229.1(d)"),
        *("--basis", "state permit: X-1"),
    )
    before = owing.good("journal", "show", "--json").json
    answer = owing.good("duties", "draft", ASBUILT, "--out", "papers", "--json").json
    assert [path.rpartition("/")[2] for path in answer["files"]] == [
        f"{ASBUILT}.pdf",
        f"{ASBUILT}.csv",
        f"{ASBUILT}-modules.csv",
    ]
    table = read_csv_table((owing.folder / answer["files"][2]).read_bytes())
    (row,) = (table.by_name(row) for row in table.rows())
    assert (row["tag"], row["latitude"]) == ("MC-0001", "34 00 06.00 N")
    burial = owing.good("duties", "draft", "burial-MC-0001", "--out", "papers")
    assert "Private" in burial.out
    assert owing.good("journal", "show", "--json").json == before


@pytest.mark.skipif(shutil.which("pdftotext") is None, reason="poppler-utils is not installed")
def test_no_paper_says_that_anything_was_allowed_and_only_the_private_one_names_anybody(owing):
    owing.good(
        *("duties", "declare", "--burial-report", "yes", "--cite", "40 CFR 229.1(d)"),
        *("--basis", "state permit: X-1"),
    )
    owing.good("duties", "plan", "--permit", "HB-0418", "--from", "2031-03-01", "--to", "2031-03-05")
    for duty_id in (ASBUILT, "burial-MC-0001", "notice-HB-0418-2031-03-01"):
        owing.good("duties", "draft", duty_id, "--out", "papers")
        path = owing.folder / "papers" / duty_id
        done = subprocess.run(["pdftotext", f"{path}.pdf", "-"], capture_output=True, check=True)
        for said in (done.stdout.decode(), path.with_suffix(".csv").read_text(encoding="utf-8-sig")):
            assert "authorised under" not in said.casefold()
            assert "authorized under" not in said.casefold()
            assert "state permit: X-1" in " ".join(said.split())
            assert ("Ada Quill" in said) == (duty_id == "burial-MC-0001")


@pytest.mark.parametrize(
    ("typed", "words"),
    [
        (("done", ASBUILT), ("--sent DAY",)),
        (("done", ASBUILT, "--sent", "2026-07-01", "--not-sent"), ("--sent DAY",)),
        (("done", ASBUILT, "--sent", "07/01/26"), ("may be",)),
        (("done", ASBUILT, "--sent", "2199-01-01"), ("still to come",)),
        (("done", "asbuilt-HB-0418-2026-06-15", "--sent", "2026-07-01"), (ASBUILT,)),
        (("done", ASBUILT, "--sent", "2026-07-01", "--note", "a\nb"), ("do not show",)),
        (("draft", "expiry-HB-0418-2034-04-30", "--out", "x"), ("reminder",)),
        (("declare",), ("Nothing is declared",)),
        (("declare", "--burial-report", "yes"), ("names no source", "--cite")),
        (("declare", "--burial-report", "perhaps"), ("perhaps",)),
        (("declare", "--basis", "X-1"), ("KIND: DOCUMENT",)),
        (
            ("plan", "--permit", "HB-0418", "--from", "2031-03-05", "--to", "2031-03-01"),
            ("before it begins",),
        ),
        (("plan", "--permit", "HB-9999", "--from", "2031-03-01", "--to", "2031-03-01"), ("HB-9999",)),
        (("--on", "yesterday"), ("year-month-day",)),
        (("--permit", "HB-9999"), ("HB-9999",)),
    ],
)
def test_slips_are_told_in_a_line_with_the_remedy(owing, typed, words):
    before = owing.registry.read_bytes()
    owing("duties", *typed).is_told(*words, code=2)
    assert owing.registry.read_bytes() == before
