"""A day's spreadsheet: good rows go in, bad rows come back with reasons, nothing is lost."""

from registry.actions import intake_log as module
from registry.actions.intake_log import Read, intake_log
from registry.errors import PositionTextError, TableError
from registry.measure.decision import Verdict
from tests.actions.stocked import a_register, a_row
from tests.builders import ACTOR

SOURCE = {"file": "log.csv", "sha256": "0" * 64}


def read(number, row):
    return Read(number=number, cells=(f"row {number}", "as typed"), row=row)


def a_day():
    key = iter("abcdefghij")

    def keyed(tag, position, **changes):
        return a_row(tag, position, source={"key": next(key), "row": 0}, **changes)

    twice = keyed("MR-0001", "34 00.0000 N 077 00.0000 W")
    return [
        read(2, twice),
        read(3, PositionTextError("“34 N” has no longitude.", remedy="Give both.")),
        read(4, keyed("MR-0002", "34 00.1000 N 077 00.0000 W", depth="9 m")),
        read(5, keyed("nobody", "34 00.2000 N 077 00.0000 W")),
        read(6, twice),
        read(7, keyed("MR-0003", "34 00.3000 N 077 00.0000 W", frame="NAD27")),
        read(8, keyed("MR-0004", "34 00.3000 N 077 00.0000 W")),
    ]


def test_good_rows_go_in_bad_ones_come_back_and_repeated_ones_are_passed_over():
    register = a_register()
    result = intake_log(register, a_day(), source=SOURCE, actor=ACTOR)
    assert [number for number, _ in result.logged] == [2, 4, 8]
    assert [rejected.number for rejected in result.rejected] == [3, 5, 7]
    assert result.repeated == [6]
    assert [result.count(v) for v in (Verdict.CONFORMING, Verdict.NONCONFORMING)] == [2, 1]
    assert register.placements().tag.tolist() == ["MR-0001", "MR-0002", "MR-0004"]


def test_every_row_is_accounted_for_with_its_reason_and_its_words():
    result = intake_log(a_register(), a_day(), source=SOURCE, actor=ACTOR)
    assert len(result.logged) + len(result.rejected) + len(result.repeated) == len(a_day())
    assert result.rejected[0].reason == "“34 N” has no longitude. Give both."
    assert "nobody" in result.rejected[1].reason
    assert [rejected.cells for rejected in result.rejected] == [
        ("row 3", "as typed"),
        ("row 5", "as typed"),
        ("row 7", "as typed"),
    ]


def test_the_journal_tells_what_became_of_the_file():
    register = a_register()
    intake_log(register, a_day(), source=SOURCE, actor=ACTOR)
    entry = list(register.journal())[-1]
    body = entry.content()
    assert entry.kind == "intake.read"
    assert (body["file"], body["logged"], body["repeated"]) == ("log.csv", 3, 1)
    assert [row["row"] for row in body["rejected"]] == [3, 5, 7]
    assert body["rejected"][0]["text"] == ["row 3", "as typed"]


def test_the_same_file_again_logs_nothing_and_loses_nothing():
    register = a_register()
    intake_log(register, a_day(), source=SOURCE, actor=ACTOR)
    again = intake_log(register, a_day(), source=SOURCE, actor=ACTOR)
    assert again.logged == []
    assert again.repeated == [2, 4, 6, 8]
    assert [rejected.number for rejected in again.rejected] == [3, 5, 7]
    assert len(register.placements()) == 3


def test_a_mended_row_goes_in_the_next_time():
    register = a_register()
    intake_log(register, a_day(), source=SOURCE, actor=ACTOR)
    mended = read(2, a_row("MR-0003", "34 00.5000 N 077 00.0000 W", source={"key": "mended"}))
    result = intake_log(register, [mended], source=SOURCE, actor=ACTOR)
    assert [number for number, _ in result.logged] == [2]


def test_a_bad_row_that_stands_twice_is_rejected_twice_never_called_repeated():
    bad = a_row("nobody", source={"key": "x"})
    result = intake_log(a_register(), [read(2, bad), read(3, bad)], source=SOURCE, actor=ACTOR)
    assert [rejected.number for rejected in result.rejected] == [2, 3]
    assert result.repeated == []


def test_an_empty_file_is_read_and_said():
    register = a_register()
    result = intake_log(register, [], source=SOURCE, actor=ACTOR)
    assert (result.logged, result.rejected, result.repeated) == ([], [], [])
    assert list(register.journal())[-1].content()["logged"] == 0


def test_batches_make_no_difference(monkeypatch):
    whole, parts = a_register(), a_register()
    expected = intake_log(whole, a_day(), source=SOURCE, actor=ACTOR)
    monkeypatch.setattr(module, "BATCH", 2)
    told: list[int] = []
    found = intake_log(parts, iter(a_day()), source=SOURCE, actor=ACTOR, progress=told.append)
    assert sum(told) == len(a_day())
    assert [n for n, _ in found.logged] == [n for n, _ in expected.logged]
    assert found.rejected == expected.rejected
    assert found.repeated == expected.repeated


def test_stopped_midway_what_was_acknowledged_stands_and_the_rest_follows(monkeypatch):
    monkeypatch.setattr(module, "BATCH", 2)
    register = a_register()

    def power_cut():
        yield from a_day()[:5]
        raise TableError("the file ends in the middle of a row")

    try:
        intake_log(register, power_cut(), source=SOURCE, actor=ACTOR)
    except TableError:
        assert register.placements().tag.tolist() == ["MR-0001", "MR-0002"]
    result = intake_log(register, a_day(), source=SOURCE, actor=ACTOR)
    assert register.placements().tag.tolist() == ["MR-0001", "MR-0002", "MR-0004"]
    assert result.repeated == [2, 4, 6]


def test_rejected_rows_come_back_in_the_order_of_the_file():
    unreadable = PositionTextError("“34 N” has no longitude.", remedy="Give both.")
    rows = [read(2, a_row("nobody")), read(3, unreadable), read(4, a_row("no one")), read(5, unreadable)]
    result = intake_log(a_register(), rows, source=SOURCE, actor=ACTOR)
    assert [rejected.number for rejected in result.rejected] == [2, 3, 4, 5]
