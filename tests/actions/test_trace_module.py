from datetime import timedelta

from registry.actions.entry_days import entry_days
from registry.actions.trace_module import trace_module
from tests.builders import (
    ACTOR,
    NOON,
    a_module,
    a_placement,
    a_programme,
    a_resurvey,
    a_stocked_registry,
    module_added,
    placement_corrected,
    placement_logged,
    placement_resurveyed,
    placement_withdrawn,
)
from tests.fakes import FixedClock, MemoryRegister


def stocked():
    clock = FixedClock(NOON)
    register = MemoryRegister(a_programme(), actor=ACTOR, clock=clock)
    register.append(a_stocked_registry(2))
    return register, clock


def test_every_entry_about_a_module_is_told_in_order_and_of_no_other():
    register, clock = stocked()
    (first,) = register.append([placement_logged(a_placement(tag="MR-0001", crew="Nell Aboard"))])
    register.append([placement_logged(a_placement(tag="MR-0002"))])
    clock.instant += timedelta(days=1)
    moved = a_placement(tag="MR-0001", lat_deg=33.9951)
    (second,) = register.append([placement_corrected(moved, supersedes=first.reference)])
    (third,) = register.append(
        [placement_resurveyed(a_resurvey(tag="MR-0001", placement_id=second.reference))]
    )
    (fourth,) = register.append([placement_withdrawn(second.reference)])
    trace = trace_module(register, "MR-0001", permit=moved.permit)
    assert [each.kind for each in trace] == ["placed", "corrected", "resurveyed", "withdrawn"]
    assert [each.reference for each in trace] == [e.reference for e in (first, second, third, fourth)]
    assert [each.about for each in trace] == ["", first.reference, second.reference, second.reference]
    assert [each.digest for each in trace] == [e.digest for e in (first, second, third, fourth)]
    assert all(each.reason for each in (trace[1], trace[3]))
    assert "Nell" not in repr(trace)
    assert trace_module(register, "MR-0001", permit="ANOTHER") == ()


def test_days_are_those_of_the_programme_each_once():
    register, clock = stocked()
    register.append([module_added(a_module(tag="MR-0090"))])
    # 23:30 on 3 June in New York.
    clock.instant = NOON.replace(month=6, day=4, hour=3, minute=30)
    register.append([module_added(a_module(tag="MR-0091"))])
    days = entry_days(register)
    assert days[0] == NOON.date()
    assert days[-1].isoformat() == f"{NOON.year}-06-03"
    assert len(days) == 2
