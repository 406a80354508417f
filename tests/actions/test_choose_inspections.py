from dataclasses import replace
from datetime import timedelta

from registry.actions.choose_inspections import choose_inspections
from registry.measure.movement import Motion
from tests.audited import audit_summary, audited_registry
from tests.builders import (
    ACTOR,
    NOON,
    a_module,
    a_placement,
    a_programme,
    a_resurvey,
    module_added,
    placement_logged,
    placement_resurveyed,
)
from tests.fakes import FixedClock, MemoryRegister


def inspections_of(register, **changes):
    return choose_inspections(register, audit_summary(register), **changes)


def reasons_of(found, tag):
    return " ".join(next(each.reasons for each in found.listed if each.tag == tag))


def seen_again(register, tag, verdict, **changes):
    (placement_id,) = register.placement_ids(tag)
    resurvey = a_resurvey(tag=tag, placement_id=placement_id, **changes)
    moved = replace(resurvey.movement, verdict=verdict, distance_m=14.2, bearing_deg=118.0, u95_m=1.4)
    register.append([placement_resurveyed(replace(resurvey, movement=moved))])


def test_the_gravest_comes_first_and_says_why():
    found = inspections_of(audited_registry())
    tags = [each.tag for each in found.listed]
    # Outside, outside, shallow; then too close to be sure of; then corrected.
    assert set(tags[:3]) == {"MR-0005", "MR-0007", "MR-0008"}
    assert set(tags[3:5]) == {"MR-0004", "MR-0006"}
    assert tags[5] == "MR-0001"
    assert "Nonconforming: 13.40 ± 0.41 m of water over the top" in reasons_of(found, "MR-0007")
    assert "Corrected on 2026-06-01: two digits swapped on the slate." in reasons_of(found, "MR-0001")
    assert "Never measured again since 2026-06-04." in reasons_of(found, "MR-0005")
    # Of equals the one that misses by more: twelve kilometres before two hundred metres.
    assert tags.index("MR-0008") < tags.index("MR-0005")


def test_what_moved_is_seen_first_of_all():
    register = audited_registry()
    seen_again(register, "MR-0002", Motion.MOVED)
    found = inspections_of(register)
    assert found.listed[0].tag == "MR-0002"
    assert "2027-06-01 showed a movement of 14.2 ± 1.4 m toward 118° true" in reasons_of(found, "MR-0002")
    assert "Never measured again" not in reasons_of(found, "MR-0002")


def test_the_last_resurvey_is_what_is_known():
    register = audited_registry()
    seen_again(register, "MR-0002", Motion.MOVED, lon_deg=-77.005)
    seen_again(register, "MR-0002", Motion.NOT_SHOWN, observed_at=NOON + timedelta(days=700))
    told = reasons_of(inspections_of(register), "MR-0002")
    assert "showed a movement" not in told
    # What is left to look at is how deep it lies there.
    assert "this depth is that of where it was placed" in told


def test_the_least_certain_and_the_unsounded_are_named():
    register = audited_registry(
        module_added(a_module(tag="MR-0009")),
        placement_logged(a_placement(tag="MR-0009", r95_m=15.0, charted_depth_m=None, depth_u95_m=None)),
    )
    told = reasons_of(inspections_of(register), "MR-0009")
    assert "Known within 15 m only, half of all within 1.5 m." in told
    assert "Its depth is not known." in told


def test_only_so_many_are_listed_and_all_are_counted():
    found = inspections_of(audited_registry(), most=2)
    assert len(found.listed) == 2
    assert found.count == 8


def test_nothing_placed_gives_nothing_to_inspect():
    found = inspections_of(MemoryRegister(a_programme(), actor=ACTOR, clock=FixedClock()))
    assert (found.listed, found.count) == ((), 0)
