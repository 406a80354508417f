"""What would become of a spreadsheet is told before it does, and is then what does become of it."""

import pytest

from registry.actions.intake_log import Read, earlier_intakes, intake_log, intake_once
from registry.actions.preview_intake import Outlook, Previewed, preview_intake
from registry.errors import AmbiguousPositionError, ConflictError, InvalidRecordError, TableError
from registry.measure.decision import Verdict
from registry.records.staged_intake import Settlement, StagedIntake
from tests.actions.stocked import a_register, a_row
from tests.builders import ACTOR

DIGEST = "0" * 64
SOURCE = {"file": "log.csv", "sha256": DIGEST}


def read(number, row):
    return Read(number=number, cells=(f"row {number}",), row=row)


def a_day():
    def keyed(key, tag, position, **changes):
        return a_row(tag, position, source={"key": key, "row": 0}, **({"frame": "EPSG:6318"} | changes))

    readings = ("34.1 N 77 W", "34.1 S 77 W")
    return [
        read(2, keyed("a", "MR-0001", "34 00.0000 N 077 00.0000 W")),
        read(3, AmbiguousPositionError("“34.1 77” lacks a letter.", remedy="Choose.", readings=readings)),
        read(4, keyed("b", "MR-0002", "34 00.1000 N 077 00.0000 W", depth="9 m")),
        read(5, TableError("The row has no tag.", remedy="Give it.")),
        read(6, keyed("c", "nobody", "34 00.2000 N 077 00.0000 W")),
        read(7, keyed("a", "MR-0001", "34 00.0000 N 077 00.0000 W")),
    ]


def test_each_row_is_told_as_it_will_be_and_nothing_is_written():
    register = a_register()
    length = len(list(register.journal()))
    rows = preview_intake(register, a_day(), actor=ACTOR)
    assert len(list(register.journal())) == length
    assert [row.outlook for row in rows] == [
        Outlook.ACCEPTED,
        Outlook.DOUBTFUL,
        Outlook.DOUBTFUL,
        Outlook.REJECTED,
        Outlook.REJECTED,
        Outlook.REPEATED,
    ]
    assert rows[1].readings == ("34.1 N 77 W", "34.1 S 77 W")
    assert not rows[1].can_go_in
    assert rows[2].verdict == Verdict.NONCONFORMING
    assert rows[2].reasons[0].startswith("clearance: ")
    assert rows[3].reasons == ("The row has no tag. Give it.",)
    taken = intake_log(register, a_day(), source=SOURCE, actor=ACTOR)
    assert [number for number, _ in taken.logged] == [row.number for row in rows if row.can_go_in]
    assert [logged.verdict for _, logged in taken.logged] == [row.verdict for row in rows if row.can_go_in]
    assert {r.outlook for r in preview_intake(register, [a_day()[0]], actor=ACTOR)} == {Outlook.REPEATED}


def test_a_position_in_no_stated_frame_is_doubtful():
    (row,) = preview_intake(a_register(), [read(2, a_row())], actor=ACTOR)
    assert row.outlook is Outlook.DOUBTFUL
    assert row.reasons[0].startswith("No frame was stated")


def staged(**settlements):
    said = {int(name[1:]): each for name, each in settlements.items()}
    return StagedIntake(sha256=DIGEST, file="log.csv", sent_by=ACTOR, sent_at="", settlements=said)


def kept(kind="confirmed", **more):
    return Settlement(kind=kind, by=ACTOR, at="2026-06-01T10:00:00.000Z", **more)


def test_a_doubtful_row_waits_until_somebody_settles_it():
    rows = tuple(preview_intake(a_register(), a_day(), actor=ACTOR))
    assert [row.number for row in Previewed(rows=rows, staged=staged()).waiting()] == [3, 4]
    settled = Previewed(rows=rows, staged=staged(r3=kept(), r4=kept()))
    # Nobody can keep a position that can be read in two ways.
    assert [row.number for row in settled.waiting()] == [3]
    assert [row.number for row in settled.of(Outlook.ACCEPTED)] == [2, 4]
    mended = Previewed(rows=rows, staged=staged(r4=kept("mended", mend={"depth": "9 m"})))
    assert 4 in [row.number for row in mended.waiting()]
    with pytest.raises(InvalidRecordError, match="wait to be settled: 3"):
        settled.refuse_unsettled(seen=settled.staged.version)
    with pytest.raises(ConflictError, match="changed since you opened it"):
        settled.refuse_unsettled(seen="")


def test_a_file_that_somebody_else_took_in_meanwhile_is_not_taken_in():
    register = a_register()
    intake_once(register, a_day(), source=SOURCE, actor="Ada", seen=())
    (first,) = earlier_intakes(register, DIGEST)
    length = len(list(register.journal()))
    with pytest.raises(ConflictError, match="Ada took this file in at"):
        intake_once(register, a_day(), source=SOURCE, actor="Bo", seen=())
    assert len(list(register.journal())) == length
    again = intake_once(register, a_day(), source=SOURCE, actor="Bo", seen=[first.reference])
    assert again.logged == []
    assert earlier_intakes(register, "1" * 64) == ()
