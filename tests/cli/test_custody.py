"""The keepers' chain as typed: recorded, shown, corrected, and asked before a certificate."""

import os
import stat
from pathlib import Path

import pytest

from tests.cli.reef import GOOD, GOOD_DEPTH, WHEN, Answer, Reef

#: Each step with its instant, who hands and who takes.
STEPS = (
    ("received", "2026-03-01 09:30", "Skua Crematory", "Marram yard"),
    ("cast", "2026-03-09 10:00", "Marram yard", "Marram yard"),
    ("cured", "2026-04-06 16:00", "Marram yard", "Marram yard"),
    ("loaded", "2026-06-14 06:10", "Marram yard", "Sanderling crew"),
    ("placed", "2026-06-14 10:32", "Sanderling crew", "Sanderling crew"),
)
HEADER = "tag,step,when,from,from_tag,from_id,to,to_tag,to_id"


def handed(reef: Reef, number: int, *more: str, **changes: str) -> Answer:
    """Record one step; `to_id` and others may differ."""
    step, when, giver, taker = STEPS[number]
    said = {
        "--step": step,
        "--when": when,
        "--from": giver,
        "--from-tag": "MC-0001",
        "--from-id": "C-48213",
        "--to": taker,
        "--to-tag": "MC-0001",
        "--to-id": "C-48213",
    }
    said |= {f"--{name.replace('_', '-')}": text for name, text in changes.items()}
    return reef("custody", "MC-0001", *(part for pair in said.items() for part in pair), *more)


def sheet(*, tag: str = "MC-0001", number: str = "C-48213", steps=STEPS) -> str:
    return "".join(
        f"{tag},{step},{when},{giver},{tag},{number},{taker},{tag},{number}\n"
        for step, when, giver, taker in steps
    )


@pytest.fixture
def zoned(reef: Reef) -> Reef:
    """The programme of the tests declares no zone of its own: UTC."""
    reef.good("place", "MC-0001", *GOOD, *GOOD_DEPTH, *WHEN)
    return reef


def test_a_chain_grows_and_ends_unbroken(reef):
    for number in range(4):
        assert handed(reef, number).code == 0
    reef.good("place", "MC-0001", *GOOD, *GOOD_DEPTH, *WHEN)
    assert reef("custody", "MC-0001").code == 1
    assert handed(reef, 4).code == 0
    answer = reef.good("custody", "MC-0001")
    assert "unbroken from the crematory to the seabed" in answer.out
    assert answer.out.count("→") == 5
    told = reef.good("custody", "MC-0001", "--json").json
    assert (told["whole"], told["faults"]) == (True, [])
    assert told["hand_overs"][0]["from"]["identification"] == "C-48213"
    reef.is_sound()


def test_what_does_not_agree_is_recorded_flagged_and_shown(reef):
    handed(reef, 0)
    answer = handed(reef, 1, to_id="C-48231", to_tag="MC-0010")
    assert answer.code == 1
    assert "mismatch" in answer.out
    assert "C-48213 (handing), C-48231 (taking)" in answer.out
    assert "MC-0010 (taking)" in answer.out
    assert len(reef("custody", "MC-0001", "--json").json["hand_overs"]) == 2


def test_a_correction_and_a_withdrawal_are_new_entries(reef):
    handed(reef, 0)
    handed(reef, 1, to_id="C-48231")
    wrong = reef("custody", "MC-0001", "--json").json["hand_overs"][1]["entry"]
    handed(reef, 1, "--corrects", wrong).is_told("reason", code=2)
    answer = handed(reef, 1, "--corrects", wrong, "--reason", "two digits swapped on the form")
    assert answer.code == 0
    assert f"in place of {wrong}: two digits swapped" in answer.out
    right = reef("custody", "MC-0001", "--json").json["hand_overs"][1]["entry"]
    answer = reef("custody", "MC-0001", "--withdraw", right, "--reason", "another module")
    assert answer.code == 0
    assert len(reef("custody", "MC-0001", "--json").json["hand_overs"]) == 1
    kinds = [entry["kind"] for entry in reef.good("journal", "show", "--json").json["entries"]]
    assert kinds[-4:] == ["custody.handed"] * 3 + ["custody.withdrawn"]


def test_told_again_it_is_the_same(reef):
    first = handed(reef, 0).out
    again = handed(reef, 0).out
    assert "Recorded before, exactly so" in again
    assert first.splitlines()[1:] == again.splitlines()[1:]


def test_a_spreadsheet_is_taken_in_once_and_what_cannot_be_read_is_kept(reef):
    bad = "MC-0001,sunk,2026-06-14 10:40,A,MC-0001,1,B,MC-0001,1\nMC-0001,cast,03/04/26,A,MC-0001,1,B,MC-0001,1\n"
    file = reef.write("hand-overs.csv", f"{HEADER}\n{sheet()}{bad}")
    answer = reef("custody", "--csv", file)
    assert answer.code == 1
    assert "Recorded 5 hand-overs" in answer.out
    assert "sunk" in answer.out
    rejects = (reef.folder / "hand-overs.csv.rejected.csv").read_text(encoding="utf-8")
    assert rejects.count("MC-0001,") >= 2
    again = reef("custody", "--csv", file, "--json").json
    assert (again["taken"], again["repeated"], len(again["rejected"])) == (0, [2, 3, 4, 5, 6], 2)
    (chain,) = again["chains"]
    assert (chain["tag"], chain["whole"]) == ("MC-0001", True)


