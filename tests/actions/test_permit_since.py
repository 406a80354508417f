"""Nobody amends a permit that they have not seen; the second of two is told who changed what."""

import pytest

from registry.actions.amend_permit import amend_permit, transfer_permit
from registry.actions.permit_since import permit_version
from registry.errors import ConflictError
from registry.formats.permit_file import read_permit_file
from registry.formats.written_position import read_position
from registry.records.permit_changes import holder_changes
from tests.actions.stocked import no_files
from tests.actions.test_amend_permit import FIRST, SECOND, a_registry_with, amend, transfer


def attempt(register, text, seen, **more):
    return amend_permit(
        register,
        "HB-0500",
        read_permit_file(text),
        effective=register.permit("HB-0500").valid_from.replace(year=2026, month=4),
        why="Amendment 2",
        read_position=read_position,
        read_shapes=no_files,
        actor="Bo",
        seen=seen,
        **more,
    )


def test_the_second_is_told_who_changed_what_since():
    register = a_registry_with()
    seen = permit_version(register.permit_versions("HB-0500"))
    amend(register)
    transfer(register)
    length = len(list(register.journal()))
    with pytest.raises(ConflictError) as told:
        attempt(register, FIRST, seen)
    assert "was amended since you looked at it" in told.value.what
    assert "spacing: least 6.0 m [Special condition 7] -> least 8.0 m" in told.value.what
    assert "-> Tern Reef Trust" in told.value.what
    with pytest.raises(ConflictError, match="since you looked at it"):
        transfer_permit(
            register,
            "HB-0500",
            holder="Nobody",
            effective=register.permit("HB-0500").begins_on,
            why="x",
            actor="Bo",
            seen=seen,
        )
    assert len(list(register.journal())) == length
    now = permit_version(register.permit_versions("HB-0500"))
    assert attempt(register, FIRST, now).changes


def test_what_was_seen_before_is_not_told_again():
    register = a_registry_with()
    amend(register)
    seen = permit_version(register.permit_versions("HB-0500"))
    transfer(register)
    with pytest.raises(ConflictError) as told:
        attempt(register, FIRST, seen)
    assert "least 8.0 m" not in told.value.what
    assert "Tern Reef Trust" in told.value.what


def test_an_amendment_that_is_only_looked_at_is_not_written():
    register = a_registry_with()
    length = len(list(register.journal()))
    assert attempt(register, SECOND, None, write=False).changes
    assert len(list(register.journal())) == length


def test_who_held_a_permit_when_is_told_from_its_versions():
    register = a_registry_with()
    transfer(register)
    ((day, holder),) = holder_changes(register.permit_versions("HB-0500"))
    assert (day.isoformat(), holder) == ("2026-03-01", "Tern Reef Trust")
