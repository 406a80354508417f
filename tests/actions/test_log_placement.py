"""What lies on the seabed is recorded, wherever it lies; what was wrong is corrected by a new entry."""

from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

from registry.actions.audit_registry import audit_registry
from registry.actions.log_placement import Logged, correct_placement, log_placement, log_placements
from registry.errors import (
    ConflictError,
    FrameError,
    InvalidRecordError,
    LeadlineError,
    MissingGridError,
    NotFoundError,
    PositionTextError,
)
from registry.formats.written_quantity import read_length
from registry.measure.decision import Verdict
from tests.actions.stocked import DEEP, ROOMY, a_register, a_row, logged
from tests.builders import ACTOR, NOON, a_condition, a_permit, a_quantity, amended, permit_amended
from tests.rules.one_case import asked, count_of


def findings_in_journal(register, placement_id):
    entry = next(entry for entry in register.journal() if entry.reference == placement_id)
    return entry.content()["findings"]


def kinds(register):
    return [entry.kind for entry in register.journal()]


WRONG_PLACES = {
    "outside every area": {"position": "34 00.0000 N 077 05.0000 W"},
    "too shallow": {"depth": "9 m"},
    "half the globe away": {"position": "47 30.0000 N 052 00.0000 W"},
    "before the permit began": {"placed_at": NOON.replace(year=2020)},
}


@pytest.mark.parametrize("changes", WRONG_PLACES.values(), ids=list(WRONG_PLACES))
def test_a_module_in_the_wrong_place_is_recorded_and_flagged(changes):
    register = a_register()
    found = logged(register, **changes)
    assert found.verdict == Verdict.NONCONFORMING
    assert register.placement_ids("MR-0001") == (found.placement_id,)


def test_a_second_placement_of_one_tag_is_recorded_and_both_are_flagged():
    register = a_register()
    first = logged(register)
    second = logged(register, position="34 00.1000 N 077 00.0000 W")
    assert first.verdict == Verdict.CONFORMING
    assert {f.rule for f in second.findings if f.verdict == Verdict.NONCONFORMING} == {"duplicate"}
    (audit,) = audit_registry(register).permits
    assert (audit.verdict == Verdict.NONCONFORMING).all()


def test_the_findings_of_the_moment_stand_in_the_journal():
    register = a_register()
    found = logged(register)
    entry = next(entry for entry in register.journal() if entry.reference == found.placement_id)
    assert entry.actor == ACTOR
    assert entry.content()["verdict"] == "conforming"
    assert findings_in_journal(register, found.placement_id) == [
        finding.as_json() for finding in found.findings
    ]
    assert [f["rule"] for f in findings_in_journal(register, found.placement_id)] == [
        "inside-area",
        "keep-out",
        "spacing",
        "clearance",
        "validity",
        "duplicate",
    ]


def test_findings_of_the_moment_do_not_change_when_a_neighbour_comes():
    register = a_register()
    first = logged(register)
    before = findings_in_journal(register, first.placement_id)
    second = logged(register, "MR-0002", "34 00.0010 N 077 00.0000 W")
    assert second.verdict == Verdict.NONCONFORMING
    assert findings_in_journal(register, first.placement_id) == before
    (audit,) = audit_registry(register).permits
    assert (audit.verdict == Verdict.NONCONFORMING).all()


def test_what_was_typed_is_kept_beside_what_was_derived():
    found = logged(
        a_register(), depth="21.00 m", tide="0.64 m", crew="Ada, Ben", note="slack water"
    ).placement
    assert (found.position_text, found.depth_text, found.tide_text) == (
        "34 00.0000 N 077 00.0000 W",
        "21.00 m",
        "0.64 m",
    )
    assert found.charted_depth_m == pytest.approx(20.36)
    assert (found.crew, found.note) == ("Ada, Ben", "slack water")
    assert any("No frame was stated" in sentence for sentence in found.basis)


def test_a_depth_that_nobody_measured_is_left_open():
    found = logged(a_register(), depth=None, depth_u95=None)
    assert found.placement.charted_depth_m is None
    assert "No depth was stated." in found.placement.basis
    assert found.verdict == Verdict.INCONCLUSIVE


def test_a_receiver_class_stands_for_a_radius():
    found = logged(a_register(), r95=None, receiver="sbas")
    assert found.placement.observed.r95_m == 3.0
    with pytest.raises(PositionTextError, match="State one"):
        logged(a_register(), receiver="sbas")


