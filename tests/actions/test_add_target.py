"""Targets are brought home, numbered once, and moved only with a reason."""

from datetime import date

import pytest
from pyproj import Geod

from registry.actions.add_target import Planned, add_targets, move_target
from registry.errors import ConflictError, FrameError, InvalidRecordError, NotFoundError
from registry.formats.written_position import read_position, read_position_in
from registry.records.target import TargetDraft
from tests.actions.stocked import a_register, logged
from tests.builders import ACTOR, a_permit, permit_added

GRS80 = Geod(ellps="GRS80")
HERE = "34 00.0000 N 077 00.0000 W"
THERE = "34 00.1000 N 077 00.0000 W"


def a_draft(tag="MR-0001", text=HERE, *, frame="EPSG:6318", epoch=None):
    return TargetDraft(tag=tag, position=read_position_in(text, frame), frame=frame, epoch=epoch)


def add(register, *drafts, permit="HB-0417"):
    return add_targets(register, drafts, permit=permit, actor=ACTOR)


def move(register, draft, *, permit="HB-0417", why="a ledge"):
    return move_target(register, draft, permit=permit, why=why, actor=ACTOR)


def test_a_target_in_the_home_frame_stays_where_it_is():
    register = a_register()
    (answer,) = add(register, a_draft("NOT-CAST"))
    assert answer == Planned(target=register.targets()[0])
    target = answer.target
    assert (target.target_id, target.permit, target.tag) == ("target-0001", "HB-0417", "NOT-CAST")
    assert (target.lat_deg, target.lon_deg, target.written) == (34.0, -77.0, HERE)
    assert (target.frame, target.operation) == ("EPSG:6318", "none: same frame")


def test_a_target_in_wgs84_moves_home_by_the_right_metre_and_its_epoch_is_told():
    # ITRF2020 to NAD83(2011) at 33 N 78 W: 1.0703 m at 2026.9 and 0.876 m at 2010 (EPSG:10334, worked out with
    # PROJ 9.5.1 and independently).
    register = a_register(permits=[a_permit()])
    text = "33.000000, -78.000000"
    then, untold = add(
        register, a_draft("A", text, frame="EPSG:4326", epoch=2010.0), a_draft("B", text, frame="EPSG:4326")
    )
    for answer, shift_m in ((then, 0.876), (untold, 1.06)):
        away_m = GRS80.inv(-78.0, 33.0, answer.target.lon_deg, answer.target.lat_deg)[2]
        assert away_m == pytest.approx(shift_m, abs=1e-3 if answer is then else 0.02)
        assert "EPSG:10334" in answer.target.operation
        assert "km outside" in " ".join(answer.warnings)
    assert "no epoch was stated" not in then.target.operation
    assert untold.target.operation.endswith("; no epoch was stated: that of 2026-06-01 is taken")
    assert (then.target.epoch, untold.target.epoch) == (2010.0, pytest.approx(2026.41, abs=0.01))


def test_a_target_without_a_frame_is_read_at_home_and_says_so():
    (answer,) = add(a_register(), a_draft(frame=None))
    assert answer.target.frame == "EPSG:6318"
    assert "No frame was stated" in answer.warnings[0]


def test_a_target_a_little_outside_is_recorded_with_a_warning():
    register = a_register()
    # The area ends at 34.01 N: 0.1 minutes of latitude north of it are 185 m.
    (answer,) = add(register, a_draft(text="34 00.7000 N 077 00.0000 W"))
    (warning,) = answer.warnings
    assert warning == "It lies 185 m outside every area of permit HB-0417."
    assert len(register.targets()) == 1


def test_a_target_that_stands_is_left_alone_also_on_another_day():
    register = a_register()
    drafts = [a_draft("A", frame="EPSG:4326"), a_draft("B")]
    first = add(register, *drafts)
    before = register.head()
    register._clock.instant = register._clock.instant.replace(year=2027)
    again = add(register, *drafts)
    assert [(each.new, each.target) for each in again] == [(False, each.target) for each in first]
    assert register.head() == before
    assert register.today() == date(2027, 6, 1)


def test_one_module_has_one_target_under_a_permit():
    register = a_register()
    register.append([permit_added(a_permit(number="HB-0500"))])
    one, two = add(register, a_draft(), a_draft(text=THERE))
    assert isinstance(one, Planned)
    assert isinstance(two, ConflictError)
    assert "leadline target move MR-0001" in two.remedy
    (other,) = add(register, a_draft(text=THERE), permit="HB-0500")
    assert other.target.target_id == "target-0002"
    assert len(register.targets()) == 2


def test_what_cannot_be_brought_home_does_not_hold_up_the_others():
    register = a_register()
    good, bad, next_one = add(register, a_draft("A"), a_draft("B", frame="EPSG:99999"), a_draft("C"))
    assert isinstance(bad, FrameError)
    assert [good.target.target_id, next_one.target.target_id] == ["target-0001", "target-0002"]


def test_a_plan_that_changed_keeps_both_in_the_journal():
    register = a_register()
    add(register, a_draft(), a_draft("MR-0002"))
    before, moved = move(register, a_draft(text=THERE))
    assert (before.written, moved.target.written) == (HERE, THERE)
    assert moved.target.target_id == "target-0003"
    assert [target.target_id for target in register.targets()] == ["target-0002", "target-0003"]
    body = list(register.journal())[-1].content()
    assert (body["supersedes"], body["reason"]) == ("target-0001", "a ledge")
    # And back: a number is never given twice.
    _, back = move(register, a_draft())
    assert back.target.target_id == "target-0004"


@pytest.mark.parametrize(
    ("draft", "asked", "error", "told"),
    [
        (a_draft(text=THERE), {"why": " "}, InvalidRecordError, "no reason"),
        (a_draft("MR-0009", THERE), {}, NotFoundError, "no target under permit HB-0417"),
        (a_draft(text=THERE), {"permit": "HB-0999"}, NotFoundError, "HB-0999"),
        (a_draft(), {}, ConflictError, "that already"),
        (a_draft(text=THERE, frame="EPSG:99999"), {}, FrameError, "99999"),
    ],
)
def test_a_move_that_cannot_be_is_refused_and_nothing_is_written(draft, asked, error, told):
    register = a_register()
    add(register, a_draft())
    before = register.head()
    with pytest.raises(error, match=told) as refusal:
        move(register, draft, **asked)
    assert refusal.value.remedy
    assert register.head() == before


def test_a_target_needs_a_tag_and_a_permit():
    with pytest.raises(InvalidRecordError):
        a_draft("a/b")
    with pytest.raises(NotFoundError):
        add(a_register(), a_draft(), permit="HB-0999")


def test_a_placement_does_not_touch_the_plan():
    register = a_register()
    add(register, a_draft())
    logged(register)
    assert register.targets()[0].written == HERE
    assert read_position(HERE).lat_deg == register.targets()[0].lat_deg
