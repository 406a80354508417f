"""Which modules an officer looks at again, and why each."""

from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

from registry.actions.draw_sample import draw_sample
from registry.errors import NotFoundError, QuantityError, RequestError
from registry.measure.decision import Verdict
from registry.measure.movement import Motion
from tests.builders import (
    ACTOR,
    NOON,
    a_permit,
    a_placement,
    a_programme,
    a_resurvey,
    a_stocked_registry,
    many_placements,
    permit_added,
    placement_logged,
    placement_resurveyed,
)
from tests.fakes import FixedClock, MemoryRegister

DRAWN = datetime(2027, 3, 2, 15, tzinfo=UTC)


def a_reef(placements, modules=60):
    register = MemoryRegister(a_programme(), actor=ACTOR, clock=FixedClock(step_s=1.0))
    register.append([*a_stocked_registry(modules), permit_added(a_permit(number="HB-0500"))])
    entries = register.append([placement_logged(one) for one in placements])
    return register, [entry.reference for entry in entries]


def drawn(register, *, seed="4711", size=10, permit="HB-0417", **more):
    return draw_sample(register, permit, size=size, seed=seed, now=DRAWN, **more)


def tags(sample):
    return sorted(module.tag for module in sample.modules)


def test_the_seed_alone_decides():
    register, _ = a_reef(many_placements(50))
    first = drawn(register)
    assert len(first.modules) == 10
    assert tags(first) == tags(drawn(register)) == tags(drawn(register, seed=" 4711 "))
    assert {tuple(tags(drawn(register, seed=str(seed)))) for seed in range(5)} != {tuple(tags(first))}


def test_entries_that_do_not_touch_the_placements_leave_the_sample_as_it_is():
    register, _ = a_reef(many_placements(50))
    before = drawn(register)
    register.append([permit_added(a_permit(number="HB-0900"))])
    after = drawn(register)
    assert tags(after) == tags(before)
    assert after.journal_head == register.head() != before.journal_head


def test_the_doubtful_are_drawn_more_often_and_say_why():
    doubtful = [
        a_placement(tag=one.tag, lon_deg=one.home.position.lon_deg, lat_deg=one.home.position.lat_deg,
                    r95_m=15.0, charted_depth_m=None, depth_u95_m=None)
        if number % 10 == 0 else one
        for number, one in enumerate(many_placements(50))
    ]  # fmt: skip
    register, _ = a_reef(doubtful)
    names = {f"MR-{number:04d}" for number in range(1, 51, 10)}
    sample = drawn(register)
    chances = {module.tag in names: module.chance for module in sample.modules}
    weights = {module.tag in names: module.weight for module in sample.modules}
    assert chances[True] / chances[False] == pytest.approx(weights[True] / weights[False])
    assert weights[True] > 3 * weights[False]
    times = sum(len(names & set(tags(drawn(register, seed=str(s))))) for s in range(40))
    assert abs(times - 40 * 5 * chances[True]) < 4.9 * np.sqrt(40 * 5 * chances[True])


def test_the_verdict_of_the_audit_stands_beside_each():
    register, _ = a_reef([*many_placements(3), a_placement(tag="MR-0004", lat_deg=34.2)])
    verdicts = {module.tag: module.verdict for module in drawn(register, size=4).modules}
    assert verdicts["MR-0004"] == Verdict.NONCONFORMING
    assert verdicts["MR-0001"] == Verdict.CONFORMING


def test_the_order_is_that_of_a_course():
    register, _ = a_reef(many_placements(50))
    sample = drawn(register, size=20)
    east = [module.lon_deg for module in sample.modules]
    assert east in (sorted(east), sorted(east, reverse=True))  # they lie in one row
    assert sample.course_m == pytest.approx((max(east) - min(east)) * 92_385, rel=0.01)


def test_a_module_that_moved_is_sought_where_it_was_found():
    placed = many_placements(3)
    register, references = a_reef(placed)
    there = placed[0].home.position
    resurvey = a_resurvey(
        placement_id=references[0], lon_deg=there.lon_deg + 0.001, lat_deg=there.lat_deg, r95_m=0.5
    )
    movement = resurvey.movement.__class__(
        **{name: getattr(resurvey.movement, name) for name in resurvey.movement.__dataclass_fields__}
        | {"verdict": Motion.MOVED, "compared_with": references[0], "distance_m": 92.0}
    )
    moved = a_resurvey(placement_id=references[0], lon_deg=there.lon_deg + 0.001, lat_deg=there.lat_deg,
                       r95_m=0.5, movement=movement)  # fmt: skip
    register.append([placement_resurveyed(moved)])
    sample = drawn(register, size=3)
    found = next(module for module in sample.modules if module.tag == "MR-0001")
    assert found.moved
    assert found.lon_deg == pytest.approx(there.lon_deg + 0.001, abs=2e-5)
    assert found.r95_m == pytest.approx(0.5, abs=0.1)
    assert any("MR-0001" in note and "moved" in note for note in sample.notes)


def test_positions_leave_in_wgs84_at_the_epoch_of_the_sample():
    register, _ = a_reef(many_placements(1))
    (module,) = drawn(register, size=1).modules
    home = many_placements(1)[0].home.position
    # NAD83(2011) against ITRF2020 off Carolina: about a metre (check value: geodesy of the frames).
    assert 0.5 < abs(module.lat_deg - home.lat_deg) * 110_922 < 1.5
    assert drawn(register, size=1).epoch == pytest.approx(2027.16, abs=0.01)


def test_all_are_listed_where_there_are_no_more():
    register, _ = a_reef(many_placements(4))
    sample = drawn(register, size=20)
    assert len(sample.modules) == sample.population == 4
    assert {module.chance for module in sample.modules} == {1.0}
    assert any("only 4 modules" in note for note in sample.notes)
    assert any("at least 20" in note for note in sample.notes)


def test_a_tag_recorded_in_two_places_is_told():
    twice = [*many_placements(3), a_placement(tag="MR-0001", placed_at=NOON + timedelta(days=2))]
    register, _ = a_reef(twice)
    assert any("several places: MR-0001" in note for note in drawn(register, size=4).notes)


def test_no_name_of_anybody_is_in_it():
    register, _ = a_reef(many_placements(3, crew="Perdita Unlisted"))
    assert "Perdita" not in repr(drawn(register, size=3))


def test_an_empty_or_unknown_permit_and_a_size_of_none_are_errors():
    register, _ = a_reef(many_placements(3))
    with pytest.raises(NotFoundError, match="No module lies under permit HB-0500"):
        drawn(register, permit="HB-0500")
    with pytest.raises(NotFoundError):
        drawn(register, permit="HB-9999")
    with pytest.raises(RequestError):
        drawn(register, size=0)
    with pytest.raises(QuantityError):
        drawn(register, seed=" ")