@pytest.mark.skipif(os.name != "posix", reason="rights of files are a matter of POSIX")
def test_rejected_rows_hold_the_crematory_s_numbers_and_are_their_owner_s_alone(reef):
    before = os.umask(0o022)
    try:
        line = "MC-0001,sunk,2026-06-14 10:40,A,MC-0001,C-48213,B,MC-0001,C-48213\n"
        file = reef.write("hand-overs.csv", f"{HEADER}\n{line}")
        kept = Path(reef("custody", "--csv", file, "--json").json["reject_file"])
        assert "C-48213" in (reef.folder / kept).read_text(encoding="utf-8")
        assert stat.S_IMODE((reef.folder / kept).stat().st_mode) == 0o600
        # One that was copied about is closed again by the next run, which leaves the same rows.
        (reef.folder / kept).chmod(0o644)
        again = reef("custody", "--csv", file, "--json").json["reject_file"]
        assert (Path(again), stat.S_IMODE((reef.folder / again).stat().st_mode)) == (kept, 0o600)
    finally:
        os.umask(before)


def test_two_modules_whose_numbers_were_swapped_are_both_told(reef):
    reef.good("module", "add", "MC-0002", "--type", "hump-90", "--memorial", "Bo Quill")
    crossed = sheet(number="C-48213", steps=STEPS[:1]) + sheet(number="C-50001", steps=STEPS[1:2])
    crossed += sheet(tag="MC-0002", number="C-50001", steps=STEPS[:1])
    crossed += sheet(tag="MC-0002", number="C-48213", steps=STEPS[1:2])
    answer = reef("custody", "--csv", reef.write("h.csv", f"{HEADER}\n{crossed}"))
    assert answer.code == 1
    assert answer.out.count("mismatch: At “cast”") == 2


def test_a_certificate_waits_for_an_unbroken_chain_and_says_where_it_is_broken(zoned):
    """A programme that keeps no chain at all is told so and is not held up."""
    zoned.good("module", "add", "MC-0002", "--type", "hump-90")
    other = "MC-0002,received,2026-03-01 09:30,A,MC-0002,1,B,MC-0002,1\n"
    free = zoned.good("certificate", "MC-0001", "--out", "before", "--json").json
    assert any("no hand-overs" in note for note in free["notes"])
    zoned("module", "amend", "MC-0001", "--memorial", "Ada B. Quill", "--reason", "as the family writes it")
    assert zoned("custody", "--csv", zoned.write("o.csv", f"{HEADER}\n{other}")).code == 0
    line = ("certificate", "MC-0001", "--out", "certificates")
    zoned(*line).is_told("Custody", "No hand-over", "--despite", code=2)
    for number in (0, 1, 3, 4):
        handed(zoned, number)
    zoned(*line).is_told("Custody", "“cured” is not recorded", code=2)
    assert not list(Path("certificates").glob("*"))
    handed(zoned, 2)
    zoned.good(*line)


def test_a_certificate_despite_a_broken_chain_keeps_the_reason(zoned):
    handed(zoned, 0)
    despite = ("--despite", "placed before chains were kept")
    answer = zoned.good("certificate", "MC-0001", "--out", "certificates", *despite)
    assert "Custody" in answer.out
    entry = zoned.good("journal", "show", "--json").json["entries"][-1]["body"]
    assert entry["despite"] == "placed before chains were kept"
    assert any("Custody" in warning for warning in entry["warnings"])


@pytest.mark.parametrize(
    ("line", "said"),
    [
        ((), "one tag"),
        (("MC-0001", "--csv", "x.csv"), "one tag"),
        (("MC-0001", "--step", "cast"), "--from-tag"),
        (("MC-0001", "--note", "x"), "--step"),
        (("MC-0001", "--withdraw", "0badcafe-9", "--reason", "x"), "no hand-over"),
        (("MC-0001", "--withdraw", "0badcafe-9"), "reason"),
        (("MC-0001", "--withdraw", "0badcafe-9", "--step", "cast"), "--withdraw"),
        (("MC-0009",), "MC-0009"),
    ],
)
def test_mistakes_are_told(reef, line, said):
    reef("custody", *line).is_told(said, code=2)


def test_hostile_text_is_shown_and_does_nothing(reef):
    answer = handed(reef, 0, **{"from": "=HYPERLINK(1)", "note": "<script>../../"})
    assert answer.code == 0
    handed(reef, 1, **{"from": "a\x1b[31m"}).is_told("do not show", code=2)
