"""A contact is changed or taken out as it was seen; the journal learns that, and no word of it."""

from dataclasses import replace

import pytest

from registry.actions.add_contact import add_contact
from registry.actions.change_contact import change_contact, contact_version, remove_contact
from registry.actions.erase_family import brought_back
from registry.errors import ConflictError
from registry.records.family import Contact
from tests.actions.stocked import a_register
from tests.builders import NOON, a_memorial, a_module
from tests.fakes import MemoryFamilies
from tests.memory_accounts import MemoryAccounts

IDA = Contact(name="Ida Quill", email="ida@quill.example", phone="+1 910 555 0123", recorded_at=NOON)
TOM = Contact(name="Tom Quill", address="12 Dune Lane", recorded_at=NOON)
WHO = "family of MR-0001"


@pytest.fixture
def held():
    register = a_register(modules=[a_module(tag="MR-0001", memorial=a_memorial())])
    families = MemoryFamilies()
    for contact in (IDA, TOM):
        add_contact(register, families, "MR-0001", contact)
    return register, families, MemoryAccounts()


def contacts(families):
    return [contact.values() for contact in families.held()["MR-0001"].contacts]


def test_a_contact_takes_the_place_of_the_one_that_was_seen(held):
    register, families, accounts = held
    new = replace(IDA, phone="+1 910 555 0999")
    change_contact(register, families, accounts, "MR-0001", seen=contact_version(IDA), contact=new, actor=WHO)
    assert contacts(families) == [TOM.values(), new.values()]
    last = list(register.journal())[-1]
    assert (last.kind, last.actor) == ("family.erased", WHO)
    assert not any(
        "Quill" in last.body or "555" in last.body for last in register.journal(kind="family.erased")
    )
    assert not brought_back(register, families.held())


def test_what_was_changed_meanwhile_is_not_overwritten(held):
    register, families, accounts = held
    new = replace(IDA, phone="+1 910 555 0999")
    change_contact(register, families, accounts, "MR-0001", seen=contact_version(IDA), contact=new, actor=WHO)
    before = contacts(families)
    for do in (
        lambda: change_contact(
            register, families, accounts, "MR-0001", seen=contact_version(IDA), contact=IDA, actor=WHO
        ),
        lambda: remove_contact(register, families, accounts, "MR-0001", seen=contact_version(IDA), actor=WHO),
    ):
        with pytest.raises(ConflictError, match="since you opened"):
            do()
    with pytest.raises(ConflictError, match="held of this contact already"):
        change_contact(
            register, families, accounts, "MR-0001", seen=contact_version(TOM), contact=TOM, actor=WHO
        )
    assert contacts(families) == before


def test_one_is_taken_out_and_the_rest_stays(held):
    register, families, accounts = held
    made = remove_contact(register, families, accounts, "MR-0001", seen=contact_version(IDA), actor=WHO)
    assert (made.contacts, made.rest_held) == (1, True)
    assert contacts(families) == [TOM.values()]
