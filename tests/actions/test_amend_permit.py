"""A permit that was amended or transferred is another version of it, from its day on."""

from datetime import date

import pytest

from registry.actions.amend_permit import amend_permit, transfer_permit
from registry.errors import ConflictError, InvalidRecordError, NotFoundError, PermitError
from registry.formats.permit_file import read_permit_file
from registry.formats.written_position import read_position
from tests.actions.stocked import a_register, add_permit_text, no_files
from tests.actions.test_add_permit import condition, permit_text
from tests.builders import ACTOR

SPACING = 'rule = "spacing"\nleast_m = {}'
FIRST = permit_text(conditions=condition(SPACING.format("6.0")))
SECOND = permit_text(conditions=condition(SPACING.format("8.0")))


def a_registry_with(text=FIRST):
    register = a_register()
    add_permit_text(register, text)
    return register


def amend(register, text=SECOND, *, effective="2026-03-01", why="Amendment 1", number="HB-0500"):
    return amend_permit(
        register,
        number,
        read_permit_file(text),
        effective=date.fromisoformat(effective),
        why=why,
        read_position=read_position,
        read_shapes=no_files,
        actor=ACTOR,
    )


def transfer(register, holder="Tern Reef Trust", *, effective="2026-03-01", why="Letter", number="HB-0500"):
    return transfer_permit(
        register, number, holder=holder, effective=date.fromisoformat(effective), why=why, actor=ACTOR
    )


def least(permit):
    return permit.conditions[0].limits["least"].value


def test_the_day_decides_which_version_is_in_force():
    register = a_registry_with()
    amended = amend(register)
    assert amended.changes == (
        "spacing: least 6.0 m [Special condition 7] -> least 8.0 m [Special condition 7]",
    )
    assert (least(amended.before), least(amended.after)) == (6.0, 8.0)
    assert amended.until is None
    assert amended.after.in_force_from == date(2026, 3, 1)
    # The clock of the tests stands on 2026-06-01.
    assert register.permit("HB-0500") == amended.after
    coming = amend(register, FIRST, effective="2027-01-01", why="Amendment 2")
    assert register.permit("HB-0500") == amended.after
    assert [least(version) for version in register.permit_versions("HB-0500")] == [6.0, 8.0, 6.0]
    assert least(coming.before) == 8.0


def test_a_version_recorded_late_is_in_force_until_the_next():
    register = a_registry_with()
    amend(register, effective="2027-01-01")
    twelve = permit_text(conditions=condition(SPACING.format("12.0")))
    between = amend(register, twelve, effective="2026-01-01", why="found in a drawer")
    assert between.until == date(2027, 1, 1)
    assert least(between.before) == 6.0
    assert [least(version) for version in register.permit_versions("HB-0500")] == [6.0, 12.0, 8.0]


def test_a_slip_in_the_transcript_is_mended_by_the_same_day():
    register = a_registry_with()
    amend(register, permit_text(conditions=condition(SPACING.format("80"))))
    mended = amend(register)
    assert least(mended.before) == 80.0
    assert [least(version) for version in register.permit_versions("HB-0500")] == [6.0, 8.0]
    # Also in the permit as first issued, and in the reason alone.
    amend(
        register,
        permit_text(conditions=condition(SPACING.format("7"))),
        effective="2024-05-01",
        why="mistyped",
    )
    assert [least(version) for version in register.permit_versions("HB-0500")] == [7.0, 8.0]
    amend(register, why="Amendment 1 of 2026-02-20")
    assert register.permit("HB-0500").amendment == "Amendment 1 of 2026-02-20"


def test_an_extension_of_an_expired_permit_is_taken():
    register = a_registry_with(permit_text(ends="2026-05-01"))
    assert register.permit("HB-0500").standing_on(register.today()) == "expired"
    extended = amend(register, permit_text(ends="2030-05-01"), effective="2026-05-20", why="Extension")
    assert extended.changes == ("valid to: 2026-05-01 -> 2030-05-01",)
    assert register.permit("HB-0500").standing_on(register.today()) == "in force"
    # Between the end and the extension the permit that had expired was the one in force.
    first, _ = register.permit_versions("HB-0500")
    assert first.standing_on(date(2026, 5, 10)) == "expired"


