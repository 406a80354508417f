"""Begin a registry: who the programme is, in which frame and zone it works, with which key it signs."""

from collections.abc import Sequence
from zoneinfo import ZoneInfo

from registry.errors import TimeTextError
from registry.measure.datum import home_frame
from registry.ports import Register
from registry.records.body import type_body
from registry.records.entry import Draft, Entry
from registry.records.module import ModuleType
from registry.records.programme import Programme

__all__ = ["add_module_types", "checked_programme"]


def checked_programme(*, name: str, frame: str, zone: str, key_id: str, public_key: str) -> Programme:
    """
    Make the record of a programme after checking what it declares.

    Raises
    ------
    FrameError
        If the frame cannot keep coordinates for decades.
    TimeTextError
        If the zone is no IANA zone.
    """
    found = home_frame(frame)
    try:
        ZoneInfo(zone)
    except (KeyError, ValueError, OSError) as error:
        what = f"{zone!r} is no time zone."
        raise TimeTextError(what, remedy='Give an IANA name with --zone, as "America/New_York".') from error
    return Programme(
        name=name.strip(),
        frame=found.code,
        frame_epoch=float(found.epoch or 0.0),
        zone=zone,
        key_id=key_id,
        public_key=public_key,
    )


def add_module_types(register: Register, types: Sequence[ModuleType], *, actor: str) -> tuple[Entry, ...]:
    """Record module types; ConflictError if one exists already."""
    return register.append([Draft(kind="type.added", actor=actor, body=type_body(t)) for t in types])
