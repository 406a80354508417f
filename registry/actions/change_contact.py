"""Change or take out a contact of a family as it was seen; the journal keeps a receipt and no word of it."""

import hashlib
from dataclasses import replace

from registry.actions.add_contact import add_contact
from registry.actions.erase_family import Erased, erase_family
from registry.errors import ConflictError
from registry.ports import Accounts, Families, Register
from registry.records.entry import canonical_json
from registry.records.family import Contact

__all__ = ["change_contact", "contact_version", "remove_contact"]


def contact_version(contact: Contact) -> str:
    """Give what stands for a contact in a form, so that nobody changes another than they saw."""
    return hashlib.sha256(canonical_json(contact.values()).encode()).hexdigest()[:16]


def change_contact(
    register: Register,
    families: Families,
    accounts: Accounts,
    tag: str,
    *,
    seen: str,
    contact: Contact,
    actor: str,
) -> None:
    """
    Keep a contact in the place of one that was seen, which is erased.

    Parameters
    ----------
    register : Register
        Gets the receipt of what was erased.
    families : Families
        Where contacts are kept.
    accounts : Accounts
        Where its private links are kept; they stay.
    tag : str
        Of the module that remembers their relative.
    seen : str
        The contact as it was seen (:func:`contact_version`).
    contact : Contact
        As it is from now on.
    actor : str
        As "family of MC-0017".

    Raises
    ------
    ConflictError
        If that contact was changed or erased meanwhile, or the new one says nothing new.
    """
    with register.writing():
        number = _number(families, tag, seen)
        before = families.held()[tag].contacts[number - 1]
        if before.values() == contact.values():
            what = "That is what is held of this contact already."
            raise ConflictError(what, remedy="Type what is to change.")
        erase_family(register, families, accounts, tag, contact=number, actor=actor)
        # After the receipt: what is written down later was not brought back by an old copy.
        add_contact(register, families, tag, replace(contact, recorded_at=register.now()))


def remove_contact(
    register: Register, families: Families, accounts: Accounts, tag: str, *, seen: str, actor: str
) -> Erased:
    """Erase a contact that was seen; errors as of :func:`change_contact`."""
    with register.writing():
        return erase_family(
            register, families, accounts, tag, contact=_number(families, tag, seen), actor=actor
        )


def _number(families: Families, tag: str, seen: str) -> int:
    family = families.held().get(tag)
    for number, contact in enumerate(family.contacts if family else (), start=1):
        if contact_version(contact) == seen:
            return number
    what = "This contact was changed or erased since you opened the page; nothing was changed."
    raise ConflictError(what, remedy="See what is held now, and change it from there.")