REFUSED = {
    "before the permit": ({"effective": "2024-04-30"}, PermitError, "before the permit, on 2024-05-01"),
    "after its own end": ({"effective": "2034-05-01"}, PermitError, "after its own end, on 2034-04-30"),
    "not yet valid on its first day": (
        {"text": permit_text(begins="2026-03-02", ends="2034-04-30")},
        PermitError,
        "valid from 2026-03-02 only",
    ),
    "no reason": ({"why": "  "}, InvalidRecordError, "no reason"),
    "another permit's file": ({"number": "HB-0417"}, PermitError, "states permit HB-0500, not HB-0417"),
    "no such permit": (
        {"text": permit_text().replace("HB-0500", "HB-0999"), "number": "HB-0999"},
        NotFoundError,
        "HB-0999",
    ),
    "nothing changed": ({"text": FIRST}, ConflictError, "says all of that already"),
    "a condition for an area that went": (
        {"text": permit_text(conditions=condition(SPACING.format("6") + '\narea = "south-patch"'))},
        PermitError,
        "south-patch",
    ),
}


@pytest.mark.parametrize(("asked", "error", "told"), REFUSED.values(), ids=list(REFUSED))
def test_an_amendment_that_contradicts_is_refused_and_nothing_is_written(asked, error, told):
    register = a_registry_with()
    before = register.head()
    with pytest.raises(error, match=told) as refusal:
        amend(register, **asked)
    assert refusal.value.remedy
    assert register.head() == before


def test_a_transfer_changes_the_holder_and_nothing_else():
    register = a_registry_with()
    moved = transfer(register)
    assert moved.changes == ("holder: not stated -> Tern Reef Trust",)
    assert moved.after.conditions == moved.before.conditions
    assert moved.after.areas == moved.before.areas
    assert (moved.after.amendment, moved.after.in_force_from) == ("Letter", date(2026, 3, 1))
    assert [version.holder for version in register.permit_versions("HB-0500")] == ["", "Tern Reef Trust"]


def test_a_transfer_on_the_day_of_an_amendment_keeps_both_reasons():
    register = a_registry_with()
    amend(register)
    transfer(register)
    _, version = register.permit_versions("HB-0500")
    assert (least(version), version.holder) == (8.0, "Tern Reef Trust")
    assert version.amendment == "Amendment 1; Letter"


def test_a_transfer_that_a_later_version_would_undo_is_refused():
    register = a_registry_with()
    amend(register, effective="2027-01-01")
    before = register.head()
    with pytest.raises(ConflictError, match="from 2027-01-01 names the holder nobody") as refusal:
        transfer(register)
    assert "--effective 2027-01-01" in refusal.value.remedy
    assert register.head() == before
    transfer(register, effective="2027-01-01")
    transfer(register)
    assert [version.holder for version in register.permit_versions("HB-0500")] == [
        "",
        *["Tern Reef Trust"] * 2,
    ]


@pytest.mark.parametrize(
    ("asked", "error", "told"),
    [
        ({"holder": " "}, InvalidRecordError, "no name"),
        ({"why": ""}, InvalidRecordError, "no reason"),
        ({"effective": "2024-04-30"}, PermitError, "before the permit"),
        ({"effective": "2034-05-01"}, PermitError, "after its own end"),
        ({"number": "HB-0999"}, NotFoundError, "HB-0999"),
        ({"holder": "Marram Trust"}, ConflictError, "says all of that already"),
    ],
)
def test_a_transfer_that_contradicts_is_refused_and_nothing_is_written(asked, error, told):
    register = a_registry_with(FIRST.replace("valid_from", 'holder = "Marram Trust"\nvalid_from'))
    before = register.head()
    with pytest.raises(error, match=told) as refusal:
        transfer(register, **asked)
    assert refusal.value.remedy
    assert register.head() == before
