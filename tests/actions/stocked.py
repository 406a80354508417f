"""A registry in memory with a permit, a cable, two types and some modules; and lines of a log for it."""

from collections.abc import Sequence
from datetime import datetime
from typing import Any

from registry.actions.add_permit import add_permit
from registry.actions.log_placement import Logged, log_placement
from registry.actions.settle_position import Settled, Stated, settle
from registry.formats.permit_file import read_permit_file
from registry.formats.written_position import read_position
from registry.formats.written_quantity import read_length
from registry.records.entry import Draft
from registry.records.log_row import LogRow
from registry.records.module import Module
from registry.records.permit import Condition, Permit
from registry.records.programme import Programme
from tests.builders import (
    ACTOR,
    NOON,
    a_keep_out,
    a_module,
    a_permit,
    a_programme,
    a_quantity,
    a_type,
    keep_out_added,
    module_added,
    permit_added,
    type_added,
)
from tests.fakes import FixedClock, MemoryRegister

ROOMY = Condition(
    rule="spacing", cite="Special condition 4", limits={"least": a_quantity(6.0, written="6 m")}
)
DEEP = Condition(
    rule="clearance", cite="Special condition 2", limits={"least": a_quantity(15.24, written="50 ft")}
)


def a_register(
    *,
    permits: Sequence[Permit] | None = None,
    modules: Sequence[Module] | None = None,
    keep_outs: bool = True,
    programme: Programme | None = None,
) -> MemoryRegister:
    """Give a registry before the first sea day."""
    register = MemoryRegister(programme or a_programme(), actor=ACTOR, clock=FixedClock(step_s=1.0))
    permits = [a_permit(conditions=(ROOMY, DEEP))] if permits is None else permits
    modules = [a_module(tag=f"MR-{k:04d}") for k in range(1, 10)] if modules is None else modules
    drafts: list[Draft] = [permit_added(permit) for permit in permits]
    drafts += [keep_out_added(a_keep_out())] if keep_outs else []
    drafts += [type_added(), type_added(a_type(type_id="cube-90", base_radius_m=0.6, height_m=0.9))]
    drafts += [module_added(module) for module in modules]
    register.append(drafts)
    return register


def a_row(tag: str = "MR-0001", position: str = "34 00.0000 N 077 00.0000 W", **changes: Any) -> LogRow:
    """Give a line of a log; lengths may be written as text."""
    for name in ("r95", "depth", "depth_u95", "tide"):
        if isinstance(changes.get(name), str):
            changes[name] = read_length(changes[name])
    said: dict[str, Any] = {
        "tag": tag,
        "permit": "HB-0417",
        "placed_at": NOON,
        "position": read_position(position),
        "r95": read_length("1.5 m"),
        "depth": read_length("20.36 m"),
        "depth_u95": read_length("0.40 m"),
    }
    return LogRow(**(said | changes))


def logged(
    register: MemoryRegister,
    tag: str = "MR-0001",
    position: str = "34 00.0000 N 077 00.0000 W",
    **changes: Any,
) -> Logged:
    """Log one placement."""
    return log_placement(register, a_row(tag, position, **changes), actor=ACTOR)


def settled(
    text: str = "34 00.0000 N 077 00.0000 W",
    *,
    r95_m: float | None = 1.5,
    frame: str | None = None,
    epoch: float | None = None,
    at: datetime = NOON,
    programme: Programme | None = None,
) -> Settled:
    """Settle one position."""
    stated = Stated(written=read_position(text), frame=frame, epoch=epoch, r95_m=r95_m, at=at)
    return settle(stated, programme or a_programme())


def no_files(source: str, layer: str | None) -> Any:
    """Stand in for the reader of shapes where a permit names no file."""
    raise AssertionError(source, layer)


def add_permit_text(register: MemoryRegister, text: str, *, read_shapes: Any = no_files) -> Permit:
    """Add a permit from the text of its file."""
    return add_permit(
        register, read_permit_file(text), read_position=read_position, read_shapes=read_shapes, actor=ACTOR
    )