def test_an_unknown_tag_is_refused_with_those_near_it():
    register = a_register()
    with pytest.raises(NotFoundError, match=r"'MR-0O01'.*Did you mean MR-0001"):
        logged(register, "MR-0O01")
    with pytest.raises(NotFoundError, match="leadline module add"):
        logged(register, "quite different")
    assert len(register.placements()) == 0


def test_an_unknown_tag_with_its_type_is_a_new_module():
    register = a_register()
    found = logged(register, "NEW-1", type_id="cube-90")
    assert register.module("NEW-1").type_id == "cube-90"
    assert kinds(register)[-2:] == ["module.added", "placement.logged"]
    assert found.placement.warnings == ()
    with pytest.raises(NotFoundError, match=r"'pyramid'.*Types: cube-90, dome-120"):
        logged(register, "NEW-2", type_id="pyramid")
    with pytest.raises(InvalidRecordError, match="no file name can carry"):
        logged(register, "NEW/3", type_id="cube-90")


def test_a_type_that_the_registry_holds_otherwise_is_warned_of_as_a_mixed_up_tag():
    register = a_register()
    found = logged(register, type_id="cube-90")
    assert any(
        "MR-0001 is of type cube-90, but the registry holds it as dome-120" in w
        for w in found.placement.warnings
    )
    assert logged(register, "MR-0002", type_id="dome-120").placement.warnings == ()


def test_a_module_of_a_line_that_fails_is_not_made():
    register = a_register()
    rows = [a_row("NEW-1", type_id="cube-90", frame="NAD27"), a_row("MR-0001")]
    bad, good = log_placements(register, rows, actor=ACTOR)
    assert isinstance(bad, MissingGridError)
    assert isinstance(good, Logged)
    assert "NEW-1" not in {module.tag for module in register.modules()}


def test_each_bad_line_gives_its_own_error_and_the_good_ones_go_in():
    register = a_register()
    rows = [
        a_row("MR-0001"),
        a_row("MR-0002", permit="HB-9999"),
        a_row("MR-0003", "34 00.1000 N 077 00.0000 W WGS84", frame="EPSG:6318"),
        a_row("MR-0004", "34 00.1000 N 077 00.0000 W", depth="20 m", tide="30 m"),
        a_row("MR-0005", "34 00.2000 N 077 00.0000 W", r95=read_length("-3 m")),
        a_row("nobody"),
        a_row("MR-0006", "34 00.3000 N 077 00.0000 W"),
    ]
    answers = log_placements(register, rows, actor=ACTOR)
    assert [isinstance(a, Logged) for a in answers] == [True, False, False, False, False, False, True]
    assert isinstance(answers[1], NotFoundError)
    assert "HB-0417" in str(answers[1])
    assert isinstance(answers[2], FrameError)
    assert all(str(a).endswith(".") for a in answers if isinstance(a, LeadlineError))
    assert register.placements().tag.tolist() == ["MR-0001", "MR-0006"]


def test_a_row_taken_in_twice_is_written_once():
    register = a_register()
    row = a_row(source={"key": "abc"})
    log_placement(register, row, actor=ACTOR)
    before = register.head()
    with pytest.raises(ConflictError, match="taken in before"):
        log_placement(register, row, actor=ACTOR)
    assert register.head() == before


def test_the_same_row_twice_in_one_file_is_written_once():
    register = a_register()
    answers = log_placements(
        register, [a_row(source={"key": "abc"}), a_row(source={"key": "abc"})], actor=ACTOR
    )
    assert isinstance(answers[0], Logged)
    assert isinstance(answers[1], ConflictError)
    assert len(register.placements()) == 1


def test_a_bad_row_twice_in_one_file_is_refused_twice_for_the_same_reason():
    rows = [a_row(frame="NAD27", source={"key": "abc"}), a_row(frame="NAD27", source={"key": "abc"})]
    register = a_register()
    answers = log_placements(register, rows, actor=ACTOR)
    assert [type(a) for a in answers] == [MissingGridError, MissingGridError]
    mended = log_placement(register, a_row(source={"key": "abc"}), actor=ACTOR)
    assert mended.verdict == Verdict.CONFORMING


def test_modules_of_one_batch_are_neighbours_of_one_another():
    rows = [a_row("MR-0001"), a_row("MR-0002", "34 00.0010 N 077 00.0000 W")]
    answers = log_placements(a_register(), rows, actor=ACTOR)
    assert [a.verdict for a in answers if isinstance(a, Logged)] == [Verdict.NONCONFORMING] * 2


def test_capacity_counts_in_the_order_of_time_within_a_batch():
    permit = a_permit(conditions=(asked("capacity", greatest_count=count_of(1)),))
    register = a_register(permits=[permit])
    rows = [
        a_row("MR-0001", placed_at=NOON + timedelta(hours=1)),
        a_row("MR-0002", "34 00.1000 N 077 00.0000 W"),
    ]
    late, early = log_placements(register, rows, actor=ACTOR)
    assert isinstance(late, Logged)
    assert isinstance(early, Logged)
    assert (late.verdict, early.verdict) == (Verdict.NONCONFORMING, Verdict.CONFORMING)


def test_each_line_is_judged_by_its_own_permit():
    strict = a_permit(number="TN-0033", conditions=(asked("clearance", least=30.0),))
    register = a_register(permits=[a_permit(conditions=(DEEP,)), strict])
    rows = [a_row("MR-0001"), a_row("MR-0002", "34 00.1000 N 077 00.0000 W", permit="TN-0033")]
    a, b = log_placements(register, rows, actor=ACTOR)
    assert isinstance(a, Logged)
    assert isinstance(b, Logged)
    assert (a.verdict, b.verdict) == (Verdict.CONFORMING, Verdict.NONCONFORMING)


def test_if_writing_fails_nothing_stands(monkeypatch):
    register = a_register()
    before = (register.head(), len(register.modules()))
    follow = register._follow

    def break_at_second(entry, body):
        if body.get("tag") == "MR-0002":
            raise OSError("disk full")
        follow(entry, body)

    monkeypatch.setattr(register, "_follow", break_at_second)
    rows = [
        a_row("NEW-1", type_id="cube-90"),
        a_row("MR-0001"),
        a_row("MR-0002", "34 00.1000 N 077 00.0000 W"),
    ]
    with pytest.raises(OSError, match="disk full"):
        log_placements(register, rows, actor=ACTOR)
    assert (register.head(), len(register.modules())) == before
    assert len(register.placements()) == 0


def test_no_lines_write_nothing():
    register = a_register()
    before = register.head()
    assert log_placements(register, [], actor=ACTOR) == []
    assert register.head() == before


def test_a_correction_supersedes_and_both_stand_in_the_journal():
    register = a_register()
    wrong = logged(register, position="34 00.0000 N 077 05.0000 W")
    right = correct_placement(
        register, wrong.placement_id, a_row(), reason="  minutes mistyped ", actor=ACTOR
    )
    assert right.verdict == Verdict.CONFORMING
    assert register.placement_ids("MR-0001") == (right.placement_id,)
    assert register.placement(wrong.placement_id).position_text == "34 00.0000 N 077 05.0000 W"
    entries = [e for e in register.journal() if e.kind.startswith("placement.")]
    assert [e.kind for e in entries] == ["placement.logged", "placement.corrected"]
    assert entries[1].content()["supersedes"] == wrong.placement_id
    assert entries[1].content()["reason"] == "minutes mistyped"
    assert entries[0].content()["verdict"] == "nonconforming"


def test_the_corrected_placement_is_no_neighbour_or_duplicate_of_its_correction():
    register = a_register()
    wrong = logged(register)
    right = correct_placement(
        register,
        wrong.placement_id,
        a_row(position="34 00.0005 N 077 00.0000 W"),
        reason="resurveyed",
        actor=ACTOR,
    )
    assert right.verdict == Verdict.CONFORMING
    spacing = next(f for f in right.findings if f.rule == "spacing")
    assert spacing.verdict == Verdict.NOT_APPLICABLE


def test_a_mixed_up_tag_can_be_corrected():
    register = a_register()
    wrong = logged(register, "MR-0001")
    correct_placement(register, wrong.placement_id, a_row("MR-0002"), reason="tag misread", actor=ACTOR)
    assert register.placement_ids("MR-0001") == ()
    assert len(register.placement_ids("MR-0002")) == 1


@pytest.mark.parametrize("reason", ["", "   "])
def test_a_correction_needs_a_reason(reason):
    register = a_register()
    wrong = logged(register)
    with pytest.raises(InvalidRecordError, match="gives no reason"):
        correct_placement(register, wrong.placement_id, a_row(), reason=reason, actor=ACTOR)


def test_correcting_twice_or_nothing_is_refused_and_changes_nothing():
    register = a_register()
    wrong = logged(register)
    right = correct_placement(
        register, wrong.placement_id, a_row(position="34 00.1000 N 077 00.0000 W"), reason="typo", actor=ACTOR
    )
    before = register.head()
    with pytest.raises(ConflictError):
        correct_placement(register, wrong.placement_id, a_row(), reason="again", actor=ACTOR)
    with pytest.raises(NotFoundError):
        correct_placement(register, "0badcafe-999", a_row(), reason="what", actor=ACTOR)
    assert register.head() == before
    again = correct_placement(register, right.placement_id, a_row(), reason="back", actor=ACTOR)
    assert register.placement_ids("MR-0001") == (again.placement_id,)


def test_a_correction_that_cannot_be_derived_changes_nothing():
    register = a_register()
    wrong = logged(register)
    before = register.head()
    with pytest.raises(MissingGridError):
        correct_placement(register, wrong.placement_id, a_row(frame="NAD27"), reason="datum", actor=ACTOR)
    assert register.head() == before


def test_many_lines_are_recorded_as_each_would_be_alone():
    rows = [
        a_row(f"MR-{k:04d}", f"34 00.{k}000 N 077 00.0000 W", placed_at=NOON + timedelta(minutes=k))
        for k in range(1, 9)
    ]
    together, apart = a_register(permits=[a_permit(conditions=(ROOMY, DEEP))]), a_register()
    log_placements(together, rows, actor=ACTOR)
    for row in rows:
        log_placement(apart, row, actor=ACTOR)
    for name in ("tag", "lon_deg", "lat_deg", "r95_m", "depth_m", "placed_at_s"):
        np.testing.assert_array_equal(getattr(together.placements(), name), getattr(apart.placements(), name))


def test_a_time_in_the_future_is_recorded_with_a_warning():
    register = a_register()
    found = logged(register, placed_at=datetime(2031, 6, 14, 14, 32, tzinfo=UTC))
    assert any("lies in the future" in warning for warning in found.placement.warnings)
    assert register.placement(found.placement_id).warnings == found.placement.warnings


def test_a_module_placed_before_it_was_cast_is_a_mixed_up_tag_or_date():
    register = a_register()
    found = logged(register, placed_at=datetime(2001, 6, 14, 14, 32, tzinfo=UTC))
    assert any("was cast on" in warning for warning in found.placement.warnings)


def test_a_line_typed_twice_is_recorded_and_told_how_to_take_back():
    register = a_register()
    first = logged(register)
    again = logged(register)
    assert any(first.placement_id in w and "leadline withdraw" in w for w in again.placement.warnings)
    assert not any("stands already" in w for w in first.placement.warnings)


def test_a_placement_is_judged_by_the_permit_as_it_was_in_force_on_its_day():
    """Logged together on 2026-06-03; the amendment of 2026-06-02 wants 40 m and counts depths below LAT."""
    register = a_register()
    wide = a_condition(limits={"least": a_quantity(40.0, written="40 m")})
    register.append([permit_amended(amended(conditions=(wide,), chart_datum="LAT"))])
    register._clock.instant = NOON + timedelta(days=2)
    rows = [
        a_row("MR-0001"),
        a_row("MR-0002", "34 00.0120 N 077 00.0000 W", placed_at=NOON + timedelta(hours=1)),
        a_row("MR-0003", "34 00.0240 N 077 00.0000 W", placed_at=NOON + timedelta(days=1)),
    ]
    answers = [one for one in log_placements(register, rows, actor=ACTOR) if isinstance(one, Logged)]
    first, second, third = answers

    def spacing(logged):
        (found,) = [finding for finding in logged.findings if finding.rule == "spacing"]
        return found.limit, found.verdict

    assert spacing(first) == spacing(second) == (6.0, Verdict.CONFORMING)
    assert spacing(third) == (40.0, Verdict.NONCONFORMING)
    below = [" ".join(each.placement.basis) for each in (first, third)]
    assert ["depth below MLLW" in below[0], "depth below LAT" in below[1]] == [True, True]
